"""Sun and grey line at both ends, and when to take down and turn back."""

from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from advisor.answers.outing.twilight import (
    centre,
    grey_at_both,
    sun_at_ends,
    take_down_by,
    turn_back_by,
)
from advisor.cli import main
from geo.places import parse_place, resolve_target
from tests.advisor.answers.outing.asked import dipole, question


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own files out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


def test_grey_line_lies_between_civil_twilight_and_the_sun():
    """To the minute, against the events themselves."""
    for sun in sun_at_ends(question(["KE"], [dipole()])):
        ends = [
            (sun.events.civil_dawn, sun.events.rise),
            (sun.events.set, sun.events.civil_dusk),
        ]
        assert len(sun.grey) == 2
        for (begin, end), (first, last) in zip(
            sorted(sun.grey), sorted(ends), strict=True
        ):
            assert abs(begin - first) <= np.timedelta64(90, "s")
            assert abs(end - last) <= np.timedelta64(90, "s")


def test_one_takes_down_by_daylight():
    """Half an hour before the sun sets; never where it does not."""
    (here, *_) = sun_at_ends(question(["KE"], [dipole()]))
    assert here.events.set - take_down_by(here.events) == np.timedelta64(30, "m")
    night = replace(here.events, set=np.datetime64("NaT", "s"))
    assert np.isnat(take_down_by(night))


def test_grey_line_at_both_ends_needs_both():
    """A place due north shares the moment at the equinox; the antipode's dusk too."""
    close = sun_at_ends(question(["-30.0,20.8"], [dipole()], start="2026-03-20T12"))
    assert len(grey_at_both(close)) == 2
    away = sun_at_ends(question(["0.0,110.8"], [dipole()], start="2026-03-20T12"))
    assert grey_at_both(away) == ()


def test_the_pole_has_no_sunset_and_breaks_nothing():
    """Polar day: no events, no grey line."""
    suns = sun_at_ends(question(["89.9,0"], [dipole()], start="2026-06-20T12"))
    assert np.isnat(suns[1].events.set)
    assert suns[1].grey == ()


def test_the_middle_of_a_region_is_among_its_points():
    """Across the date line too; a ring has the station in its middle."""
    here = parse_place("KF07jo")
    fiji = resolve_target("FJ", here)
    lat, lon = centre(fiji)
    assert -20.0 < lat < -15.0
    assert abs(lon) > 170.0
    assert centre(resolve_target("within 500 km", here)) is None


def test_the_way_back_comes_before_the_sun_goes_down():
    """Turn back a way's length before sunset, take down half an hour before that."""
    here = sun_at_ends(question(["KE"], [dipole()], hours=1))[0].events
    back = turn_back_by(here, 45.0)
    assert here.set - back == np.timedelta64(45, "m")
    assert back - take_down_by(here, 45.0) == np.timedelta64(30, "m")
    assert turn_back_by(here) == here.set


@pytest.mark.slow
def test_an_outing_in_the_dark_is_not_told_the_sunset_of_the_next_day():
    """In December at 51 N the sun rises near 07:30Z and sets near 15:25Z."""

    def said(begin, hours):
        asked = ["activation", "--from", "JO31", "--to", "KE", "--hours", str(hours)]
        asked += ["--date", f"2026-12-05T{begin}Z", "--band", "20 m", "--no-cache"]
        asked += ["--shape", "ground-mounted vertical"]
        return " ".join(CliRunner().invoke(main, asked).stdout.split())

    late = said("19:00", 2)
    assert "Sunset here" not in late
    assert "The plan begins before sunrise, which is here at 07:" in late
    day = said("11:00", 4)
    # It ends at 15:00Z, and taking down is to begin before that.
    assert "Sunset here 15:" in day
    assert "The plan ends later than that" in day
    assert "after sunset" not in day
    assert "The plan goes on after sunset" in said("13:00", 4)
    assert "The plan runs on" not in said("11:00", 3)
