"""Where an answer goes: screen or file, in which format, and what it was made from."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

import click

from advisor.commands.options import add_options
from geo.errors import InputError

APP = "skiplobe"

output_options = add_options(
    [
        click.option("--json", "as_json", is_flag=True, help="One JSON object."),
        click.option("--csv", "as_csv", is_flag=True, help="Comma-separated rows."),
        click.option(
            "--output",
            type=click.Path(path_type=Path, dir_okay=False),
            help="Write there instead of to the screen; whole or not at all.",
        ),
        click.option("--overwrite", is_flag=True, help="Replace an existing file."),
    ]
)


def one_format(as_json: bool, as_csv: bool) -> None:
    """
    Refuse two formats at once.

    Parameters
    ----------
    as_json, as_csv : bool
        Which were asked for.

    Raises
    ------
    click.UsageError
        If both were.
    """
    if as_json and as_csv:
        raise click.UsageError("--json and --csv exclude each other: give one")


def provenance() -> dict[str, Any]:
    """
    Tell the version and the checksum of every table.

    Returns
    -------
    provenance : dict
        For JSON.
    """
    from importlib.metadata import version

    from geo.tabledata import checksums

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
    if output.exists() and not overwrite:
        raise InputError(f"'{output}' exists: add --overwrite to replace it")
    partial = output.with_name(f".{output.name}.{os.getpid()}.partial")
    try:
        partial.write_text(text, encoding="utf-8", newline="")
        partial.replace(output)
    except OSError as error:
        partial.unlink(missing_ok=True)
        raise click.ClickException(
            f"cannot write '{output}': {error.strerror or error}"
        ) from None
    click.echo(f"written: {output}", err=True)


def _say(text: str) -> None:
    """Write to the screen; what its encoding lacks becomes a question mark."""
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
