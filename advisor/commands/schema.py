"""The form of the JSON that a command writes."""

from __future__ import annotations

import json
from pathlib import Path

import click

from advisor.commands.output import may_be_written, write


@click.command()
@click.argument("words", nargs=-1, metavar="COMMAND")
@click.option(
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write there instead of to the screen; whole or not at all.",
)
@click.option("--overwrite", is_flag=True, help="Replace an existing file.")
def schema(words: tuple[str, ...], output: Path | None, overwrite: bool) -> None:
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
        may_be_written(output, overwrite)
    from advisor.show.formats.schemas import FORMS, schema_of

    if words:
        text = json.dumps(schema_of(" ".join(words)), indent=1, ensure_ascii=False)
    else:
        width = max(len(form) for form in FORMS)
        text = "\n".join(
            f"{form:<{width}}  {schema_of(form)['title']}" for form in FORMS
        )
    write(f"{text}\n", output, overwrite)
