"""Hours of a question and runs of them by name."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np

from advisor.engine.question import Question
from geo.arrays import Times

HOURS_A_DAY = 24

_MONTHS = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun",
    "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip


_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def local_moment(time: np.datetime64, zone: str = "UTC") -> datetime:
    """
    Read a moment on the clock of a zone.

    Parameters
    ----------
    time : numpy.datetime64
        UTC.
    zone : str, optional
        IANA name of the zone.

    Returns
    -------
    moment : datetime.datetime
        With its zone.
    """
    moment: datetime = time.astype("datetime64[s]").item()
    return moment.replace(tzinfo=UTC).astimezone(ZoneInfo(zone))


def weekday(moment: date) -> str:
    """
    Name the day of the week, the same in every language.

    Parameters
    ----------
    moment : datetime.datetime
        A moment.

    Returns
    -------
    name : str
        Three letters.
    """
    return _WEEKDAYS[moment.weekday()]


def zone_title(zone: str | None) -> str:
    """
    Write the last part of a zone's name.

    Parameters
    ----------
    zone : str or None
        Such as ``Africa/Johannesburg``.

    Returns
    -------
    title : str
        Such as ``Johannesburg``; empty for none.
    """
    return (zone or "").rsplit("/", maxsplit=1)[-1].replace("_", " ")


def asked_hours(times: Times, zone: str | None = None) -> str:
    """
    Say from when to when a question goes, by UTC and by the station's clock.

    Parameters
    ----------
    times : numpy.ndarray of datetime64[s]
        Beginnings of its hours.
    zone : str, optional
        IANA name of the station's zone.

    Returns
    -------
    words : str
        With weekdays, up to the end of the last hour.

    Examples
    --------
    >>> hours = np.datetime64("2026-12-05T14") + np.arange(10).astype("m8[h]")
    >>> asked_hours(hours, "Asia/Tokyo")
    'Sat 5 Dec 2026 14Z to Sun 6 Dec 00Z (Tokyo Sat 23:00 to Sun 09:00)'
    """
    ends = times[0], times[-1] + np.timedelta64(1, "h")
    first, last = (local_moment(time) for time in ends)
    words = f"{weekday(first)} {_date(first)} {first.year} {first:%H}Z to "
    if last.date() != first.date():
        words += f"{weekday(last)} {_date(last)} "
    words += f"{last:%H}Z"
    if not zone:
        return words
    here, there = (local_moment(time, zone) for time in ends)
    until = "" if here.date() == there.date() else f"{weekday(there)} "
    return (
        f"{words} ({zone_title(zone)} {weekday(here)} {here:%H:%M} to "
        f"{until}{there:%H:%M})"
    )


def _date(moment: datetime) -> str:
    """Write a day of a month, the same in every language."""
    return f"{moment.day} {_MONTHS[moment.month - 1]}"


def hour_name(question: Question, hour: int) -> str:
    """
    Name an hour of the question, UTC.

    Parameters
    ----------
    question : Question
        Holds the hours.
    hour : int
        Place on the hour axis.

    Returns
    -------
    name : str
        Such as ``06Z``; with its day, ``6 Dec 06Z``, if an hour comes twice.
    """
    day, clock = _day_and_hour(question.times[hour])
    is_dated = question.times.size > HOURS_A_DAY
    return f"{_day_name(day)} {clock}Z" if is_dated else f"{clock}Z"


def span_names(question: Question, spans: Iterable[tuple[int, int]]) -> list[str]:
    """
    Name runs of hours that are told one after the other.

    Parameters
    ----------
    question : Question
        Holds the hours.
    spans : iterable of tuple of int
        First and last hour of each, as places on the hour axis.

    Returns
    -------
    names : list of str
        Such as ``09-15Z``, up to the end of the last hour. If the question is longer
        than a day, the day stands before the first and wherever it is another than
        the day told last.
    """
    names = []
    told = ""
    for first, last in spans:
        day, begin = _day_and_hour(question.times[first])
        end_day, end = _day_and_hour(question.times[last] + np.timedelta64(1, "h"))
        name = f"{begin}-{end}Z"
        if question.times.size > HOURS_A_DAY:
            if last - first >= HOURS_A_DAY:
                # A whole day or more: the end needs its day too.
                name = f"{begin}Z to {_day_name(end_day)} {end}Z"
            if day != told:
                name = f"{_day_name(day)} {name}"
            told = end_day if last - first >= HOURS_A_DAY else day
        names.append(name)
    return names


def _day_and_hour(time: np.datetime64) -> tuple[str, str]:
    """Split a moment into its day and the hour of the day."""
    day, hour = str(time.astype("datetime64[h]")).split("T")
    return day, hour


def _day_name(day: str) -> str:
    """Name a day, the same in every language: 2026-12-06 is 6 Dec."""
    month, number = day.split("-")[-2:]
    return f"{int(number)} {_MONTHS[int(month) - 1]}"
