"""Storm factor on foF2: tables, quiet limit, continuity, hemispheres."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.ionosphere.storm import (
    LARGEST_RAP,
    ap_from_kp,
    integral_of_ap,
    steady_kp,
    storm_factor,
    storm_factor_from_kp,
)
from geo.tables import read_table, table_root


@pytest.mark.parametrize("name", ["kp_ap", "storm_curves", "storm_nodes"])
def test_tables_can_be_read_by_astropy(name):
    from astropy.table import Table

    table = Table.read(table_root() / f"{name}.ecsv", format="ascii.ecsv")
    assert len(table) == len(read_table(name))


def test_spot_values_of_the_tables():
    curves = read_table("storm_curves")
    assert curves.numbers("curve").tolist() == list(range(1, 21))
    assert curves.numbers("c0")[18] == 1.1622
    nodes = read_table("storm_nodes").rows()
    middle = next(r for r in nodes if r["magnetic_lat_deg"] == "50")
    assert middle["season_3"] == "11"


def test_first_latitude_node_is_the_second_half_a_year_later():
    """What makes |latitude| enough across the equator."""
    rows = read_table("storm_nodes").rows()
    seasons = [f"season_{i}" for i in range(1, 9)]
    across = [rows[0][s] for s in seasons]
    here = [rows[1][s] for s in seasons]
    assert across == here[4:] + here[:4]


def test_every_node_returns_its_own_curve():
    nodes, curves = read_table("storm_nodes").rows(), read_table("storm_curves")
    for row in nodes[1:]:
        for season in range(1, 9):
            n = int(row[f"season_{season}"]) - 1
            c = [curves.numbers(f"c{k}")[n] for k in range(4)]
            day = 82.0 + 45.6 * (season - 1)
            printed = c[0] + c[1] * 900.0 + c[2] * 900.0**2 + c[3] * 900.0**3
            lat = float(row["magnetic_lat_deg"])
            assert storm_factor(900.0, lat, day) == pytest.approx(printed)


@given(rap=st.floats(0.0, 200.0), lat=st.floats(-90.0, 90.0), day=st.floats(1.0, 366.0))
def test_quiet_days_are_left_alone(rap, lat, day):
    assert storm_factor(rap, lat, day) == 1.0


@given(
    rap=st.floats(0.0, 8000.0),
    lat=st.floats(0.01, 89.0),
    day=st.floats(1.0, 365.0),
    south=st.booleans(),
)
def test_no_steps_and_plausible_size(rap, lat, day, south):
    sign = -1.0 if south else 1.0
    here = float(storm_factor(rap, sign * lat, day))
    near = storm_factor(rap + 0.1, sign * (lat + 1e-3), day + 1e-3)
    assert near == pytest.approx(here, abs=2e-3)
    assert 0.5 < here < 1.3


def test_year_end_joins():
    first = storm_factor(1500.0, 50.0, 366.0)
    assert first == pytest.approx(float(storm_factor(1500.0, 50.0, 1.0)), abs=1e-9)


def test_summer_middle_latitudes_suffer_most():
    rap = np.array([400.0, 800.0, 1600.0])
    summer = storm_factor(rap, 50.0, 173.0)
    assert np.all(np.diff(summer) < 0.0)
    assert np.all(summer < storm_factor(rap, 50.0, 355.0))
    assert np.all(summer < storm_factor(rap, 10.0, 173.0))
    southern = storm_factor(rap, -50.0, 355.0)
    assert southern == pytest.approx(summer, abs=0.03)


def test_hemispheres_nearly_meet_at_the_equator():
    day = np.arange(1.0, 366.0)
    north, south = (storm_factor(1500.0, lat, day) for lat in (1e-9, -1e-9))
    assert north == pytest.approx(south, abs=0.03)


def test_factor_is_held_above_the_largest_integral():
    assert storm_factor(9000.0, 50.0, 173.0) == storm_factor(LARGEST_RAP, 50.0, 173.0)


def test_integral_of_a_steady_index_and_of_a_burst():
    assert integral_of_ap(np.full((4, 13), 10.0)) == pytest.approx(177.0)
    burst = np.zeros(13)
    burst[-3] = 100.0
    old = np.zeros(13)
    old[2] = 100.0
    assert integral_of_ap(burst) > 3.0 * integral_of_ap(old) > 0.0


def test_integral_at_the_middle_of_the_block_by_hand():
    """A block alone weighs on the five hours around its middle as a triangle."""
    # block ten has its middle 6 h ago; hours 8, 7, 6, 5, 4 ago read 1/3 2/3 1 2/3 1/3
    # with weights 26/27, 1, 2/3, 1/3, 0: 0.32099 + 0.66667 + 0.66667 + 0.22222
    history = np.zeros(13)
    history[10] = 1.0
    assert integral_of_ap(history) == pytest.approx(1.87654, abs=1e-5)


def test_index_outside_its_scale_is_nan():
    assert np.isnan(ap_from_kp([-0.1, 9.1])).all()
    assert np.isnan(storm_factor_from_kp(9.5, 50.0, 100.0))
    assert np.isnan(storm_factor(500.0, 95.0, 100.0))
    assert np.isnan(storm_factor(np.nan, 50.0, 100.0))


def test_quiet_kp_does_nothing_and_storms_do():
    assert storm_factor_from_kp([0.0, 1.0, 2.0, 2.333], 50.0, 173.0) == pytest.approx(1)
    storm = storm_factor_from_kp([5.0, 6.0, 7.0], 50.0, 173.0)
    assert np.all(np.diff(storm) < 0.0)
    assert storm[0] < 0.9


def test_shapes_broadcast():
    factor = storm_factor(
        np.array([300.0, 900.0])[:, None, None],
        np.linspace(-80, 80, 9)[:, None],
        np.arange(1.0, 366.0, 30.0),
    )
    assert factor.shape == (2, 9, 13)


def test_kp_by_the_hour_is_weighed_as_the_storm_model_weighs_it():
    """One stormy block counts by its age; the sum is that of the equal steady Kp."""
    blocks = np.arange("2026-12-05T00", "2026-12-08T00", 3, "datetime64[h]")
    kp = np.full(blocks.size, 2.0)
    kp[12] = 8.0
    times = blocks[[11, 12, 14, 18, 23]]
    found = steady_kp(blocks, kp, times)
    assert found[0] == pytest.approx(2.0)
    assert found[1:4].min() > 2.2
    history = ap_from_kp(kp[18 - 12 : 19])
    assert integral_of_ap(np.full(13, ap_from_kp(found[3])), 0.0) == pytest.approx(
        integral_of_ap(history, 0.0)
    )


@pytest.mark.parametrize("kp", [0.0, 2.0, 5.33, 9.0])
def test_a_steady_kp_is_itself(kp):
    blocks = np.arange("2026-12-05T00", "2026-12-07T00", 3, "datetime64[h]")
    hours = np.arange("2026-12-05T00", "2026-12-09T00", dtype="datetime64[h]")
    assert steady_kp(blocks, np.full(16, kp), hours) == pytest.approx(kp)
