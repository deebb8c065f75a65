"""Where an answer goes: screen or file, in which format, and what it was made from."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

import click

from advisor.commands.options import add_options, provenance_option
from advisor.commands.screen import fit_lines
from advisor.show.formats.wholefile import is_there, write_whole
from geo.errors import InputError, one_line

APP = "skiplobe"

output_options = add_options(
    [
        click.option("--json", "as_json", is_flag=True, help="One JSON object."),
        click.option("--csv", "as_csv", is_flag=True, help="Comma-separated rows."),
        click.option(
            "--ecsv",
            "as_ecsv",
            is_flag=True,
            help="Rows under a header with units and what each column is.",
        ),
        click.option(
            "--output",
            type=click.Path(path_type=Path, dir_okay=False),
            callback=fit_lines,
            help="Write there instead of to the screen; whole or not at all.",
        ),
        click.option("--overwrite", is_flag=True, help="Replace an existing file."),
        provenance_option,
    ]
)


geojson_option = click.option(
    "--geojson", "as_geojson", is_flag=True, help="What can be put on a map (RFC 7946)."
)


def check_output() -> None:
    """
    Refuse an output that cannot be, before anything is worked out.

    Raises
    ------
    click.UsageError
        If two formats are asked for.
    InputError
        If the file exists and may not be replaced.
    click.ClickException
        If its directory does not exist.
    """
    context = click.get_current_context()
    given = [
        each.opts[0]
        for each in context.command.params
        if (each.name or "").startswith("as_") and context.params[each.name or ""]
    ]
    if len(given) > 1:
        raise click.UsageError(f"{' and '.join(given)} exclude each other: give one")
    if given and context.params.get("brief"):
        raise click.UsageError(f"--brief is for the text: leave it out with {given[0]}")
    output: Path | None = context.params["output"]
    if output is None or str(output) == "-":
        return
    may_be_written(output, context.params["overwrite"])


def may_be_written(output: Path, overwrite: bool) -> None:
    """
    Refuse a file that exists, or that has no directory to be in.

    Parameters
    ----------
    output : pathlib.Path
        File to write.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the file exists and may not be replaced.
    click.ClickException
        If its directory does not exist.
    """
    if is_there(output) and not overwrite:
        raise InputError(f"'{output}' exists: add --overwrite to replace it")
    if not os.path.isdir(output.parent):  # noqa: PTH112 - never raises
        raise click.ClickException(
            f"cannot write '{output}': there is no directory '{output.parent}'"
        )


def provenance() -> dict[str, Any]:
    """
    Tell the version and the checksum of every table.

    Returns
    -------
    provenance : dict
        For JSON.
    """
    from importlib.metadata import version

    from geo.tables import checksums

    return {"program": APP, "version": version(APP), "tables_sha256": checksums()}


def write(text: str, output: Path | None, overwrite: bool) -> None:
    """
    Write to the screen or to a file, whole or not at all.

    Parameters
    ----------
    text : str
        What to write.
    output : pathlib.Path or None
        Where to; None or ``-`` for the screen.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the file exists and may not be replaced.
    click.ClickException
        If it cannot be written.
    """
    if output is None or str(output) == "-":
        _say(text)
        return
    may_be_written(output, overwrite)
    try:
        # A letter that came in as half of a pair cannot go out in UTF-8.
        write_whole(output, text.encode("utf-8", errors="replace"))
    except OSError as error:
        raise click.ClickException(
            f"cannot write '{output}': {error.strerror or error}"
        ) from None
    click.echo(one_line(f"written: {output}"), err=True)


def _say(text: str) -> None:
    """Write to the screen; what its encoding lacks becomes a question mark."""
    if sys.stdout is None:
        raise click.ClickException("cannot write the answer: there is no output")
    encoding = sys.stdout.encoding or "utf-8"
    shown = text.encode(encoding, errors="replace").decode(encoding)
    try:
        sys.stdout.write(shown)
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        # Nothing more can be written: keep the interpreter from trying at its end.
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123
        raise click.ClickException(
            f"cannot write the answer: {error.strerror or error}"
        ) from None
