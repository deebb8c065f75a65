"""
The openings of a plan as a calendar file, RFC 5545 (iCalendar).

Only what such a file must have is written, all times in UTC. The same plan gives the
same bytes: the stamp is the first hour of the plan and the identifiers are hashes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence

import numpy as np

from advisor.answers.outing.plan import Activation, Slot
from advisor.answers.runs import run_words
from advisor.answers.words import days_in_ten

LINE_OCTETS = 75
"""No line is longer, its end left out (RFC 5545 section 3.1). [octets]"""


def calendar_text(plan: Activation, version: str) -> str:
    """
    Write every slot of a plan as an event; if nothing opens, one that says so.

    Parameters
    ----------
    plan : Activation
        The plan.
    version : str
        Version of the program, for PRODID.

    Returns
    -------
    text : str
        The file, lines ended by CR LF.
    """
    question = plan.advice.question
    stamp = moment(question.times[0])
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:-//skiplobe//skiplobe {escaped(version)}//EN",
        "CALSCALE:GREGORIAN",
    ]
    open_slots = [slot for slot in plan.slots if slot.setup >= 0]
    for slot in open_slots:
        lines += _event(plan, slot, stamp)
    if not open_slots:
        lines += _nothing(plan, stamp)
    lines.append("END:VCALENDAR")
    return "".join(f"{part}\r\n" for line in lines for part in folded(line))


def _event(plan: Activation, slot: Slot, stamp: str) -> list[str]:
    """Write one slot."""
    question = plan.advice.question
    band = question.bands[slot.band].name
    setup = plan.setups[slot.setup].name
    begin = question.times[slot.first]
    end = question.times[slot.last] + np.timedelta64(1, "h")
    names = [target.name for target in plan.advice.targets]
    first = int((plan.weights * slot.chance).argmax())
    says = [
        f"{name}: {days_in_ten(float(chance))}"
        for name, chance in zip(names, slot.chance, strict=True)
    ]
    wire = plan.advice.setups[slot.setup]
    bearing = wire.bearing.wire_deg
    runs = "any way" if bearing is None else run_words(bearing, end=wire.first_end)
    summary = f"{band} to {names[first]}: {days_in_ten(float(slot.chance[first]))}"
    text = [f"{setup}, run {runs}", *says]
    if slot.backup_band >= 0:
        text.append(
            f"If the band is dead: {question.bands[slot.backup_band].name} on "
            f"{plan.setups[slot.backup_setup].name}"
        )
    text.append("Days of such a month on which a station there can be worked both ways")
    return _lines(plan, stamp, (begin, end), summary, text, (band, setup, *says))


def _nothing(plan: Activation, stamp: str) -> list[str]:
    """Write the one event of a plan without a slot: a calendar must have one."""
    times = plan.advice.question.times
    span = (times[0], times[-1] + np.timedelta64(1, "h"))
    names = [target.name for target in plan.advice.targets]
    text = [f"No band opens to {name}" for name in names]
    return _lines(plan, stamp, span, "Nothing opens", text, ("nothing",))


def _lines(
    plan: Activation,
    stamp: str,
    span: tuple[np.datetime64, np.datetime64],
    summary: str,
    text: Sequence[str],
    marks: Iterable[str],
) -> list[str]:
    """Write one event; the marks tell it from others of the same hours."""
    place = plan.advice.question.place
    names = [target.name for target in plan.advice.targets]
    begin, end = (moment(time) for time in span)
    identity = "|".join((place.label, *names, begin, end, *marks))
    return [
        "BEGIN:VEVENT",
        f"UID:{hashlib.sha256(identity.encode()).hexdigest()[:32]}@skiplobe",
        f"DTSTAMP:{stamp}",
        f"DTSTART:{begin}",
        f"DTEND:{end}",
        f"SUMMARY:{escaped(summary)}",
        f"DESCRIPTION:{escaped(chr(10).join(text))}",
        f"LOCATION:{escaped(plan.advice.question.here)}",
        f"GEO:{place.lat_deg:.6f};{place.lon_deg:.6f}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def moment(time: np.datetime64) -> str:
    """
    Write a moment as a UTC date with time (RFC 5545 section 3.3.5, form 2).

    Parameters
    ----------
    time : numpy.datetime64
        UTC.

    Returns
    -------
    text : str
        Such as ``20261205T140000Z``.

    Examples
    --------
    >>> moment(np.datetime64("2026-12-05T14:00"))
    '20261205T140000Z'
    """
    plain = str(time.astype("datetime64[s]"))
    return plain.replace("-", "").replace(":", "") + "Z"


def escaped(text: str) -> str:
    r"""
    Escape a text value (RFC 5545 section 3.3.11); other control characters go.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    text : str
        Backslash, semicolon, comma and line break escaped.

    Examples
    --------
    >>> print(escaped("a;b, c" + chr(10) + "d"))
    a\;b\, c\nd
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    plain = "".join(c for c in lines if c in "\n\t" or (c >= " " and c != "\x7f"))
    for mark in ("\\", ";", ","):
        plain = plain.replace(mark, f"\\{mark}")
    return plain.replace("\n", "\\n")


def folded(line: str) -> Iterable[str]:
    """
    Fold a content line at `LINE_OCTETS`, never within a character.

    Parameters
    ----------
    line : str
        One unfolded line.

    Yields
    ------
    part : str
        Lines of the file; those after the first begin with a blank.

    Examples
    --------
    >>> [len(part) for part in folded("X" * 100)]
    [75, 26]
    """
    part, octets = "", 0
    for character in line:
        size = len(character.encode())
        if octets + size > LINE_OCTETS:
            yield part
            part, octets = " ", 1
        part += character
        octets += size
    yield part
