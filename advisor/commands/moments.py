"""
Dates and times as people say them, read against the clock and the station's own zone.

The clock is handed in, so that what a word means can be tested.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, time, timedelta, tzinfo
from typing import TYPE_CHECKING

from geo.errors import InputError, near_matches

if TYPE_CHECKING:
    import numpy as np

WEEKDAYS = (
    "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday",
)  # fmt: skip

_DAYS = ("now", "today", "tonight", "tomorrow", *WEEKDAYS)

_EVENING = time(18)
"""When 'tonight' begins. The project's choice."""

_CLOCK = re.compile(r"([01]?\d|2[0-3])(?::([0-5]\d))?\s*(z|utc)?", re.IGNORECASE)


def moment(
    text: str, now: datetime, zone: str | None, option: str = "--date"
) -> np.datetime64:
    """
    Read a moment.

    Parameters
    ----------
    text : str
        A date (``2026-12-05``), a moment (``2026-12-05T18:00Z``), a day in words
        (``today``, ``saturday``), a time of day (``18:00``, ``18:00Z``), or a day and a
        time. A weekday is the next one, today counted; a time of day alone is the next
        time it comes. ``today``, and ``tonight`` once it has begun, start with the hour
        that runs.
    now : datetime.datetime
        The clock, with its zone.
    zone : str or None
        IANA zone in which dates and times are meant that name none; None for UTC, and
        then times of day must name it.
    option : str, optional
        Where it was typed, for the error text.

    Returns
    -------
    moment : numpy.datetime64
        UTC, to the second.

    Raises
    ------
    InputError
        If it is none of these, no day of the calendar, or a time of day whose zone is
        not known.

    Examples
    --------
    >>> now = datetime(2026, 12, 2, 15, 20, tzinfo=UTC)  # a Wednesday
    >>> moment("saturday 9:00", now, "Asia/Tokyo")
    np.datetime64('2026-12-05T00:00:00')
    >>> moment("14:00Z", now, None)
    np.datetime64('2026-12-03T14:00:00')
    """
    from zoneinfo import ZoneInfo

    import numpy as np

    local = ZoneInfo(zone) if zone else UTC
    said = " ".join(text.strip().lower().split())
    found = _in_words(said, now.astimezone(local), zone, option)
    if found is None:
        found = _in_figures(text.strip(), local, zone, option)
    try:
        utc = found.astimezone(UTC)
    except OverflowError:
        raise InputError(f"{option} '{text}' is outside the calendar") from None
    return np.datetime64(utc.replace(tzinfo=None), "s")


def _in_words(
    said: str, now: datetime, zone: str | None, option: str
) -> datetime | None:
    """Read a day in words, a time of day, or both; None if it is neither."""
    day, _, clock = said.partition(" ")
    if day not in _DAYS:
        day, clock = "", said
    match = _CLOCK.fullmatch(clock)
    if clock and (match is None or (":" not in clock and not (day or match[3]))):
        return None
    if not day and match is None:
        return None
    if match is not None and match[3]:
        now = now.astimezone(UTC)
    elif match is not None and zone is None:
        raise InputError(
            f"{option} '{said}' does not say in which zone: write {clock}Z for UTC, or "
            "give your own with --local, or time_zone in the station file"
        )
    if day == "now":
        return now
    start = time(int(match[1]), int(match[2] or 0)) if match else time(0)
    if day == "tonight" and match is None:
        start = _EVENING
    # Of today only what is left.
    if day in ("today", "tonight") and match is None and start < now.time():
        return now
    ahead = 0
    if day == "tomorrow":
        ahead = 1
    elif day in WEEKDAYS:
        ahead = (WEEKDAYS.index(day) - now.weekday()) % 7
    found = datetime.combine(now.date() + timedelta(ahead), start, now.tzinfo)
    # The hour that runs now has not gone by.
    if not day and found <= now - timedelta(hours=1):
        found += timedelta(1)
    return found


def _in_figures(text: str, local: tzinfo, zone: str | None, option: str) -> datetime:
    """Read a date, or a date and a time, as ISO 8601 writes them."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError as error:
        raise InputError(_no_moment(text, option, error)) from None
    if found.tzinfo is not None:
        return found
    if zone is None and ("T" in text or " " in text):
        raise InputError(
            f"{option} '{text}' does not say in which zone: write {text}Z for UTC, or "
            "give your own with --local, or time_zone in the station file"
        )
    return found.replace(tzinfo=local)


def _no_moment(text: str, option: str, error: ValueError) -> str:
    """Say what is wrong with a text that is no moment, and what is allowed."""
    allowed = (
        "write 2026-12-05, 2026-12-05T18:00Z, today, tomorrow, saturday, 18:00Z or "
        "'saturday 18:00'"
    )
    day = re.match(r"(\d{4})-(\d\d?)-(\d\d?)", text)
    if day and any(each in str(error) for each in ("day", "month")):
        return f"{option} '{text}' is no day of the calendar: {allowed}"
    if re.match(r"\d\d?[/.]\d\d?[/.]\d{4}", text):
        return f"{option} '{text}': is that day or month first? {allowed}"
    close = near_matches(text, _DAYS) if text else ""
    return f"{option} '{text}' is no moment: {f'{close}; ' if close else ''}{allowed}"
