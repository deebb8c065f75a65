"""How wide an answer may be: as the terminal is, or always the same elsewhere."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from click._termui_impl import ProgressBar


def line_width(output: Path | None) -> int | None:
    """
    Find the width of what an answer is written for.

    Parameters
    ----------
    output : pathlib.Path or None
        File it goes to; None or ``-`` for standard output.

    Returns
    -------
    columns : int or None
        What ``COLUMNS`` says, else the width of the terminal; None if there is
        neither, so that a file or a pipe holds the same whatever the screen is.
    """
    named = os.environ.get("COLUMNS", "")
    if named.isascii() and named.isdigit() and 0 < int(named) <= MOST_COLUMNS:
        return int(named)
    to_screen = output is None or str(output) == "-"
    if not to_screen or sys.stdout is None or not sys.stdout.isatty():
        return None
    try:
        return os.get_terminal_size(sys.stdout.fileno()).columns or None
    except (OSError, ValueError):
        return None


MOST_COLUMNS = 10_000
"""More than this in ``COLUMNS`` is no screen."""


def fit_lines(
    context: click.Context, parameter: click.Parameter, output: Path | None
) -> Path | None:
    """
    Set the width of lines for as long as a command runs.

    Parameters
    ----------
    context : click.Context
        Of the command.
    parameter : click.Parameter
        The option ``--output``.
    output : pathlib.Path or None
        Its value.

    Returns
    -------
    output : pathlib.Path or None
        The same.
    """
    del parameter
    from advisor.show.text.layout import lines_of

    width = line_width(output)
    if width is not None and not context.resilient_parsing:
        context.with_resource(lines_of(width))
    return output


def progress_bar(label: str, length: int) -> ProgressBar[Any]:
    """
    Show how far a long answer is, where somebody looks on.

    Parameters
    ----------
    label : str
        What is worked out.
    length : int
        Steps there are.

    Returns
    -------
    bar : click.ProgressBar
        On stderr; hidden where that is no terminal.
    """
    hidden = not sys.stderr.isatty()
    return click.progressbar(length=length, label=label, file=sys.stderr, hidden=hidden)
