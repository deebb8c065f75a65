"""The calendar file against the rules of RFC 5545 (RFC Editor, September 2009)."""

import re
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.answers.ask import question_for
from advisor.answers.outing.plan import plan_activation
from advisor.answers.outing.timetable import Costs, weights_of
from advisor.show.formats.icalendar import calendar_text, escaped, folded, moment
from advisor.station.file import resolve_station

CONTENT_LINE = re.compile(r"[A-Z0-9-]+(;[A-Z0-9-]+=[^:;]+)*:[^\x00-\x08\x0a-\x1f\x7f]*")
"""Section 3.1: name, parameters, colon, value; no control characters but HTAB."""

DATE_TIME = re.compile(r"\d{8}T\d{6}Z")
"""Section 3.3.5, form 2: UTC."""

TEXT = re.compile(r"([^\\;,]|\\[\\;,nN])*")
"""Section 3.3.11: backslash, semicolon and comma only escaped."""

ONCE_IN_CALENDAR = {"VERSION", "PRODID"}
"""Section 3.6: both must be there, once."""

ONCE_IN_EVENT = {"UID", "DTSTAMP", "DTSTART"}
"""Section 3.6.1: there, once, in a calendar without METHOD (DTSTART too)."""


def unfolded(text):
    """Check line ends and lengths, then undo the folding (section 3.1)."""
    assert text.endswith("\r\n")
    raw = text[:-2].split("\r\n")
    for line in raw:
        assert "\r" not in line
        assert "\n" not in line
        assert len(line.encode()) <= 75
        assert line
    lines = []
    for line in raw:
        if line[0] in " \t":
            lines[-1] += line[1:]
        else:
            lines.append(line)
    return lines


def parsed(text):
    """Read properties and events, checking the grammar on the way."""
    lines = unfolded(text)
    for line in lines:
        assert CONTENT_LINE.fullmatch(line), line
    pairs = [tuple(line.split(":", 1)) for line in lines]
    assert pairs[0] == ("BEGIN", "VCALENDAR")
    assert pairs[-1] == ("END", "VCALENDAR")
    calendar, events, event = [], [], None
    for name, value in pairs[1:-1]:
        if (name, value) == ("BEGIN", "VEVENT"):
            assert event is None
            event = []
        elif (name, value) == ("END", "VEVENT"):
            events.append(event)
            event = None
        else:
            (calendar if event is None else event).append((name, value))
    assert event is None
    return calendar, events


def plain(value):
    """Undo the escapes of a text value."""
    assert TEXT.fullmatch(value), value
    return re.sub(r"\\(.)", lambda m: "\n" if m[1] in "nN" else m[1], value)


@pytest.fixture(scope="module")
def plan():
    """A plan whose names need escapes, folding and more than ASCII."""
    wire = {
        "name": 'wire; "höchster" Ast, 東京\\1 and quite a long name to be folded',
        "shape": "dipole",
        "height_m": 9.0,
        "bearing_deg": 120.0,
    }
    station, _ = resolve_station(
        None, {"place": "KF07jo", "bands": ["40 m", "20 m"], "setups": [wire]}
    )
    asked = question_for(
        station, ["KE", "within 600 km"], np.datetime64("2026-12-05T14"), 8, r12=60.0
    )
    return plan_activation(asked, weights_of(2), Costs(0.0, 0.0))


@pytest.mark.slow
def test_the_file_keeps_the_rules(plan):
    """Grammar, what must be there, and how often."""
    calendar, events = parsed(calendar_text(plan, "1.2.3"))
    names = [name for name, _ in calendar]
    for name in ONCE_IN_CALENDAR:
        assert names.count(name) == 1
    assert dict(calendar)["VERSION"] == "2.0"
    assert events
    for event in events:
        found = [name for name, _ in event]
        for name in ONCE_IN_EVENT:
            assert found.count(name) == 1
        # Section 3.6.1: DTEND or DURATION, not both.
        assert ("DTEND" in found) != ("DURATION" in found)
        values = dict(event)
        for name in ("DTSTAMP", "DTSTART", "DTEND"):
            assert DATE_TIME.fullmatch(values[name])
        assert values["DTSTART"] < values["DTEND"]
        # Section 3.8.1.6: latitude, then longitude, with a semicolon between.
        lat, lon = (float(part) for part in values["GEO"].split(";"))
        assert (lat, lon) == pytest.approx((-32.4, 20.8), abs=0.05)
        assert values["TRANSP"] in ("OPAQUE", "TRANSPARENT")
    # Section 3.8.4.7: globally unique.
    assert len({dict(event)["UID"] for event in events}) == len(events)


@pytest.mark.slow
def test_a_plan_in_which_nothing_opens_has_one_event(plan):
    """Section 3.6: a calendar has one component at least."""
    shut = [replace(slot, setup=-1, band=-1) for slot in plan.slots]
    calendar, (event,) = parsed(calendar_text(replace(plan, slots=tuple(shut)), "1"))
    assert dict(calendar)["VERSION"] == "2.0"
    values = dict(event)
    times = plan.advice.question.times
    assert values["DTSTART"] == moment(times[0])
    assert values["DTEND"] == moment(times[-1] + np.timedelta64(1, "h"))
    assert values["DTSTAMP"] == moment(times[0])
    assert "Nothing opens" in plain(values["SUMMARY"])
    for target in plan.advice.targets:
        assert target.name in plain(values["DESCRIPTION"])


@pytest.mark.slow
def test_events_are_the_slots(plan):
    """Hours and bands of the timetable, names as they were."""
    _, events = parsed(calendar_text(plan, "1"))
    times = plan.advice.question.times
    slots = [slot for slot in plan.slots if slot.setup >= 0]
    assert len(events) == len(slots)
    for event, slot in zip(events, slots, strict=True):
        values = dict(event)
        start = datetime.strptime(values["DTSTART"], "%Y%m%dT%H%M%SZ").replace(
            tzinfo=UTC
        )
        assert np.datetime64(start.replace(tzinfo=None)) == times[slot.first]
        band = plan.advice.question.bands[slot.band].name
        assert plain(values["SUMMARY"]).startswith(band)
        assert plan.setups[slot.setup].name in plain(values["DESCRIPTION"])
        assert values["DTSTAMP"] == moment(times[0])


@pytest.mark.slow
def test_same_plan_same_file_other_plan_other_names(plan):
    """Identifiers depend on what is planned and on nothing else."""
    assert calendar_text(plan, "1") == calendar_text(plan, "1")
    uids = {dict(event)["UID"] for event in parsed(calendar_text(plan, "1"))[1]}
    assert len(uids) == sum(slot.setup >= 0 for slot in plan.slots)


@pytest.mark.slow
@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=300))
def test_any_text_is_folded_and_found_again(text):
    """Escaped, folded, unfolded and read back; control characters are dropped."""
    lines = "".join(f"{part}\r\n" for part in folded(f"X:{escaped(text)}"))
    back = unfolded(lines)
    assert len(back) == 1
    kept = text.replace("\r\n", "\n").replace("\r", "\n")
    kept = "".join(c for c in kept if c in "\n\t" or (ord(c) >= 32 and ord(c) != 127))
    assert plain(back[0][2:]) == kept
