"""
Where the power comes down: balance, limits, agreement with the engine, verdicts.

Rules of thumb here are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from advisor.answers.ask import question_for
from advisor.answers.far_places.footprint import (
    ABSORBED_DB,
    FAR_KM,
    LANDINGS,
    NEAR_KM,
    hop_sky,
    landing_shares,
)
from advisor.answers.far_places.reach import (
    ALSO,
    DX,
    LEAST_DOWN,
    MID_RANGE,
    NOTHING,
    SHORT_SKIP,
    reach,
)
from advisor.answers.rows.reach import reach_rows
from advisor.antenna.closedform import (
    dipole_pattern,
    isotropic_pattern,
    quarter_wave_vertical_pattern,
    wavelength_m,
)
from advisor.antenna.ground import ground_by_name
from advisor.propagation.first_hop import skip_distance_km
from advisor.propagation.mode_axis import F2_LOW
from advisor.propagation.modes import hop_modes
from advisor.show.text.reach import sentence
from advisor.station.file import resolve_station
from geo.ionosphere.conditions import Conditions
from geo.ionosphere.layers import layers_at
from geo.paths import paths_to
from geo.sphere import destination

EQUINOX = "2026-03-21"
HERE = (48.0, 10.0)
NOON = 11
BANDS = ("80 m", "40 m", "20 m", "10 m")


def asked(setups=None, *, bands=BANDS, hours=24, r12=60.0, to="within 2500 km", **more):
    """A question from the middle of Europe; the target is of no effect all round."""
    conditions = Conditions(flare=more.pop("flare", None))
    station, _ = resolve_station(
        None,
        {
            "place": more.pop("place", f"{HERE[0]},{HERE[1]}"),
            "setups": setups or [{"name": "wire", "shape": "dipole", "height_m": 8.0}],
            **more,
        },
    )
    return question_for(
        station,
        [to],
        np.datetime64(EQUINOX),
        hours,
        band_names=bands,
        r12=r12,
        conditions=conditions,
    )


@pytest.fixture(scope="module")
def question():
    return asked()


@pytest.fixture(scope="module")
def sky(question):
    return hop_sky(question, question.solar.r12)


def one(pattern, names=BANDS):
    """The same pattern on every band."""
    return dict.fromkeys(names, pattern)


def index(name):
    return LANDINGS.index(name)


def test_all_power_goes_somewhere(sky):
    """The six shares sum to one for every pattern, hour and band."""
    ground = ground_by_name("average")
    for pattern in (
        isotropic_pattern(7.1),
        dipole_pattern(7.1, 10.0, ground),
        quarter_wave_vertical_pattern(14.1, ground),
    ):
        for wire_deg in (None, 37.0):
            shares = landing_shares(sky, one(pattern), BANDS, wire_deg)
            assert shares.sum(axis=0) == pytest.approx(1.0, abs=1e-9)
            assert shares.min() >= -1e-12


@pytest.mark.slow
def test_power_below_the_horizon_is_that_of_the_solid_angle(question):
    """An isotropic radiator sends sin(h) of the upper half below an elevation h."""
    for horizon_deg in (0.0, 3.0, 20.0, 45.0):
        station = replace(question.station, horizon_deg=horizon_deg)
        sky = hop_sky(replace(question, station=station), question.solar.r12)
        shares = landing_shares(sky, one(isotropic_pattern(7.1)), BANDS, None)
        blocked = np.sin(np.radians(horizon_deg))
        assert shares[index("blocked")] == pytest.approx(blocked, abs=1e-3)


def test_a_hill_on_one_side_blocks_that_side_alone(question):
    """A skyline of 60 degrees over half of the compass."""
    skyline = ((0.0, 60.0), (170.0, 60.0), (190.0, 0.0), (350.0, 0.0))
    station = replace(question.station, horizon=skyline)
    hilly = replace(question, station=station)
    shares = [
        landing_shares(
            hop_sky(hilly, question.solar.r12, np.array([side])),
            one(isotropic_pattern(7.1)),
            BANDS,
            None,
        )[index("blocked"), 0, 0]
        for side in (90.0, 270.0)
    ]
    assert shares[0] == pytest.approx(np.sin(np.radians(60.0)), abs=1e-3)
    assert shares[1] < 1e-6


@pytest.mark.slow
@pytest.mark.parametrize("bearing_deg", [90.0, 200.0])
def test_a_ray_is_what_the_engine_makes_of_the_path_to_where_it_lands(
    question, bearing_deg
):
    """
    Take-off angle and days on which F2 returns it, where the ray is a low one.

    Days: a ray of an angle against a path of a distance, which on better days has
    another angle; so on the whole, not ray by ray.
    """
    hops = hop_sky(question, question.solar.r12, np.array([bearing_deg])).hops
    landing, share = hops.landing_km[1, 0], hops.share[:, 0]
    # Steeper rays come down nearer, and E leaves the ray alone.
    falls = np.diff(landing, axis=-1) > 20.0
    low = falls[..., 1:] & falls[..., :-1] & (share[0, ..., 1:-1] < 0.2)
    low &= (share[1, ..., 1:-1] > 0.5) & (landing[..., 1:-1] < 3300.0)
    low[1::2] = False
    angles, days = [], []
    for hour, band in np.argwhere(low.any(axis=2))[::6]:
        ray = np.flatnonzero(low[hour, band])[::4] + 1
        paths = paths_to(
            *HERE, *destination(*HERE, bearing_deg, landing[hour, band, ray])
        )
        layers = layers_at(
            paths.control_lat_deg.ravel(),
            paths.control_lon_deg.ravel(),
            question.times[hour : hour + 1],
            question.solar.r12[hour : hour + 1],
        )
        modes = hop_modes(paths, layers, question.frequency_mhz[[band]])
        cells = (slice(None), 0, 0, F2_LOW.start)
        # Where a ray lingers under a layer angles say little.
        told = modes.losses_db["focusing"][cells] <= 0.0
        angles += list((modes.takeoff_deg[cells] - hops.takeoff_deg[ray])[told])
        passed = share[1, hour, band, ray] / (1.0 - share[0, hour, band, ray])
        days += list((passed - modes.returned[cells])[told])
    assert len(angles) > 10
    assert np.median(np.abs(angles)) < 2.0
    assert np.percentile(np.abs(angles), 80) < 5.0
    assert np.mean(days) == pytest.approx(0.0, abs=0.15)


def test_skip_zone_agrees_with_the_layer_overhead(question, sky):
    """Within a tenth or 100 km of the skip distance with the sky of the station."""
    layers = layers_at(*HERE, question.times, question.solar.r12)
    overhead = skip_distance_km(layers, question.frequency_mhz)
    both = np.isfinite(overhead) & np.isfinite(sky.nearest_km) & (overhead < 1500.0)
    assert both.sum() > 40
    off = np.abs(overhead - sky.nearest_km)[both]
    assert np.median(off) < 60.0
    assert np.mean(off < np.maximum(100.0, 0.15 * overhead[both])) > 0.9


def test_skip_zone_grows_with_frequency_and_at_night(sky):
    day = sky.nearest_km[NOON]
    # Of a ray for every angle the steepest lands some kilometres away.
    assert day[0] < 50.0
    assert day[1] <= day[2]
    assert sky.nearest_km[NOON, 1] <= sky.nearest_km[3, 1]


def test_a_dipole_an_eighth_of_a_wave_up_is_for_short_skip():
    """On 40 m at noon; at night the layer lets the steep rays through."""
    wave_m = wavelength_m(7.1)
    low = {"name": "low", "shape": "dipole", "height_m": round(wave_m / 8.0, 1)}
    found = reach(asked([low], bands=("40 m",)))
    setup = found.setups[0]
    assert setup.verdict[NOON, 0] == SHORT_SKIP
    assert setup.share[index("near"), NOON, 0] > 0.6
    assert setup.share[index("through"), 3, 0] > setup.share[index("through"), NOON, 0]
    words = sentence(found, setup, 0)
    assert "at noon" in words
    assert "this is a short-skip wire" in words
    assert "it also serves from 800 to 2500 km" in words


def test_half_a_wave_up_the_lobe_on_14_mhz_is_near_28_degrees(lobe_deg):
    """Common practice, no source. Over a perfect mirror it would be 30 (sin = 1/2)."""
    for ground in ("average", "medium dry", "rich"):
        pattern = dipole_pattern(14.1, 0.5 * wavelength_m(14.1), ground_by_name(ground))
        assert lobe_deg(pattern, 90.0) == pytest.approx(28.0, abs=1.5)


def test_the_higher_wire_sends_more_of_its_power_far():
    """Half a wave against an eighth: less near, more beyond 800 km, on 40 m at noon."""
    low, high = (
        reach(asked([{"name": "w", "shape": "dipole", "height_m": h}], bands=("40 m",)))
        .setups[0]
        .share[:3, NOON, 0]
        for h in (5.3, 21.0)
    )
    assert high[0] < low[0]
    assert high[1] > 1.5 * low[1]


def test_a_vertical_over_the_sea_is_a_dx_wire_when_the_layer_is_high():
    """On 20 m long after dark what comes down comes down far away."""
    upright = [{"name": "v", "shape": "ground-mounted vertical"}]
    found = reach(asked(upright, bands=("20 m",), ground="sea water", r12=120.0))
    setup = found.setups[0]
    assert DX in setup.verdict[:, 0].tolist()
    assert setup.verdict[NOON, 0] in (MID_RANGE, DX)


@pytest.mark.slow
def test_low_bands_are_absorbed_under_a_strong_flare_and_10_m_goes_through():
    """X5 at its peak: at noon 80 m loses more than can be spared."""
    calm, flare = (
        reach(asked(bands=("80 m",), flare=each)).setups[0] for each in (None, "X5")
    )
    absorbed = index("absorbed")
    assert calm.share[absorbed, NOON, 0] < 0.9
    assert flare.share[absorbed, NOON, 0] > 0.95
    assert flare.verdict[NOON, 0] == NOTHING
    # The sun is down at midnight.
    assert flare.share[absorbed, 0, 0] == pytest.approx(calm.share[absorbed, 0, 0])
    quiet = reach(asked(bands=("10 m",), r12=5.0)).setups[0]
    assert set(quiet.verdict[:, 0].tolist()) == {NOTHING}
    assert quiet.share[index("through"), 0, 0] > 0.95


@pytest.mark.slow
def test_verdicts_and_rings_follow_the_shares(question):
    found = reach(question)
    setup = found.setups[0]
    down = setup.share[:3].sum(axis=0)
    for t, b in np.ndindex(setup.verdict.shape):
        verdict, share = setup.verdict[t, b], setup.share[:3, t, b]
        if down[t, b] < LEAST_DOWN:
            assert verdict == NOTHING
            assert not setup.served[:, t, b].any()
            continue
        for ring, name in enumerate((SHORT_SKIP, MID_RANGE, DX)):
            assert (verdict == name) == (share[ring] > 0.5 * down[t, b])
            if setup.served[ring, t, b]:
                assert share[ring] >= ALSO * down[t, b]


def test_ranges_hold_the_shares():
    station, _ = resolve_station(None, {"place": "48,10"})
    question = question_for(
        station, ["KE"], np.datetime64(EQUINOX), 3, band_names=["20 m"]
    )
    found = reach(question)
    setup = found.setups[0]
    assert found.varied == "solar activity and kind of ground"
    assert np.all(setup.share_low <= setup.share)
    assert np.all(setup.share <= setup.share_high)
    assert (setup.share_high - setup.share_low).max() > 0.005


@pytest.mark.slow
def test_towards_a_target_the_wire_is_hung_as_tonight_hangs_it():
    from advisor.answers.ask import answer

    question = asked(bands=("20 m",), to="014", hours=12)
    found = reach(question, towards=True)
    assert found.setups[0].wire_deg == answer(question).setups[0].bearing.wire_deg
    assert found.towards.bearing_deg == pytest.approx(150.0, abs=25.0)
    around = reach(question)
    assert around.setups[0].wire_deg is None
    assert around.towards is None


def test_a_wire_sends_less_off_its_ends(question):
    """Towards its ends more of what little goes there goes steeply."""
    high = dipole_pattern(14.1, 15.0, ground_by_name("average"))
    sky = hop_sky(question, question.solar.r12, np.array([90.0]))
    end_on, broadside = (
        landing_shares(sky, one(high), BANDS, wire)[1, NOON, 2] for wire in (90.0, 0.0)
    )
    assert broadside > end_on


@pytest.mark.slow
def test_a_band_that_is_not_used_has_no_figures():
    cut = [{"name": "w", "shape": "dipole", "height_m": 8.0, "bands": ["20 m"]}]
    found = reach(asked([*cut, {"name": "v", "shape": "ground-mounted vertical"}]))
    assert np.isnan(found.setups[0].share[:, :, 0]).all()
    assert {row.band for row in reach_rows(found) if row.setup == "w"} == {"20 m"}


@pytest.mark.parametrize("place", ["90,0", "-90,0", "0,180", "0,-180", "-77,166"])
def test_poles_and_edges_do_not_break(place):
    setup = reach(asked(place=place, hours=3)).setups[0]
    assert setup.share.sum(axis=0) == pytest.approx(1.0, abs=1e-9)


def test_rings_are_those_of_the_help_text():
    assert (NEAR_KM, FAR_KM, ABSORBED_DB) == (800.0, 2500.0, 30.0)
