"""
What every operator knows must come out by computation.

All rules here are common practice, no source. The places are middle latitudes.
"""

import numpy as np
import pytest

from advisor.answers.limits import LIMITS, OPEN_CHANCE
from advisor.answers.rows.tonight import advice_rows
from advisor.answers.words import reasons

SUMMER, WINTER, EQUINOX = "2026-06-21", "2026-12-21", "2026-03-21"

SOME = {"bands": ["80 m", "40 m", "20 m", "10 m"]}
"""Bands that behave like the others between them."""


def band(advice, name):
    """Place of a band on the band axis."""
    return [b.name for b in advice.question.bands].index(name)


def local_noon(lon_deg):
    """Hour of local noon, its place on the hour axis of a day from 00Z."""
    return round(12 - lon_deg / 15) % 24


def at_noon(day, lon_deg):
    """The hour of local noon alone."""
    return {"start": f"{day}T{local_noon(lon_deg):02d}", "hours": 1}


@pytest.mark.slow
def test_10_m_is_closed_at_night_at_low_activity(ask):
    """28 MHz at midnight with R12 5: nothing but a trace of sporadic E."""
    advice = ask("50,10", "50,31", WINTER, r12=5.0, bands=["10 m"])
    night = [(local_noon(20) + 12 + k) % 24 for k in (-2, 0, 2)]
    assert np.all(advice.setups[0].chance[0, night, band(advice, "10 m")] < 0.002)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["160 m", "80 m"])
def test_low_bands_die_by_day_and_live_at_night(ask, name):
    """1.8 and 3.5 MHz over 1500 km: dead at summer noon, alive at night.

    Who is there at night on 1.8 MHz in summer has an antenna for it.
    """
    asked = {"emission": "CW", "power_w": 100.0, "far_end": {"kind": "big"}}
    advice = ask("50,10", "50,31", SUMMER, bands=["160 m", "80 m"], **asked)
    noon = local_noon(20)
    chance = advice.setups[0].chance[0, :, band(advice, name)]
    assert chance[noon] < 0.05
    assert chance[(noon + 12) % 24] > 0.5


@pytest.mark.slow
def test_short_skip_on_40_m_while_20_m_skips_over(ask):
    """
    By day 7 MHz serves 300 to 500 km; 14 MHz passes over but reaches 2000 km.

    What is left on 14 MHz are the few days with dense sporadic E overhead.
    """
    asked = {"power_w": 100.0, "bands": ["40 m", "20 m"], **at_noon(EQUINOX, 10)}
    near = ask("50,10", "300-500 km", **asked)
    assert near.setups[0].chance[0, 0, band(near, "40 m")] > 0.7
    assert near.setups[0].chance[0, 0, band(near, "20 m")] < 0.1
    far = ask("50,10", "50,38", **asked)
    assert far.setups[0].chance[0, 0, band(far, "20 m")] > 0.5


def to_ships(ask, distances_km, **values):
    """160 m by day from a ship to others due east of it, with short verticals."""
    east_deg = np.asarray(distances_km) / (111.195 * np.cos(np.radians(30.0)))
    far = {"antenna": "vertical", "power_w": 100.0}
    return ask(
        "-30,-20",
        [f"-30,{lon:.4f}" for lon in -20.0 + east_deg],
        "2026-12-05T13",
        hours=1,
        shape="ground-mounted vertical",
        ground="sea water",
        power_w=100.0,
        far_end=far,
        bands=["160 m"],
        **values,
    )


@pytest.mark.slow
def test_160_m_over_sea_by_day_works_by_ground_wave(ask):
    """At 300 km a hundred watts of Morse are heard along the water every day."""
    advice = to_ships(ask, [300.0])
    (setup,) = advice.setups
    assert setup.chance[0, 0, 0] > 0.9
    assert setup.by_ground_wave[0, 0, 0]
    assert advice_rows(advice)[0].mode == "ground wave"
    assert "by ground wave" in reasons(advice, 0)[0]


@pytest.mark.slow
def test_ground_wave_hands_over_to_the_sky_without_a_step(ask):
    """Every 25 km out to 2000 km: the signal falls slowly, the chance with it."""
    distances = np.arange(100.0, 2001.0, 25.0)
    setups = [
        to_ships(ask, some, emission="SSB").setups[0]
        for some in (distances[:39], distances[39:])
    ]
    along, chance, margin, limit = (
        np.concatenate([getattr(each, name)[:, 0, 0] for each in setups])
        for name in ("by_ground_wave", "chance", "margin_db", "limit")
    )
    assert along[0]
    assert not along[-1]
    assert np.abs(np.diff(chance)).max() < 0.1
    assert np.abs(np.diff(margin)).max() < 4.0
    # Where it carries the contact and is not enough, that is what is named.
    named = np.array([LIMITS[k] for k in limit])
    weak = along & (chance >= OPEN_CHANCE) & (chance < 0.9)
    assert weak.any()
    assert set(named[weak]) == {"ground wave too weak"}


OVER_THE_ATLANTIC = {"place": "50,5", "target": "41,-75", "power_w": 100.0}


@pytest.mark.slow
def test_voice_over_the_atlantic_on_december_afternoons(ask):
    """
    100 W of voice from Europe to eastern North America at moderate activity.

    That a band is open means to a caller that one of the well equipped stations there
    answers; a usual one picked at random is another matter.
    """
    bands = ["20 m", "17 m", "15 m"]
    found = [
        ask(
            start="2026-12-15T13", hours=4, r12=80.0, emission="SSB", bands=bands,
            far_end={"kind": kind, "at_least_one_of": count}, **OVER_THE_ATLANTIC,
        ).setups[0].chance[0].max(axis=-1)
        for kind, count in (("usual", 1), ("usual", 10), ("big", 10))
    ]  # fmt: skip
    assert np.all(np.diff(found, axis=0) > 0.0)
    assert np.all(found[-1] > 0.7)


@pytest.mark.slow
def test_80_m_over_the_atlantic_on_winter_nights(ask):
    """100 W of Morse are heard by one of ten usual stations on most nights."""
    advice = ask(
        start="2026-12-16T00", hours=6, r12=30.0, emission="CW", bands=["80 m"],
        far_end={"kind": "usual", "at_least_one_of": 10}, **OVER_THE_ATLANTIC,
    )  # fmt: skip
    assert np.all(advice.setups[0].chance[0, :, 0] > 0.5)


@pytest.mark.slow
def test_inside_the_skip_zone_a_slow_digital_mode_is_heard_by_scatter(ask):
    """20 m over 300 km at a winter noon: some days for FT8, hardly any for voice."""
    slow, voice = (
        ask("50,5", "50,9.2", WINTER + "T11", hours=2, power_w=100.0,
            emission=emission, bands=["20 m"])
        for emission in ("FT8", "SSB")
    )  # fmt: skip
    chance = slow.setups[0].chance[0, :, 0]
    assert np.all((chance > 0.15) & (chance < 0.8))
    assert {row.mode for row in advice_rows(slow)} == {"scatter"}
    assert {row.limit for row in advice_rows(slow)} == {"only by scatter"}
    assert "only by scatter" in " ".join(reasons(slow, 0))
    assert np.all(voice.setups[0].chance < 0.1)


@pytest.mark.slow
def test_steep_rays_for_near_and_flat_rays_for_far(ask):
    """Near contacts want high angles, far ones low angles."""
    near, far = (
        ask("50,10", target, bands=["40 m", "20 m"], **at_noon(EQUINOX, 15))
        for target in ("50,13", "50,45")
    )
    steep = near.targets[0].takeoff_deg[0, band(near, "40 m")]
    flat = far.targets[0].takeoff_deg[0, band(far, "20 m")]
    assert steep > 60.0
    assert flat < 15.0


@pytest.mark.slow
def test_more_power_never_lowers_a_chance(ask):
    """1, 10 and 100 W: no cell may fall."""
    powers = [
        ask("50,10", "014", EQUINOX, power_w=w, far_end={"power_w": 100.0}, **SOME)
        for w in (1.0, 10.0, 100.0)
    ]
    bearings = {a.setups[0].bearing.wire_deg for a in powers}
    chances = [a.setups[0].heard for a in powers]
    assert len(bearings) == 1  # else the cells are not of one and the same wire
    assert np.all(np.diff(chances, axis=0) >= -1e-12)
    assert np.all(np.diff([c.max() for c in chances]) >= -1e-12)


@pytest.mark.slow
def test_a_weak_signal_mode_beats_morse_beats_voice(ask):
    """FT8 needs less than CW, CW less than SSB: chances in that order."""
    chances = [
        ask(
            "50,10",
            "014",
            EQUINOX,
            emission=e,
            setups=[
                {"name": "w", "shape": "dipole", "height_m": 10.0, "bearing_deg": 70.0}
            ],
            **SOME,
        )
        .setups[0]
        .chance
        for e in ("FT8", "CW", "SSB")
    ]
    assert np.all(np.diff(chances, axis=0) <= 1e-12)
    assert np.all(np.diff([c.sum() for c in chances]) < 0)


@pytest.mark.slow
def test_noisier_places_never_help(ask):
    """More noise of the same spread at the far end: being heard gets no easier."""
    wire = [{"name": "w", "shape": "dipole", "height_m": 10.0, "bearing_deg": 70.0}]
    quiet, loud = (
        ask("50,10", "014", EQUINOX, setups=wire, far_end={"noise": n}, **SOME).setups[
            0
        ]
        for n in ("quiet rural", "rural")
    )
    assert np.all(loud.heard <= quiet.heard + 1e-12)
    # Routes 40 dB too faint in the worse direction are left out, of which the loud
    # place has a few more: 4e-6 of a chance at most.
    assert loud.hear == pytest.approx(quiet.hear, abs=1e-5)


@pytest.mark.slow
def test_a_wire_lies_across_the_way_to_its_target(ask):
    """A dipole high enough to have lobes is best hung broadside."""
    advice = ask("50,10", "20,77", EQUINOX, height_m=14.0, bands=["20 m", "15 m"])
    off = advice.setups[0].bearing.wire_deg - advice.targets[0].bearing_deg
    assert abs((off % 180.0) - 90.0) <= 10.0


@pytest.mark.slow
def test_turning_by_180_degrees_changes_nothing(ask):
    """A dipole has no front."""
    one, other = (
        ask(
            "50,10",
            "014",
            EQUINOX,
            hours=6,
            setups=[
                {
                    "name": "w",
                    "shape": "dipole",
                    "height_m": 9.0,
                    "bearing_deg": bearing,
                }
            ],
            **SOME,
        )
        .setups[0]
        .chance
        for bearing in (40.0, 220.0)
    )
    assert other == pytest.approx(one, abs=1e-9)


@pytest.mark.slow
def test_adding_a_set_up_never_lowers_the_best(ask):
    """The best of two wires is at least the best of one."""
    dipole = {"name": "d", "shape": "dipole", "height_m": 9.0, "bearing_deg": 40.0}
    upright = {"name": "v", "shape": "ground-mounted vertical"}
    alone = ask("50,10", "014", EQUINOX, setups=[dipole], **SOME)
    both = ask("50,10", "014", EQUINOX, setups=[dipole, upright], **SOME)
    assert both.setups[0].score >= alone.setups[0].score


@pytest.mark.slow
def test_higher_activity_opens_higher_bands(ask):
    """15 m at noon over 3000 km: closed or weak when quiet, open when busy."""
    quiet, busy = (
        ask(
            *("50,10", "50,50"), r12=r, power_w=100.0, bands=["15 m"],
            **at_noon(EQUINOX, 30),
        ).setups[0].chance
        for r in (0.0, 140.0)
    )  # fmt: skip
    assert busy[0, 0, 0] > quiet[0, 0, 0] + 0.3


@pytest.mark.slow
def test_everything_is_finite_or_says_why(ask):
    """Poles, antipodes, the antimeridian and my own place give probabilities."""
    for place, target in (
        ("90,0", "-89,0"), ("-45,170", "45,-10"), ("0,179.9", "0,-179.9"),
        ("50,10", "50.001,10"), ("-77,166", "010"),
    ):  # fmt: skip
        advice = ask(place, target, SUMMER, hours=3)
        chance = advice.setups[0].chance
        assert np.all((chance >= 0.0) & (chance <= 1.0 + 1e-12))
        named = advice.setups[0].mode != ""
        known = np.isfinite(advice.targets[0].takeoff_deg)
        assert np.array_equal(named, known | advice.setups[0].by_ground_wave)


@pytest.mark.slow
def test_long_path_is_the_other_way_round(ask):
    """Bearings differ by 180 degrees and the distances add up to the circumference."""
    short = ask("50,10", "-40,175", EQUINOX, hours=2)
    long = ask("50,10", "-40,175", EQUINOX, hours=2, long_path=True)
    total = short.targets[0].mean_km + long.targets[0].mean_km
    assert total == pytest.approx(2 * np.pi * 6371.0, rel=1e-9)
    turn = long.targets[0].bearing_deg - short.targets[0].bearing_deg
    assert turn % 360.0 == pytest.approx(180.0)


@pytest.mark.slow
def test_the_long_way_round_from_australia_on_a_winter_afternoon(ask):
    """
    Common practice, no source: South Australia to Italy on 20 m in September at 06Z.

    By night over the Pacific nothing is asked of E by day; at 14Z it is dark at both.
    """
    asked = {
        "r12": 112.0, "hours": 1, "bands": ["20 m"], "shape": "dipole",
        "emission": "FT8", "power_w": 100.0,
    }  # fmt: skip
    way = "the long way round, bearing 122"
    for long_path in (False, True):
        open_ = ask(
            "-34.5,139", "45.5,9", "2024-09-15T06:00", long_path=long_path, **asked
        )
        assert open_.setups[0].chance[0, 0, 0] > 0.3
        assert way in reasons(open_, 0)[0]
    shut = ask("-34.5,139", "45.5,9", "2024-09-15T14:00", long_path=True, **asked)
    assert shut.setups[0].chance[0, 0, 0] < 0.1
