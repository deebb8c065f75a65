"""What dates and times in words mean, by a calendar and the clock of a place."""

from datetime import UTC, datetime

import numpy as np
import pytest

from advisor.commands.moments import WEEKDAYS, moment
from geo.errors import InputError

NOW = datetime(2026, 12, 2, 15, 20, tzinfo=UTC)  # a Wednesday, any calendar


@pytest.mark.parametrize(
    ("typed", "zone", "expected"),
    [
        ("now", None, "2026-12-02T15:20"),
        ("today", None, "2026-12-02T15:20"),
        ("tomorrow", None, "2026-12-03T00"),
        ("wednesday", None, "2026-12-02T00"),
        ("tuesday", None, "2026-12-08T00"),
        ("Saturday", "Asia/Tokyo", "2026-12-04T15"),
        # In Japan it is Thursday already.
        ("today", "Asia/Tokyo", "2026-12-02T15:20"),
        ("2026-12-05", "America/Los_Angeles", "2026-12-05T08"),
        ("2026-12-05", None, "2026-12-05T00"),
        ("2026-12-05 09:00", "Asia/Tokyo", "2026-12-05T00"),
        ("2026-12-05T09:00", "Asia/Kolkata", "2026-12-05T03:30"),
        ("2026-07-05T12:00", "America/Los_Angeles", "2026-07-05T19"),
        ("2026-12-05T18:00Z", "Asia/Tokyo", "2026-12-05T18"),
        ("18:00Z", None, "2026-12-02T18"),
        ("15:00Z", None, "2026-12-02T15"),
        ("14:00Z", None, "2026-12-03T14"),
        ("06:00", "Asia/Tokyo", "2026-12-02T21"),
        ("saturday 9", "Asia/Tokyo", "2026-12-05T00"),
        ("tomorrow 18:00Z", "Asia/Tokyo", "2026-12-03T18"),
        ("tonight", "Africa/Johannesburg", "2026-12-02T16"),
        # Of an evening that has begun only what is left.
        ("tonight", "Asia/Dubai", "2026-12-02T15:20"),
    ],
)
def test_moments_as_people_say_them(typed, zone, expected):
    assert moment(typed, NOW, zone) == np.datetime64(expected)


@pytest.mark.parametrize("day", WEEKDAYS)
def test_a_weekday_is_the_next_one(day):
    """numpy counts days from a Thursday, 1 January 1970."""
    found = moment(day, NOW, None).astype("datetime64[D]")
    assert (int(found.astype(int)) + 3) % 7 == WEEKDAYS.index(day)
    assert 0 <= int((found - np.datetime64("2026-12-02")).astype(int)) < 7


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("18:00", "does not say in which zone: write 18:00Z"),
        ("2026-12-05T09:00", "write 2026-12-05T09:00Z for UTC"),
        ("2026-02-30", "is no day of the calendar"),
        ("05/12/2026", "is that day or month first"),
        ("satuday", "did you mean 'saturday'"),
        ("25:00Z", "is no moment"),
        ("", "is no moment"),
    ],
)
def test_what_is_no_moment_is_said_in_plain_words(typed, said):
    with pytest.raises(InputError, match=said) as caught:
        moment(typed, NOW, None)
    assert "datetime" not in str(caught.value)
    assert "tzinfo" not in str(caught.value)
