"""Rays of one hop: example skies, and the one over a place."""

from collections import defaultdict

import numpy as np
import pytest
from click.testing import CliRunner

from advisor.answers.ask import solar_index
from advisor.answers.skies.hops import (
    EXAMPLES,
    FAINT_DB,
    USUAL_BANDS,
    USUAL_DISTANCES_KM,
    hop_bands,
    hop_rows,
    hop_sky,
)
from advisor.answers.skies.sky import sky_table
from advisor.cli import main
from geo.errors import InputError
from geo.places import parse_place

# Of the same layers: sky, band, distance in km, angles of all rays above -20 dB.
INTEGRATED = [
    ("a summer noon", "40 m", 700.0, [14.0109, 31.5738, 39.6162, 46.4066, 57.7428]),
    ("a summer noon", "40 m", 1000.0, [8.3679, 27.4071, 40.6181, 41.2224]),
    ("a summer noon", "20 m", 1300.0, [6.8751, 9.3660]),
    ("a summer noon", "20 m", 2500.0, [9.6839, 14.5680, 15.6656, 20.0093]),
    ("a winter noon", "20 m", 1000.0, [24.7298, 36.5079]),
    ("a winter noon", "15 m", 2000.0, [9.9582, 19.7026]),
    ("a winter night", "80 m", 500.0, [47.5252]),
    ("a winter night", "40 m", 1300.0, [23.3229, 28.6379]),
    ("a winter night", "40 m", 2000.0, [10.8474]),
    ("a winter night", "40 m", 3000.0, [3.4932]),
]
SKIPS = {
    ("a summer noon", "40 m"): 489.0,
    ("a summer noon", "20 m"): 1233.1,
    ("a winter noon", "20 m"): 856.33,
    ("a winter noon", "15 m"): 1579.0,
    ("a winter night", "40 m"): 1255.33,
}


@pytest.mark.parametrize(("sky", "band", "km", "angles"), INTEGRATED)
def test_angles_are_those_of_integrated_rays(sky, band, km, angles):
    """
    Every ray that lands, none twice.

    Source: the ray equations integrated by an 8th-order Runge-Kutta method, apart from
    the program, scanned in angle and bisected.
    """
    rows = hop_rows(EXAMPLES, hop_bands([band]), [km])
    ours = [row.takeoff_deg for row in rows if row.sky == sky]
    assert ours == pytest.approx(angles, abs=0.01)


def test_skip_distances_are_those_of_integrated_rays():
    """Source: as above; the nearer of E and F2, rounded up to 10 km."""
    rows = hop_rows(EXAMPLES, hop_bands(), [2000.0])
    found = {(row.sky, row.band): row.skip_km for row in rows}
    for key, km in SKIPS.items():
        assert -0.1 < found[key] - km < 10.1, key
    assert np.isnan(found["a summer noon", "15 m"])
    assert found["a winter night", "80 m"] == 0.0


def test_every_distance_has_a_row():
    """Without a ray its angle is missing; rays stand in order and are not faint."""
    cells = defaultdict(list)
    for row in hop_rows():
        cells[row.sky, row.band, row.distance_km].append(row)
    assert len(cells) == len(EXAMPLES) * len(USUAL_BANDS) * len(USUAL_DISTANCES_KM)
    for (_, _, km), rows in cells.items():
        angles = [row.takeoff_deg for row in rows]
        if rows[0].layer:
            assert angles == sorted(angles)
            assert min(row.gathered_db for row in rows) > FAINT_DB
            assert all(row.group_km > km for row in rows)
            assert km >= rows[0].skip_km - 10.0
        else:
            assert len(rows) == 1
            assert np.isnan(angles[0])
            assert rows[0].ray == ""


def test_skip_over_a_place_is_that_of_sky():
    """One figure in two commands, the magnetic field included."""
    place, time = parse_place("KF07jo"), np.datetime64("2026-12-05T16", "s")
    solar = solar_index(np.array([time]), r12=58.0)
    sky = hop_sky(place, time, solar.r12)
    bands = hop_bands(["40 m", "20 m", "15 m"])
    told = sky_table(place, np.array([time]), solar, bands).rows[0]
    assert sky.fof2_mhz == told.fof2_mhz
    assert sky.hmf2_km == told.hmf2_km
    rows = hop_rows([sky], bands, [3000.0])
    ours = {row.band: row.skip_km for row in rows}
    assert list(ours.values()) == pytest.approx(list(told.skip_km.values()), abs=0.1)
    assert 300.0 < ours["20 m"] < ours["15 m"]


def test_a_place_comes_before_the_examples():
    words = ["hops", "--from", "KF07jo", "--at", "2026-12-05T16:00Z", "--r12", "58"]
    text = CliRunner().invoke(main, [*words, "--more"]).stdout
    assert text.startswith("2026-12-05T16:00Z, R12 58")
    heads = [text.index(word) for word in ("Over KF07jo", "A summer", "A winter night")]
    assert heads == sorted(heads)
    brief = CliRunner().invoke(main, words).stdout
    assert "Over KF07jo" in brief
    assert "A winter night" not in brief
    assert brief.count("\n") <= 40


@pytest.mark.parametrize("km", [0.0, 4001.0, float("nan")])
def test_a_distance_that_is_no_hop_is_refused(km):
    with pytest.raises(InputError, match="4000 km"):
        hop_rows(distances_km=[km])
