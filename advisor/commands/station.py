"""Station files: a starter, and what one says."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands.common import station_for
from advisor.commands.options import station_options
from advisor.commands.output import check_output, output_options, write
from advisor.commands.provenance import made_from, told


@click.group()
def station() -> None:
    """Write a station file to start from, or show what one says."""


@station.command("starter")
@click.option(
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write there instead of to the screen.",
)
@click.option("--overwrite", is_flag=True, help="Replace an existing file.")
def station_starter(output: Path | None, overwrite: bool) -> None:
    """
    Write a commented station file with invented values.

    \b
    Example:
      skiplobe station starter --output hill.toml
    """  # noqa: D301
    from advisor.station.file import starter_toml

    write(starter_toml(), output, overwrite)


@station.command("show")
@station_options
@output_options
def station_show(
    as_json: bool,
    as_csv: bool,
    as_ecsv: bool,
    output: Path | None,
    overwrite: bool,
    **station_words: Any,
) -> None:
    """
    Show every value of the station and where it comes from.

    \b
    Example:
      skiplobe station show --station hill.toml --power-w 5
    """  # noqa: D301
    check_output()
    found, origins, _ = station_for(station_words, has_targets=False)
    from advisor.show.formats import exports
    from advisor.show.formats.ecsv import rows_ecsv
    from advisor.show.text.layout import table
    from advisor.station.station import describe

    lines = describe(found, origins)
    made = made_from(found, origins)
    rows = [
        {"key": key, "value": value, "origin": origin} for key, value, origin in lines
    ]
    if as_json:
        text = exports.to_json({}, rows, made)
    elif as_csv:
        text = exports.rows_csv(rows)
    elif as_ecsv:
        text = rows_ecsv("station show", rows, {}, made)
    else:
        text = table(["key", "value", "from"], lines, left=frozenset({0, 1, 2})) + "\n"
    write(told(text, made), output, overwrite)
