"""The form of the JSON that a command writes."""

from __future__ import annotations

import json
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages
from typing import TYPE_CHECKING, Any

import click

from advisor.commands.emit import check_writable, write
from advisor.commands.options import file_option, option
from geo.errors import InputError, near_matches

if TYPE_CHECKING:
    from advisor.answers.rows.inputs import Form


def forms() -> dict[str, Form]:
    """
    List everything that has a schema.

    Returns
    -------
    forms : dict of str to Form
        By the words of the command: every one that stands beside the records of an
        answer, and what is put on a map.
    """
    from advisor import answers
    from advisor.answers.rows.inputs import Form, QuestionInputs

    found = {"geojson": Form("geojson", QuestionInputs)}
    for module in walk_packages(answers.__path__, f"{answers.__name__}."):
        held = vars(import_module(module.name)).values()
        found |= {each.name: each for each in held if isinstance(each, Form)}
    return dict(sorted(found.items()))


@click.command()
@click.argument("command", nargs=-1, metavar="COMMAND")
@file_option(
    "--output FILE", "Write there instead of to the screen; whole or not at all."
)
@option("--overwrite", "Replace an existing file.")
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
    from advisor.show.formats.schema import schema_of

    known = forms()
    name = " ".join(command)
    if name and name not in known:
        hint = near_matches(name, known) or "use one of these"
        raise InputError(
            f"no JSON is made by '{name}'; {hint} (there are: {', '.join(known)})"
        )
    if name:
        text = json.dumps(schema_of(known[name]), indent=1, ensure_ascii=False)
    else:
        width = max(map(len, known))
        text = "\n".join(f"{each:<{width}}  {known[each].title}" for each in known)
    write(f"{text}\n", output)
