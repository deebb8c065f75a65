"""A log against what is told: made-up logs whose truth is known."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from advisor.answers.ask import question_for
from advisor.answers.rows.check import LevelOff
from advisor.answers.verification.blocks import blocks_of
from advisor.answers.verification.check import MOST_CELLS, check
from advisor.answers.verification.told import (
    RATIOS_DB,
    Setting,
    Wire,
    day_chances,
    level_told_db,
    ratio_at,
    share_above,
)
from advisor.answers.verification.trials import Spot, day_cells, shown_shares, trials_of
from advisor.antenna.ground import ground_by_name
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.wires import FAR_END_PATTERNS, far_end_patterns
from advisor.logs.sightings import Row, gather
from advisor.show.text.check import verdict
from advisor.station.bands import band_by_name
from advisor.station.file import resolve_station
from geo.locator import latlon_to_locator
from geo.places import parse_place
from geo.solar import r12_at
from geo.sphere import destination

ROOT = Path(__file__).resolve().parents[4]
PLACE = "KF07jo"
RNG = np.random.default_rng(16)
BANDS = tuple(band_by_name(name) for name in ("40 m", "20 m", "15 m"))
DAYS = 12


@pytest.fixture(scope="module")
def setting():
    """A station of 20 W with the usual dipole in no particular direction."""
    given = {"place": PLACE, "power_w": 20.0, "emission": "FT8", "noise": "residential"}
    station, _ = resolve_station(None, given)
    soil = ground_by_name(station.ground)
    usual = {b.name: FAR_END_PATTERNS["dipole"](b.planning_mhz, soil) for b in BANDS}
    place = parse_place(PLACE)
    wire = Wire("", usual, None)
    return Setting(station, place.lat_deg, place.lon_deg, BANDS, (wire,))


@pytest.fixture(scope="module")
def ways():
    """Locators 300 to 9000 km away, all round."""
    far = np.geomspace(300.0, 9000.0, 14)
    here = parse_place(PLACE)
    lat, lon = destination(here.lat_deg, here.lon_deg, 77.0 * np.arange(14), far)
    return [latlon_to_locator(a, b) for a, b in zip(lat, lon, strict=True)]


def row(day, hour, band, where, way):
    """One row of a made-up log."""
    time = f"2026-03-{day:02d}T{hour % 24:02d}:10Z"
    return Row(1, time, band, "", where, where, way, "FT8")


@pytest.fixture(scope="module")
def chances(setting, ways):
    """What is told of contacts, (way, hour, band)."""
    rows = [row(3, 0, "20 m", where, "contact") for where in ways]
    seen = gather([("", rows)])
    return day_chances(seen, trials_of(seen), setting, all_bands=True)


@pytest.mark.slow
def test_a_chance_is_that_of_the_engine_asked_as_tonight_does(setting, ways, chances):
    """In the middle of the ten days, at the middles of the hours."""
    question = question_for(
        setting.station,
        [ways[8]],
        np.datetime64("2026-03-05"),
        band_names=[band.name for band in BANDS],
    )
    times = question.times + np.timedelta64(1800, "s")
    solar = replace(question.solar, r12=r12_at(times)[0])
    question = replace(question, times=times, solar=solar)
    far = far_end_patterns(setting.station.far_end, BANDS)
    link = link_for(question, solar.r12, far)
    wire = {band.name: setting.wires[0].on(band.name) for band in BANDS}
    both = contact_chance(link, wire_gains(question, link, wire, [0.0])).both[0, 0]
    # What is needed is rounded to whole decibels, a few points of chance at most.
    assert chances[8] == pytest.approx(both, abs=0.03)
    assert np.ptp(both) > 0.3


def drawn(chances, ways, late=0, *, failures=True):
    """A log drawn from the chances told: every way at every third hour of each day."""
    rows = []
    for day in range(1, DAYS + 1):
        for hour in range(day % 3, 24, 3):
            for b, band in enumerate(BANDS):
                for where, told in zip(ways, chances[:, hour, b], strict=True):
                    came = RNG.uniform() < told
                    if came or failures:
                        way = "contact" if came else "not contact"
                        rows.append(row(day, hour + late, band.name, where, way))
    return gather([("made up", rows)])


@pytest.mark.slow
def test_a_log_drawn_from_the_chances_lies_on_the_diagonal(setting, ways, chances):
    found = check(drawn(chances, ways), setting, ("made up",), lambda _: "")
    whole = found.rows[0]
    assert whole.tried > 3000
    assert abs(whole.off) < 4.0 * whole.off_error < 0.05
    for each in found.details.diagram:
        if each.count > 50:
            # Told at whole decibels, and of ten days at once.
            assert abs(each.said - each.came) < 4.0 * each.error + 0.03
    score = found.details.score
    assert score.reliability < 0.004
    assert score.resolution > 0.05
    assert score.skill_of_hours > 0.1
    assert not found.details.clock.is_off


@pytest.mark.slow
@pytest.mark.parametrize("late", [0, 6])
def test_contacts_are_ranked_and_hours_that_are_off_are_told(
    setting, ways, chances, late
):
    seen = drawn(chances, ways, late, failures=False)
    found = check(seen, setting, ("made up",), lambda _: "")
    whole, details = found.rows[0], found.details
    assert whole.tried == 0
    assert details.score is None
    assert details.clock.is_off == (late != 0)
    if late:
        assert details.clock.hours == -6
    else:
        assert whole.hour_rank > 0.6
        assert whole.band_rank > 0.55


@pytest.mark.slow
def test_a_large_file_is_thinned_by_far_ends_and_says_so(
    setting, ways, chances, monkeypatch
):
    monkeypatch.setattr("advisor.answers.verification.check.MOST_CELLS", 700)
    seen = drawn(chances, ways, failures=False)
    done = []
    found = check(seen, setting, ("",), str, lambda cells, of: done.append((cells, of)))
    assert 0.0 < found.inputs.taken < 1.0
    assert found.rows[0].contacts < seen.times.size
    assert sum(cells for cells, _ in done) == done[0][1] <= 700 < MOST_CELLS


SHARED = """
import multiprocessing
import numpy as np
from advisor.answers.verification.told import Setting, Wire, told_shares
from advisor.answers.verification.trials import trials_of
from advisor.engine.wires import far_end_patterns
from advisor.logs.sightings import Row, gather
from advisor.station.bands import band_by_name
from advisor.station.file import resolve_station

station, _ = resolve_station(None, {"place": "KF07jo"})
bands = tuple(band_by_name(name) for name in ("20 m", "15 m"))
heard = (("05", "20 m", "KG33"), ("05", "15 m", "KG33"), ("15", "20 m", "JO62"))
rows = [
    Row(1, f"2026-03-{day}T12:10Z", band, "", where, where, "heard", "FT8")
    for day, band, where in heard
]
seen = gather([("", rows)])
wire = Wire("", far_end_patterns(station.far_end, bands), 0.0)
told = []
for processes, is_killed in ((1, False), (2, False), (2, True)):
    setting = Setting(station, -32.4, 20.8, bands, (wire,), None, processes)
    done = []
    def step(cells):
        done.append(cells)
        if is_killed:
            for one in multiprocessing.active_children():
                one.kill()
    shares = told_shares(seen, trials_of(seen), setting, step)
    assert sum(done) == 3, done
    told.append(shares.tobytes())
assert shares.max() > 0.1
assert told[0] == told[1] == told[2]
print("the same")
"""
"""Run by itself: only what has one thread may be split."""


@pytest.mark.slow
def test_two_processes_tell_what_one_tells():
    """Also where one is ended from outside."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", SHARED],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == "the same\n", done.stderr


def test_bands_are_joined_where_that_costs_less():
    """Two with one far end are; one with twenty others is asked by itself."""
    ends = [latlon_to_locator(lat, 30.0) for lat in np.linspace(-30.0, 60.0, 20)]
    rows = [row(3, 6, band, ends[0], "heard") for band in ("20 m", "15 m")]
    rows += [
        row(3, hour, "40 m", where, "heard") for hour in range(24) for where in ends
    ]
    rows += [row(3, hour, "20 m", ends[0], "heard") for hour in range(24)]
    seen = gather([("", rows)])
    trials, here = trials_of(seen), complex(-32.4, 20.8)
    found = list(blocks_of(seen, trials, BANDS, here, whole_days=False))
    assert sorted(tuple(b.name for b in each.bands) for each in found) == [
        ("20 m", "15 m"),
        ("40 m",),
    ]
    assert sum(each.cells for each in found) == 20 * 24 + 24 + 1
    assert sorted(np.concatenate([each.members for each in found]).tolist()) == [
        *range(trials.row.size)
    ]
    for each in found:
        at = trials.row[each.members]
        assert [each.bands[b].name for b in each.band] == seen.band[at].tolist()
        assert each.far[0][each.place].tolist() == seen.far_lat_deg[at].tolist()


def test_a_silence_counts_only_if_somebody_was_heard_and_the_far_end_was_there():
    """One far end heard at 10 and 12, another at 11: one silence of each, by hand."""
    spots = [
        Spot(hour, 2, "20 m", who, 0.0, -10.0)
        for hour, who in ((10, "a"), (12, "a"), (11, "b"))
    ]
    shows = shown_shares([spots])
    assert shows == {"a": 1.0, "b": 1.0}
    cells = {(cell.hour, cell.who): cell for cell in day_cells(spots, shows)}
    silent = {key for key, cell in cells.items() if np.isnan(cell.ratio_db)}
    assert silent == {(11, "a"), (10, "b"), (12, "b")}
    assert {key for key in silent if cells[key].counts} == silent
    # Heard in one hour only: nothing proves that it was there when it was heard.
    assert [key for key, cell in cells.items() if not cell.counts] == [(11, "b")]


def test_the_share_of_slots_is_how_often_one_shows_again():
    """Heard in two slots of four: 1 of 3 pairs; another's four of four draw it up."""
    spots = [Spot(10, minute, "20 m", "a", 0.0, 0.0) for minute in (0, 4)]
    spots += [Spot(10, minute, "20 m", "b", 0.0, 0.0) for minute in (0, 2, 4, 6)]
    shows = shown_shares([spots])
    mean = (2 + 12) / (6 + 12)
    assert shows["a"] == pytest.approx((2 + 10 * mean) / (6 + 10))
    assert shows["b"] == pytest.approx((12 + 10 * mean) / (12 + 10))


def test_shares_are_read_in_straight_lines_and_back():
    shares = np.clip(1.0 - (RATIOS_DB - 10.0) / 50.0, 0.0, 1.0)[:, None]
    assert share_above(shares, np.array([22.5])) == pytest.approx(0.75)
    assert ratio_at(shares, np.array([0.75])) == pytest.approx(22.5)
    # Above 20 dB on 8 days in ten: the middle of those is passed on 4 in ten.
    assert level_told_db(shares, np.array([20.0])) == pytest.approx(40.0)


@pytest.mark.parametrize(
    ("error_db", "says"), [(2.0, "(error 2.0)"), (np.nan, "(from 2 reports, no error")]
)
def test_of_two_reports_their_number_is_said_and_no_error(error_db, says):
    whole = SimpleNamespace(part="all", name="", tried=0, contacts=0, levels=2)
    of_way = SimpleNamespace(part="way", name="heard", tried=0, contacts=0, levels=2)
    details = SimpleNamespace(clock=None, levels=[LevelOff("heard", 18.0, error_db, 1)])
    found = SimpleNamespace(rows=[whole, of_way], details=details)
    ((about, _, rest),) = verdict(found)
    assert about == "Levels, heard"
    assert rest.lstrip().startswith(says)
