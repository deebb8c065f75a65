"""Where hops touch down and where the ground wave goes: land, sea and both."""

import numpy as np
import pytest

from advisor.antenna.ground import complex_permittivity, ground_by_name
from advisor.propagation.groundpath import MOST_LOSS_DB, ground_loss_db
from advisor.propagation.groundwave import (
    field_to_loss_db,
    ground_wave_field_dbuv_m,
    mixed_path_field_dbuv_m,
)
from advisor.propagation.losses import reflection_loss_db
from advisor.propagation.mode_axis import ES_RANKED, F2_LOW
from advisor.propagation.modes import hop_modes
from geo.ionosphere.layers import layers_at
from geo.land import is_land, land_share
from geo.paths import paths_to
from geo.sphere import bearing_deg, destination, distance_km

GROUND = "ground_reflection"
BANDS = np.array([1.85, 3.6, 7.1, 14.1, 21.2, 28.5])
NOON = np.array(["2026-03-21T12:00"], "datetime64[s]")


def modes_between(here, there, long_path=False):
    """Hop modes of one path at R12 60."""
    paths = paths_to(*here, [there[0]], [there[1]], long_path=long_path)
    layers = layers_at(
        paths.control_lat_deg.ravel(), paths.control_lon_deg.ravel(), NOON, 60.0
    )
    return hop_modes(paths, layers, BANDS)


def between_ends_deg(modes):
    """Elevation between that of both ends; 0 where there is no ray."""
    return 0.5 * np.nan_to_num(modes.takeoff_deg + modes.landing_deg).clip(0.0)


def alone(distance_km, ground):
    """Loss of the ground wave over one kind of ground."""
    eps = complex_permittivity(ground_by_name(ground), BANDS)
    return field_to_loss_db(BANDS, ground_wave_field_dbuv_m(BANDS, distance_km, eps))


# --- touching down between hops -------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(
    ("here", "there", "kind"),
    [
        ((55.0, 40.0), (55.0, 95.0), "land"),  # Russia
        ((-30.0, -30.0), (-30.0, 10.0), "sea water"),  # South Atlantic
    ],
)
def test_hops_over_one_kind_of_ground(here, there, kind):
    """n - 1 touches, each with the Fresnel loss at the angle of the ray."""
    modes = modes_between(here, there)
    there = np.isfinite(modes.takeoff_deg)
    one = reflection_loss_db(BANDS[:, None], between_ends_deg(modes), kind)
    expected = np.where(there, (modes.hops - 1) * one, 0.0)
    # Sporadic E on such paths is out of reach and has no loss that counts.
    ours, expected = (
        each[..., : ES_RANKED.start] for each in (modes.losses_db[GROUND], expected)
    )
    assert ours == pytest.approx(expected, abs=0.05 * modes.hops.max())
    assert ours.max() > 4.0 if kind == "land" else ours.max() > 0.5
    assert np.all(modes.losses_db[GROUND][..., F2_LOW.stop] == 0.0)


@pytest.mark.slow
def test_one_hop_touches_nothing():
    modes = modes_between((50.0, 0.0), (50.0, 15.0))
    assert np.all(modes.losses_db[GROUND][0, ..., modes.hops[0] == 1] == 0.0)


@pytest.mark.slow
def test_two_hops_ask_for_the_middle_only():
    """From Portugal to New England: both ends on land, the middle at sea."""
    over = modes_between((39.5, -8.0), (45.0, -70.5))
    two = (over.hops == 2) & np.isfinite(over.takeoff_deg)
    sea = reflection_loss_db(BANDS[:, None], between_ends_deg(over), "sea water")
    assert two.any()
    assert over.losses_db[GROUND][two] == pytest.approx(sea[two], abs=0.05)


def test_more_land_never_costs_less_above_grazing():
    """Above 4 degrees the sea mirrors better than any land."""
    angle = np.linspace(4.0, 90.0, 87)[:, None]
    land, sea = (reflection_loss_db(BANDS, angle, k) for k in ("land", "sea water"))
    assert np.all(land > sea)


@pytest.mark.slow
def test_both_ways_touch_the_same_ground():
    one = modes_between((52.0, 5.0), (25.0, 55.0))
    other = modes_between((25.0, 55.0), (52.0, 5.0))
    assert one.losses_db[GROUND] == pytest.approx(other.losses_db[GROUND], abs=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("there", "some_land"), [((-5.8, -35.3), False), ((35.0, 139.0), True)]
)
def test_each_touch_counts_as_what_it_falls_on(there, some_land):
    """From Cape Town to Natal in Brazil, and over Africa and India to Japan."""
    here = (-33.8, 19.0)
    modes = modes_between(here, there)
    far, way = distance_km(*here, *there), bearing_deg(*here, *there)
    counted = 0
    for band, mode in np.argwhere(np.isfinite(modes.takeoff_deg[0, 0])):
        hops = int(modes.hops[0, 0, band, mode])
        if not F2_LOW.start <= mode < F2_LOW.stop:
            continue
        lat, lon = destination(*here, way, far * np.arange(1, hops) / hops)
        angle = between_ends_deg(modes)[0, 0, band, mode]
        land, sea = (
            reflection_loss_db(BANDS[band], angle, k) for k in ("land", "sea water")
        )
        on_land = land_share(lat, lon)
        each = on_land * land + (1.0 - on_land) * sea
        ours = modes.losses_db[GROUND][0, 0, band, mode]
        # A ray that passes over the ground once or twice touches it less often.
        touches = hops - 1 - np.arange(3)
        expected = each.mean() * touches
        assert np.abs(ours - expected).min() < 0.05 + 0.01 * each.sum()
        counted += 1
        assert is_land(lat, lon).any() == some_land
    assert counted >= 6


def test_the_long_way_round_has_losses_that_are_numbers():
    """Hops of over half the globe are of modes that are not there."""
    modes = modes_between((-33.8, 19.0), (-5.8, -35.3), long_path=True)
    assert np.isfinite(modes.loss_db).all()


# --- along the ground -----------------------------------------------------------


def test_inland_the_ground_is_mine():
    """Bohemia to Bavaria: as over one ground, to the last bit."""
    paths = paths_to(49.8, 15.3, [49.0, 48.5], [12.0, 11.0])
    found = ground_loss_db(paths, BANDS, "average")
    assert np.array_equal(found, alone(paths.distance_km[:, None], "average"))


def test_out_at_sea_the_ground_is_the_sea():
    """Between two ships in the South Atlantic, whatever ground is named."""
    paths = paths_to(-30.0, -20.0, [-30.0], [-17.0])
    found = ground_loss_db(paths, BANDS, "average")
    assert np.array_equal(found, alone(paths.distance_km[:, None], "sea water"))
    assert np.array_equal(found, ground_loss_db(paths, BANDS, "very dry"))


def test_it_ends_by_itself():
    """Out into the South Atlantic: no step down to where a kilowatt is nothing."""
    east = np.linspace(-19.9, 20.0, 800)
    paths = paths_to(-30.0, -20.0, np.full(east.size, -30.0), east)
    found = ground_loss_db(paths, BANDS, "average")
    there = np.isfinite(found)
    # Once gone it stays away, the higher bands first.
    reach = there.sum(axis=0)
    assert np.all(np.diff(reach) < 0)
    for band in range(BANDS.size):
        assert there[: reach[band], band].all()
        loss = found[: reach[band], band]
        # Beyond 100 km no stretch of 5 km takes as much as 3 dB.
        assert np.all(np.diff(loss[20:]) > 0.0)
        assert np.diff(loss[20:]).max() < 3.0
        assert MOST_LOSS_DB - 3.0 < loss[-1] <= MOST_LOSS_DB


def test_over_land_it_is_gone_long_before_it_is_let_go():
    """Across Siberia: the loss only grows, and past the sea's reach there is none."""
    east = np.linspace(61.0, 120.0, 60)
    paths = paths_to(60.0, 60.0, np.full(east.size, 60.0), east)
    found = ground_loss_db(paths, BANDS, "average")
    loss = found[np.isfinite(found[:, 0]), 0]
    assert np.all(np.diff(loss) > 0.0)
    assert loss[-1] > MOST_LOSS_DB + 50.0


def test_a_coast_on_the_way_lies_between_land_and_sea():
    """From 150 km inland in Portugal 150 km out: better than land, worse than sea."""
    paths = paths_to(40.0, -7.2, [40.0], [-10.8])
    mixed = ground_loss_db(paths, BANDS, "average")
    assert np.all(mixed < alone(paths.distance_km[:, None], "average") - 1.0)
    assert np.all(mixed > alone(paths.distance_km[:, None], "sea water") + 1.0)


def test_there_is_back():
    """Millington's mean is the same both ways."""
    out = ground_loss_db(paths_to(40.0, -7.2, [40.0], [-10.8]), BANDS, "average")
    back = ground_loss_db(paths_to(40.0, -10.8, [40.0], [-7.2]), BANDS, "average")
    assert out == pytest.approx(back, abs=1e-6)


def test_several_coasts_at_once_are_each_as_alone():
    """A ring round the Channel: paths with one and with many sections together."""
    lat = np.array([50.0, 51.5, 49.0, 48.7, 50.2])
    lon = np.array([3.0, -3.8, -3.0, 2.0, -6.8])
    together = ground_loss_db(paths_to(50.8, -0.5, lat, lon), BANDS, "average")
    for n in range(lat.size):
        single = paths_to(50.8, -0.5, lat[n : n + 1], lon[n : n + 1])
        assert together[n] == pytest.approx(
            ground_loss_db(single, BANDS, "average")[0], abs=1e-9
        )


def test_land_seen_from_a_boat_is_land():
    """Sea water named as my ground is not taken for the land on the way."""
    paths = paths_to(40.0, -10.8, [40.0], [-7.2])
    assert np.all(
        ground_loss_db(paths, BANDS, "sea water")
        > alone(paths.distance_km[:, None], "sea water") + 1.0
    )


def test_sections_of_no_length_change_nothing():
    """What lets paths of different length stand in one array."""
    land, sea = 13.0 - 12.7j, 70.0 - 12700.0j
    plain = mixed_path_field_dbuv_m(7.1, [20.0, 30.0, 10.0], [land, sea, land])
    padded = mixed_path_field_dbuv_m(
        7.1, [20.0, 0.0, 0.0, 30.0, 10.0], [land, sea, sea, sea, land]
    )
    assert padded == pytest.approx(plain, abs=1e-12)
