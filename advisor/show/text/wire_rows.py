"""What one set-up does, as rows and as details for JSON; nothing is worked out here."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from advisor.answers.wire import WireWork, true_bearings
from advisor.answers.wire_sky import LOW_ANGLE_DEG
from advisor.show.formats.exports import Row


def wire_rows(work: WireWork) -> list[Row]:
    """
    List every figure: one row a band.

    Parameters
    ----------
    work : WireWork
        What was found.

    Returns
    -------
    rows : list of dict
        Keys carry units; a value that does not exist is NaN.
    """
    rows: list[Row] = []
    for band in work.bands:
        feed, sky, hanging = band.feed, band.sky, band.hanging
        sweep, resonance, best = feed.sweep, feed.resonance, feed.best
        nan = float("nan")
        row: Row = {
            "setup": work.setup.name,
            "shape": work.setup.shape,
            "band": band.band,
            "frequency_mhz": band.frequency_mhz,
            "verdict": sky.verdict,
            "within_800_km_share": sky.zones[0],
            "to_2500_km_share": sky.zones[1],
            "beyond_2500_km_share": sky.zones[2],
            "wire_m": hanging.wire_m,
            "top_m": hanging.top_m,
            "lowest_m": hanging.lowest_m,
            "span_m": hanging.span_m,
            "below_n": hanging.below_n,
            "below_m": hanging.below_m,
            "wire_resistance_ohm": feed.wire_ohm.real,
            "wire_reactance_ohm": feed.wire_ohm.imag,
            "radio_swr": feed.radio_swr,
            "swr_low_edge": float(sweep.radio_swr[0]) if sweep else nan,
            "swr_best": float(sweep.radio_swr[sweep.best]) if sweep else nan,
            "swr_best_mhz": float(sweep.frequency_mhz[sweep.best]) if sweep else nan,
            "swr_high_edge": float(sweep.radio_swr[-1]) if sweep else nan,
            "transformer": feed.transformer,
            "transformer_loss_db": feed.transformer_loss_db,
            "line_loss_db": feed.matched_line_loss_db,
            "added_line_loss_db": feed.added_line_loss_db,
            "mismatch_loss_db": feed.mismatch_loss_db,
            "feed_loss_db": feed.loss_db,
            "best_transformer": best.name if best else "",
            "best_transformer_loss_db": best.loss_db if best else nan,
            "best_transformer_swr": best.radio_swr if best else nan,
            "feed_voltage_v": feed.voltage_v,
            "feed_current_a": feed.current_a,
            "resonance_mhz": resonance.frequency_mhz if resonance else nan,
            "highest_resistance_mhz": resonance.highest_mhz if resonance else nan,
            "trim_mm": resonance.add_mm if resonance else nan,
            "trim_mm_per_khz": resonance.mm_per_khz if resonance else nan,
            "efficiency": sky.efficiency,
            "conductor_share": sky.conductor_share,
            "ground_share": sky.ground_share,
            "peak_gain_dbi": sky.peak.gain_dbi,
            "peak_takeoff_deg": sky.peak.takeoff_deg,
            "vertical_share": sky.vertical_share,
            "ground_spread_db": band.ground_spread_db,
            "exposure_m": band.exposure.distance_m,
            "exposure_mean_w": band.mean_w,
        }
        for each in sky.angles:
            at = f"at_{each.takeoff_deg:g}_deg"
            row |= {
                f"gain_dbi_{at}": each.gain_dbi,
                f"over_vertical_db_{at}": each.over_vertical_db,
                f"over_dipole_db_{at}": each.over_dipole_db,
                f"over_high_dipole_db_{at}": each.over_high_dipole_db,
            }
        rows.append(row)
    return rows


def wire_details(work: WireWork) -> dict[str, Any]:
    """
    Gather what does not fit a row: sweeps, lobes, supports, dimensions.

    Parameters
    ----------
    work : WireWork
        What was found.

    Returns
    -------
    details : dict
        Ready for JSON.
    """
    setup = work.setup
    bands = []
    for band in work.bands:
        sweep, lobes = band.feed.sweep, band.sky.lobes
        bands.append(
            {
                "band": band.band,
                "dimensions": dict(band.hanging.sizes),
                "by_default": list(band.hanging.by_default),
                "supports": [asdict(each) for each in band.hanging.supports],
                "sweep": None
                if sweep is None
                else {
                    "frequency_mhz": sweep.frequency_mhz.tolist(),
                    "radio_swr": sweep.radio_swr.tolist(),
                    "wire_resistance_ohm": sweep.wire_ohm.real.tolist(),
                    "wire_reactance_ohm": sweep.wire_ohm.imag.tolist(),
                },
                "lobes_takeoff_deg": LOW_ANGLE_DEG,
                "lobes": asdict(lobes),
                "lobes_true_deg": list(true_bearings(setup, lobes.maxima_deg)),
                "nulls_true_deg": list(true_bearings(setup, lobes.minima_deg)),
                "reach": [asdict(each) for each in band.sky.reach],
                "grounds": [asdict(each) for each in band.grounds],
                "exposure": asdict(band.exposure),
                "angles": [asdict(each) for each in band.sky.angles],
            }
        )
    refused = [{"band": band, "why": why} for band, why in work.refused]
    return {"setup": setup.as_mapping(), "bands": bands, "refused": refused}
