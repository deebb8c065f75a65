"""What a log taught, in the station file."""

from __future__ import annotations

import re

import pytest

from advisor.station.described import describe
from advisor.station.file import resolve_station
from geo.errors import InputError

LEARNED = {
    "source": "log.adi, 2026-03",
    "noise_db": {"40m": 3, "20 m": -2},
    "level_db": {"dipole": {"15 m": -4.5}},
    "far_end_db": 1,
}


def test_what_was_learned_goes_by_band_and_says_where_from():
    given = {"place": "KF07jo", "learned": LEARNED, "setups": [{"shape": "dipole"}]}
    station, origins = resolve_station(None, given)
    more = station.learned_noise_db([7.0, 7.1, 14.1, 21.1, 9.0])
    assert more.tolist() == [3.0, 3.0, -2.0, 0.0, 0.0]
    assert station.setups[0].level_db == (("15 m", -4.5),)
    # Another height is still the same feed and radio.
    assert station.setups[0].changed(height_m=11.0).level_db == (("15 m", -4.5),)
    rows = {row[0]: row[1:] for row in describe(station, origins)}
    assert rows["learned.noise_db"][0] == "40 m +3, 20 m -2"
    assert rows["learned.level_db.dipole"][0] == "15 m -4.5"
    for key in ("noise_db", "level_db.dipole", "far_end_db"):
        assert rows[f"learned.{key}"][1].endswith("learned from log.adi, 2026-03")


@pytest.mark.parametrize(
    ("given", "left"),
    [
        ({}, {"noise", "level", "far"}),
        ({"noise": "city"}, {"level", "far"}),
        ({"noise_trim_db": 3.0}, {"level", "far"}),
        ({"setups": [{"shape": "dipole"}]}, {"noise", "far"}),
        ({"far_end": {"power_w": 500.0}}, {"noise", "level"}),
        ({"place": "KF08jo"}, {"level", "far"}),
    ],
)
def test_what_an_option_says_is_not_corrected_by_what_was_learned(given, left):
    text = """
        place = "KF07jo"
        setups = [{shape = "dipole"}]
        [learned]
        noise_db = {20m = 3}
        level_db = {dipole = {20m = 2}}
        far_end_db = 1
    """
    station, _ = resolve_station(text, given)
    found = {"noise": station.learned.noise_db, "far": station.learned.far_end_db}
    found["level"] = station.setups[0].level_db
    assert {name for name, value in found.items() if value} == left


@pytest.mark.parametrize(
    ("learned", "why"),
    [
        ({"noise_db": 3}, "noise_db"),
        ({"noise_db": {"23 cm": 3}}, "no amateur band"),
        ({"level_db": {"dipole": 3}}, "level_db"),
        ({"far_end_db": 99}, "-30 to 30"),
        ({"noise": {"20 m": 3}}, "noise_db"),
    ],
)
def test_what_cannot_have_been_learned_is_refused(learned, why):
    with pytest.raises(InputError, match=re.escape(why)):
        resolve_station(None, {"place": "KF07jo", "learned": learned})
