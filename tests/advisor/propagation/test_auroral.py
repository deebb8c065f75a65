"""Auroral and other losses: the table's own values, and no steps between them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.propagation.auroral import auroral_loss_db, season_weights
from geo.tables import read_table, table_root


def test_table_can_be_read_by_astropy_with_units():
    from astropy.table import Table

    table = Table.read(table_root() / "auroral_loss.ecsv", format="ascii.ecsv")
    assert len(table) == 48
    assert str(table["lt_07_10_db"].unit) == "dB"


def test_table_holds_every_class_once_and_its_spot_value():
    rows = read_table("auroral_loss").rows()
    keys = [(r["distance_class"], r["season"], r["geomagnetic_lat_deg"]) for r in rows]
    assert len(set(keys)) == len(keys) == 2 * 3 * 8
    cells = [float(v) for r in rows for k, v in r.items() if k.startswith("lt_")]
    assert max(cells) == 21.4
    assert min(cells) == 0.0


def test_every_cell_of_the_table_comes_back_at_the_middle_of_its_class():
    hours = 2.5 + 3.0 * np.arange(8)
    for row in read_table("auroral_loss").rows():
        distance = {"near": 1500.0, "far": 5000.0}[row["distance_class"]]
        month = {"winter": 1.0, "equinox": 4.0, "summer": 7.0}[row["season"]]
        printed = [float(v) for k, v in row.items() if k.startswith("lt_")]
        latitude = float(row["geomagnetic_lat_deg"])
        assert auroral_loss_db(distance, latitude, hours, month) == pytest.approx(
            printed
        )


def test_no_loss_towards_the_equator_and_held_towards_the_pole():
    assert auroral_loss_db(1000.0, [0.0, 39.0, 40.0], 8.5, 4.0) == pytest.approx(0.0)
    assert auroral_loss_db(1000.0, 90.0, 8.5, 4.0) == auroral_loss_db(
        1000.0, 80.0, 8.5, 4.0
    )


@given(
    distance=st.floats(100.0, 20000.0),
    latitude=st.floats(-90.0, 90.0),
    hour=st.floats(0.0, 24.0),
    month=st.floats(0.5, 12.5),
)
def test_no_steps_anywhere(distance, latitude, hour, month):
    here = auroral_loss_db(distance, latitude, hour, month)
    near = auroral_loss_db(
        distance + 0.5, np.clip(latitude + 1e-3, -90.0, 90.0), hour + 1e-3, month + 1e-3
    )
    assert here >= 0.0
    assert near == pytest.approx(here, abs=0.05)


def test_midnight_and_new_year_join():
    assert auroral_loss_db(1000.0, 65.0, 24.0, 4.0) == pytest.approx(
        auroral_loss_db(1000.0, 65.0, 0.0, 4.0)
    )
    assert auroral_loss_db(1000.0, 65.0, -1e-18, 4.0) == pytest.approx(
        auroral_loss_db(1000.0, 65.0, 0.0, 4.0)
    )
    assert auroral_loss_db(1000.0, 65.0, 5.0, 12.5) == pytest.approx(
        auroral_loss_db(1000.0, 65.0, 5.0, 0.5)
    )


def test_southern_seasons_are_half_a_year_later():
    month = np.arange(1.0, 13.0)
    assert auroral_loss_db(3500.0, -65.0, 23.5, month) == pytest.approx(
        auroral_loss_db(3500.0, 65.0, 23.5, month + 6.0)
    )


def test_season_weights_are_shares():
    weights = season_weights(np.linspace(0.0, 24.0, 200), 60.0)
    assert weights.sum(axis=0) == pytest.approx(1.0)
    assert weights.min() >= 0.0


@pytest.mark.parametrize(
    "bad", [(np.nan, 65.0, 5.0, 1.0), (1e3, 95.0, 5.0, 1.0), (1e3, 65.0, np.nan, 1.0)]
)
def test_unusable_inputs_give_nan(bad):
    assert np.isnan(auroral_loss_db(*bad))


def test_broadcasts():
    loss = auroral_loss_db(
        np.full((5, 1), 3000.0), np.linspace(40, 80, 5)[:, None], np.arange(24.0), 10.0
    )
    assert loss.shape == (5, 24)
