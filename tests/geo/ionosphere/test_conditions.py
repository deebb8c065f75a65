"""Soundings, storms, flares and protons: neutral when nothing is assumed, and signs."""

import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from advisor.answers.ask import answer, question_for
from advisor.answers.limits import LIMITS
from advisor.cli import main
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.targets import over_targets
from advisor.engine.wires import far_end_patterns, patterns_of
from advisor.propagation.mode_axis import E_MODES, F2_LOW
from advisor.station.file import resolve_station
from geo.errors import InputError
from geo.ionosphere.conditions import QUIET, Conditions, Sounding, unsafe_latitude_deg
from geo.ionosphere.flare import fadeout_db, flare_flux_w_m2
from geo.ionosphere.layers import Layers, layers_at
from geo.paths import at_stations
from geo.places import Place

pytestmark = pytest.mark.usefixtures("answers_once")

WIRE = {"name": "wire", "shape": "dipole", "height_m": 10.0, "bearing_deg": 0.0}
FLARES = ("C5", "M5", "X1", "X20")
SUMMER, WINTER = "2026-06-21T00:00", "2026-12-21T00:00"
ARRAYS = [name for name in Layers.__dataclass_fields__ if name != "times"]


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


def asked(conditions=QUIET, target="50,31", *, start=SUMMER, place="50,10", hours=24):
    """Put a question with one fixed wire."""
    station, _ = resolve_station(
        None, {"place": place, "setups": [WIRE], "power_w": 100.0}
    )
    return question_for(
        station, [target], np.datetime64(start), hours, r12=60.0, conditions=conditions
    )


def chances(question):
    """Chance of the one set-up at its fixed bearing, (K, T, B)."""
    (wire,), station = question.station.setups, question.station
    link = link_for(
        question, question.solar.r12, far_end_patterns(station.far_end, question.bands)
    )
    gains = wire_gains(question, link, patterns_of(wire, question), wire.bearing_deg)
    return over_targets(question, contact_chance(link, gains).both[0])


def sounded(fof2_mhz, lat=50.0, lon=20.5, time="2026-06-21T12:00"):
    """One sounding, by default in the middle of the path asked about."""
    place = Place(lat, lon, f"{lat:g},{lon:g}")
    return Sounding(fof2_mhz, place, np.datetime64(time, "s"))


def sky(conditions, lat=50.0, lon=20.5, start=SUMMER, r12=60.0):
    """Layers over one place for a day."""
    hours = np.datetime64(start, "s") + np.arange(24) * np.timedelta64(3600, "s")
    return conditions.over([lat], [lon], hours, r12)


# --- neutral ---------------------------------------------------------------------


@pytest.mark.parametrize("conditions", [QUIET, Conditions(kp=0.0), Conditions(kp=2.0)])
def test_nothing_assumed_is_the_month_to_the_last_bit(conditions):
    """Kp up to 2+ is what a month's median is made of."""
    plain, assumed = layers_at([50.0], [20.5], sky(QUIET).times, 60.0), sky(conditions)
    for name in ARRAYS:
        one, other = getattr(plain, name), getattr(assumed, name)
        assert np.array_equal(one, other, equal_nan=True), name


@pytest.mark.slow
@pytest.mark.parametrize(
    "conditions",
    [Conditions(kp=1.0), Conditions(flare="A1"), Conditions(proton_flux=0.0)],
)
def test_a_quiet_sun_changes_no_answer(conditions):
    """The same bits, short path and long."""
    for target in ("50,31", "-35,149"):
        plain, assumed = asked(target=target), asked(conditions, target)
        assert np.array_equal(chances(plain), chances(assumed))


def test_a_sounding_equal_to_the_map_leaves_every_median():
    """What is read off the map and put in again changes foF2 by rounding only."""
    plain = sky(QUIET)
    known = Conditions((sounded(plain.fof2_mhz[12, 0]),))
    moved = sky(known)
    # The magnetic field is that of the middle of the hours asked about.
    assert moved.fof2_mhz == pytest.approx(plain.fof2_mhz, rel=1e-7)
    assert known.ratios(plain.times, 60.0) == pytest.approx(1.0)
    assert np.all(moved.fof2_lower_ratio >= plain.fof2_lower_ratio)
    assert np.all(moved.fof2_upper_ratio <= plain.fof2_upper_ratio)


# --- soundings -------------------------------------------------------------------


@pytest.mark.slow
def test_the_layer_is_as_sounded_and_so_is_what_hangs_on_it():
    """foF2 at the place, the MUF of a path by way of it, the height of its rays."""
    # In winter no ledge of F1 hides a part of F2.
    plain, known = asked(start=WINTER), sky(QUIET, start=WINTER).fof2_mhz[12, 0]
    high = Conditions((sounded(1.3 * known, time="2026-12-21T12:00"),))
    assert sky(high, start=WINTER).fof2_mhz[12, 0] == pytest.approx(
        1.3 * known, rel=0.006
    )
    far = far_end_patterns(plain.station.far_end, plain.bands)
    usual, moved = (
        link_for(q, 60.0, far).modes for q in (plain, asked(high, start=WINTER))
    )
    names = [b.name for b in plain.bands]
    ratio = (moved.muf_mhz / usual.muf_mhz)[0, 12, names.index("20 m")]
    # Two hops and more are turned nearer to the ends, where less of it holds.
    assert ratio[F2_LOW][0] == pytest.approx(1.3, abs=0.05)
    assert np.all(ratio[F2_LOW] > 1.2)
    assert np.all(np.diff(ratio[F2_LOW]) < 0.0)
    by_e = ratio[:E_MODES]
    assert np.allclose(by_e[np.isfinite(by_e)], 1.0)
    lower = (usual.height_km - moved.height_km)[0, 12, :, F2_LOW.start]
    assert np.nanmax(lower) > 5.0


def test_a_sounding_leaves_less_to_chance():
    """Near it the deciles close in, the map's own error with them; a day on, not."""
    plain, known = sky(QUIET), sky(Conditions((sounded(6.0),)))
    assert known.unsounded[12, 0] == pytest.approx(0.35)
    assert known.fof2_upper_ratio[12, 0] - 1.0 == pytest.approx(
        0.35 * (plain.fof2_upper_ratio[12, 0] - 1.0)
    )
    assert known.unsounded[0, 0] > 0.999


def test_the_solar_index_counts_for_nothing_at_a_sounding():
    """Whatever R12 is thought to be, the layer is as sounded."""
    known = Conditions((sounded(6.0),))
    quiet, busy = (sky(known, r12=r12).fof2_mhz[12, 0] for r12 in (10.0, 140.0))
    assert quiet == pytest.approx(busy, rel=0.01)
    assert quiet == pytest.approx(6.0, rel=0.01)


def test_a_sounding_in_a_storm_is_not_lowered_again():
    """It already shows the storm."""
    stormy = sky(Conditions((sounded(5.0),), kp=8.0))
    assert stormy.fof2_mhz[12, 0] == pytest.approx(5.0, rel=0.01)


@pytest.mark.slow
def test_long_paths_follow_a_sounding_too():
    """Weak layers along the way lower the MUF of hops to the other side by as much."""
    plain = asked(target="-10,20")
    far = far_end_patterns(plain.station.far_end, plain.bands)
    usual = link_for(plain, 60.0, far)
    places = zip(
        usual.paths.control_lat_deg[0, 1::3].tolist(),
        usual.paths.control_lon_deg[0, 1::3].tolist(),
        strict=True,
    )
    weak = [sounded(0.7 * sky(QUIET, *at).fof2_mhz[12, 0], *at) for at in places]
    moved = link_for(asked(Conditions(tuple(weak)), "-10,20"), 60.0, far)
    # The highest is that of the fewest hops, whichever place they have.
    one, other = (
        np.nanmax(each.modes.muf_mhz[0, [0, 12], :, F2_LOW], axis=(1, 2))
        for each in (usual, moved)
    )
    ratio = other / one
    # foF2 falls by 0.7, and the E layer hides more of what is left.
    assert 0.5 < ratio[1] < 0.85
    assert ratio[0] == pytest.approx(1.0, abs=0.05)


# --- storms ----------------------------------------------------------------------


@pytest.mark.parametrize("lat", [45.0, 50.0, 55.0, 60.0])
def test_a_stronger_storm_never_raises_summer_fof2(lat):
    """Middle latitudes in summer, and the sense of the rule of thumb: a fifth off."""
    storms = [0.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0]
    fof2 = np.array([sky(Conditions(kp=kp), lat=lat).fof2_mhz for kp in storms])
    assert np.all(np.diff(fof2, axis=0) <= 1e-12)
    assert 0.6 < (fof2[6] / fof2[0]).mean() < 0.85
    assert np.all(
        sky(Conditions(kp=7.0)).fof2_upper_ratio == sky(QUIET).fof2_upper_ratio
    )


def test_a_storm_hits_summer_harder_than_winter():
    ratio = [
        (sky(Conditions(kp=7.0), start=when).fof2_mhz / sky(QUIET, start=when).fof2_mhz)
        for when in (SUMMER, WINTER)
    ]
    assert ratio[0].mean() < ratio[1].mean() - 0.1


def test_single_storms_fall_below_their_mean():
    """The lower decile widens by half at Kp 7 and not at all at Kp 3."""
    usual = 1.0 - sky(QUIET).fof2_lower_ratio
    assert 1.0 - sky(Conditions(kp=7.0)).fof2_lower_ratio == pytest.approx(1.5 * usual)
    assert 1.0 - sky(Conditions(kp=3.0)).fof2_lower_ratio == pytest.approx(usual)


def test_where_the_aurora_may_reach():
    """From memory: the oval's edge is at 67 degrees less 2 for each Kp."""
    assert unsafe_latitude_deg(0.0) == 62.0
    assert unsafe_latitude_deg(9.0) == 44.0
    words = " ".join(Conditions(kp=6.0).words(sky(QUIET).times, 60.0))
    assert "50 degrees of geomagnetic latitude" in words
    assert "rely" not in " ".join(Conditions(kp=4.0).words(sky(QUIET).times, 60.0))


# --- flares and protons -------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(
    ("target", "start"), [("50,31", SUMMER), ("30,50", SUMMER), ("-10,-50", WINTER)]
)
def test_a_flare_never_raises_a_chance(target, start):
    """Short, middle and long path; each class at most what the weaker one left."""
    left = [
        chances(asked(conditions, target, start=start))
        for conditions in (QUIET, *(Conditions(flare=f) for f in FLARES))
    ]
    assert np.all(np.diff(left, axis=0) <= 1e-12)
    assert np.any(left[-1] < left[0] - 0.2)


@pytest.mark.slow
def test_a_flare_spares_the_night():
    """Midwinter midnight: the same bits; noon: not."""
    plain, flared = (asked(c, start=WINTER) for c in (QUIET, Conditions(flare="X5")))
    before, after = chances(plain)[0], chances(flared)[0]
    assert np.array_equal(before[22], after[22])
    assert np.all(after[10] <= before[10])
    assert np.any(after[10] < before[10] - 0.1)


@pytest.mark.slow
def test_a_flare_adds_what_its_formula_says():
    """One hop of 1500 km with the sun at its middle: NOAA's law at that angle."""
    plain, flared = asked(), asked(Conditions(flare="X1"))
    far = far_end_patterns(plain.station.far_end, plain.bands)
    one, other = (link_for(q, 60.0, far) for q in (plain, flared))
    added = other.modes.losses_db["absorption"] - one.modes.losses_db["absorption"]
    # One hop of F2 on 20 m, crossing some 250 km from either end.
    band = [b.name for b in plain.bands].index("20 m")
    angle = one.modes.takeoff_deg[0, 11, band, F2_LOW.start]
    crossed = at_stations(one.layers.zenith_deg)[0, 11, [4, 20]]
    strength = 10.0 * np.log10(flare_flux_w_m2("X1")) + 65.0
    each = strength * np.cos(np.radians(crossed)) ** 0.75
    landing = one.modes.landing_deg[0, 11, band, F2_LOW.start]
    expected = fadeout_db(14.1, each, 0.5 * (angle + landing)).mean()
    assert added[0, 11, band, F2_LOW.start] == pytest.approx(expected, rel=0.02)
    assert added[0, 11, band, F2_LOW.start] > 4.0


@pytest.mark.slow
def test_absorption_is_named_as_the_limit_under_a_flare():
    """80 m to 30 m at summer noon under X20."""
    advice = answer(asked(Conditions(flare="X20")))
    names = [b.name for b in advice.question.bands]
    named = advice.setups[0].limit[0, 11, [names.index("80 m"), names.index("40 m")]]
    assert [LIMITS[each] for each in named] == ["absorbed", "absorbed"]


@pytest.mark.slow
def test_protons_shut_the_polar_cap_and_nothing_else():
    """1000 pfu: a path over the pole loses, one at 50 degrees does not notice."""
    storm = Conditions(proton_flux=1000.0)
    assert np.array_equal(chances(asked()), chances(asked(storm)))
    over = [
        chances(asked(c, "66,-50", place="69,18", start=SUMMER)) for c in (QUIET, storm)
    ]
    assert np.all(over[1] <= over[0] + 1e-12)
    assert over[1].max() < 0.5 * over[0].max()


def test_a_storm_lets_protons_in_further():
    """The cap's edge moves towards the equator with Kp."""
    lost = [
        sky(Conditions(kp=kp, proton_flux=1000.0), lat=57.0).fadeout_mhz.max()
        for kp in (0.0, 4.0, 8.0)
    ]
    assert lost == sorted(lost)
    assert lost[0] == 0.0 < lost[2]


def test_protons_and_flare_add_up():
    """Losses add, so their 1 dB frequencies add to the power of 1.5."""
    both, flare, protons = (
        sky(c, lat=75.0).fadeout_mhz
        for c in (
            Conditions(flare="X1", proton_flux=100.0),
            Conditions(flare="X1"),
            Conditions(proton_flux=100.0),
        )
    )
    assert both**1.5 == pytest.approx(flare**1.5 + protons**1.5)


# --- what may be asked ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "text"),
    [
        ({"kp": 9.5}, r"Kp 9.5 is outside 0 to 9"),
        ({"kp": float("nan")}, r"Kp nan"),
        ({"flare": "Q2"}, r"flare class 'Q2' is not known"),
        ({"flare": "X200"}, r"never seen: up to X100"),
        ({"proton_flux": -1.0}, r"proton flux -1 is outside"),
    ],
)
def test_what_cannot_be_is_refused(values, text):
    with pytest.raises(InputError, match=text):
        Conditions(**values)


@pytest.mark.parametrize("fof2", [0.2, 30.0, float("nan")])
def test_no_ionosonde_shows_that(fof2):
    with pytest.raises(InputError, match="not a MUF"):
        sounded(fof2)


def test_a_sounding_far_off_the_map_is_a_slip_of_the_pen():
    with pytest.raises(InputError, match=r"is 3\.\d of the map's .* check figure"):
        asked(Conditions((sounded(20.0),)))


def test_one_question_asked_twice_is_one_question():
    """Conditions are values: equal and hashable."""
    assert Conditions((sounded(6.0),), kp=3.0) == Conditions((sounded(6.0),), kp=3.0)
    assert replace(QUIET, kp=1.0) != QUIET
    assert len({QUIET, Conditions()}) == 1


# --- command line ---------------------------------------------------------------

TONIGHT = [
    "tonight", "--from", "50,10", "--to", "50,31", "--date", "2026-06-21T12:00Z",
    "--hours", "2", "--r12", "60", "--shape", "dipole", "--height-m", "8",
]  # fmt: skip


@pytest.mark.slow
def test_the_answer_says_what_was_assumed():
    """In the header, before the table."""
    result = CliRunner().invoke(
        main,
        [*TONIGHT, "--kp", "6", "--flare", "m5", "--proton-flux", "50",
         "--fof2-now", "6.5@JO31", "--fof2-now", "6.1@50,20@2026-06-21T13:00+02:00"],
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    head = " ".join(result.stdout.split("UTC")[0].split())
    for part in (
        "foF2 6.5 MHz at JO31 at 2026-06-21T12:00Z", "at 2026-06-21T11:00Z",
        "Kp 6 for the past day and a half", "geomagnetic latitude",
        "a flare of class m5 at its peak", "50 protons above 10 MeV",
    ):  # fmt: skip
        assert part in head, part


@pytest.mark.slow
def test_the_json_says_it_too_and_nothing_by_default():
    words = [*TONIGHT, "--json"]
    quiet = json.loads(CliRunner().invoke(main, words).stdout)["inputs"]
    assert quiet["assumed"] == []
    assert quiet["conditions"]["kp"] is None
    asked_for = CliRunner().invoke(main, [*words, "--kp", "5", "--fof2-now", "6@50,20"])
    inputs = json.loads(asked_for.stdout)["inputs"]
    assert inputs["conditions"]["kp"] == 5.0
    assert inputs["conditions"]["soundings"] == [
        {"fof2_mhz": 6.0, "lat_deg": 50.0, "lon_deg": 20.0, "utc": "2026-06-21T12:00Z"}
    ]
    assert len(inputs["assumed"]) == 3


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (["--kp", "12"], "Kp 12 is outside 0 to 9"),
        (["--flare", "big"], "flare class 'big' is not known"),
        (["--proton-flux", "1e9"], "proton flux 1e+09 is outside"),
        (["--fof2-now", "6.8 or so"], "sounding '6.8 or so' is not understood"),
        (["--fof2-now", "@JO31"], "sounding '@JO31' is not understood"),
        (["--fof2-now", "inf@JO31"], "is not understood"),
        (["--fof2-now", "6@nowhere"], "nowhere"),
        (["--fof2-now", "6@JO31@2026-06-21T10:00"], "does not say in which zone"),
        (["--fof2-now", "6@JO31@noon"], "'noon' is no moment"),
        (["--fof2-now", "28@JO31"], "not a MUF"),
        (["--fof2-now", "19@JO31"], "check figure, place and time"),
    ],
)
def test_mistakes_are_told_in_one_line(words, text):
    result = CliRunner().invoke(main, [*TONIGHT, *words])
    assert result.exit_code == 2
    assert result.stdout == ""
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1
    assert text in lines[0]
