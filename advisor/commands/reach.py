"""Where the power of a wire comes down."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands.asking import asked
from advisor.commands.common import cache_dir
from advisor.commands.options import (
    bands_option,
    brief_option,
    conditions_options,
    solar_options,
    station_options,
    time_options,
    weights_option,
)
from advisor.commands.output import check_output, geojson_option, output_options, write
from advisor.commands.provenance import told

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
@bands_option
@time_options
@solar_options
@conditions_options
@geojson_option
@brief_option
@output_options
def reach(
    target: str | None,
    brief: bool,
    as_json: bool,
    as_csv: bool,
    as_ecsv: bool,
    as_geojson: bool,
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
    check_output()
    words["targets"] = () if target is None else (target,)
    put = asked(words, around=_AROUND)
    made = put.made_from()
    question = put.question
    from advisor.answers import reach as reaching

    found = reaching.reach(
        question, towards=target is not None, cache_dir=cache_dir(words)
    )
    from advisor.show.formats import exports
    from advisor.show.text.reach import reach_rows, reach_text, reach_words

    rows = reach_rows(found)
    inputs = exports.question_inputs(question)
    if target is None:
        inputs |= {"targets": [], "weights": []}
    if as_json:
        words_of = {"setups": reach_words(found), "varied": found.varied}
        text = exports.to_json(inputs, rows, made, **words_of)
    elif as_csv:
        text = exports.rows_csv(rows)
    elif as_ecsv:
        from advisor.show.formats.ecsv import rows_ecsv

        text = rows_ecsv("reach", rows, inputs, made)
    elif as_geojson:
        from advisor.show.formats.geojson import collection, reach_features

        text = collection(reach_features(found), inputs, made)
    else:
        text = put.introduced(
            reach_text(found, brief=brief) + "\n", "no station and no place given"
        )
    write(told(text, made), output, overwrite)
