"""Lines, transformers and the losses between radio and wire."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.antenna import feed
from advisor.antenna import line as feed_line
from advisor.antenna.feed import Transformer, transformer_by_name
from advisor.antenna.line import Line, line_by_name
from geo.errors import InputError
from geo.tables import table_root

loads = st.builds(complex, st.floats(0.5, 5000.0), st.floats(-5000.0, 5000.0))
lines = st.sampled_from([line_by_name(name) for name in feed_line.line_names()])


@given(loads, lines, st.floats(1.8, 54.0), st.floats(0.0, 100.0))
def test_a_line_never_gives_power_back(load, line, frequency_mhz, length_m):
    assert feed_line.line_loss_db(load, line, frequency_mhz, length_m) >= -1e-9


@given(loads, lines, st.floats(1.8, 54.0), st.floats(0.0, 40.0), st.floats(0.0, 40.0))
def test_two_pieces_of_line_are_one(load, line, frequency_mhz, first_m, second_m):
    middle = feed_line.input_impedance(load, line, frequency_mhz, first_m)
    two = feed_line.input_impedance(middle, line, frequency_mhz, second_m)
    one = feed_line.input_impedance(load, line, frequency_mhz, first_m + second_m)
    assert two == pytest.approx(one, rel=1e-6)
    lost_two = feed_line.line_loss_db(load, line, frequency_mhz, first_m)
    lost_two += feed_line.line_loss_db(middle, line, frequency_mhz, second_m)
    lost_one = feed_line.line_loss_db(load, line, frequency_mhz, first_m + second_m)
    assert lost_two == pytest.approx(lost_one, abs=1e-6)


def test_a_very_long_line_shows_only_itself():
    line = line_by_name("RG-174")
    _, own = feed_line.propagation(line, 28.0)
    far = feed_line.input_impedance(5.0 + 900.0j, line, 28.0, 2000.0)
    assert far == pytest.approx(own, rel=1e-9)


@given(lines, st.floats(0.1, 54.0))
def test_a_lossy_line_delays_and_weakens_what_goes_along_it(line, frequency_mhz):
    """Time runs as exp(+jwt): phase grows by 2 pi f / v per metre, power is lost."""
    gamma, own = feed_line.propagation(line, frequency_mhz)
    speed_m_us = 299.792458 * line.velocity_factor
    nepers = feed_line.matched_loss_db(line, frequency_mhz, 1.0) / 8.685889638
    # Thin coax below 1 MHz is no low-loss line any more.
    assert gamma.imag == pytest.approx(
        2.0 * np.pi * frequency_mhz / speed_m_us, rel=0.1
    )
    assert gamma.real == pytest.approx(nepers, rel=0.1)
    assert own.real > 0.0


@pytest.mark.parametrize("name", ["RG-58", "RG-213", "open-wire 600"])
def test_short_stubs_of_real_lines_are_coils_and_capacitors(name):
    """An eighth wave shorted is +j Z0, open -j Z0, but for the line's losses."""
    line = line_by_name(name)
    eighth_m = 0.125 * line.velocity_factor * 299.792458 / 14.1
    shorted, opened = (
        feed_line.input_impedance(z, line, 14.1, eighth_m) for z in (0.0, 1e9)
    )
    assert shorted.imag == pytest.approx(line.impedance_ohm, rel=0.03)
    assert opened.imag == pytest.approx(-line.impedance_ohm, rel=0.03)
    assert 0.0 < shorted.real < 0.1 * line.impedance_ohm
    assert 0.0 < opened.real < 0.1 * line.impedance_ohm


def test_a_line_into_its_own_impedance_loses_what_it_is_stated_to():
    line = line_by_name("RG-58")
    _, own = feed_line.propagation(line, 14.1)
    lost = feed_line.line_loss_db(own, line, 14.1, 30.0)
    stated = feed_line.matched_loss_db(line, 14.1, 30.0)
    assert stated == pytest.approx((1.38 * 14.1**0.5 + 0.023 * 14.1) * 0.3)
    # The stated loss is a low-loss formula; the full one differs in second order.
    assert lost == pytest.approx(stated, rel=1e-3)


def test_a_short_line_loses_less_than_matched_where_little_current_flows():
    # Conductor loss goes with current, and a high load draws little of it.
    line = Line("conductor only", 50.0, 0.66, 1.4, 0.0)
    matched = feed_line.matched_loss_db(line, 1.8, 1.0)
    assert feed_line.line_loss_db(200.0, line, 1.8, 1.0) < 0.5 * matched
    assert feed_line.line_loss_db(12.5, line, 1.8, 1.0) > 3.0 * matched


@given(loads, st.floats(5.0, 600.0))
def test_swr_reflection_and_mismatch_loss_agree(load, reference_ohm):
    rho = abs(feed_line.reflection(load, reference_ohm))
    ratio = feed.swr(load, reference_ohm)
    assert ratio >= 1.0
    assert (ratio - 1.0) / (ratio + 1.0) == pytest.approx(rho, abs=1e-9)
    lost = feed.mismatch_loss_db(load, reference_ohm)
    assert 10.0 ** (-lost / 10.0) == pytest.approx(1.0 - rho**2, rel=1e-6, abs=1e-9)


def test_what_takes_no_power_has_no_finite_swr():
    """A pure reactance, whatever its size, and a resistance lost beside one."""
    pure = 1j * np.linspace(-5000.0, 5000.0, 1001)
    assert np.all(feed.swr(pure) == np.inf)
    assert np.all(feed.mismatch_loss_db(pure) == np.inf)
    assert feed.swr(1e-15 + 50.0j) == np.inf
    # One ohm beside no reactance does take power: 50 times 1.
    assert feed.swr([1.0, 1.0 + 1e-9j]) == pytest.approx(50.0)
    assert np.isnan(feed.mismatch_loss_db(-10.0))


@given(loads, st.floats(0.0, 1500.0))
def test_voltage_and_current_carry_the_power(load, power_w):
    volts, amperes = feed.voltage_v(power_w, load), feed.current_a(power_w, load)
    assert amperes**2 * load.real == pytest.approx(power_w)
    assert volts == pytest.approx(amperes * abs(load))


def test_data_out_of_range_is_nan():
    line = line_by_name("RG-58")
    assert np.isnan(feed_line.matched_loss_db(line, [0.0, -1.0], 10.0)).all()
    assert np.isnan(feed_line.matched_loss_db(line, 7.0, -10.0))
    for out in (0.0, -7.0, np.nan):
        assert np.isnan(feed_line.propagation(line, out)).all()
        assert np.isnan(feed_line.matched_loss_db(line, out, 10.0))
        assert np.isnan(feed_line.input_impedance(50.0, line, out, 10.0))
        assert np.isnan(feed_line.line_loss_db(50.0, line, out, 10.0))
    for out in (-0.5, -10.0, np.nan):
        assert np.isnan(feed_line.input_impedance(50.0, line, 7.0, out))
        assert np.isnan(feed_line.line_loss_db(50.0, line, 7.0, out))
    assert np.isnan(feed_line.line_loss_db([0.0, -5.0], line, 7.0, 10.0)).all()
    assert np.isnan(feed.swr(-10.0))
    assert np.isnan(feed.current_a(-1.0, 50.0))
    assert np.isnan(feed.voltage_v(100.0, 0.0))
    assert np.isnan(
        feed.trim_m(20.0, [0.0, -7.0, 7.0, 7.0], [7.0, 7.0, 0.0, -7.0])
    ).all()


@pytest.mark.parametrize("name", ["RG-213", "rg213", "Rg 213"])
def test_a_line_is_found_however_it_is_written(name):
    assert line_by_name(name).name == "RG-213"


def test_data_just_within_range_are_taken():
    """Low frequencies, short lines, low impedances: small, but not out of range."""
    line = line_by_name("RG-58")
    stated = (1.38 * 0.5**0.5 + 0.023 * 0.5) / 100.0
    assert feed_line.matched_loss_db(line, 0.5, 0.5) == pytest.approx(0.5 * stated)
    assert feed_line.matched_loss_db(line, 0.5, 0.0) == 0.0
    assert feed_line.line_loss_db(0.5, line, 0.5, 0.0) == pytest.approx(0.0, abs=1e-9)
    low = feed_line.input_impedance(0.5 + 1.0j, line, 0.5, 0.0)
    assert low == pytest.approx(0.5 + 1.0j)
    assert feed.current_a(0.5, 0.5) == pytest.approx(1.0)
    assert feed.current_a(0.0, 50.0) == 0.0
    assert Line("low", 0.5, 1.0, 0.0, 0.0).impedance_ohm == 0.5
    assert Line("slow", 50.0, 0.05, 0.0, 0.0).velocity_factor == 0.05
    assert Transformer("step up", 0.25, 0.0).ratio == 0.25


def test_unknown_names_are_refused_with_a_hint():
    with pytest.raises(InputError, match="did you mean 'RG-213'"):
        line_by_name("RG-2133")
    with pytest.raises(InputError, match="use one of 1:1, 4:1"):
        transformer_by_name("17:1")


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ((0.0, 0.66, 1.0, 0.0), "impedance 0.0 ohm"),
        ((50.0, 1.2, 1.0, 0.0), "velocity factor 1.2"),
        ((50.0, 0.66, -1.0, 0.0), "k1_db -1.0"),
        ((50.0, 0.66, 1.0, -1.0), "k2_db -1.0"),
        ((np.inf, 0.66, 1.0, 0.0), "impedance inf ohm"),
        ((np.nan, 0.66, 1.0, 0.0), "impedance nan ohm"),
        ((50.0, 0.0, 1.0, 0.0), "velocity factor 0.0"),
        ((50.0, 0.66, np.inf, 0.0), "k1_db inf"),
        ((50.0, 0.66, 1.0, np.nan), "k2_db nan"),
    ],
)
def test_impossible_lines_are_refused(values, said):
    with pytest.raises(InputError, match=said):
        Line("x", *values)


def test_impossible_transformers_and_chains_are_refused():
    with pytest.raises(InputError, match="ratio 0"):
        Transformer("x", 0.0, 0.1)
    with pytest.raises(InputError, match="loss -1"):
        Transformer("x", 4.0, -1.0)
    for value in (np.inf, np.nan):
        with pytest.raises(InputError, match=f"ratio {value}"):
            Transformer("x", value, 0.1)
        with pytest.raises(InputError, match=f"loss {value}"):
            Transformer("x", 4.0, value)
    with pytest.raises(InputError, match="line length -3"):
        feed.feed_chain(50.0, 7.0, line=line_by_name("RG-58"), line_length_m=-3.0)
    for value in (np.inf, np.nan):
        with pytest.raises(InputError, match=f"line length {value}"):
            feed.feed_chain(50.0, 7.0, line=line_by_name("RG-58"), line_length_m=value)
    for value in (0.5, 3.0):
        with pytest.raises(InputError, match="of no kind"):
            feed.feed_chain(50.0, 7.0, line_length_m=value)


def test_the_chain_is_the_sum_of_its_links():
    line, transformer = line_by_name("RG-58"), transformer_by_name("49:1")
    wire = np.array([2000.0 + 800.0j, 4000.0 - 900.0j])
    chain = feed.feed_chain(wire, [7.05, 14.1], transformer, line, 12.0)
    load = wire / 49.0
    at_radio = feed_line.input_impedance(load, line, [7.05, 14.1], 12.0)
    np.testing.assert_allclose(chain.line_load_ohm, load)
    np.testing.assert_allclose(chain.radio_ohm, at_radio)
    expected = (
        transformer.loss_db
        + feed_line.line_loss_db(load, line, [7.05, 14.1], 12.0)
        + feed.mismatch_loss_db(at_radio)
    )
    np.testing.assert_allclose(chain.loss_db, expected)
    np.testing.assert_allclose(
        chain.wire_power_w(100.0), 100.0 * 10.0 ** (-expected / 10.0)
    )
    # A lossy line hides part of a bad match from the radio.
    assert (chain.radio_swr < chain.line_swr).all()
    tuned = feed.feed_chain(wire, [7.05, 14.1], transformer, line, 12.0, tuner=True)
    np.testing.assert_allclose(tuned.loss_db, expected - chain.mismatch_loss_db)


def test_without_line_or_transformer_the_wire_is_at_the_radio():
    chain = feed.feed_chain(100.0, 7.0)
    assert chain.radio_swr == pytest.approx(2.0)
    assert chain.line_swr == pytest.approx(2.0)
    np.testing.assert_allclose(chain.loss_db, feed.mismatch_loss_db(100.0))


@pytest.mark.parametrize(
    ("wire_ohm", "name"),
    [(60.0, "1:1"), (200.0, "4:1"), (450.0, "9:1"), (2500.0, "49:1"), (4000.0, "64:1")],
)
def test_the_best_transformer_brings_a_resistance_to_50_ohm(wire_ohm, name):
    assert feed.best_transformer(wire_ohm).name == name


def test_the_best_transformer_weighs_its_loss_and_all_bands():
    lossy = Transformer("lossy", 4.0, 6.0)
    none = Transformer("none", 1.0, 0.0)
    assert feed.best_transformer(200.0, among=[lossy, none]) is none
    assert feed.best_transformer([450.0, 450.0, 450.0, 50.0]).name == "9:1"
    assert feed.best_transformer([np.nan, 200.0]).name == "4:1"
    assert feed.best_transformer([-100.0, 200.0, 50j]).name == "4:1"
    assert feed.best_transformer(0.5).name == "1:1"
    for useless in (np.nan, -50.0, 50j):
        with pytest.raises(InputError, match="by 0 impedances"):
            feed.best_transformer([useless])
    with pytest.raises(InputError, match="among 0 transformers"):
        feed.best_transformer(50.0, among=[])


def test_the_best_transformer_goes_by_the_mean_of_the_power():
    """
    SWR 1 and s against s^0.5 twice, s = 7 + 48^0.5.

    Without a transformer 1 and 4 s / (1 + s)^2 = 1/4 of the power pass, 0.625 in the
    mean; with one of ratio s^0.5 twice 2/3, which 0.267 dB of loss make 0.627 and
    0.290 dB 0.6236.
    """
    high = 7.0 + 48.0**0.5
    wire = [50.0, 50.0 * high]
    none = Transformer("none", 1.0, 0.0)
    for loss_db, better in ((0.267, "between"), (0.290, "none")):
        between = Transformer("between", high**0.5, loss_db)
        assert feed.best_transformer(wire, among=[none, between]).name == better


def test_only_passing_through_zero_is_a_resonance():
    """A point that lies on zero counts once; small reactances are none by size."""
    steps = [7.0, 7.1, 7.2]
    for reactance in ([-10.0, 0.0, 10.0], [10.0, 0.0, -10.0]):
        found = feed.resonances_mhz(steps, 50.0 + 1j * np.array(reactance))
        assert found == pytest.approx([7.1])
    for reactance in ([10.0, 0.0, 10.0], [2.0, 0.5, 0.4], [-2.0, -0.5, -0.4]):
        found = feed.resonances_mhz(steps, 50.0 + 1j * np.array(reactance))
        assert found.size == 0
    shallow = feed.resonances_mhz(steps, 50.0 + 1j * np.array([-0.9, -0.3, 0.3]))
    assert shallow == pytest.approx([7.15])


def test_resonances_of_a_series_circuit():
    # 1 uH and 100 pF resonate at 1 / (2 pi sqrt(L C)) = 15.915 MHz.
    frequency_mhz = np.linspace(14.0, 18.0, 81)
    omega = 2e6 * np.pi * frequency_mhz
    z = 10.0 + 1j * (omega * 1e-6 - 1.0 / (omega * 100e-12))
    assert feed.resonances_mhz(frequency_mhz, z) == pytest.approx([15.9155], abs=1e-3)
    assert feed.resonances_mhz(frequency_mhz, z + 5000.0j).size == 0


def test_trimming_a_wire_scales_its_resonance():
    assert feed.trim_m(20.0, 7.1, 7.101) == pytest.approx(-20.0 / 7101.0)
    assert feed.trim_m(20.0, 7.1, 7.0) > 0.0
    assert feed.trim_m(20.0, 7.1, 7.1) == 0.0
    # A wire for 472 kHz that resonates a twentieth too low is a twentieth too long.
    assert feed.trim_m(300.0, 0.4484, 0.472) == pytest.approx(-15.0)


@pytest.mark.parametrize("name", ["feed_lines", "transformers"])
def test_astropy_reads_the_tables(name):
    from astropy.table import Table

    table = Table.read(table_root() / f"{name}.ecsv", format="ascii.ecsv")
    assert len(table) >= 7
    assert table.meta["licence"]
    assert all(table["reference"])


def test_spot_values_of_the_tables():
    thick = feed_line.matched_loss_db(line_by_name("RG-213"), 10.0, 100.0)
    assert thick == pytest.approx(1.9, abs=0.05)
    assert 2450.0 / transformer_by_name("49:1").ratio == 50.0
