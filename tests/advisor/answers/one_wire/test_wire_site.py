"""A wire over the ground around: flat adds nothing, a slope turns it, tables agree."""

from types import SimpleNamespace

import numpy as np
import pytest

from advisor.answers.one_wire.site import (
    GRID_DEG,
    TABLED_DEG,
    SiteBearing,
    SiteProfile,
    site_work,
)
from advisor.answers.one_wire.wire import wire_work
from advisor.show.charts import site as chart
from advisor.show.text.site import gain_columns, site_text
from advisor.station.file import resolve_station
from geo.errors import InputError
from geo.terrain import BEARINGS_DEG

LEVEL = [[0, 900, 0], [180, 900, 0]]
FALLING = [[0, 900, 0], [90, 900, 0], [180, 9, 0], [180, 9000, -1200], [270, 900, 0]]


def on_site(slopes, **more):
    """A dipole on 20 m over the ground that some points give."""
    wire = {"shape": "dipole", "height_m": 9.0, "bands": ["20 m"], **more}
    given = {"place": "48,10", "slopes": slopes, "setups": [wire]}
    station, _ = resolve_station(None, given)
    return station, wire_work(station, station.setups[0], quick=True)


@pytest.fixture(scope="module")
def falling():
    return site_work(*on_site(FALLING))


@pytest.mark.slow
def test_level_ground_adds_nothing_on_any_bearing():
    station, work = on_site(LEVEL, bearing_deg=90.0)
    site = site_work(station, work)
    over = np.array([row.over_flat_db for row in site.bearings])
    np.testing.assert_allclose(over, 0.0, atol=0.1)
    broadside = next(row for row in site.bearings if row.bearing_deg == 0.0)
    along = next(row for row in site.bearings if row.bearing_deg == 90.0)
    own = 10.0 * np.log10(work.bands[0].pattern.gain(TABLED_DEG, 90.0))
    np.testing.assert_allclose(broadside.gain_dbi, own, atol=0.1)
    assert along.gain_dbi[1] < broadside.gain_dbi[1] - 6.0


@pytest.mark.slow
def test_where_the_ground_falls_away_low_angles_gain(falling):
    """7.6 degrees down to the south: by that much the lobe of 9 m comes lower."""
    at = {row.bearing_deg: row for row in falling.bearings}
    assert len(at) == 12
    assert at[180.0].over_flat_db[1] > 5.0
    assert abs(at[0.0].over_flat_db[1]) < 1.5
    profile = {each.bearing_deg: each for each in falling.profiles}
    fall = 1200.0 / 8991.0 * (1000.0 - 9.0)
    assert profile[180.0].height_m[2] == pytest.approx(-fall, abs=1.0)
    assert profile[0.0].height_m == (0.0, 0.0, 0.0, 0.0)


@pytest.mark.slow
def test_picture_and_text_say_the_same(falling):
    grid = falling.grids["20 m"]
    south = int(np.flatnonzero(BEARINGS_DEG == 180.0)[0])
    five = int(np.flatnonzero(GRID_DEG == 5.0)[0])
    at = next(row for row in falling.bearings if row.bearing_deg == 180.0)
    assert grid[south, five] == pytest.approx(at.gain_dbi[1], abs=1e-9)
    assert f"{at.gain_dbi[1]:.1f} ({at.over_flat_db[1]:+.1f})" in site_text(falling)
    best = BEARINGS_DEG[grid[:, five].argmax()]
    assert f"on 20 m to {best:03.0f} true" in chart.alt_text(falling)
    drawn = chart.figure(falling)
    assert [axes.get_title(loc="left") for axes in drawn.axes] == ["20 m", "ground, m"]


def test_what_the_skyline_hides_is_marked_as_the_picture_hatches_it():
    """Angles of 3 and 5 degrees under a ridge 4 degrees up, both sides of it."""
    rows = [
        SiteBearing("20 m", at_deg, (3.0, 5.0), (-9.0, -2.0), (-3.0, 0.5))
        for at_deg in (0.0, 30.0)
    ]
    ridge = [SiteProfile(0.0, 4.0, (), ()), SiteProfile(30.0, 0.0, (), ())]
    seen = SimpleNamespace(bearings=rows, profiles=ridge)
    _, three, five = list(gain_columns(seen))[:3]
    assert [three.cell(row).strip() for row in rows] == ["-9.0 (-3.0)h", "-9.0 (-3.0)"]
    assert [five.cell(row).strip() for row in rows] == ["-2.0 (+0.5)"] * 2


def test_without_a_ground_there_is_no_site():
    station, _ = resolve_station(None, {"place": "48,10"})
    with pytest.raises(InputError, match="nothing is known of the ground"):
        site_work(station, None)
