"""
Which way to run a wire: symmetry, compromise, tolerance, and agreement with tonight.

Rules of thumb here are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from advisor.answers.aim import _each_target, aim
from advisor.answers.ask import answer, question_for
from advisor.answers.bearings import (
    TOLERANCE_DB,
    Scan,
    bearing_from,
    good_range,
    scan_bearings,
)
from advisor.answers.shut import least_bad_words
from advisor.answers.spots import SpotAdvice, rank_spots
from advisor.answers.uncertainty import (
    LEAST_DIFFERENCE,
    MOST_WIRES,
    other_grounds,
    variants,
)
from advisor.engine.engine import link_for
from advisor.engine.wires import far_end_patterns, solve_setup
from advisor.show.text.aim import aim_text, spots_words
from advisor.station.file import resolve_station
from advisor.station.spots import Spot
from geo.errors import InputError
from geo.sphere import destination

EQUINOX = "2026-03-21T08"
HERE = (48.0, 10.0)


def wire(name="wire", height_m=10.6, **more):
    return {"name": name, "shape": "dipole", "height_m": height_m, **more}


def asked(targets, setups=None, *, hours=4, bands=("20 m",), start=EQUINOX, **more):
    """A question from a place in the middle of Europe at R12 60."""
    station, _ = resolve_station(
        None,
        {
            "place": more.pop("place", f"{HERE[0]},{HERE[1]}"),
            "setups": setups or [wire()],
            "power_w": 100.0,
            **more,
        },
    )
    first = np.datetime64(start)
    return question_for(station, targets, first, hours, band_names=bands, r12=60.0)


def place_at(bearing_deg, distance_km=2500.0):
    """A place in some direction, as text."""
    lat, lon = destination(*HERE, bearing_deg, distance_km)
    return f"{float(lat):.4f},{float(lon):.4f}"


def apart(one_deg, other_deg, turn=180.0):
    """Angle between two bearings of a wire without a front."""
    off = (one_deg - other_deg) % turn
    return min(off, turn - off)


@pytest.mark.slow
def test_best_bearing_and_chance_are_those_of_tonight():
    """One question through two commands gives one number."""
    question = asked(["014"], [wire(), wire("low", 4.0)], bands=("40 m", "20 m"))
    turned = {each.name: each for each in aim(answer(question)).setups}
    for each in answer(question).setups:
        assert turned[each.name].bearing == each.bearing
        assert turned[each.name].chance == pytest.approx(each.score, abs=1e-12)


@pytest.mark.slow
def test_given_bearing_is_worked_like_tonight_and_set_against_the_best():
    question = asked(["014"], [wire(bearing_deg=203.0)])
    one, there = aim(answer(question)).setups[0], answer(question).setups[0]
    assert one.bearing == there.bearing
    # Routes too faint to count are left out of a scan of all bearings.
    assert one.given_chance == pytest.approx(there.score, abs=1e-5)
    assert one.chance >= one.given_chance - 0.002
    hung = [row for row in one.rows if row.is_given]
    assert [row.wire_deg for row in hung] == [23.0]
    assert hung[0].mean == pytest.approx(one.given_chance, abs=1e-5)
    free = aim(answer(asked(["014"], [wire(bearing_deg="any")]))).setups[0]
    assert free.bearing.best_deg == one.bearing.best_deg


@pytest.mark.slow
def test_broadside_wire_for_east_and_west_runs_north_south():
    """Common practice, no source; both bearings lie within ten degrees of north."""
    found = aim(answer(asked([place_at(90.0), place_at(270.0)], hours=12))).setups[0]
    assert apart(found.bearing.best_deg, 0.0) <= 10.0
    assert found.two.gain < 0.05


@pytest.mark.parametrize("turn_deg", [35.0, 90.0, 145.0, 250.0])
def test_target_moved_round_the_compass_moves_the_best_bearing_with_it(turn_deg):
    """Under a sky that is the same all round: only the directions are turned."""
    question = asked([place_at(60.0)], hours=6)
    far = far_end_patterns(question.station.far_end, question.bands)
    link = link_for(question, 60.0, far)
    setup = question.station.setups[0]
    solved = solve_setup(setup, question.bands, question.station.ground)
    patterns = {band: each.pattern for band, each in solved.items()}
    paths = replace(link.paths, bearing_deg=link.paths.bearing_deg + turn_deg)
    turned = replace(link, paths=paths, bearing_deg=link.bearing_deg + turn_deg)
    here, there = (
        bearing_from(scan_bearings(question, each, patterns), None)
        for each in (link, turned)
    )
    assert apart(there.best_deg - turn_deg, here.best_deg) == pytest.approx(0.0)
    assert apart(there.good_from_deg - turn_deg, here.good_from_deg) < 1e-9
    assert there.loss_db == here.loss_db == 0.0


@pytest.mark.slow
def test_a_wire_turned_by_180_degrees_is_the_same_wire():
    one, other = (
        aim(answer(asked(["014"], [wire(bearing_deg=bearing)], hours=2))).setups[0]
        for bearing in (50.0, 230.0)
    )
    assert one.given_chance == pytest.approx(other.given_chance, abs=1e-9)
    assert one.bearing.loss_db == pytest.approx(other.bearing.loss_db, abs=1e-9)


@pytest.mark.slow
def test_a_wire_with_a_front_is_turned_all_the_way_round():
    """A sloper has a high end: both ways along one line are not the same."""
    setup = aim(
        answer(asked(["014"], [{"name": "s", "shape": "sloper"}], hours=2))
    ).setups[0]
    assert setup.has_front
    assert [row.wire_deg for row in setup.rows if row.wire_deg >= 180.0]
    assert len({round(row.chance[0], 6) for row in setup.rows}) > 12
    assert not aim(answer(asked(["014"], hours=2))).setups[0].has_front


@pytest.mark.slow
def test_lobes_turn_with_the_wire_and_meet_the_target_at_the_best_bearing():
    """A dipole half a wave up has its lobes broadside."""
    found = aim(answer(asked([place_at(70.0)], hours=12)))
    setup = found.setups[0]
    for row in setup.rows:
        assert len(row.lobes_deg) == 2
        for lobe in row.lobes_deg:
            assert apart(lobe - row.wire_deg, 90.0) < 1.0
    best = next(row for row in setup.rows if row.is_best)
    assert best.off_lobe_deg[0] <= 10.0
    worst = min(setup.rows, key=lambda row: row.level_db[0])
    assert worst.off_lobe_deg[0] >= 75.0


@pytest.mark.slow
def test_levels_and_tolerances_fit_the_table():
    """Within the tolerance no row costs more than it says; the best costs nothing."""
    setup = aim(answer(asked([place_at(70.0)], hours=12))).setups[0]
    best = next(row for row in setup.rows if row.is_best)
    assert best.level_db == (0.0,)
    low, high = setup.bearing.good_from_deg, setup.bearing.good_to_deg
    span = (high - low) % 180.0
    assert 30.0 <= span <= 120.0
    for row in setup.rows:
        within = (row.wire_deg - low) % 180.0 <= span
        assert (row.level_db[0] >= -TOLERANCE_DB) == within
    half, wide = setup.good_from_deg, setup.good_to_deg
    for row in setup.rows:
        if half is not None and (row.wire_deg - half) % 180.0 <= (wide - half) % 180.0:
            assert row.chance[0] >= setup.chance - 0.05 - 1e-12


def test_good_range_goes_over_north():
    values = np.array([0.9, 0.9, 0.0, 0.0, 0.95, 1.0])
    tried = np.arange(6) * 5.0
    assert good_range(tried, 30.0, values, 5, 0.2) == (20.0, 5.0)
    assert good_range(tried, 30.0, values, 5, 2.0) == (None, None)


@pytest.mark.slow
def test_two_bearings_beat_one_for_targets_at_right_angles():
    """Each on its own broadside; the gain is what both lose by the compromise."""
    apart_targets = [place_at(40.0, 3500.0), place_at(130.0, 3500.0)]
    question = asked(apart_targets, [wire(height_m=15.0)], power_w=5.0)
    setup = aim(answer(question)).setups[0]
    two = setup.two
    assert two.is_worth_it
    assert two.gain_low <= two.gain <= two.gain_high
    assert two.gain > LEAST_DIFFERENCE
    assert apart(two.first_deg, two.second_deg) > 45.0
    assert set(two.first_for) | set(two.second_for) == {
        target.name for target in question.targets
    }
    gained = np.mean([target.best_chance for target in setup.targets]) - setup.chance
    assert two.gain == pytest.approx(gained, abs=0.005)
    for target in setup.targets:
        assert target.lost_chance >= -0.002
        assert target.best_chance - target.lost_chance == pytest.approx(target.chance)


@pytest.mark.slow
def test_two_bearings_do_not_beat_one_for_one_direction():
    """Two places one behind the other want the same."""
    setup = aim(answer(asked([place_at(40.0, 2000.0), place_at(40.0, 2600.0)]))).setups[
        0
    ]
    assert not setup.two.is_worth_it
    assert setup.two.gain < LEAST_DIFFERENCE


@pytest.mark.slow
def test_turning_a_vertical_changes_nothing():
    upright = {"name": "v", "shape": "ground-mounted vertical"}
    question = asked(["014"], [upright], emission="FT8")
    setup = aim(answer(question)).setups[0]
    assert setup.bearing.best_deg is None
    assert setup.rows == ()
    assert setup.two is None
    assert setup.is_open
    assert setup.chance == pytest.approx(answer(question).setups[0].score)


@pytest.mark.slow
def test_when_nothing_is_open_no_bearing_helps():
    question = asked([place_at(90.0, 1200.0)], hours=2, bands=("10 m",))
    assert not aim(answer(question)).setups[0].is_open


@pytest.mark.slow
def test_set_up_of_other_bands_is_closed_not_broken():
    cut = [wire(), wire("other", 8.0, bands=["40 m"])]
    found = aim(answer(asked(["014"], cut, hours=1)))
    assert [each.is_open for each in found.setups if each.name == "other"] == [False]


@pytest.mark.slow
def test_range_holds_the_figure_and_says_what_it_is_over():
    station, _ = resolve_station(
        None, {"place": "48,10", "setups": [wire()], "power_w": 100.0}
    )
    question = question_for(
        station, ["014"], np.datetime64(EQUINOX), 2, band_names=["20 m", "15 m"]
    )
    found = aim(answer(question))
    assert found.varied == "the month's layers and kind of ground"
    for each in found.setups:
        assert each.chance_low <= each.chance <= each.chance_high
        assert each.chance_high - each.chance_low > 0.005
    assert len(variants(question, _link(question))) == 4


def _link(question):
    far = far_end_patterns(question.station.far_end, question.bands)
    return link_for(question, question.solar.r12, far)


def test_ground_is_not_varied_where_it_is_known_or_dear():
    """The sea is the sea; many wires would all have to be solved anew."""
    assert other_grounds(asked(["014"])) == ("poor", "rich")
    assert other_grounds(asked(["014"], ground="rich")) == ("poor",)
    assert other_grounds(asked(["014"], ground="sea water")) == ()
    many = [wire(f"wire {i}", 5.0 + i) for i in range(MOST_WIRES + 1)]
    assert other_grounds(asked(["014"], many)) == ()
    assert other_grounds(asked(["014"], many[:-1])) == ("poor", "rich")


@pytest.mark.slow
def test_region_of_one_point_is_that_point():
    """Singapore has one sample point; asking for the point gives the same."""
    from geo.places import parse_place, resolve_target

    country = resolve_target("SG", parse_place("48,10"))
    assert country.lat_deg.size == 1
    point = f"{country.lat_deg[0]},{country.lon_deg[0]}"
    one, other = (
        aim(answer(asked([target], hours=6))).setups[0] for target in ("SG", point)
    )
    assert one.bearing == other.bearing
    assert one.chance == other.chance
    # As they are shown: what is not a number is like nothing else.
    assert repr(one.rows) == repr(other.rows)


@pytest.mark.slow
@pytest.mark.parametrize("place", ["90,0", "-90,0", "0,180", "0,-180"])
def test_station_at_a_pole_or_on_the_edge_does_not_break(place):
    found = aim(answer(asked(["009", "within 500 km"], place=place, hours=2)))
    for setup in found.setups:
        assert 0.0 <= setup.chance <= 1.0
        assert all(np.isfinite(row.level_db).all() for row in setup.rows)


@pytest.mark.slow
def test_a_target_that_loses_nothing_has_no_minus_sign():
    """Rounding below nothing is nothing, not "-0.0 dB less"."""
    found = aim(answer(asked(["009", "014"], hours=2)))
    setup = found.setups[0]
    bare = replace(setup.targets[0], lost_chance=0.01, lost_db=-0.0, is_open=True)
    turned = replace(setup, targets=(bare, *setup.targets[1:]))
    text = aim_text(replace(found, setups=(turned,)))
    assert "-0.0 dB" not in text
    assert " 0.0 dB less" in text


def test_a_short_opening_is_not_lost_in_the_mean_of_the_day():
    """One wire for a whole day to the first target, or for one hour to the second."""
    question = asked(["014"], hours=4)
    chance = np.zeros((2, 2, 4, 1))
    chance[0, 0] = 0.5
    chance[1, 0] = 0.2
    chance[0, 1, 2] = 0.1
    chance[1, 1, 2] = 0.9
    scan = Scan(np.array([20.0, 110.0]), 180.0, chance, np.zeros_like(chance))
    targets = [SimpleNamespace(name="all day"), SimpleNamespace(name="short")]
    day, short = _each_target(question, targets, scan)
    assert scan.best == 0
    assert (day.peak, day.highest, day.highest_deg) == (0.5, 0.5, 20.0)
    assert (short.peak, short.highest, short.highest_deg) == (0.1, 0.9, 110.0)
    assert short.highest_when == "20 m at 10Z"


@pytest.fixture(scope="module")
def ranked_spots():
    """Of a plateau whose edge is 50 m to the south: what is found, and where."""
    slopes = [[a, 900.0, 0.0] for a in (0.0, 90.0, 270.0)]
    slopes += [[180.0, 50.0, 0.0], [180.0, 3000.0, -1000.0]]
    question = asked([place_at(180.0)], hours=3, start="2026-03-21T05", slopes=slopes)
    here = answer(question)
    found = aim(here)
    spots = [Spot("edge", 180.0, 40.0), Spot("far back", 0.0, 600.0)]
    return found, here, rank_spots(here, found, spots)


@pytest.mark.slow
def test_the_edge_of_a_plateau_is_before_its_middle(ranked_spots):
    """Ranked by chance; the station's own place has the figures of the answer."""
    found, here, ranked = ranked_spots
    by_name = {spot.name: spot for spot in ranked}
    assert [spot.chance for spot in ranked] == sorted(
        (spot.chance for spot in ranked), reverse=True
    )
    assert by_name["here"].chance == here.setups[0].score
    assert by_name["here"].gain_db == 0.0
    assert by_name["edge"].chance > by_name["far back"].chance
    assert by_name["edge"].gain_db > by_name["far back"].gain_db + 1.0
    text = aim_text(found, ranked)
    assert "\nWhere to hang it: " in text
    assert "far back" in text


def test_spots_of_one_name_are_refused():
    """Before anything is worked out, so that no answer is needed."""
    for names in (("a", "A"), ("Here", "b")):
        with pytest.raises(InputError, match="two spots have one name"):
            rank_spots(None, None, [Spot(name, 9.0, 9.0) for name in names])


def test_a_spot_that_is_better_is_told_with_what_it_gains():
    """And one that is not by a fifth of a day in ten is not."""
    aimed = SimpleNamespace(targets=[SimpleNamespace(name="Oceania")])

    def spot(name, chance, gain_db):
        return SpotAdvice(name, 0.0, 9.0, "wire", None, chance, "20 m", 5.0, gain_db)

    here = spot("here", 0.4, 0.0)
    assert spots_words(aimed, [spot("south edge", 0.7, 6.0), here]) == (
        "Where to hang it: from south edge, 20 m to Oceania gains 6.0 dB at 5 deg: 4.0 "
        "days in ten become 7.0."
    )
    assert "is clearly better" in spots_words(aimed, [spot("edge", 0.41, 1.0), here])


@pytest.fixture(scope="module")
def two_ways():
    """Two targets, one hour, one band."""
    return aim(answer(asked(["009", "014"], hours=1)))


def one_line(found, targets):
    """Text of an answer with other targets in it, without its line breaks."""
    setup = found.setups[0]
    two = replace(setup.two, is_worth_it=False, gain=0.001)
    setup = replace(
        setup,
        targets=targets,
        two=two,
        is_open=True,
        chance=0.3,
        good_from_deg=setup.bearing.best_deg,
        good_to_deg=setup.bearing.best_deg,
    )
    return " ".join(aim_text(replace(found, setups=(setup,))).split())


@pytest.mark.slow
def test_one_bearing_is_not_enough_for_a_target_that_it_leaves_shut(two_ways):
    first, second = two_ways.setups[0].targets
    served = replace(first, is_open=True, peak=0.6, highest=0.6)
    left = replace(second, is_open=True, peak=0.01, highest=0.3, highest_deg=75.0)
    text = one_line(two_ways, (served, left))
    assert "One bearing is enough" not in text
    assert f"{left.name} opens only near its own, 075-255 true" in text
    closed = replace(left, is_open=False, highest=0.01)
    text = one_line(two_ways, (served, closed))
    assert f"A second bearing opens nothing to {left.name} either." in text
    assert "One bearing is enough" in one_line(
        two_ways, (served, replace(left, peak=0.3))
    )


def test_the_best_bearing_never_stands_below_another_that_is_shown():
    """0.0249 is shown as 0.2 days in ten, 0.0261 as 0.3: strength does not decide."""
    chance = np.array([0.0249, 0.0261]).reshape(2, 1, 1, 1)
    level_db = np.array([3.0, 0.0]).reshape(2, 1, 1, 1)
    assert Scan(np.array([20.0, 110.0]), 180.0, chance, level_db).best == 1
    alike = np.array([0.0255, 0.0261]).reshape(2, 1, 1, 1)
    assert Scan(np.array([20.0, 110.0]), 180.0, alike, level_db).best == 0


@pytest.mark.slow
def test_where_nothing_opens_the_least_bad_bearing_is_told():
    question = asked([place_at(90.0, 1200.0)], hours=2, bands=("10 m",))
    found = aim(answer(question))
    best = found.setups[0].bearing.best_deg
    assert f"least bad {best:03.0f}-{best + 180:03.0f} true" in " ".join(
        aim_text(found).split()
    )
    said = least_bad_words(answer(question), 0.0)
    assert said.startswith(f"Least bad: wire hung {best:03.0f}-{best + 180:03.0f} true")
    sloper = [{"name": "s", "shape": "sloper"}]
    shut = asked([place_at(90.0, 1200.0)], sloper, hours=2, bands=("10 m",))
    assert "high end at the " in least_bad_words(answer(shut), 0.0)
    assert not least_bad_words(answer(asked(["014"], hours=1)), 0.0)
