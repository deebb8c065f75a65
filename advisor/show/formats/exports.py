"""The answer as rows, JSON and CSV; nothing is worked out here."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from advisor.answers.advice import Advice
from advisor.answers.closed import closed_bands
from advisor.answers.limits import LIMITS
from advisor.answers.storm_doubt import storm_doubt
from advisor.answers.words import headline, reasons
from advisor.engine.question import Question
from advisor.station.cautions import cautions

if TYPE_CHECKING:
    import pandas as pd

SCHEMA_VERSION = 1
"""Of JSON and GeoJSON; docs/formats.md says what raises it."""

Row = dict[str, Any]


def advice_rows(advice: Advice) -> list[Row]:
    """
    List every result: one row per set-up, target, hour and band.

    Parameters
    ----------
    advice : Advice
        The answer.

    Returns
    -------
    rows : list of dict
        Keys carry units; a value that does not exist is NaN.
    """
    question = advice.question
    rows = []
    for setup in advice.setups:
        for k, target in enumerate(advice.targets):
            for t, time in enumerate(question.times):
                for b, band in enumerate(question.bands):
                    if not setup.works[b]:
                        continue
                    rows.append(
                        {
                            "setup": setup.name,
                            "target": target.name,
                            "utc": f"{time.astype('datetime64[m]')}Z",
                            "band": band.name,
                            "frequency_mhz": band.planning_mhz,
                            "chance": float(setup.chance[k, t, b]),
                            "chance_low": float(setup.chance_low[k, t, b]),
                            "chance_high": float(setup.chance_high[k, t, b]),
                            "chance_heard": float(setup.heard[k, t, b]),
                            "chance_hear": float(setup.hear[k, t, b]),
                            "margin_db": float(setup.margin_db[k, t, b]),
                            "takeoff_low_deg": float(target.takeoff_low_deg[t, b]),
                            "takeoff_deg": float(target.takeoff_deg[t, b]),
                            "takeoff_high_deg": float(target.takeoff_high_deg[t, b]),
                            "gain_dbi": float(setup.gain_dbi[k, t, b]),
                            "mode": str(target.modes[t, b]),
                            "support": float(target.support[t, b]),
                            "limit": LIMITS[int(setup.limit[k, t, b])],
                        }
                    )
    return rows


def advice_frame(advice: Advice) -> pd.DataFrame:
    """
    Return every result as a frame, units in the column names.

    Parameters
    ----------
    advice : Advice
        The answer.

    Returns
    -------
    frame : pandas.DataFrame
        The rows of `advice_rows`.
    """
    import pandas as pd

    return pd.DataFrame(advice_rows(advice))


def rows_csv(rows: Sequence[Mapping[str, Any]], names: Iterable[str] = ()) -> str:
    r"""
    Write rows as comma-separated values; NaN and infinity are empty cells.

    Parameters
    ----------
    rows : sequence of mapping
        Rows with the same keys.
    names : iterable of str, optional
        Columns to name where there is no row.

    Returns
    -------
    text : str
        A header line and one line a row.

    Examples
    --------
    >>> rows_csv([{"band": "20 m", "muf_mhz": float("nan")}])
    'band,muf_mhz\n20 m,\n'
    """
    sink = io.StringIO()
    columns = list(rows[0]) if rows else list(names)
    if columns:
        writer = csv.DictWriter(sink, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(
            {key: "" if _is_missing(value) else value for key, value in row.items()}
            for row in rows
        )
    return sink.getvalue()


def to_json(
    inputs: Mapping[str, Any], results: Any, provenance: Mapping[str, Any], **more: Any
) -> str:
    """
    Write one JSON object: what was asked, what came out, and from what.

    Parameters
    ----------
    inputs : mapping
        What was understood of the question.
    results : object
        Rows, or any nesting of lists and mappings.
    provenance : mapping
        Version and checksums of tables.
    **more : object
        Further keys.

    Returns
    -------
    text : str
        JSON; NaN is null; keys in a fixed order.
    """
    whole = {
        "schema_version": SCHEMA_VERSION,
        "inputs": inputs,
        "provenance": provenance,
        "results": results,
        **more,
    }
    return (
        json.dumps(plain(whole), indent=1, allow_nan=False, ensure_ascii=False) + "\n"
    )


def question_inputs(question: Question) -> dict[str, Any]:
    """
    List what was understood of a question.

    Parameters
    ----------
    question : Question
        What was asked.

    Returns
    -------
    inputs : dict
        For the JSON of every command that puts one.
    """
    station = question.station
    return {
        "place": asdict(question.place),
        "targets": [target.name for target in question.targets],
        "weights": [target.weight_source for target in question.targets],
        "utc_first": f"{question.times[0].astype('datetime64[m]')}Z",
        "hours": int(question.times.size),
        "bands": [band.name for band in question.bands],
        "emission": asdict(question.emission),
        "power_w": station.power_w,
        "noise": station.noise,
        "noise_trim_db": station.noise_trim_db,
        "ground": station.ground,
        "horizon_deg": station.horizon_deg,
        "horizon": station.horizon,
        "far_end": asdict(station.far_end),
        "setups": [setup.as_mapping() for setup in station.setups],
        "solar": {
            "basis": question.solar.basis,
            "r12": float(question.solar.r12.mean()),
            "r12_low": float(question.solar.low.mean()),
            "r12_high": float(question.solar.high.mean()),
        },
        "long_path": question.long_path,
        "conditions": question.conditions.as_mapping(),
        "assumed": question.conditions.words(question.times, question.solar.r12),
    }


def advice_json(
    advice: Advice, declination_deg: float, provenance: Mapping[str, Any]
) -> str:
    """
    Write the whole answer as JSON.

    Parameters
    ----------
    advice : Advice
        The answer.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]
    provenance : mapping
        Version and checksums of tables.

    Returns
    -------
    text : str
        See `to_json`.
    """
    return to_json(
        question_inputs(advice.question),
        advice_rows(advice),
        provenance,
        answer=[
            {
                "target": target.name,
                "distance_km": target.mean_km,
                "bearing_deg": target.bearing_deg,
                "headline": headline(advice, k),
                "reasons": reasons(advice, k),
                "storm_doubt": storm_doubt(advice.question, k),
                "not_open": [asdict(each) for each in closed_bands(advice, k)],
            }
            for k, target in enumerate(advice.targets)
        ],
        bearing={
            setup.name: {**asdict(setup.bearing), "declination_deg": declination_deg}
            for setup in advice.setups
        },
        cautions=[each.text for each in cautions()],
    )


def _is_missing(value: object) -> bool:
    """Whether a value is a float that is no finite number."""
    return isinstance(value, float) and not math.isfinite(value)


def plain(value: Any) -> Any:
    """
    Make a value fit for JSON.

    Parameters
    ----------
    value : object
        Any nesting of mappings, lists and plain values.

    Returns
    -------
    value : object
        The same with text for keys and nothing for NaN and infinity.

    Examples
    --------
    >>> plain({"muf_mhz": [float("nan"), 7.1]})
    {'muf_mhz': [None, 7.1]}
    """
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    return None if _is_missing(value) else value
