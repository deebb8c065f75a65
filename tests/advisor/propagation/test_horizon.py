"""The skyline: hills on one side of the station."""

import numpy as np
import pytest

from advisor.answers.ask import answer, question_for
from advisor.engine.engine import link_for
from advisor.engine.wires import far_end_patterns
from advisor.propagation.mode_axis import F2_LOW
from advisor.station.described import describe
from advisor.station.file import read_station, resolve_station, starter_toml
from geo.errors import InputError

WIRE = {"name": "wire", "shape": "dipole", "height_m": 10.0, "bearing_deg": 0.0}
HILLS_DEG = (0, 15, 20, 25)
EAST, WEST, AROUND = "50,31", "50,-11", "-35,149"


def station(**values):
    """Put a station together with one fixed wire."""
    return resolve_station(
        None, {"place": "50,10", "setups": [WIRE], "power_w": 100.0, **values}
    )[0]


def asked(target, *, long_path=False, **values):
    """Put a question about one day."""
    start = np.datetime64("2026-03-21")
    here = station(**values)
    return question_for(here, [target], start, 24, r12=60.0, long_path=long_path)


def chances(target, **values):
    """Chance of the wire over one day, (T, B)."""
    question = asked(target, **values)
    return answer(question).setups[0].chance[0]


def test_between_points_the_skyline_is_straight_and_goes_round():
    seen = station(horizon=[[30, 4], [90, 10], [330, 2]])
    expected = [4.0, 7.0, 10.0, 6.0, 2.0, 3.0, 3.0]
    bearings = [30.0, 60.0, 90.0, 210.0, 330.0, 0.0, 360.0]
    assert seen.horizon_at(bearings) == pytest.approx(expected)
    assert seen.horizon_at(-30.0) == pytest.approx(2.0)
    assert seen.horizon_at(np.zeros((2, 3))).shape == (2, 3)


def test_without_a_skyline_the_horizon_is_the_same_all_round():
    assert np.all(station(horizon_deg=7.0).horizon_at(np.arange(360.0)) == 7.0)


@pytest.mark.slow
@pytest.mark.parametrize("target", [EAST, AROUND])
def test_a_level_skyline_is_the_plain_horizon(target):
    """The same bits as the single figure."""
    level = chances(target, horizon=[[0, 5], [120, 5], [240, 5]])
    assert np.array_equal(level, chances(target, horizon_deg=5.0))


@pytest.mark.slow
@pytest.mark.parametrize(("target", "long_path"), [(EAST, False), (AROUND, True)])
def test_a_higher_horizon_never_raises_a_chance(target, long_path):
    """One way round: of two, a hill may change which is the better."""
    left = [
        chances(target, long_path=long_path, horizon=[[0, up], [180, up]])
        for up in (0, 3, 5, 10, 20, 40)
    ]
    # Of what is scattered the strongest ray gives the angle: as the hill weakens it
    # another takes over, towards which the wire may radiate better by 0.001. Routes
    # 40 dB too faint are left out, which counts for less than that.
    assert np.all(np.diff(left, axis=0) <= 2e-3)
    assert np.any(left[-1] < 0.5 * left[0])
    assert np.max(left[0]) > 0.1


@pytest.mark.slow
def test_a_hill_in_the_east_hides_the_east_only():
    """The hill stands at 080, 40 degrees up and 100 degrees wide."""
    hill = [[30, 3], [80, 40], [130, 3], [270, 3]]
    assert np.array_equal(chances(WEST, horizon=hill), chances(WEST, horizon_deg=3.0))
    hidden, plain = chances(EAST, horizon=hill), chances(EAST, horizon_deg=3.0)
    assert np.all(hidden <= plain + 1e-12)
    assert np.any(hidden < plain - 0.3)


@pytest.mark.slow
def test_on_a_long_path_a_hill_takes_the_flat_rays_and_leaves_the_steep():
    """A mode is gone where its own ray is hidden: fewest hops first, never the rest."""
    # One way round, so that all ask for the same rays.
    questions = [
        asked(AROUND, long_path=True, horizon_deg=float(up)) for up in HILLS_DEG
    ]
    far = far_end_patterns(questions[0].station.far_end, questions[0].bands)
    modes = [link_for(each, 60.0, far).modes for each in questions]
    low = modes[0].takeoff_deg[..., F2_LOW]
    there = np.isfinite(low)
    assert np.array_equal(modes[0].clear[..., F2_LOW], there & (low >= 0.0))
    for each in modes:
        assert np.array_equal(each.returned, modes[0].returned)
        # What leaves steeper, by a hop more, is not hidden where the flatter is not.
        first = np.diff(each.clear[..., F2_LOW].astype(int), axis=-1)
        assert np.all(first[np.diff(low, axis=-1) >= 0.0] >= 0)
    counts = [each.clear[..., F2_LOW].sum() for each in modes]
    assert np.all(np.diff(counts) < 0)
    assert counts[-1] > 0


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("5", r"give at least two points"),
        ([[0, 3]], r"give at least two points"),
        ([[0, 3], [90]], r"\[90\] is not allowed: give 2 numbers, \[az"),
        ([[0, 3], 90], r"90 is not allowed: give 2 numbers"),
        ([[0, 3], [90, 61]], r"61 is not allowed: .* 0 to 60 deg above"),
        ([[0, 3], [90, -1]], r"-1 is not allowed"),
        ([[0, 3], [361, 4]], r"361 is not allowed: .* 0 to 360 deg from true north"),
        ([[90, 3], [0, 4]], r"azimuth 0 comes after 90: put the points in order"),
        ([[90, 3], [90, 4]], r"azimuth 90 comes after 90"),
        ([[0, 3], [360, 4]], r"0 and 360 are one direction"),
        ([[0, 3], ["90", 4]], r"without quotes"),
        ([[0, 3], [float("nan"), 4]], r"nan is not allowed"),
    ],
)
def test_what_is_no_skyline_is_refused(value, text):
    with pytest.raises(InputError, match=text):
        station(horizon=value)


def test_the_file_gives_it_and_a_message_names_its_line():
    text = 'place = "50,10"\nhorizon = [[0, 2], [90, 12.5]]\n'
    found, origins = resolve_station(text, {})
    assert found.horizon == ((0.0, 2.0), (90.0, 12.5))
    assert origins["horizon"] == "station text line 2"
    rows = {path: (value, origin) for path, value, origin in describe(found, origins)}
    assert "90" in rows["horizon"][0]
    with pytest.raises(InputError, match="line 2, horizon: "):
        read_station('place = "50,10"\nhorizon = [[0, 2]]\n')


def test_an_option_for_all_round_wins_over_the_skyline_of_the_file():
    text = 'place = "50,10"\nhorizon_deg = 1\nhorizon = [[0, 20], [90, 12]]\n'
    file_alone, _ = resolve_station(text, {})
    assert file_alone.horizon_at(0.0) == 20.0
    option, origins = resolve_station(text, {"horizon_deg": 4.0})
    assert option.horizon_at(0.0) == 4.0
    assert origins["horizon_deg"] == "option"
    assert "horizon" not in origins


def test_the_starter_file_shows_a_skyline():
    """With the mark off its line, a hill stands in the east."""
    found, _ = resolve_station(starter_toml().replace("# horizon = ", "horizon = "), {})
    assert found.horizon_at(90.0) > found.horizon_at(0.0) + 5.0
