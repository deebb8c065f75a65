"""Tables made once: for the terminal as text in columns, for a page as cells."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from advisor.answers.hours import zone_title
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.words import in_ten
from advisor.engine.question import Question
from advisor.show.text import layout
from geo.arrays import Times

T = TypeVar("T")

STEPS = 10
"""Shades of a chance: one a day in ten."""


@dataclass(frozen=True)
class Cell:
    """
    One cell of a table.

    Attributes
    ----------
    text : str
        What is shown on a page.
    exact : str
        The figure behind it in full, for whoever reads the page by program; may be
        empty.
    look : str
        Names of styles; may be empty.
    short : str
        What is shown on a terminal, if it is something else.
    """

    text: str
    exact: str = ""
    look: str = ""
    short: str = ""


@dataclass(frozen=True)
class Column(Generic[T]):
    """
    One column of a table of records.

    Attributes
    ----------
    head : str
        Its title on a terminal; empty if it only stands on a page.
    cell : callable
        What to write of a record: a cell, or its text.
    title : str or None
        Its title on a page; empty for the same, None if it only stands on a terminal.
    is_words : bool
        Whether a terminal sets it flush left.
    """

    head: str
    cell: Callable[[T], Cell | str]
    title: str | None = ""
    is_words: bool = False

    def of(self, each: T) -> Cell:
        """
        Make the cell of a record.

        Parameters
        ----------
        each : object
            The record of the row.

        Returns
        -------
        cell : Cell
            Words, and the figure behind them where there is one.
        """
        cell = self.cell(each)
        return Cell(cell) if isinstance(cell, str) else cell


@dataclass(frozen=True)
class Table:
    """
    A table of a page.

    Attributes
    ----------
    caption : str
        What it shows.
    head : tuple of str
        Column titles.
    rows : tuple of tuple of Cell
        The first cell of a row is its title.
    key : str
        Name in the page; may be empty.
    note : str
        Said below it; may be empty.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    key: str = ""
    note: str = ""


def page_table(
    caption: str,
    columns: Iterable[Column[T]],
    records: Iterable[T],
    *,
    key: str = "",
    note: str = "",
) -> Table:
    """
    Set out records on a page.

    Parameters
    ----------
    caption : str
        What the table shows.
    columns : iterable of Column
        Those without a title on a page are left out.
    records : iterable
        One a row.
    key, note : str, optional
        See `Table`.

    Returns
    -------
    table : Table
        For a section of a page.

    Examples
    --------
    >>> columns = [Column("m", str, "wire m"), Column("ft", hex, None)]
    >>> page_table("Lengths", columns, [20]).rows
    ((Cell(text='20', exact='', look='', short=''),),)
    """
    shown = [each for each in columns if each.title is not None]
    return Table(
        caption,
        tuple(each.title or each.head for each in shown),
        tuple(tuple(column.of(each) for column in shown) for each in records),
        key,
        note,
    )


def text_table(
    columns: Iterable[Column[T]],
    records: Iterable[T],
    *,
    keys: int = 1,
    above: Sequence[str] = (),
) -> str:
    """
    Set out records on a terminal.

    Parameters
    ----------
    columns : iterable of Column
        Those without a head are left out.
    records : iterable
        One a row.
    keys, above
        See `advisor.show.text.layout.table`.

    Returns
    -------
    text : str
        Lines without trailing blanks.

    Examples
    --------
    >>> print(text_table([Column("band", str), Column("", hex, "hex")], ["20 m"]))
    band
    20 m
    """
    shown = [each for each in columns if each.head]
    cells = [[column.of(each) for column in shown] for each in records]
    return layout.table(
        [each.head for each in shown],
        [[each.short or each.text for each in row] for row in cells],
        frozenset(i for i, each in enumerate(shown) if each.is_words),
        keys=keys,
        above=above,
    )


def hours_table(
    times: Times,
    columns: Iterable[Column[int]],
    zone: str | None = None,
    local: str = "local",
) -> str:
    """
    Set out hours on a terminal, one a line, with a line where a new day begins.

    Parameters
    ----------
    times : numpy.ndarray of numpy.datetime64
        Beginnings of the hours, UTC.
    columns : iterable of Column
        Of an hour's place among them; UTC stands before them.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.
    local : str, optional
        Title of that.

    Returns
    -------
    text : str
        Lines without trailing blanks.
    """
    first = [Column[int]("UTC", lambda t: layout.hour_cell(times[t]))]
    if zone:
        here = layout.local_hours(times, zone)
        first.append(Column(local, lambda t: here[t]))
    above = layout.day_lines(times)
    return text_table(
        [*first, *columns], range(times.size), keys=len(first), above=above
    )


def hours_of(question: Question, columns: Iterable[Column[int]]) -> str:
    """
    Set out the hours of a question, with the local time of its station.

    Parameters
    ----------
    question : Question
        What was asked.
    columns : iterable of Column
        As in `hours_table`.

    Returns
    -------
    text : str
        Lines without trailing blanks.
    """
    zone = question.station.time_zone
    return hours_table(question.times, columns, zone, zone_title(zone))


def chance_cell(
    chance: float, shut: str, is_best: bool, is_doubtful: bool = False
) -> str:
    """
    Write one chance in days in ten.

    Parameters
    ----------
    chance : float
        0 to 1.
    shut : str
        What stands there if the band is shut, see `advisor.answers.states.mark`.
    is_best : bool
        Whether it is the best band of the hour; marked with a star.
    is_doubtful : bool, optional
        Whether it is not to be relied on; marked with a question mark.

    Returns
    -------
    cell : str
        Days in ten, or the mark of a shut band.

    Examples
    --------
    >>> chance_cell(0.74, "", True), chance_cell(0.01, "-12", False)
    ('7*', '-12 ')
    """
    doubt = "?" if is_doubtful and shut != "-" else ""
    if shut or chance < OPEN_CHANCE:
        return f"{shut or '.'}{doubt} "
    return f"{max(round(10 * chance), 1)}{doubt}{'*' if is_best else ' '}"


def chance_look(chance: float, shut: str = "", is_best: bool = False) -> Cell:
    """
    Set a chance in a cell, days in ten on the shade of that figure.

    Parameters
    ----------
    chance : float
        0 to 1.
    shut : str, optional
        What stands there if the band is shut.
    is_best : bool, optional
        Whether it is the band to be on.

    Returns
    -------
    cell : Cell
        With the chance in full behind it.

    Examples
    --------
    >>> chance_look(0.74, is_best=True)
    Cell(text='7*', exact='0.74', look='c7 best', short='')
    >>> chance_look(0.01)
    Cell(text='.', exact='0.01', look='shut', short='')
    """
    text = chance_cell(chance, shut, is_best).strip()
    if shut == "-":
        return Cell(text, "", "off")
    if chance < OPEN_CHANCE:
        return Cell(text, repr(chance), "shut")
    shade = f"c{max(round(STEPS * chance), 1)}"
    return Cell(text, repr(chance), f"{shade} best" if is_best else shade)


def mean_chance(chance: float) -> Cell:
    """
    Set a mean chance in a cell, to a tenth of a day in ten on the shade of that.

    Parameters
    ----------
    chance : float
        0 to 1.

    Returns
    -------
    cell : Cell
        With the chance in full behind it.

    Examples
    --------
    >>> mean_chance(0.744)
    Cell(text='7.4', exact='0.744', look='c7', short='')
    """
    return Cell(in_ten(chance), repr(chance), chance_look(chance).look)


def number(value: float, digits: int = 1, unit: str = "") -> Cell:
    """
    Set a figure in a cell.

    Parameters
    ----------
    value : float
        The figure; NaN is a dash.
    digits : int, optional
        Decimals shown.
    unit : str, optional
        Written behind it on a page.

    Returns
    -------
    cell : Cell
        With the figure in full behind it.

    Examples
    --------
    >>> number(-0.04), number(float("nan")).text
    (Cell(text='0.0', exact='-0.04', look='', short='0.0'), '-')
    """
    if not math.isfinite(value):
        return Cell("-")
    shown = f"{round(float(value), digits) + 0.0:.{digits}f}"
    return Cell(f"{shown} {unit}".rstrip(), repr(float(value)), short=shown)


def plain_rows(rows: Sequence[Sequence[str]]) -> tuple[tuple[Cell, ...], ...]:
    """
    Make cells of texts.

    Parameters
    ----------
    rows : sequence of sequence of str
        Texts.

    Returns
    -------
    rows : tuple of tuple of Cell
        Cells.
    """
    return tuple(tuple(Cell(text) for text in row) for row in rows)
