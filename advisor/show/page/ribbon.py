"""The day ribbon on top of a page: cells, runs and light as the template sets them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from advisor.answers.hours import HOURS_A_DAY, hour_name, span_names
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.daylight import Daylight
from advisor.answers.pictures.ribbon import Ribbon, RibbonRow
from advisor.answers.words import days_in_ten
from advisor.engine.question import Question
from advisor.show.charts.style import LIGHTS
from advisor.show.text.cells import Cell, chance_look
from geo.arrays import Times
from geo.sun import CIVIL_TWILIGHT_DEG, REFRACTION_AND_RADIUS_DEG

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_ROOM, _LITTLE_ROOM = 1.0 / 9.0, 1.0 / 25.0
"""Shares of the width in which a band's name fits, and its figure alone, on a phone."""


@dataclass(frozen=True)
class Mark:
    """
    A word at a place on the ribbon.

    Attributes
    ----------
    left, wide : str
        Where it begins and how wide it is, in per cent.
    words : str
        What is written.
    first, last : int
        The hours it stands for.
    whole : str
        The same in full.
    """

    left: str
    wide: str
    words: str
    first: int = 0
    last: int = 0
    whole: str = ""


@dataclass(frozen=True)
class Lane:
    """
    One target on the ribbon.

    Attributes
    ----------
    target, finding : str
        Its name, and what the lane says.
    cells : tuple of Cell
        The hours, with their shade.
    runs : tuple of Mark
        Bands; closed hours have no words.
    lights : tuple of (str, str)
        For each end its name and its light as colours with places.
    """

    target: str
    finding: str
    cells: tuple[Cell, ...]
    runs: tuple[Mark, ...]
    lights: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class RibbonView:
    """
    The ribbon as it is set.

    Attributes
    ----------
    start : str
        First hour, UTC, as a browser reads it.
    count : int
        How many hours.
    days, hours : tuple of Mark
        Words over and under it.
    lanes : tuple of Lane
        One a target.
    """

    start: str
    count: int
    days: tuple[Mark, ...]
    hours: tuple[Mark, ...]
    lanes: tuple[Lane, ...]


def ribbon_view(record: Ribbon) -> RibbonView:
    """
    Set a ribbon.

    Parameters
    ----------
    record : Ribbon
        What is shown.

    Returns
    -------
    view : RibbonView
        For the template.
    """
    utc = record.question.times
    count = utc.size
    step = 3 if count <= HOURS_A_DAY else 12
    clock = [int(str(time)[11:13]) for time in utc]
    return RibbonView(
        start=f"{utc[0].astype('datetime64[m]')}Z",
        count=count,
        days=tuple(_days(utc)),
        hours=tuple(
            _mark(t, t, count, f"{clock[t]:02d}Z")
            for t in range(count)
            if clock[t] % step == 0 or count <= step
        ),
        lanes=tuple(_lane(record.question, row) for row in record.rows),
    )


def _mark(first: int, last: int, count: int, words: str, whole: str = "") -> Mark:
    """Place words over some hours."""
    left, wide = (f"{100.0 * n / count:.3f}%" for n in (first, last + 1 - first))
    return Mark(left, wide, words, first, last, whole or words)


def _days(utc: Times) -> Iterator[Mark]:
    """Name each day where it begins."""
    days = utc.astype("datetime64[D]")
    starts = [0, *(np.flatnonzero(np.diff(days)) + 1).tolist(), utc.size]
    for first, end in pairwise(starts):
        # 1 January 1970 was a Thursday.
        name = _DAYS[(int(days[first].astype(int)) + 3) % 7]
        # No room for a day of an hour or two.
        if end - first > utc.size // 12 or first == 0:
            yield _mark(first, end - 1, utc.size, f"{name} {days[first]}")


def _lane(question: Question, row: RibbonRow) -> Lane:
    """Set one target."""
    count = question.times.size
    cells = [chance_look(float(chance)) for chance in row.chance]
    return Lane(
        target=row.target,
        finding=_finding(question, row),
        cells=tuple(
            cell if count <= HOURS_A_DAY else replace(cell, text="") for cell in cells
        ),
        runs=tuple(
            _mark(
                run.first,
                run.last,
                count,
                _fitting(run.band, (run.last + 1 - run.first) / count),
                run.band,
            )
            for run in row.runs
        ),
        lights=tuple((end.label, _light(end)) for end in row.ends),
    )


def _fitting(band: str, share: float) -> str:
    """Shorten a band's name to the room that it has."""
    if share >= _ROOM:
        return band
    return band.partition(" ")[0] if share >= _LITTLE_ROOM else ""


def _finding(question: Question, row: RibbonRow) -> str:
    """Say the runs and the best hour."""
    runs = [run for run in row.runs if run.band]
    spans = span_names(question, ((run.first, run.last) for run in runs))
    best = int(row.chance.argmax())
    if not runs or row.chance[best] < OPEN_CHANCE:
        return f"{row.target}: nothing opens in these hours."
    told = ", ".join(
        f"{run.band} {span}" for run, span in zip(runs, spans, strict=True)
    )
    return (
        f"{row.target}: {told}; at best {days_in_ten(float(row.chance[best]))} at "
        f"{hour_name(question, best)}."
    )


def _light(end: Daylight) -> str:
    """Write day, twilight and night as stops of a gradient from left to right."""
    kind = np.select(
        [
            end.elevation_deg > -REFRACTION_AND_RADIUS_DEG,
            end.elevation_deg > -CIVIL_TWILIGHT_DEG,
        ],
        [0, 1],
        2,
    )
    edges = [0, *(np.flatnonzero(np.diff(kind)) + 1).tolist(), kind.size - 1]
    place = 100.0 * (end.hour - end.hour[0]) / np.ptp(end.hour)
    return ",".join(
        f"{LIGHTS[kind[first]]} {place[first]:.2f}% {place[last]:.2f}%"
        for first, last in pairwise(edges)
    )
