"""Where an answer goes: screen or file, in which format."""

from __future__ import annotations

import functools
import os
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.commands.options import (
    PictureName,
    add_options,
    file_option,
    option,
    provenance_option,
)
from advisor.commands.provenance import with_provenance
from advisor.commands.screen import fit_lines
from advisor.show.formats.wholefile import is_there, why_not, write_whole
from geo.errors import InputError, one_line

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from advisor.answers.rows.inputs import Form
    from advisor.station.cautions import Caution

_OUTPUT = add_options(
    [
        option("--json", "One JSON object.", "as_json"),
        option("--csv", "Comma-separated rows.", "as_csv"),
        option(
            "--ecsv",
            "Rows under a header with units and what each column is.",
            "as_ecsv",
        ),
        file_option(
            "--output FILE",
            "Write there instead of to the screen; whole or not at all.",
            callback=fit_lines,
        ),
        option("--overwrite", "Replace an existing file."),
        provenance_option,
    ]
)


_SEEN_TO = frozenset(
    {"as_json", "as_csv", "as_ecsv", "as_geojson", "output", "overwrite", "more"}
    | {"with_provenance"}
)
"""Options that `emit` and `write` look up, so that no command hands them on."""


def output_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """
    Give a command the options of its output; nearest to the function.

    Parameters
    ----------
    command : callable
        The command; it is called without these options, once they are checked.

    Returns
    -------
    command : callable
        The same with them.
    """

    @functools.wraps(command)
    def checked(**options: Any) -> Any:
        _check_output()
        own = {name: each for name, each in options.items() if name not in _SEEN_TO}
        return command(**own)

    return _OUTPUT(checked)


geojson_option = option(
    "--geojson", "What can be put on a map (RFC 7946).", "as_geojson"
)


@dataclass(frozen=True)
class Report:
    """
    An answer, ready for every format; each is made only if it is asked for.

    Attributes
    ----------
    form : Form
        What its JSON is made of.
    inputs : record
        What was understood.
    text : callable
        For people to read.
    rows : callable
        Its table.
    details : callable, optional
        What stands beside the rows in JSON: a record.
    features : callable, optional
        What can be put on a map.
    note : str, optional
        Said before the text and on the page, such as that it is the demonstration.
    first : sequence of str, optional
        How the parts begin that are worth most where one screen has no room for all,
        as of `advisor.show.text.one_screen.fit_screen`; None for a text that is never
        cut.
    own : callable, optional
        Cautions of these very wires.
    """

    form: Form
    inputs: Any
    text: Callable[[], str]
    rows: Callable[[], Sequence[Any]]
    details: Callable[[], Any] | None = None
    features: Callable[[], Sequence[Any]] | None = None
    note: str = ""
    first: Sequence[str] | None = None
    own: Callable[[], Sequence[Caution]] = tuple


def emit(report: Report, provenance: Callable[[], Mapping[str, Any]]) -> None:
    """
    Write an answer as the options of the command say.

    Parameters
    ----------
    report : Report
        The answer.
    provenance : callable
        Tells what it was made from; asked only if the format shows it.

    Raises
    ------
    InputError
        If the file exists and may not be replaced.
    click.ClickException
        If it cannot be written.
    """
    from advisor.show.formats import exports
    from advisor.show.formats.schema import columns_of

    params = click.get_current_context().params
    if params["as_json"]:
        details = report.details() if report.details else None
        text = exports.to_json(report.inputs, report.rows(), provenance(), details)
    elif params["as_csv"]:
        rows = report.rows()
        names = () if rows else tuple(columns_of(report.form))
        text = exports.rows_csv(rows, names)
    elif params["as_ecsv"]:
        from advisor.show.formats.ecsv import rows_ecsv

        text = rows_ecsv(report.form, report.rows(), report.inputs, provenance())
    elif params.get("as_geojson") and report.features:
        from advisor.show.formats.geojson import collection

        text = collection(report.features(), report.inputs, provenance())
    else:
        text = _for_people(report, params)
    write(with_provenance(text, provenance), params["output"], is_answer=True)


def _for_people(report: Report, params: Mapping[str, Any]) -> str:
    """Write an answer as text, cut to a screen unless more or less is asked for."""
    from advisor.show.text.one_screen import fit_screen

    text = report.text()
    if not (report.first is None or params.get("brief") or params.get("more")):
        text = fit_screen(text, report.first, own=report.own())
    return f"{report.note}\n{text}\n" if report.note else f"{text}\n"


def _may_replace() -> bool:
    """Tell whether files that exist may be replaced."""
    return bool(click.get_current_context().params["overwrite"])


def _check_output() -> None:
    """Refuse an output that cannot be, before anything is worked out."""
    context = click.get_current_context()
    given = [
        each.opts[0]
        for each in context.command.params
        if (each.name or "").startswith("as_") and context.params[each.name or ""]
    ]
    if len(given) > 1:
        raise click.UsageError(f"{' and '.join(given)} exclude each other: give one")
    for name in ("brief", "more"):
        if given and context.params.get(name):
            raise click.UsageError(
                f"--{name} is for the text: leave it out with {given[0]}"
            )
    if context.params.get("brief") and context.params.get("more"):
        raise click.UsageError("--brief and --more exclude each other: give one")
    output: Path | None = context.params["output"]
    if output is not None and str(output) != "-":
        check_writable(output)
    for each in context.command.params:
        picture = context.params[each.name or ""]
        if isinstance(each.type, PictureName) and picture is not None:
            from advisor.show.charts.files import check_file

            check_file(picture, _may_replace())


def check_writable(output: Path) -> None:
    """
    Refuse a file that exists, or that has no directory to be in.

    Parameters
    ----------
    output : pathlib.Path
        File to write.

    Raises
    ------
    InputError
        If the file exists and may not be replaced.
    click.ClickException
        If its directory does not exist or nothing may be written there.
    """
    check_replaceable(output)
    reason = why_not(output)
    if reason:
        raise click.ClickException(f"cannot write '{output}': {reason}")


def check_replaceable(path: Path) -> None:
    """
    Refuse a file that exists.

    Parameters
    ----------
    path : pathlib.Path
        File to write.

    Raises
    ------
    InputError
        If there is one and ``--overwrite`` was not given.
    """
    if is_there(path) and not _may_replace():
        raise InputError(f"'{path}' exists: add --overwrite to replace it")


def write(text: str, output: Path | None, *, is_answer: bool = False) -> None:
    """
    Write to the screen or to a file, whole or not at all.

    Parameters
    ----------
    text : str
        What to write.
    output : pathlib.Path or None
        Where to; None or ``-`` for the screen.
    is_answer : bool, optional
        Whether it goes to the screen if the file fails after all: working it out again
        may take minutes.

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
    check_writable(output)
    try:
        # A letter that came in as half of a pair cannot go out in UTF-8.
        write_whole(output, text.encode("utf-8", errors="replace"))
    except OSError as error:
        if is_answer:
            _say(text)
        raise click.ClickException(
            f"cannot write '{output}': {error.strerror or error}"
            + ("; the answer went to the screen" if is_answer else "")
        ) from None
    click.echo(one_line(f"written: {output}"), err=True)


def write_picture(figure: Figure, path: Path, finding: str) -> None:
    """
    Write a picture, whole or not at all, and say so.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The picture.
    path : pathlib.Path
        Where to.
    finding : str
        Sentence that states what it shows, for those who cannot see it.

    Raises
    ------
    click.ClickException
        If it cannot be written.
    """
    from advisor.show.charts.files import save_figure

    try:
        save_figure(figure, path, _may_replace(), finding)
    except OSError as error:
        raise click.ClickException(
            f"cannot write '{path}': {error.strerror or error}"
        ) from None
    click.echo(one_line(f"written: {path}"), err=True)


_BEST = re.compile(r"\b\d+\??\*")
"""A figure with the star of the band to be on."""


def _coloured(best: re.Match[str]) -> str:
    """Colour a figure; its star says the same."""
    return click.style(best[0], fg="green", bold=True)


def _say(text: str) -> None:
    """Write to the screen; what its encoding lacks becomes a question mark."""
    if sys.stdout is None:
        raise click.ClickException("cannot write the answer: there is no output")
    encoding = sys.stdout.encoding or "utf-8"
    shown = text.encode(encoding, errors="replace").decode(encoding)
    if sys.stdout.isatty() and not os.environ.get("NO_COLOR"):
        shown = _BEST.sub(_coloured, shown)
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
