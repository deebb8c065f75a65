"""Station files: a starter, and what one says."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands.common import station_for
from advisor.commands.emit import Report, emit, output_options, write
from advisor.commands.options import file_option, option, station_options
from advisor.commands.provenance import provenance_of


@click.group()
def station() -> None:
    """Write a station file to start from, or show what one says."""


@station.command("starter")
@file_option("--output FILE", "Write there instead of to the screen.")
@option("--overwrite", "Replace an existing file.")
def station_starter(output: Path | None, **_: Any) -> None:
    """
    Write a commented station file with invented values.

    \b
    Example:
      skiplobe station starter --output hill.toml
    """  # noqa: D301
    from advisor.station.file import starter_toml

    write(starter_toml(), output)


@station.command("show")
@station_options
@output_options
def station_show(
    **options: Any,
) -> None:
    """
    Show every value of the station and where it comes from.

    \b
    Example:
      skiplobe station show --station hill.toml --power-w 5
    """  # noqa: D301
    found, origins, _ = station_for(options, has_targets=False)
    from advisor.answers.rows.inputs import STATION_FORM, NoInputs, ValueRow
    from advisor.show.text.layout import table
    from advisor.station.station import describe

    lines = describe(found, origins)
    report = Report(
        STATION_FORM,
        NoInputs(),
        lambda: table(["key", "value", "from"], lines, left=frozenset({0, 1, 2})),
        rows=lambda: [ValueRow(*line) for line in lines],
    )
    emit(report, lambda: provenance_of(found, origins))
