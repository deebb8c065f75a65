"""Why one figure is what it is."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands.common import cache_dir, conditions_for, start_time, station_for
from advisor.commands.options import (
    conditions_options,
    solar_options,
    station_options,
    weights_option,
)
from advisor.commands.output import one_format, output_options, provenance, write
from geo.errors import InputError


@click.command()
@click.option(
    "--to",
    "targets",
    multiple=True,
    metavar="TARGET",
    help="Region, country, locator, LAT,LON or ring; one.",
)
@weights_option
@station_options
@click.option(
    "--band",
    "bands",
    multiple=True,
    metavar="BAND",
    help="The band; default the best at that hour.",
)
@click.option(
    "--at",
    "moment",
    metavar="WHEN",
    help="The hour: 2026-12-05T18:00Z; default now.",
)
@solar_options
@conditions_options
@click.option("--long-path", is_flag=True, help="Go the long way round.")
@output_options
def why(
    targets: tuple[str, ...],
    weights: str,
    bands: tuple[str, ...],
    moment: str | None,
    r12: float | None,
    flux: float | None,
    long_path: bool,
    as_json: bool,
    as_csv: bool,
    output: Path | None,
    overwrite: bool,
    **words: Any,
) -> None:
    """
    Lay one figure of 'tonight' open: every number on the way to it.

    \b
    Examples:
      skiplobe why                              (the shipped demonstration)
      skiplobe why --station hill.toml --to KE --band "20 m" --at 2026-12-05T18:00Z

    One target, one band, one hour, one set-up (the best, or that of --set-up). The
    figure is that of 'skiplobe tonight' for the same band and --hours 1.
    """  # noqa: D301
    one_format(as_json, as_csv)
    picked = tuple(words["setup_names"])
    station, _, is_demo = station_for(words, has_targets=bool(targets))
    if picked:
        station = _with_the_others(station, words, bool(targets))
    wanted = targets or station.to
    if len(wanted) != 1:
        given = (
            f"{len(wanted)} targets ({', '.join(wanted)})" if wanted else "no target"
        )
        raise InputError(f"{given}: 'why' takes one, name it with --to")
    if len(bands) > 1:
        raise InputError(f"{len(bands)} bands ({', '.join(bands)}): 'why' takes one")
    from dataclasses import asdict

    from advisor.ask import question_for
    from advisor.bands import band_by_name
    from advisor.why import best_band_name, explain_chance

    start = start_time(moment)
    sky: dict[str, Any] = {"r12": r12, "flux": flux, "long_path": long_path}
    sky |= {"conditions": conditions_for(words, start), "weights": weights}
    if bands:
        name = band_by_name(bands[0], station.iaru_region).name
    else:
        every = question_for(station, wanted, start, 1, **sky)
        name = best_band_name(every, picked)
    question = question_for(station, wanted, start, 1, band_names=[name], **sky)
    told = explain_chance(question, picked, cache_dir(words))
    from advisor.show import exports
    from advisor.show.why_text import why_rows, why_text

    rows = why_rows(told)
    if as_json:
        inputs = {
            "place": asdict(question.place),
            "target": told.target,
            "utc": told.utc,
            "band": told.band,
            "setup": told.setup,
            "emission": asdict(question.emission),
            "power_w": station.power_w,
            "noise": station.noise,
            "noise_trim_db": station.noise_trim_db,
            "ground": station.ground,
            "horizon_deg": station.horizon_deg,
            "horizon": station.horizon,
            "far_end": asdict(station.far_end),
            "solar": {
                "basis": question.solar.basis,
                "r12": float(question.solar.r12[0]),
            },
            "long_path": question.long_path,
            "conditions": question.conditions.as_mapping(),
            "assumed": question.conditions.words(question.times, question.solar.r12),
        }
        text = exports.to_json(inputs, rows, provenance(), why=asdict(told))
    elif as_csv:
        text = exports.rows_csv(rows)
    else:
        text = why_text(told, question, band_chosen=not bands) + "\n"
        if is_demo:
            text = (
                "Demonstration (no station, no place and no target given): an invented "
                f"operator on {station.name.removeprefix('demo: ')}.\n{text}"
            )
    write(text, output, overwrite)


def _with_the_others(picked: Any, words: dict[str, Any], has_targets: bool) -> Any:
    """Add the station's other set-ups, as they hang, to those picked."""
    from dataclasses import replace

    as_filed: dict[str, Any] = dict.fromkeys(("bearing_deg", "length_m", "height_m"))
    as_filed |= {"setup_names": (), "dims": ()}
    whole, _, _ = station_for({**words, **as_filed}, has_targets=has_targets)
    names = {setup.name for setup in picked.setups}
    others = tuple(setup for setup in whole.setups if setup.name not in names)
    return replace(picked, setups=picked.setups + others)
