"""Where the power of a wire comes down."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands.common import cache_dir, conditions_for, start_time, station_for
from advisor.commands.options import (
    conditions_options,
    solar_options,
    station_options,
    time_options,
    weights_option,
)
from advisor.commands.output import one_format, output_options, provenance, write

_AROUND = "within 2500 km"


@click.command()
@click.option(
    "--to",
    "target",
    metavar="TARGET",
    help="Look towards this target only; default all round.",
)
@weights_option
@station_options
@click.option(
    "--band", "bands", multiple=True, metavar="BAND", help="Only this band; repeatable."
)
@time_options
@solar_options
@conditions_options
@output_options
def reach(
    target: str | None,
    weights: str,
    bands: tuple[str, ...],
    start: str | None,
    hours: int,
    r12: float | None,
    flux: float | None,
    as_json: bool,
    as_csv: bool,
    output: Path | None,
    overwrite: bool,
    **words: Any,
) -> None:
    """
    Say whether a wire is for short skip or for far away, band by band and hour by hour.

    \b
    Examples:
      skiplobe reach                            (the wires of the demonstration)
      skiplobe reach --from KF07jo --shape dipole --height-m 5 --band "40 m"
      skiplobe reach --station hill.toml --to KE

    Each ray of the wire is followed through its first hop: how much of the power comes
    down within 800 km, up to 2500 km and beyond, and how much is lost.
    """  # noqa: D301
    one_format(as_json, as_csv)
    station, _, is_demo = station_for(words, has_targets=target is not None)
    from advisor import reach as reaching
    from advisor.ask import question_for
    from advisor.bands import band_by_name

    first = start_time(start)
    question = question_for(
        station,
        [_AROUND if target is None else target],
        first,
        hours,
        band_names=[band_by_name(name, station.iaru_region).name for name in bands],
        r12=r12,
        flux=flux,
        conditions=conditions_for(words, first),
        weights=weights,
    )
    found = reaching.reach(
        question, towards=target is not None, cache_dir=cache_dir(words)
    )
    from advisor.show import exports
    from advisor.show.reach_text import reach_rows, reach_text, reach_words

    rows = reach_rows(found)
    if as_json:
        inputs = exports.question_inputs(question)
        if target is None:
            inputs |= {"targets": [], "weights": []}
        told = {"setups": reach_words(found), "varied": found.varied}
        text = exports.to_json(inputs, rows, provenance(), **told)
    elif as_csv:
        text = exports.rows_csv(rows)
    else:
        text = reach_text(found) + "\n"
        if is_demo:
            text = (
                "Demonstration (no station and no place given): an invented operator "
                f"on {station.name.removeprefix('demo: ')}.\n{text}"
            )
    write(text, output, overwrite)
