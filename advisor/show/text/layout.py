"""
Lines, columns and blocks of plain text, no wider than what it is written for.

How wide that is, the command line says once for an answer (`lines_of`). Without it,
and wherever output is not a terminal, prose has `WIDTH` characters a line and a table
one line a row, so that what goes to a file does not depend on the screen it was asked
from.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from itertools import pairwise, zip_longest

import numpy as np

from advisor.answers.hours import local_moment, weekday

WIDTH = 96
"""Characters a line of prose has at most."""

LEAST_WIDTH = 40
"""Narrower than this nothing is set: a column of hours and a reason need it."""

_GAP = "  "

_width: ContextVar[int | None] = ContextVar("width", default=None)


@contextmanager
def lines_of(width: int) -> Iterator[None]:
    """
    Set text in lines of a width for a while.

    Parameters
    ----------
    width : int
        Characters a line may have; held to `LEAST_WIDTH` and more. Prose is never
        wider than `WIDTH`, tables may be.

    Yields
    ------
    None
        While it holds.

    Examples
    --------
    >>> with lines_of(40):
    ...     print(paragraph("A line of text that is longer than forty letters."))
    A line of text that is longer than forty
    letters.
    """
    token = _width.set(max(width, LEAST_WIDTH))
    try:
        yield
    finally:
        _width.reset(token)


def paragraph(text: str, indent: str = "") -> str:
    """
    Break a sentence into lines.

    Parameters
    ----------
    text : str
        What to say.
    indent : str, optional
        Put before every line after the first.

    Returns
    -------
    text : str
        Lines of at most `WIDTH` characters, or of what `lines_of` says if less.
    """
    width = min(_width.get() or WIDTH, WIDTH)
    return textwrap.fill(text, width, subsequent_indent=indent, break_on_hyphens=False)


def table(
    head: Sequence[str],
    rows: Iterable[Sequence[str]],
    left: frozenset[int] = frozenset(),
    *,
    keys: int = 1,
    above: Sequence[str] = (),
) -> str:
    """
    Set out rows of text in columns; in several blocks if they do not fit side by side.

    Parameters
    ----------
    head : sequence of str
        Column titles.
    rows : iterable of sequence of str
        Cells, as many a row as there are titles.
    left : frozenset of int, optional
        Columns set flush left, their cells broken into lines if they must be; the
        others are flush right.
    keys : int, optional
        First columns that are repeated in every block.
    above : sequence of str, optional
        A line to put above each row, empty for none.

    Returns
    -------
    text : str
        Lines without trailing blanks; a blank line between blocks.

    Examples
    --------
    >>> print(table(["UTC", "20 m"], [["23", "7"], ["00", "10"]], above=["", "6 Dec"]))
    UTC  20 m
     23     7
    6 Dec
     00    10
    """
    lines = [list(head), *[list(row) for row in rows]]
    widths = [max(len(line[i]) for line in lines) for i in range(len(head))]
    most = _width.get() or sum(widths) + len(_GAP) * len(widths)
    room = most - sum(width + len(_GAP) for width in widths[:keys])
    for i in sorted(left):
        if i >= keys and widths[i] > room >= _LEAST_CELL:
            widths[i] = room
    over = ["", *above]
    blocks = []
    for columns in _blocks(widths, keys, most):
        block = []
        for n, line in enumerate(lines):
            if n < len(over) and over[n]:
                block.append(over[n])
            cells = [_folded(line[i], widths[i], i in left) for i in columns]
            for parts in zip_longest(*cells, fillvalue=""):
                block.append(
                    _GAP.join(
                        part.ljust(widths[i]) if i in left else part.rjust(widths[i])
                        for i, part in zip(columns, parts, strict=True)
                    ).rstrip()
                )
        blocks.append("\n".join(block))
    return "\n\n".join(blocks)


_LEAST_CELL = 10


def _folded(cell: str, width: int, is_left: bool) -> list[str]:
    """Break a cell that is too long for its column into lines."""
    if not is_left or len(cell) <= width:
        return [cell]
    return textwrap.wrap(cell, width, break_on_hyphens=False)


def _blocks(widths: Sequence[int], keys: int, most: int) -> list[list[int]]:
    """Share out columns to blocks, the first ones in each."""
    first = list(range(min(keys, len(widths))))
    taken = sum(widths[i] + len(_GAP) for i in first) - len(_GAP)
    blocks: list[list[int]] = []
    used = 0
    for i in range(len(first), len(widths)):
        need = widths[i] + len(_GAP)
        if not blocks or used + need > most:
            blocks.append(list(first))
            used = taken
        blocks[-1].append(i)
        used += need
    return blocks or [first]


def hour_cell(time: np.datetime64) -> str:
    """
    Write the hour of a row.

    Parameters
    ----------
    time : numpy.datetime64
        A moment, UTC.

    Returns
    -------
    cell : str
        Such as ``06``.
    """
    return str(time.astype("datetime64[h]"))[-2:]


def local_hour(time: np.datetime64, zone: str) -> str:
    """
    Write the hour and minute of a moment in a time zone.

    Parameters
    ----------
    time : numpy.datetime64
        UTC.
    zone : str
        IANA name of the zone.

    Returns
    -------
    text : str
        Such as ``16:00``.
    """
    return f"{local_moment(time, zone):%H:%M}"


def local_minute(time: np.datetime64, zone: str) -> str:
    """
    Write weekday and time of day of an event in a time zone.

    Parameters
    ----------
    time : numpy.datetime64
        UTC.
    zone : str
        IANA name of the zone.

    Returns
    -------
    text : str
        Such as ``Sat 16:12``.
    """
    here = local_moment(time, zone)
    return f"{weekday(here)} {here:%H:%M}"


def local_hours(times: Iterable[np.datetime64], zone: str) -> list[str]:
    """
    Write hours one after the other in a time zone.

    Parameters
    ----------
    times : iterable of numpy.datetime64
        UTC.
    zone : str
        IANA name of the zone.

    Returns
    -------
    texts : list of str
        Such as ``16:00``; the weekday before the first of each day.

    Examples
    --------
    >>> import numpy as np
    >>> times = np.datetime64("2026-12-05T14") + np.arange(3).astype("m8[h]")
    >>> local_hours(times, "Asia/Tokyo")
    ['Sat 23:00', 'Sun 00:00', '01:00']
    """
    told, texts = None, []
    for time in times:
        here = local_moment(time, zone)
        day = "" if here.date() == told else f"{weekday(here)} "
        texts.append(f"{day}{here:%H:%M}")
        told = here.date()
    return texts


def minute(time: np.datetime64) -> str:
    """
    Write the time of day of an event.

    Parameters
    ----------
    time : numpy.datetime64
        UTC.

    Returns
    -------
    words : str
        Hour and minute; a dash where it does not happen.
    """
    return "-" if np.isnat(time) else str(time.astype("datetime64[m]"))[-5:]


def distance_words(nearest_km: float, farthest_km: float) -> str:
    """
    Write a distance or a range of distances.

    Parameters
    ----------
    nearest_km, farthest_km : float
        Its ends. [km]

    Returns
    -------
    text : str
        One figure where they are less than a kilometre apart.

    Examples
    --------
    >>> distance_words(650.2, 650.2), distance_words(80.0, 800.0)
    ('650 km', '80 to 800 km')
    """
    if farthest_km - nearest_km < 1.0:
        return f"{farthest_km:.0f} km"
    return f"{nearest_km:.0f} to {farthest_km:.0f} km"


def day_lines(times: Iterable[np.datetime64]) -> list[str]:
    """
    Lines to put above the rows of a table where a new day begins.

    Parameters
    ----------
    times : iterable of numpy.datetime64
        Moment of each row, UTC.

    Returns
    -------
    above : list of str
        The date where it is another than that of the row before, else empty; the
        first row has none, since the heading says when it is.

    Examples
    --------
    >>> import numpy as np
    >>> day_lines(np.datetime64("2026-12-05T23") + np.arange(3).astype("m8[h]"))
    ['', 'Sun 2026-12-06', '']
    """
    days = [local_moment(time).date() for time in times]
    return ["", *("" if a == b else f"{weekday(b)} {b}" for a, b in pairwise(days))][
        : len(days)
    ]
