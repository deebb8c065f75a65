"""Why one figure is what it is."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.commands.asking import asked
from advisor.commands.common import cache_dir, station_for
from advisor.commands.options import (
    brief_option,
    conditions_options,
    long_path_option,
    solar_options,
    station_options,
    targets_option,
    weights_option,
)
from advisor.commands.output import check_output, output_options, write
from advisor.commands.provenance import told
from geo.errors import InputError

if TYPE_CHECKING:
    from advisor.station.setup import SetUp
    from advisor.station.station import Station


@click.command()
@targets_option("one.")
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
    "start",
    metavar="WHEN",
    help="The hour: 2026-12-05T18:00Z; default now.",
)
@solar_options
@conditions_options
@long_path_option
@brief_option
@output_options
def why(
    bands: tuple[str, ...],
    brief: bool,
    as_json: bool,
    as_csv: bool,
    as_ecsv: bool,
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
    check_output()
    picked = tuple(words["setup_names"])
    if len(bands) > 1:
        raise InputError(f"{len(bands)} bands ({', '.join(bands)}): 'why' takes one")

    def with_the_others(station: Station) -> tuple[SetUp, ...]:
        return _with_the_others(station, words) if picked else station.setups

    words |= {"bands": bands, "hours": 1}
    put = asked(words, one_for="'why'", wires=with_the_others)
    from dataclasses import asdict, replace

    from advisor.answers.why import best_band_name, explain_chance

    question, station = put.question, put.station
    if picked:
        # As the station spells them.
        picked = tuple(each.name for each in put.filed.setups)
    if not bands:
        name = best_band_name(question, picked)
        chosen = tuple(band for band in question.bands if band.name == name)
        question = replace(question, bands=chosen)
    put = replace(put, question=question)
    made = put.made_from()
    found = explain_chance(question, picked, cache_dir(words))
    from advisor.show.formats import exports
    from advisor.show.formats.ecsv import rows_ecsv
    from advisor.show.text.why import why_rows, why_text

    rows = why_rows(found)
    inputs = {
        "place": asdict(question.place),
        "target": found.target,
        "utc": found.utc,
        "band": found.band,
        "setup": found.setup,
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
    if as_json:
        text = exports.to_json(inputs, rows, made, why=found.as_mapping())
    elif as_csv:
        text = exports.rows_csv(rows)
    elif as_ecsv:
        text = rows_ecsv("why", rows, inputs, made)
    else:
        text = put.introduced(
            why_text(found, question, band_chosen=not bands, brief=brief) + "\n"
        )
    write(told(text, made), output, overwrite)


def _with_the_others(picked: Station, words: dict[str, Any]) -> tuple[SetUp, ...]:
    """Set-ups picked and the station's others, as they hang."""
    as_filed: dict[str, Any] = dict.fromkeys(("bearing_deg", "length_m", "height_m"))
    as_filed |= {"setup_names": (), "dims": ()}
    whole, _, _ = station_for({**words, **as_filed}, has_targets=bool(words["targets"]))
    names = {setup.name for setup in picked.setups}
    others = tuple(setup for setup in whole.setups if setup.name not in names)
    return picked.setups + others
