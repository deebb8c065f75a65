"""What to take along."""

import re
from math import dist

import pytest

from advisor.answers.one_wire.wire import wire_work
from advisor.answers.outing.packing import SPARE, packing_list
from advisor.engine.wires import hung_wire
from advisor.station.file import resolve_station
from tests.advisor.answers.outing.asked import dipole


def things(station_setups, bands):
    """Pack for some wires."""
    station, _ = resolve_station(
        None, {"place": "KF07jo", "bands": bands, "setups": station_setups}
    )
    works = [wire_work(station, one, quick=True) for one in station.setups]
    return packing_list(works, -26.0), works


def test_packing_follows_from_the_wire():
    """Lengths, links, supports, line and transformer are those of the set-up."""
    linked = dipole(line="RG-213", line_m=25.0)
    items, works = things([linked], ["40 m", "20 m"])
    said = {item.kind: item.what for item in items}
    longest = max(one.hanging.wire_m for one in works[0].bands)
    assert f"{longest * (1 + SPARE):.0f}." in said["wire"].replace(" m", ".")
    assert "links for 20 m" in said["wire"]
    assert "first end 9.0 m, second end 9.0 m" in said["supports"]
    assert "25 m of RG-213" in said["feed"]
    assert "26 deg more than true" in said["measuring"]


@pytest.mark.slow
def test_packing_of_an_end_fed_wire():
    """Transformer, counterpoise and a single pole."""
    wire = {"name": "efhw", "shape": "end-fed half-wave", "end_height_m": 8.0}
    items, _ = things([wire], ["20 m"])
    said = {item.kind: item.what for item in items}
    assert "49:1 transformer" in said["feed"]
    assert "counterpoise" in said
    assert said["supports"].startswith("efhw: far end 8.0 m")
    assert "flags" in said
    assert "held out" not in said["counterpoise"]
    up = {"name": "up", "shape": "random wire", "feed_height_m": 8.0}
    items, _ = things([{**up, "end_height_m": 8.0, "length_m": 26.0}], ["20 m"])
    said = {item.kind: item.what for item in items}
    assert said["counterpoise"].endswith("held out by cord, 8.0 m up as worked out")


def test_traps_are_packed_with_where_they_go():
    """They are not to be forgotten, and the ends are what bites, not the feed."""
    wire = {"name": "short", "shape": "dipole", "length_m": 17.2, "height_m": 9.0}
    items, _ = things([{**wire, "traps": [[3.5, 4.7, 27.0, 150.0]]}], ["40 m"])
    said = {item.kind: item.what for item in items}
    assert said["traps"] == "short: 1, 3.50 m along the wire from its first end"
    assert "ends, where the voltage is highest;" in said["insulators"]
    assert "coils" not in said


@pytest.mark.parametrize(
    ("ends", "is_staked"),
    [({"end_m": 3.0}, True), ({"end_m": 10.5}, False)],
    ids=["on to a stake", "out to a support"],
)
def test_cord_reaches_from_a_wire_that_is_left_short(ends, is_staked):
    """The 40 m part is not taken along: cord stands in for it, not 0.0 m."""
    wire = {"name": "V", "shape": "inverted V", "apex_m": 11.0, **ends}
    station, _ = resolve_station(
        None, {"place": "KF07jo", "bands": ["40 m", "20 m"], "setups": [wire]}
    )
    setup = station.setups[0]
    work = wire_work(station, setup, ["20 m"], quick=True)
    said = {item.kind: item.what for item in packing_list([work], 0.0)}
    cords = [float(each) for each in re.findall(r"end ([\d.]+) m", said["cords"])]
    short, whole = (
        {
            s.name: (s.east_m, s.north_m, s.height_m)
            for s in hung_wire(setup, mhz).supports
        }
        for mhz in (work.bands[0].frequency_mhz, 7.1)
    )
    apex, end = short["apex"], short["first end"]
    # Down the line of the wire: to the ground, or to where the longest wire is held.
    share = apex[2] if is_staked else apex[2] - whole["first end"][2]
    straight = dist(apex, end) * (share / (apex[2] - end[2]) - 1.0)
    assert cords == pytest.approx([straight] * 2, abs=0.11)
    assert ("stake" in said["cords"]) is is_staked
    assert ("first end 10.5 m" in said["supports"]) is not is_staked


def test_packing_of_open_line_needs_a_tuner():
    """A doublet on open wire cannot do without."""
    wire = {"name": "doublet", "shape": "doublet", "height_m": 9.0}
    items, _ = things([wire], ["20 m"])
    said = {item.kind: item.what for item in items}
    assert "tuner" in said["feed"]
    assert "choke" not in said["feed"]


@pytest.mark.slow
def test_packing_knows_of_a_stake_and_of_a_choke_left_at_home():
    wire = {"name": "up", "shape": "quarter-wave vertical", "stake_m": 1.2}
    items, _ = things([{**wire, "line": "RG-58", "choke_ohm": 0}], ["20 m"])
    said = {item.kind: item.what for item in items}
    assert said["earth"] == "up: stake of 1.2 m"
    assert "radials" not in said
    assert "RG-58" in said["feed"]
    assert "choke" not in said["feed"]
