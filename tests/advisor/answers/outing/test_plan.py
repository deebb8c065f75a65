"""The plan of an outing: timetable, bearings, sun, packing, and how a user meets it."""

import itertools
import json
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.answers.ask import answer, answers, question_for, sent_as
from advisor.answers.outing import plan as plans
from advisor.answers.outing.plan import ALIKE_CHANCE, has_live_reach, plan_activation
from advisor.answers.outing.timetable import (
    Costs,
    is_open,
    shared_out,
    timetable,
    values,
    weights_of,
)
from advisor.answers.shut import shut_headline
from advisor.answers.states import NOT_CUT, SHORT
from advisor.cli import main
from advisor.show.page import tonight as pages
from advisor.show.text.plan_words import missed_words, nothing_words
from advisor.station.file import resolve_station
from geo.errors import InputError
from tests.advisor.answers.outing.asked import dipole, question

FREE = Costs(0.0, 0.0)


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own files out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


VERTICAL = {"name": "vertical", "shape": "ground-mounted vertical", "bands": ["20 m"]}


# The timetable.


def won(path, value, opens, costs):
    """What a way through bands and wires is worth, added up step by step."""
    total = 0.0
    for t, (s, b) in enumerate(path):
        total += value[s, t, b] if opens[t] else 0.0
        if t and path[t - 1] != (s, b):
            total -= costs.change if path[t - 1][0] == s else costs.swap
    return total


@settings(max_examples=60)
@given(
    st.lists(st.floats(0.0, 1.0), min_size=16, max_size=16),
    st.lists(st.booleans(), min_size=4, max_size=4),
    st.floats(0.0, 60.0),
    st.floats(0.0, 60.0),
)
def test_no_way_through_is_better(chances, opens, change, more):
    """Against every way there is: 2 wires, 2 bands, 4 hours, 256 ways."""
    value = np.array(chances).reshape(2, 4, 2)
    costs = Costs(change, change + more)
    opens = np.array(opens)
    path = [tuple(step) for step in timetable(value, opens, costs)]
    states = list(itertools.product(range(2), range(2)))
    best = max(
        won(way, value, opens, costs) for way in itertools.product(states, repeat=4)
    )
    filled = _filled(path, opens, states)
    reached = max(won(way, value, opens, costs) for way in filled)
    assert reached == pytest.approx(best, abs=1e-9)
    assert [step != (-1, -1) for step in path] == opens.tolist()


def _filled(path, opens, states):
    """Every way that agrees with a timetable in the hours that are open."""
    choices = [
        [step] if is_on else states for step, is_on in zip(path, opens, strict=True)
    ]
    return itertools.product(*choices)


def test_free_changes_follow_the_best_band():
    """Without a cost the best of every hour is taken."""
    value = np.random.default_rng(1).random((3, 10, 4))
    path = timetable(value, np.ones(10, bool), FREE)
    best = value.max(axis=(0, 2))
    np.testing.assert_allclose(value[path[:, 0], np.arange(10), path[:, 1]], best)


def test_dear_changes_stay_on_one_band():
    """With a great cost the best single band is taken throughout."""
    value = np.random.default_rng(2).random((2, 6, 3)) * 0.5
    path = timetable(value, np.ones(6, bool), Costs(240.0, 240.0))
    assert len({tuple(step) for step in path}) == 1
    assert value[path[0, 0], :, path[0, 1]].sum() == pytest.approx(
        value.sum(axis=1).max()
    )


def test_a_poor_day_is_planned_as_a_good_one():
    """Minutes lost cost what the hours give: with a tenth of it nothing changes."""
    value = np.array([[[0.6, 0.1], [0.5, 0.4], [0.1, 0.7], [0.1, 0.6]]])
    opens, costs = np.ones(4, bool), Costs()
    good, poor = (
        timetable(each, opens, costs.at(float(each.max())))
        for each in (value, 0.1 * value)
    )
    assert good[:, 1].tolist() == [0, 0, 1, 1]
    assert np.array_equal(good, poor)
    assert timetable(0.01 * value, opens, Costs(3.0, 20.0))[:, 1].tolist() == [
        1,
        1,
        1,
        1,
    ]


def test_a_band_the_wire_is_not_cut_for_is_never_taken():
    """However little the other bands give."""
    value = np.array([[[-1.0, 0.01], [-1.0, 0.02]]])
    assert set(timetable(value, np.ones(2, bool), FREE)[:, 1]) == {1}


def test_first_counts_most_and_priorities_are_shares():
    """1, 1/2, 1/3; or as given."""
    np.testing.assert_allclose(weights_of(3), np.array([6, 3, 2]) / 11)
    np.testing.assert_allclose(weights_of(2, [3.0, 1.0]), [0.75, 0.25])
    for bad in ([1.0], [1.0, 0.0], [1.0, float("nan")], [1.0, -1.0]):
        with pytest.raises(InputError):
            weights_of(2, bad)


@dataclass(frozen=True)
class Wire:
    """As much of a set-up's advice as a timetable reads."""

    chance: np.ndarray
    works: np.ndarray


def served(path, wires, weights, costs, enough_h):
    """What a shared-out way is worth, added up target by target."""
    expected = np.zeros(len(weights))
    total = 0.0
    for t, (s, b) in enumerate(path):
        expected += wires[s].chance[:, t, b]
        if t and path[t - 1] != (s, b):
            total -= costs.change if path[t - 1][0] == s else costs.swap
    # Area under 2**(-E/enough) up to each E, by fine trapezoids.
    for weight, hours in zip(weights, expected, strict=True):
        grid = np.linspace(0.0, hours, 2001)
        total += weight * np.trapezoid(2.0 ** (-grid / enough_h), grid)
    return total


@pytest.mark.parametrize("seed", range(6))
def test_sharing_out_is_the_best_of_every_way(seed):
    """Against all 256 ways of four hours; never worse than what it began with."""
    rng = np.random.default_rng(seed)
    wires = [Wire(rng.random((2, 4, 2)), np.ones(2, bool)) for _ in range(2)]
    weights, opens, costs = np.array([0.7, 0.3]), np.ones(4, bool), Costs(2.0, 6.0)
    begun = timetable(values(wires, weights), opens, costs)
    path = shared_out(begun, wires, weights, opens, costs, 1.0)
    reached = served([tuple(step) for step in path], wires, weights, costs, 1.0)
    before = served([tuple(step) for step in begun], wires, weights, costs, 1.0)
    states = list(itertools.product(range(2), range(2)))
    best = max(
        served(way, wires, weights, costs, 1.0)
        for way in itertools.product(states, repeat=4)
    )
    assert reached >= before - 1e-6
    assert reached == pytest.approx(best, abs=0.01)


def test_sharing_out_serves_the_target_that_was_left_out():
    """One target open all day, one for two hours on another band."""
    chance = np.zeros((2, 8, 2))
    chance[0, :, 0] = 0.9
    chance[1, 3:5, 1] = 0.5
    wires = [Wire(chance, np.ones(2, bool))]
    weights, opens, costs = np.array([0.5, 0.5]), np.ones(8, bool), Costs(3.0, 20.0)
    begun = timetable(values(wires, weights), opens, costs)
    assert begun[:, 1].tolist() == [0] * 8
    path = shared_out(begun, wires, weights, opens, costs, 2.0)
    assert path[:, 1].tolist() == [0, 0, 0, 1, 1, 0, 0, 0]
    with pytest.raises(InputError, match="0 hours"):
        shared_out(begun, wires, weights, opens, costs, 0.0)


@pytest.mark.parametrize("minutes", [-1.0, float("nan"), 1e9])
def test_impossible_costs(minutes):
    """No negative time."""
    with pytest.raises(InputError, match="minutes"):
        Costs(minutes, 20.0)


# The plan.


@pytest.fixture(scope="module")
def asked():
    """Two targets, two wires on settled bearings."""
    return question(["KE", "within 600 km"], [dipole(), VERTICAL])


@pytest.fixture(scope="module")
def plan(asked):
    """Plan for it."""
    return plan_activation(asked, weights_of(2), Costs())


def test_a_tie_goes_to_the_wire_that_nobody_can_touch(asked):
    """An end within reach carries a high voltage; one far up cannot be touched."""
    high, low = (
        question(["014"], [dipole(name, height_m=up)]).station.setups[0]
        for name, up in (("high", 9.0), ("low", 2.0))
    )
    assert has_live_reach(low, asked.bands)
    assert not has_live_reach(high, asked.bands)
    alike = np.full((2, 3, 1), 0.5)
    alike[0] += 0.5 * ALIKE_CHANCE
    alike[0] -= ALIKE_CHANCE * has_live_reach(low, asked.bands)
    assert (timetable(alike, np.ones(3, bool), FREE)[:, 0] == 1).all()


@pytest.mark.slow
def test_the_chances_are_those_of_tonight(asked, plan):
    """Every slot: mean over its hours of the figures 'tonight' gives."""
    told = {one.name: one for one in answer(asked).setups}
    for slot in plan.slots:
        chance = told[plan.setups[slot.setup].name].chance
        hours = chance[:, slot.first : slot.last + 1, slot.band]
        np.testing.assert_allclose(slot.chance, hours.mean(axis=1), atol=1e-9)
        np.testing.assert_allclose(slot.peak, hours.max(axis=1), atol=1e-9)
        assert slot.mean == pytest.approx(plan.weights @ slot.chance)


@pytest.mark.slow
def test_one_target_is_turned_as_tonight_turns_it():
    """A free wire and one target: same bearing, same figures."""
    free = question(["KE"], [dipole(bearing="any")], hours=3)
    planned = plan_activation(free, weights_of(1), Costs())
    told = answer(free).setups[0]
    assert planned.advice.setups[0].bearing == told.bearing
    np.testing.assert_allclose(planned.advice.setups[0].chance, told.chance, atol=1e-9)


@pytest.mark.slow
def test_slots_cover_the_hours_once(asked, plan):
    """In order, without gap, neighbours differ."""
    assert plan.slots[0].first == 0
    assert plan.slots[-1].last == asked.times.size - 1
    for before, after in itertools.pairwise(plan.slots):
        assert after.first == before.last + 1
        assert (before.setup, before.band) != (after.setup, after.band)


def test_of_one_band_there_is_no_backup():
    """Nor of the same band on another wire."""
    chances = np.full((2, 3, 1), 0.5)
    assert plans._backup(chances, 0, 0, FREE) == (-1, -1, 0.0)
    assert plans._backup(np.full((2, 3, 2), 0.5), 0, 0, FREE) == (0, 1, 0.5)


@pytest.mark.slow
def test_backups_are_other_bands(plan):
    """And here never better than the band itself."""
    backed = [slot for slot in plan.slots if slot.backup_band >= 0]
    assert backed
    for slot in backed:
        assert slot.backup_band != slot.band
        assert slot.backup_mean <= slot.mean


def test_what_never_opens_is_nearest_on_a_band_that_the_wire_has():
    """Not on the first of all, which no wire is cut for, but where most signal is."""
    shut = np.zeros((1, 3, 3))
    margin_db = np.full(shut.shape, -40.0)
    margin_db[0, 1, 2] = -10.0
    one = SimpleNamespace(
        chance=shut,
        works=np.array([False, True, True]),
        margin_db=margin_db,
        limit=np.zeros(shut.shape, int),
    )
    plan = SimpleNamespace(
        advice=SimpleNamespace(
            targets=["A"],
            setups=[one],
            states=np.full(shut.shape, [NOT_CUT, SHORT, SHORT]),
            best=SimpleNamespace(margin_db=margin_db, setup=np.zeros(shut.shape, int)),
        ),
        slots=[SimpleNamespace(peak=[0.0])],
        expected_h=[0.0],
    )
    (missed,) = plans.Activation.missed.fget(plan)
    assert (missed.setup, missed.hour, missed.band) == (0, 1, 2)


def test_the_spare_of_a_band_that_is_shared_out_may_be_the_better():
    """Where nothing else opens: told, not denied."""
    value = np.array([[[0.47], [0.27], [0.01]]]).transpose(0, 2, 1)
    assert plans._backup(value, 0, 1, FREE) == (0, 0, pytest.approx(0.47))
    value[0, 0, 2] = 0.2
    assert plans._backup(value, 0, 1, FREE) == (0, 2, pytest.approx(0.2))


@pytest.mark.slow
def test_a_wire_stays_as_it_is_cut_on_the_few_bands_of_a_plan():
    """On a line of its own 20 m would be too short to reach from 11 m down to 3 m."""
    wire = {"name": "V", "shape": "inverted V", "apex_m": 11.0, "end_m": 3.0}
    asked = question(["JP"], [{**wire, "bands": ["40 m", "20 m", "15 m"]}], hours=1)
    plan = plan_activation(asked, weights_of(1), FREE)
    used = {b for slot in plan.slots for b in [slot.band]}
    assert used
    assert "40 m" not in {asked.bands[b].name for b in used}
    assert plan.low <= plan.score <= plan.high


def test_the_page_hangs_the_wires_of_the_plan_only(monkeypatch):
    """Each target alone might take another; that is no wire to hang."""
    monkeypatch.setattr(pages, "_bearing_heading", lambda one, _: one)
    advice = SimpleNamespace(
        targets=(), used=("dipole", "efhw"), setups=("efhw", "dipole")
    )
    assert pages._headings(advice, 0.0, (), SimpleNamespace(used=(1,))) == ("dipole",)
    assert pages._headings(advice, 0.0, (), None) == ("dipole", "efhw")


TENTHS = st.integers(0, 10).map(lambda tenth: tenth / 10.0)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(TENTHS, min_size=48, max_size=48),
    st.sampled_from([0.0, 3.0, 60.0]),
    st.sampled_from([None, 1.0]),
)
def test_no_plan_is_worse_than_its_spare_or_silent_about_a_target(
    chances, change_min, enough_h
):
    """2 wires, 3 targets, 4 hours, 2 bands, any chances, few changes or shared out."""
    chance = np.array(chances).reshape(2, 3, 4, 2)
    wires = [Wire(each, np.ones(2, bool)) for each in chance]
    weights, costs = weights_of(3), Costs(change_min, 2.0 * change_min)
    value, opens = values(wires, weights), is_open(wires)
    path = timetable(value, opens, costs)
    if enough_h is not None:
        path = shared_out(path, wires, weights, opens, costs, enough_h)
    slots = plans._slots(wires, weights, value, path, costs)
    for slot in slots:
        spare = slot.backup_setup, slot.backup_band
        if min(spare) >= 0:
            hours = slice(slot.first, slot.last + 1)
            found = value[spare[0], hours, spare[1]].mean()
            assert slot.backup_mean == pytest.approx(found)
            mean = value[:, hours].mean(axis=1)
            mean[:, slot.band] = 0.0
            others = mean[mean >= 0.05]
            is_last = (others > slot.mean).all()
            assert slot.backup_mean <= slot.mean + 1e-12 or is_last
        elif slot.setup >= 0:
            other = np.delete(value[:, slot.first : slot.last + 1], slot.band, axis=2)
            assert other.mean(axis=1).max() < 0.05
    read = SimpleNamespace(
        targets=[SimpleNamespace(name=name) for name in "ABC"],
        setups=[
            SimpleNamespace(
                chance=each,
                limit=np.zeros(each.shape, int),
                works=np.ones(2, bool),
                margin_db=np.zeros(each.shape),
            )
            for each in chance
        ],
        question=SimpleNamespace(
            bands=[SimpleNamespace(name="40 m"), SimpleNamespace(name="20 m")],
            times=np.datetime64("2026-12-05T12") + np.arange(4).astype("m8[h]"),
        ),
        states=np.zeros(chance[0].shape, int),
        best=SimpleNamespace(
            margin_db=np.full(chance[0].shape, np.nan),
            setup=np.zeros(chance[0].shape, int),
        ),
    )
    expected_h = plans._along(wires, path)[:, opens].sum(axis=1)
    plan = SimpleNamespace(
        advice=read, slots=slots, expected_h=expected_h, setups=read.targets
    )
    missed = {each.target: each for each in plans.Activation.missed.fget(plan)}
    for k in range(3):
        if expected_h[k] < 0.05:
            assert f"{'ABC'[k]} " in missed_words(plan, missed[k])
        else:
            assert k not in missed or max(slot.peak[k] for slot in slots) < 0.05


@pytest.mark.slow
def test_ranges_hold_the_figure(plan):
    """Low, as asked, high; and no plan beats changing freely."""
    assert plan.low <= plan.score <= plan.high <= 1.0
    assert plan.score <= plan.best_possible + 1e-12
    for slot in plan.slots:
        assert slot.low - 1e-12 <= slot.mean <= slot.high + 1e-12


@pytest.mark.slow
def test_expected_hours_are_the_sum_of_chances(plan):
    """Chance times an hour, added up."""
    hours = sum(slot.chance * slot.hours for slot in plan.slots)
    np.testing.assert_allclose(plan.expected_h, hours)


@pytest.mark.slow
def test_another_wire_never_lowers_what_is_possible(plan):
    """With the vertical left out there is no more to choose from."""
    fewer = question(["KE", "within 600 km"], [dipole()])
    less = plan_activation(fewer, weights_of(2), Costs())
    assert less.best_possible <= plan.best_possible + 1e-12


@pytest.mark.slow
def test_the_compromise_leans_to_what_counts_most():
    """Two targets at right angles: the wire goes broadside to the heavier."""
    free = question(
        ["-32.4,60.0", "10.0,20.8"], [dipole(bearing="any", bands=["20 m"])], hours=3
    )
    east = plan_activation(free, weights_of(2, [100.0, 1.0]), Costs())
    north = plan_activation(free, weights_of(2, [1.0, 100.0]), Costs())
    alone = [
        answer(question([t], [dipole(bearing="any", bands=["20 m"])], hours=3))
        for t in ("-32.4,60.0", "10.0,20.8")
    ]
    for planned, one in zip((east, north), alone, strict=True):
        turn = planned.advice.setups[0].bearing
        assert turn.is_free
        off = abs(turn.wire_deg - one.setups[0].bearing.wire_deg) % 180.0
        assert min(off, 180.0 - off) <= 20.0


@pytest.mark.slow
def test_nothing_open_is_a_plan_too():
    """15 m at midnight without sun spots: one closed slot."""
    station, _ = resolve_station(
        None, {"place": "IO85", "bands": ["15 m"], "setups": [dipole()]}
    )
    dark = question_for(station, ["JP"], np.datetime64("2026-12-05T23"), 2, r12=0.0)
    planned = plan_activation(dark, weights_of(1), Costs())
    assert not is_open(planned.advice.setups).any()
    assert [slot.setup for slot in planned.slots] == [-1]
    assert planned.used == ()
    assert planned.missed[0].chance < 0.05
    said = nothing_words(planned)
    assert "no layer returns" in said
    # What is said of power elsewhere is not taken back here.
    assert "more power" not in said
    assert "Least bad: dipole as it hangs, " in said


@pytest.mark.slow
def test_values_mask_bands_a_wire_is_not_for(asked, plan):
    """The vertical has 20 m only."""
    place = [setup.name for setup in plan.setups].index("vertical")
    worth = values(plan.advice.setups, plan.weights)[place]
    names = [band.name for band in asked.bands]
    assert (worth[:, names.index("40 m")] == -1.0).all()
    assert (worth[:, names.index("20 m")] >= 0.0).all()


@pytest.mark.slow
def test_activation_tells_segment_battery_and_turn_back():
    """Words and JSON of one plan."""
    asked = ["activation", "--from", "KF07jo", "--to", "KE", "--hours", "2"]
    asked += ["--date", "2026-12-05T12:00Z", "--band", "20 m", "--walk-min", "90"]
    asked += ["--battery-ah", "4", "--no-cache", "--shape", "ground-mounted vertical"]
    told = json.loads(CliRunner().invoke(main, [*asked, "--json"]).stdout)
    text = " ".join(CliRunner().invoke(main, asked).stdout.split())
    assert told["segments"][0]["low_mhz"] == 14.0
    assert {row["segment_high_mhz"] for row in told["results"]} <= {14.07, None}
    assert "CW, MHz: 20 m 14.000-14.070." in text
    assert f"turn back by {told['turn_back_by'][11:16]}Z" in text
    assert f"take down by {told['take_down_by'][11:16]}Z" in text
    assert told["battery"]["plan_h"] == 2.0
    assert "Battery of 4 Ah lasts the 2 h" in text


@pytest.mark.slow
def test_what_another_emission_would_do_in_the_plan_is_its_own_answer():
    """Slot by slot, on the band of the first; a band it has no place on has none."""
    values = {"place": "KF07jo", "emission": ["CW", "SSB"], "power_w": 100.0}
    station, _ = resolve_station(
        None, {**values, "bands": ["30 m", "20 m"], "setups": [dipole()]}
    )
    start = np.datetime64("2026-12-05T14")
    asked = question_for(station, ["KE"], start, 8, r12=60.0)
    cw, ssb = answers(asked, (station.emission, *station.also_sent))
    plan = plan_activation(sent_as(asked, station.emission), weights_of(1), FREE)
    seen = set()
    for slot in plan.slots:
        hours = slice(slot.first, slot.last + 1)
        assert slot.mean == cw.setups[0].chance[0, hours, slot.band].mean()
        if plan.advice.question.bands[slot.band].name == "20 m":
            assert slot.also == (ssb.setups[0].chance[0, hours, 0].mean(),)
            assert slot.also[0] < slot.mean
        else:
            assert np.isnan(slot.also[0])
        seen.add(slot.band)
    assert seen == {0, 1}


def test_hours_that_open_to_nobody_are_left_out_of_the_plan():
    """The chance of each hour by target; the second run stays below one in twenty."""
    chance = np.array([[0.5, 0.4, 0.03, 0.02], [0.0, 0.1, 0.04, 0.04]])[:, :, None]
    path = np.array([[0, 0], [0, 0], [1, 0], [1, 0]])
    setups = [SimpleNamespace(chance=chance)] * 2
    assert plans._worked(setups, path)[:, 0].tolist() == [0, 0, -1, -1]


@pytest.mark.slow
def test_a_target_that_stays_shut_is_nearest_where_tonight_has_it():
    """20 W of SSB over 9000 km: band and hour of the plan and of the headline agree."""
    wires = [dipole(bands=["40 m", "20 m", "15 m"])]
    asked = question(["JP"], wires, hours=4)
    planned = plan_activation(asked, weights_of(1), Costs())
    (missed,) = planned.missed
    assert missed.chance < 0.05
    band = asked.bands[missed.band].name
    hour = str(asked.times[missed.hour])[11:13]
    assert f"Nearest: {band} at {hour}Z" in shut_headline(planned.advice, 0)
