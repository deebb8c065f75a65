"""The form of the JSON that a command writes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from advisor.commands.emit import check_writable, write


@click.command()
@click.argument("command", nargs=-1, metavar="COMMAND")
@click.option(
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write there instead of to the screen; whole or not at all.",
)
@click.option("--overwrite", is_flag=True, help="Replace an existing file.")
def schema(command: tuple[str, ...], output: Path | None, **_: Any) -> None:
    """
    Print the form of the JSON that COMMAND writes, as JSON Schema (draft 2020-12).

    \b
    Examples:
      skiplobe schema                           (which there are)
      skiplobe schema tonight
      skiplobe schema station show --output station.schema.json

    It names every field with its type and unit, what it means, and when it is null.
    geojson in the place of COMMAND is the form of --geojson.
    """  # noqa: D301
    if output is not None and str(output) != "-":
        check_writable(output)
    from advisor.show.formats.schema import forms, schema_of, title_of

    if command:
        text = json.dumps(schema_of(" ".join(command)), indent=1, ensure_ascii=False)
    else:
        width = max(map(len, forms()))
        text = "\n".join(f"{name:<{width}}  {title_of(name)}" for name in forms())
    write(f"{text}\n", output)
