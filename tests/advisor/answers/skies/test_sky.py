"""Plain tables: the sky over a place, skip distances, MUF and LUF of a path."""

import csv
import io
import json

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.answers.ask import question_for, solar_index
from advisor.answers.skies.path_sky import STEP_MHZ, sky_path
from advisor.answers.skies.sky import (
    MUF_DISTANCES_KM,
    skip_key,
    sky_table,
    sun_times,
)
from advisor.cli import main
from advisor.propagation.first_hop import (
    f2_muf_mhz,
    one_hop_muf_mhz,
    skip_distance_km,
)
from advisor.propagation.muf import apart_mhz, support_probability
from advisor.station.bands import bands_for_region
from advisor.station.file import resolve_station
from geo.errors import InputError
from geo.ionosphere.conditions import Conditions
from geo.ionosphere.layers import layers_at
from geo.places import parse_place
from geo.sphere import destination

DAY = np.datetime64("2026-03-21T00", "s") + np.arange(24).astype("timedelta64[h]")
HERE = ["--from", "KF07jo", "--date", "2026-12-05", "--r12", "60"]


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


def run(*words: str):
    """Run the command."""
    return CliRunner().invoke(main, list(words))


@pytest.fixture(scope="module")
def layers():
    """A day over 50 N 10 E at R12 60."""
    return layers_at([50.0], [10.0], DAY, 60.0)


# --- MUF over distance, skip distance -------------------------------------------------


def test_muf_grows_with_distance_while_the_hop_reaches(layers):
    """
    Flatter rays meet the layer more at a slant.

    From 200 km on: nearer, the extraordinary wave's share fH/2 (1 - d/dmax) of P.533
    falls about as fast as the rest grows. The E layer's share ends at 2000 km, where
    its MUF may stand above that of F2.
    """
    reach = one_hop_muf_mhz(layers, np.arange(0.0, 3001.0, 100.0))
    assert np.isfinite(reach).all()
    assert np.all(np.diff(reach[:, 2:21], axis=1) > 0.0)
    assert np.all(np.diff(reach[:, 21:], axis=1) > 0.0)
    assert np.all(np.diff(reach[:, :3], axis=1) > -0.05)


def test_muf_straight_up_is_that_of_the_extraordinary_wave(outside, layers):
    """ITU-R P.533-14, section 3.5.1 at no distance (from memory): foF2 + fH / 2."""
    up = one_hop_muf_mhz(layers, 0.0)[:, 0]
    expected = layers.fof2_mhz[:, 0] + 0.5 * layers.gyro_mhz[0]
    check = outside("ITU-R P.533-14 section 3.5.1", "from memory")
    what, why = "MUF straight up, a day [MHz]", "rounding of the machine"
    check.near(what, up, expected, abs=1e-9, why=why)


def test_muf_at_3000_km_is_near_fof2_times_m3000(outside, layers):
    """The definition of M(3000)F2: what the height of the F2 peak is chosen by."""
    apart = apart_mhz(layers.gyro_mhz[0], 3000.0)
    ordinary = f2_muf_mhz(layers, 3000.0)[:, 0] - apart
    product = (layers.fof2_mhz * layers.m3000f2)[:, 0]
    check = outside("ITU-R P.1239 section 2, definition of M(3000)F2", "from memory")
    what, why = "MUF of F2 at 3000 km over foF2 M(3000)", "the height by night is a fit"
    check.near(what, ordinary / product, 1.0, abs=0.02, why=why)


@pytest.mark.slow
def test_skip_distance_is_where_the_support_reaches_one_half(layers):
    """Ten kilometres nearer the layer fails on more than half of the days."""
    frequency = np.array([7.1, 10.1, 14.1, 18.1, 21.2])
    skip = skip_distance_km(layers, frequency)
    checked = 0
    for t, b in np.argwhere(skip > 0.0):
        at = one_hop_muf_mhz(layers, [skip[t, b] - 10.0, skip[t, b]])[t]
        there = support_probability(frequency[b], at, 0.85, 1.15)
        assert there[0] < 0.5 <= there[1]
        checked += 1
    assert checked > 20


def test_no_skip_zone_below_the_critical_frequency_and_closed_far_above(layers):
    """1.8 MHz comes straight down by day, 60 MHz never comes back."""
    skip = skip_distance_km(layers, [1.85, 60.0])
    assert np.all(skip[10:14, 0] == 0.0)
    assert np.isnan(skip[:, 1]).all()


@pytest.mark.slow
@settings(max_examples=15)
@given(st.floats(1.8, 30.0), st.floats(1.0, 10.0))
def test_a_higher_frequency_never_skips_less(frequency, more):
    """Monotonic; closed counts as farthest."""
    layers = layers_at([50.0], [10.0], DAY[[2, 12]], 60.0)
    near, far = (
        np.nan_to_num(skip_distance_km(layers, f), nan=np.inf)
        for f in (frequency, frequency + more)
    )
    assert np.all(far >= near)


def test_no_frequencies_have_no_skip():
    """An empty list of bands is an empty column set, not an error."""
    table = sky_table(parse_place("KF07jo"), DAY[:2], solar_index(DAY[:2], 60.0))
    assert table.bands == ()
    assert not table.rows[0].skip_km


def test_the_band_shown_is_the_one_the_chance_uses(layers):
    """Days and error of the map, 1.2816 x 14.5 % at a decile, in quadrature."""
    table = sky_table(parse_place("50,10"), DAY, solar_index(DAY, 60.0))
    for t, row in enumerate(table.rows):
        for found, ratio in (
            (row.fof2_lower_mhz, layers.fof2_lower_ratio[t, 0]),
            (row.fof2_upper_mhz, layers.fof2_upper_ratio[t, 0]),
        ):
            off = np.hypot(ratio - 1.0, 1.2816 * 0.145)
            assert abs(found / row.fof2_mhz - 1.0) == pytest.approx(off)


def test_columns_agree_with_each_other():
    """F2 MUFs are at most the MUF over the same distance; spreads enclose medians."""
    bands = bands_for_region(1)
    table = sky_table(parse_place("50,10"), DAY, solar_index(DAY, 60.0), bands)
    for row in table.rows:
        assert row.f2_muf_1000km_mhz <= row.muf_1000km_mhz
        assert row.f2_muf_3000km_mhz == row.muf_3000km_mhz
        assert row.fof2_lower_mhz < row.fof2_mhz < row.fof2_upper_mhz
        assert row.foes_lower_mhz < row.foes_mhz < row.foes_upper_mhz
        skips = [row.skip_km[skip_key(band.name)] for band in bands]
        known = np.nan_to_num(skips, nan=np.inf)
        assert np.array_equal(known, np.sort(known))


def test_a_sounding_moves_the_sky_over_its_place():
    """foF2 sounded here and now is nearly foF2 here and now; the rest is its error."""
    conditions = ["--fof2-now", "6.0@KF07jo"]
    whole = json.loads(run("sky", *HERE, "--hours", "1", *conditions, "--json").stdout)
    assert whole["results"][0]["fof2_mhz"] == pytest.approx(6.0, rel=0.02)
    assert whole["inputs"]["conditions"]["soundings"][0]["fof2_mhz"] == 6.0
    assert (
        "Assumed: foF2 6 MHz" in run("sky", *HERE, "--hours", "1", *conditions).stdout
    )


# --- sun ------------------------------------------------------------------------------


def test_a_layer_sees_the_sun_before_and_after_the_ground():
    """The higher, the longer the day; civil twilight lies between ground and F2."""
    sun = sun_times(52.0, 5.0, np.datetime64("2026-03-21"))
    rise = [getattr(sun, f"{name}_rise") for name in ("f2_layer", "e_layer", "ground")]
    fall = [getattr(sun, f"{name}_set") for name in ("ground", "e_layer", "f2_layer")]
    assert rise == sorted(rise)
    assert fall == sorted(fall)
    assert sun.f2_layer_rise < sun.ground_civil_dawn < sun.ground_rise
    assert sun.ground_set < sun.ground_civil_dusk < sun.ground_nautical_dusk


@pytest.mark.parametrize(
    ("date", "ground", "layer"),
    [("2026-06-21", "up", "up"), ("2026-12-21", "down", None)],
)
def test_polar_day_and_polar_night_are_told_in_words(date, ground, layer):
    """78 N: midsummer sun never sets, midwinter sun lights the F2 layer alone.

    At 300 km the horizon lies 17.3 degrees lower, the noon sun of 21 December at 78 N
    stands at 90 - 78 - 23.4 = -11.4 degrees.
    """
    sun = sun_times(78.0, 15.0, np.datetime64(date))
    assert sun.ground_always == ground
    assert sun.ground_rise is None
    assert sun.f2_layer_always == layer
    text = run("sky", "--from", "78,15", "--date", date, "--hours", "1").stdout
    assert f"ground {ground} all day" in text


# --- path -----------------------------------------------------------------------------


def path_question(
    target="48,30", start="2026-03-21", hours=24, place="50,10", **values
):
    """Question for a path."""
    conditions = values.pop("conditions", Conditions())
    station, _ = resolve_station(None, {"place": place, **values})
    return question_for(
        station,
        [target],
        np.datetime64(start),
        hours,
        r12=values.pop("r12", 60.0),
        conditions=conditions,
    )


def column(path, key):
    """One column of the path's rows."""
    return np.array([getattr(row, key) for row in path.rows], dtype=float)


@pytest.fixture
def no_sun(monkeypatch):
    """Leave out what takes most of the time and is tested above."""
    monkeypatch.setattr("advisor.answers.skies.path_sky.sun_times", lambda *_: None)


@pytest.fixture(scope="module")
def path():
    """A day over 1450 km in central Europe with 10 W CW."""
    return sky_path(path_question())


@pytest.mark.slow
def test_nine_days_in_ten_is_below_the_muf_and_above_half_of_it(path):
    """The lower decile; widened by the maps' error it is some 0.75 to 0.97 of it."""
    ratio = column(path, "path_fot_mhz") / column(path, "path_muf_mhz")
    assert np.all((ratio > 0.7) & (ratio < 1.0))


@pytest.mark.slow
def test_muf_of_a_path_is_that_of_its_middle(path):
    """Up to 2000 km the standard reads the layers at the middle alone."""
    bearing, distance = path.facts.bearing_deg, path.facts.distance_km
    lat, lon = destination(50.0, 10.0, bearing, 0.5 * distance)
    reach = one_hop_muf_mhz(layers_at([lat], [lon], DAY, 60.0), distance)[:, 0]
    got = column(path, "path_muf_mhz")
    assert np.all((got <= reach + 1e-6) & (got > reach - STEP_MHZ - 1e-6))


@pytest.mark.slow
def test_luf_rises_with_the_sun_and_falls_at_night(path):
    """Absorption: highest LUF within two hours of noon at the middle, low at night."""
    luf = column(path, "path_luf_mhz")
    noon = int(column(path, "sun_middle_deg").argmax())
    assert abs(int(np.nanargmax(luf)) - noon) <= 2
    assert np.nanmax(luf) > 2.0 * np.nanmin(luf)


@pytest.mark.slow
@pytest.mark.usefixtures("no_sun")
def test_more_power_and_a_needier_emission_move_the_luf():
    """LUF falls with power and is higher for voice; MUF stays where it is."""
    weak, strong, voice = (
        sky_path(path_question(hours=6, **values))
        for values in ({}, {"power_w": 1000.0}, {"emission": "SSB"})
    )
    lufs = [
        np.nan_to_num(column(each, "path_luf_mhz"), nan=np.inf)
        for each in (strong, weak, voice)
    ]
    assert np.all(lufs[0] <= lufs[1])
    assert np.all(lufs[1] <= lufs[2])
    assert np.any(lufs[0] < lufs[1])
    assert np.any(lufs[1] < lufs[2])
    for other in (strong, voice):
        assert np.array_equal(
            column(weak, "path_muf_mhz"), column(other, "path_muf_mhz"), equal_nan=True
        )


@pytest.mark.slow
@pytest.mark.usefixtures("no_sun")
def test_luf_is_where_the_median_signal_meets_the_need():
    """
    Worked backwards: with the power that is just enough, the LUF is the frequency.

    ITU-R P.533-14, section 9 (from memory). At the LUF the margin is at least 0 and
    0.1 MHz lower it is not, so that a power lower by 3 dB raises the LUF.
    """
    full = column(
        sky_path(path_question(hours=1, start="2026-03-21T11")), "path_luf_mhz"
    )
    half = column(
        sky_path(path_question(hours=1, start="2026-03-21T11", power_w=5.0)),
        "path_luf_mhz",
    )
    assert full[0] < half[0] < full[0] + 2.0


@pytest.mark.slow
@pytest.mark.usefixtures("no_sun")
def test_noisier_far_end_raises_the_luf():
    """City against quiet country."""
    quiet, loud = (
        column(sky_path(path_question(hours=12, far_end={"noise": n})), "path_luf_mhz")
        for n in ("quiet rural", "city")
    )
    assert np.all(np.nan_to_num(loud, nan=99.0) >= np.nan_to_num(quiet, nan=99.0))
    assert np.nanmean(loud) > np.nanmean(quiet) + 1.0


@pytest.mark.slow
@pytest.mark.usefixtures("no_sun")
def test_a_far_path_goes_by_many_hops():
    """Over 16 600 km: no ray lands beyond some 4500 km a hop."""
    far = sky_path(path_question(target="-42,147", hours=4))
    assert far.facts.distance_km > 9000.0
    modes = {row.path_muf_mode for row in far.rows} - {""}
    assert modes
    assert min(int(mode[0]) for mode in modes) >= 4
    fot, muf = column(far, "path_fot_mhz"), column(far, "path_muf_mhz")
    both = np.isfinite(fot)
    assert both.any()
    assert np.all(fot[both] < muf[both])


@pytest.mark.slow
@pytest.mark.usefixtures("no_sun")
def test_a_storm_lowers_the_muf_of_a_path():
    """Kp 8 at middle latitudes in summer, when storms bite most."""
    calm, storm = (
        column(
            sky_path(
                path_question(start="2026-06-21", hours=6, conditions=Conditions(kp=kp))
            ),
            "path_muf_mhz",
        )
        for kp in (1.0, 8.0)
    )
    assert np.all(storm <= calm)
    assert storm.mean() < 0.95 * calm.mean()


def test_one_path_at_a_time():
    """Two targets are refused by the library."""
    station, _ = resolve_station(None, {"place": "50,10"})
    question = question_for(station, ["KE", "ZM"], DAY[0], 1, r12=60.0)
    with pytest.raises(InputError, match="name one"):
        sky_path(question)


# --- the commands ---------------------------------------------------------------------


@pytest.mark.slow
def test_the_plain_answer_is_narrow_and_says_no_more_than_asked():
    """100 columns, local time included; extras only when asked for."""
    here = [*HERE, "--hours", "6"]
    plain = run("sky", *here, "--local", "Africa/Johannesburg").stdout
    assert max(map(len, plain.splitlines())) <= 100
    assert "Africa/Johannesburg" in plain
    assert " 00      02:00" in plain
    for word in ("Skip", "LUF", "over distance"):
        assert word not in plain
    more = run("sky", *here, "--distance", "--to", "KE").stdout
    assert max(map(len, more.splitlines())) <= 100
    for word in ("Skip", "LUF", "over distance", "Twilight", "CW 10 W"):
        assert word in more
    assert more.startswith(run("sky", *here).stdout.rstrip("\n"))


@pytest.mark.slow
def test_json_holds_all_and_csv_the_same_rows():
    """MUF over distance and skip always, the path when asked."""
    words = ["sky", *HERE, "--hours", "2", "--to", "KE"]
    whole = json.loads(
        run(*words, "--json").stdout, parse_constant=lambda _: pytest.fail("not JSON")
    )
    rows = list(csv.DictReader(io.StringIO(run(*words, "--csv").stdout)))
    assert [row["utc"] for row in rows] == [row["utc"] for row in whole["results"]]
    for cells, row in zip(rows, whole["results"], strict=True):
        assert list(cells) == list(row)
        for key, value in row.items():
            if isinstance(value, float):
                assert float(cells[key]) == value
    first = whole["results"][0]
    assert {f"muf_{km:.0f}km_mhz" for km in MUF_DISTANCES_KM} <= set(first)
    assert "skip_20m_km" in first
    assert whole["path"]["target"] == "Kenya (ISO KE)"
    assert set(whole["path"]["sun"]) == {"here", "middle", "far end"}
    assert "rows" not in whole["path"]
    plain = json.loads(run("sky", *HERE, "--hours", "1", "--json").stdout)
    assert "path" not in plain
    assert "skip_20m_km" in plain["results"][0]


@pytest.mark.slow
def test_the_text_shows_the_figures_of_the_json():
    """Skip distance and LUF as printed."""
    words = ["sky", *HERE, "--hours", "1", "--distance", "--to", "KE"]
    row = json.loads(run(*words, "--json").stdout)["results"][0]
    lines = [x.split() for x in run(*words).stdout.splitlines() if x.startswith(" 00")]
    layers, muf, skip, path = lines
    assert layers[4] == f"{row['fof2_mhz']:.1f}"
    assert muf[1:] == [f"{row[f'muf_{km:.0f}km_mhz']:.1f}" for km in MUF_DISTANCES_KM]
    assert skip[4] == f"{row['skip_40m_km']:.0f}"
    assert path[1:5] == [
        f"{row['path_muf_mhz']:.1f}",
        row["path_muf_mode"],
        f"{row['path_fot_mhz']:.1f}",
        f"{row['path_luf_mhz']:.1f}",
    ]


def test_demonstration_says_what_it_is():
    """No place given."""
    result = run("sky", "--hours", "1", "--date", "2026-12-05")
    assert result.stdout.startswith("Demonstration (no station and no place given)")


BAD = {
    "path without a place": (["sky", "--to", "KE"], "no place"),
    "unknown target": (["sky", *HERE, "--to", "Kenia"], "Kenya"),
    "power zero": (["sky", *HERE, "--to", "KE", "--power-w", "0"], "0"),
    "unknown emission": (["sky", *HERE, "--to", "KE", "--emission", "FT88"], "FT8"),
    "naive local time": (
        ["sky", "--from", "KF07jo", "--date", "2026-12-05T18:00"],
        "Z for UTC",
    ),
    "hop length": (["hops", "--distance-km", "nan"], "nan"),
    "hop distance": (["hops", "--distance-km", "-5"], "-5 km"),
}


@pytest.mark.parametrize(("words", "says"), BAD.values(), ids=BAD.keys())
def test_bad_input_is_one_clear_line(words, says):
    """Exit code 2, nothing on stdout, the offending value or the cure in the line."""
    result = run(*words)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert says in result.stderr.strip().splitlines()[-1]
