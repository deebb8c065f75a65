"""Targets weighted by where operators are: counts, gathering, and odd places."""

from __future__ import annotations

import numpy as np
import pytest

from geo.countries import target_names
from geo.errors import InputError
from geo.places import Place, parse_place, resolve_target
from geo.sphere import distance_km
from geo.tables import read_table

HOBART = parse_place("QE37pd")

REGIONS = sorted(
    row["code"] for row in read_table("m49_regions").rows() if row["code"] != "001"
)


def test_table_says_what_its_header_promises(outside):
    """Spot values, and every code is one of ISO 3166."""
    table = read_table("operators")
    counts = dict(zip(table.columns["alpha2"], table.numbers("operators"), strict=True))
    assert (counts["US"], counts["JP"], counts["KE"]) == (760000, 380000, 150)
    assert set(counts) <= set(read_table("countries").columns["alpha2"])
    assert min(counts.values()) > 0
    # IARU: about three million operators in the world (from memory).
    total = sum(counts.values()) / 1e6
    check = outside("IARU: about three million operators", "from memory")
    check.between("operators of all countries [million]", total, 1.5, 3.5)


@pytest.mark.parametrize("code", REGIONS)
def test_every_region_has_at_most_a_dozen_points_that_sum_to_one(code):
    target = resolve_target(code, HOBART, "operators")
    assert 1 <= target.weight.size <= 12
    assert target.weight.sum() == pytest.approx(1.0, abs=1e-12)
    assert np.all(target.weight > 0.0)
    assert target.by_operators
    assert "from memory" in target.weight_source
    assert not target.weight.flags.writeable


def test_points_are_points_of_the_countries_themselves():
    """Gathering keeps places: none is moved out to sea."""
    known = {
        point
        for table in map(read_table, ("target_points", "cities"))
        for point in zip(
            table.numbers("lat_deg"), table.numbers("lon_deg"), strict=True
        )
    }
    for code in ("150", "142", "019", "002", "009"):
        target = resolve_target(code, HOBART, "operators")
        assert set(zip(target.lat_deg, target.lon_deg, strict=True)) <= known


def test_weight_follows_operators_not_land():
    """Europe by land lies in Siberia; by operators most of it is west of 40 E."""
    by_land = resolve_target("150", HOBART)
    by_operators = resolve_target("150", HOBART, "operators")
    west = [t.weight[t.lon_deg < 40.0].sum() for t in (by_land, by_operators)]
    assert west[0] < 0.5
    assert west[1] > 0.85
    assert by_land.name == by_operators.name


def test_a_country_weighs_as_its_count():
    """South-eastern Asia: Thailand has the share of its operators."""
    table = read_table("operators")
    counts = dict(zip(table.columns["alpha2"], table.numbers("operators"), strict=True))
    names = read_table("countries").rows()
    inside = [row["alpha2"] for row in names if row["m49"] == "035"]
    share = counts["TH"] / sum(counts.get(each, 0.0) for each in inside)
    target = resolve_target("035", HOBART, "operators")
    thai = resolve_target("TH", HOBART)
    near = [
        float(np.min(distance_km(lat, lon, thai.lat_deg, thai.lon_deg)))
        for lat, lon in zip(target.lat_deg, target.lon_deg, strict=True)
    ]
    assert target.weight[np.array(near) < 1.0].sum() == pytest.approx(share, abs=0.05)


def test_country_point_and_ring_are_the_same_either_way():
    for asked in ("NZ", "QE37", "within 800 km"):
        one, other = (resolve_target(asked, HOBART, w) for w in ("area", "operators"))
        assert np.array_equal(one.weight, other.weight)
        assert not other.by_operators


def test_unknown_weighting_is_refused():
    with pytest.raises(InputError, match="give usual or area or operators"):
        resolve_target("035", HOBART, "people")


@pytest.mark.parametrize(
    "origin",
    [Place(90.0, 0.0, "pole"), Place(-90.0, 0.0, "pole"), Place(0.0, 180.0, "edge"),
     Place(0.0, -180.0, "edge"), Place(0.0, 0.0, "middle")],
)  # fmt: skip
@pytest.mark.parametrize("asked", ["within 800 km", "800-2500 km", "009", "FJ"])
def test_places_at_poles_and_edges_do_not_break(origin, asked):
    for weights in ("area", "operators"):
        target = resolve_target(asked, origin, weights)
        assert np.all(np.abs(target.lat_deg) <= 90.0)
        assert np.all(np.abs(target.lon_deg) <= 180.0)
        away = distance_km(
            origin.lat_deg, origin.lon_deg, target.lat_deg, target.lon_deg
        )
        assert np.all(np.isfinite(away))
        if "km" in asked:
            assert away.max() < 2500.0


def test_all_regions_of_the_list_can_be_asked_for():
    assert set(REGIONS) <= set(target_names())
