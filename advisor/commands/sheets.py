"""
The sheet that several commands can write besides their answer.

Options, checks, the command that makes a page again, and the writing of it.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.commands.common import cache_dir
from advisor.commands.emit import Report, check_writable, output_options, write
from advisor.commands.options import (
    APP,
    add_options,
    brief_option,
    file_option,
    more_option,
)
from advisor.commands.provenance import program_provenance
from geo.errors import InputError

if TYPE_CHECKING:
    import numpy as np

    from advisor.answers.advice import Answer
    from advisor.answers.outing.plan import Activation
    from advisor.commands.question import Query
    from advisor.show.page.sheet import Section, Sheet
    from advisor.station.cautions import Caution

_SHEET = file_option(
    "--sheet FILE.html",
    "Write the answer as one page too: for a phone, for paper, with no network.",
    "sheet_file",
)


def sheet_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """
    Give a command the option of a page besides its answer.

    Parameters
    ----------
    command : callable
        The command; it is called once the name of the page is checked.

    Returns
    -------
    command : callable
        The same with it, as ``sheet_file``.
    """

    @functools.wraps(command)
    def checked(**options: Any) -> Any:
        sheet: Path | None = options["sheet_file"]
        if sheet is not None and sheet.suffix.lower() not in (".html", ".htm"):
            raise InputError(f"--sheet '{sheet}' does not end in .html: it is a page")
        if sheet is not None:
            check_writable(sheet)
        return command(**options)

    return _SHEET(checked)


answer_options = add_options([sheet_option, brief_option, more_option, output_options])
"""A page, how much of the text, and the output; nearest to the function."""


_NOT_REPEATED = frozenset(
    {"start", "output", "overwrite", "sheet_file", "calendar", "as_json", "as_csv"}
    | {"chart", "swr_chart", "sketch", "fetch", "with_provenance", "write_to"}
)


def command_again(start: np.datetime64 | None, sheet: Path) -> str:
    """
    Write the command that makes the same page again.

    Parameters
    ----------
    start : numpy.datetime64 or None
        First hour, UTC, named even if it was the clock's; None if the command has
        none.
    sheet : pathlib.Path
        The page; only its name is repeated.

    Returns
    -------
    command : str
        Every option that was given, quoted for a shell.
    """
    import shlex

    words = click.get_current_context().command_path.split()
    words[0] = APP
    if start is not None:
        # 'why' calls it --at.
        params = click.get_current_context().command.params
        named = next(each.opts[0] for each in params if each.name == "start")
        words += [named, f"{start.astype('datetime64[m]')}Z"]
    words += options_again(lambda name: name not in _NOT_REPEATED)
    return shlex.join([*words, "--sheet", sheet.name])


def options_again(is_repeated: Callable[[str], bool]) -> list[str]:
    """
    Write the options again that were given.

    Parameters
    ----------
    is_repeated : callable
        Whether an option of a name is among those wanted.

    Returns
    -------
    words : list of str
        Options and values as they were typed, not quoted.
    """
    context = click.get_current_context()
    words: list[str] = []
    for parameter in context.command.params:
        name = parameter.name or ""
        source = context.get_parameter_source(name)
        value = context.params.get(name)
        if not is_repeated(name) or source in (
            None,
            click.core.ParameterSource.DEFAULT,
            click.core.ParameterSource.DEFAULT_MAP,
        ):
            continue
        if isinstance(parameter, click.Argument):
            words += map(str, value if isinstance(value, tuple) else (value,))
        elif isinstance(parameter, click.Option) and parameter.is_flag:
            words += [parameter.opts[0]] if value else []
        else:
            for each in value if isinstance(value, tuple) else (value,):
                words += [parameter.opts[0], str(each)]
    return words


def write_sheet(
    sheet: Path,
    start: np.datetime64 | None,
    report: Report,
    make: Callable[..., Sheet],
) -> None:
    """
    Write a page, whole or not at all.

    Parameters
    ----------
    sheet : pathlib.Path
        The page.
    start : numpy.datetime64 or None
        As `command_again` takes it.
    report : Report
        The answer, for what was understood and what is said on top.
    make : callable
        Makes the page of ``inputs``, ``provenance``, the ``command`` that makes it
        again and a ``note``.
    """
    from advisor.show.page.sheet import sheet_html
    from geo.fields import as_mapping

    page = make(
        inputs=as_mapping(report.inputs),
        provenance=program_provenance(),
        command=command_again(start, sheet),
        note=report.note,
    )
    write(sheet_html(page), sheet)


def write_answer_sheet(
    sheet: Path,
    query: Query,
    advice: Answer,
    lead: Sequence[Section] = (),
    *,
    bands: Mapping[str, Sequence[str]] | None = None,
    also: Sequence[Caution] = (),
    plan: Activation | None = None,
) -> None:
    """
    Write the page of an answer, whole or not at all.

    Parameters
    ----------
    sheet : pathlib.Path
        The page.
    query : Query
        What was asked.
    advice : Answer
        The answer.
    lead : sequence of Section, optional
        What the command has found besides; stands before the hours.
    bands : mapping of str to sequence of str, optional
        For each set-up's name the bands it is used on, for the exposure distances;
        by default its best ones.
    also : sequence of Caution, optional
        Cautions of these very wires.
    plan : Activation, optional
        The plan that the page is about.

    Raises
    ------
    InputError
        If no set-up is cut for any band asked about.
    """
    page = answer_page(
        advice,
        cache_dir(query.options),
        command_again(advice.question.times[0], sheet),
        query.zone,
        is_demo=query.is_demo,
        lead=lead,
        bands=bands,
        also=also,
        plan=plan,
    )
    write(page, sheet)


def answer_page(
    advice: Answer,
    cache: Path | None,
    command: str,
    zone: str | None,
    *,
    bands: Mapping[str, Sequence[str]] | None = None,
    **more: Any,
) -> str:
    """
    Make the page of an answer.

    Parameters
    ----------
    advice : Answer
        The answer.
    cache : pathlib.Path or None
        Where solved wires and rays are kept.
    command : str
        What makes the same page again.
    zone : str or None
        IANA time zone whose local time stands beside UTC.
    bands : mapping of str to sequence of str, optional
        As `write_answer_sheet` takes it.
    **more : object
        What else `advisor.show.page.tonight.tonight_sheet` takes.

    Returns
    -------
    html : str
        The page.

    Raises
    ------
    InputError
        If no set-up is cut for any band asked about.
    """
    from advisor.answers.pictures.keepclear import keep_clear
    from advisor.answers.pictures.page import sheet_data
    from advisor.answers.pictures.scene import Scene
    from advisor.answers.shut import check_is_cut
    from advisor.show.page.sheet import sheet_html
    from advisor.show.page.tonight import tonight_sheet

    check_is_cut(advice)
    scene = Scene(advice, cache)
    page = tonight_sheet(
        scene,
        sheet_data(scene),
        advice.question.declination_deg,
        program_provenance(),
        command,
        zone=zone,
        clear=keep_clear(advice, cache, bands),
        **more,
    )
    return sheet_html(page)
