"""The chance: what it degenerates to, and what may never happen."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from advisor.reliability.at_least_one import at_least_one_of
from advisor.reliability.chance import (
    Ends,
    both_ways_weight,
    chance,
    median_margin_db,
    reliability,
    signal_deciles_db,
)
from advisor.reliability.day_states import NO_SIGNAL_DB, Routes

CELLS, E, F, SLICES = 4, 3, 5, 8
ES_SHARE = np.array([0.01, 0.02, 0.07, 0.2, 0.3, 0.4])


def shares(modes):
    """Probabilities for some modes in every cell."""
    return hnp.arrays(float, (CELLS, modes), elements=st.floats(0.0, 1.0))


def margins(modes):
    """Margins in dB for some modes in every cell."""
    return hnp.arrays(float, (CELLS, modes), elements=st.floats(-60.0, 60.0))


def routes(
    e_support=None,
    f2_support=None,
    e_margin=NO_SIGNAL_DB,
    f2_margin=NO_SIGNAL_DB,
    es_margin=NO_SIGNAL_DB,
    ground=NO_SIGNAL_DB,
    above=NO_SIGNAL_DB,
    gain=0.0,
):
    """Routes of four cells with nothing in them but what is given."""

    def filled(value, *shape):
        return np.broadcast_to(np.asarray(0.0 if value is None else value), shape)

    return Routes(
        filled(e_support, CELLS, E),
        filled(f2_support, CELLS, F),
        filled(e_margin, CELLS, E),
        filled(f2_margin, CELLS, F),
        filled(ES_SHARE, CELLS, ES_SHARE.size),
        filled(es_margin, CELLS, 1, ES_SHARE.size),
        filled(ground, CELLS),
        filled(above, CELLS, SLICES)[:, None],
        np.array([E]),
        filled(gain, CELLS, E + F + 1),
        filled(gain, CELLS),
    )


def ends(offset=0.0, together=0.4, count=1):
    """Two ends with deciles of 8 and 11 dB."""
    spread = np.full(CELLS, 8.0), np.full(CELLS, 11.0)
    common = np.full(CELLS, 0.3), np.full(CELLS, 0.6)
    offset, together = np.full(CELLS, offset), np.full(CELLS, together)
    return Ends(spread, spread, offset, together, common, count)


def heard(found):
    """Chance of being heard, with two ends alike."""
    return chance(found, ends())[0]


def drawn(e_support, f2_support, above, e_margin, f2_margin, count=320):
    """The same average over a grid of ranks, one day at a time, without pieces."""
    ranks = (np.arange(count) + 0.5) / count
    weak = 10 ** (above[(ranks * SLICES).astype(int)] / 10)
    days = np.zeros((count, count))
    for i, u in enumerate(ranks):
        total = 1e-40 + weak
        for m in range(E):
            total += 10 ** (e_margin[m] / 10) * (u > 1.0 - e_support[m])
        for m in range(F):
            total += 10 ** (f2_margin[m] / 10) * (ranks > 1.0 - f2_support[m])
        days[i] = reliability(10.0 * np.log10(total), 8.0, 11.0)
    return days.mean()


@pytest.mark.slow
@settings(max_examples=10)
@given(shares(E), shares(F), margins(SLICES), margins(E), margins(F))
def test_equals_an_average_over_many_days(es, fs, above, em, fm):
    """The finite sum is the average over days, drawn one by one."""
    ours = heard(routes(es, fs, em, fm, above=above))
    expected = drawn(es[0], fs[0], above[0], em[0], fm[0])
    assert ours[0] == pytest.approx(expected, abs=0.02)


@pytest.mark.slow
@given(shares(F))
def test_without_noise_it_is_the_support(fs):
    """
    Margins far above zero and no E layer: the greatest support of any F2 mode.

    ITU-R P.533-14 section 3.6 calls this the support of the path.
    """
    ours = heard(routes(f2_support=fs, f2_margin=200.0))
    assert ours == pytest.approx(fs.max(axis=-1), abs=1e-9)


@given(st.floats(-40.0, 40.0))
def test_far_below_the_muf_it_is_the_reliability(margin):
    """One mode on every day: ITU-R P.533-14 section 10.1, basic circuit reliability."""
    support = np.zeros(F)
    support[0] = 1.0
    ours = heard(routes(f2_support=support, f2_margin=margin))
    assert ours == pytest.approx(float(reliability(margin, 8.0, 11.0)), abs=1e-9)


@pytest.mark.slow
@given(
    shares(E),
    shares(F),
    margins(SLICES),
    margins(E),
    margins(F),
    st.floats(0.0, 30.0),
)
def test_more_signal_never_hurts(es, fs, above, em, fm, more):
    """More power, or less noise, or less required: never a lower chance."""
    one = heard(routes(es, fs, em, fm, above=above))
    other = heard(routes(es, fs, em + more, fm + more, above=above + more))
    assert np.all(other >= one - 1e-12)
    assert np.all((one >= 0.0) & (one <= 1.0 + 1e-12))


@pytest.mark.slow
@given(shares(F), margins(F), st.integers(0, F - 1))
def test_a_mode_more_often_there_never_hurts(fs, fm, mode):
    """Raising one mode's support never lowers the chance."""
    raised = fs.copy()
    raised[:, mode] = np.minimum(raised[:, mode] + 0.2, 1.0)
    before = heard(routes(f2_support=fs, f2_margin=fm))
    after = heard(routes(f2_support=raised, f2_margin=fm))
    assert np.all(after >= before - 1e-12)


def test_ground_wave_is_there_every_day():
    """Alone it is the reliability; beside a strong mode it changes nothing."""
    alone = heard(routes(ground=3.0))
    assert alone == pytest.approx(float(reliability(3.0, 8.0, 11.0)))
    full = routes(f2_support=1.0, f2_margin=60.0, ground=3.0)
    assert heard(full) == pytest.approx(1.0)


def test_sporadic_e_adds_the_share_of_its_days():
    """Loud in the two strongest slices and dead else: 3 days in 100, and no others."""
    level = np.where(np.arange(ES_SHARE.size) < 2, 90.0, NO_SIGNAL_DB)
    assert heard(routes(es_margin=level)) == pytest.approx(0.03)
    half = routes(f2_support=np.eye(F)[0] * 0.5, f2_margin=90.0, es_margin=level)
    assert heard(half) == pytest.approx(0.5 + 0.5 * 0.03)


def test_above_the_muf_slices_are_days():
    """Alone, loud in the upper half of the ranks: half of the days."""
    level = np.where(np.arange(SLICES) < 4, NO_SIGNAL_DB, 90.0)
    assert heard(routes(above=level)) == pytest.approx(0.5)


def test_above_the_muf_fills_the_days_on_which_the_layer_is_too_weak():
    """
    A mode on six days in ten, and below it a signal that is just enough.

    Slices of the F2 rank and the mode's days are the same days: 0.6 with all, 0.4 less
    three eighths that the weak signal fills, at one half each.
    """
    weak = np.where(np.arange(SLICES) < 3, 0.0, NO_SIGNAL_DB)
    found = heard(routes(f2_support=np.eye(F)[0] * 0.6, f2_margin=90.0, above=weak))
    assert found == pytest.approx(0.6 + 0.375 * 0.5)


def test_above_the_muf_powers_add_to_what_is_there():
    """0 dB by the weak signal and 0 dB by an E mode every day: 3 dB."""
    both = heard(routes(e_support=np.eye(E)[0], e_margin=0.0, above=0.0))
    more = 10.0 * np.log10(2.0)
    assert both == pytest.approx(float(reliability(more, 8.0, 11.0)))


@pytest.mark.slow
@given(margins(SLICES), shares(F), margins(F))
def test_a_signal_above_the_muf_never_hurts(above, fs, fm):
    """With it the chance is at least what it is without."""
    without = heard(routes(f2_support=fs, f2_margin=fm))
    beside = heard(routes(f2_support=fs, f2_margin=fm, above=above))
    assert np.all(beside >= without - 1e-12)


def test_reliability_never_leaves_zero_to_one():
    """Extreme margins saturate."""
    ours = reliability([-np.inf, -300.0, 300.0, np.inf], 8.0, 11.0)
    assert list(ours) == [0.0, 0.0, 1.0, 1.0]


def test_signal_spreads_more_at_high_latitude(outside):
    """ITU-R P.842 (from memory): 8 and 6 dB below 60 degrees, 11 and 9 above."""
    upper, lower = signal_deciles_db([0.0, 70.0])
    check = outside("ITU-R P.842; P.533-14 section 8", "from memory")
    why = "rounding of the machine"
    what = "upper decile of the signal at low and high latitude [dB]"
    check.near(what, upper, [np.hypot(6, 5), np.hypot(9, 5)], rel=1e-6, why=why)
    what = "lower decile of the signal at low and high latitude [dB]"
    check.near(what, lower, [np.hypot(8, 8), np.hypot(11, 8)], rel=1e-6, why=why)
    around = np.array(signal_deciles_db(np.linspace(55.0, 65.0, 101)))
    assert np.abs(np.diff(around)).max() < 0.1


def test_both_directions_are_no_better_than_either():
    """Both at once: at most the worse, at least what independence would give."""
    level = routes(f2_support=1.0, f2_margin=np.linspace(-9.0, 9.0, CELLS)[:, None])
    for together in (0.0, 0.5, 1.0):
        one, other, both = chance(level, ends(-3.0, together))
        assert np.all(both <= np.minimum(one, other) + 1e-12)
        assert np.all(both >= one * other - 1e-12)
    assert both == pytest.approx(np.minimum(one, other))


def test_both_ways_weight_against_drawn_pairs():
    """Of two normal ratios with a shared signal, how often both exceed the median."""
    rng = np.random.default_rng(5)
    signal, far, here = (s * rng.standard_normal(400_000) for s in (9.5, 7.0, 11.0))
    drawn_share = np.mean((signal - far > 0) & (signal - here > 0))
    weight = float(both_ways_weight(9.5, 7.0, 11.0))
    assert weight * 0.5 + (1 - weight) * 0.25 == pytest.approx(drawn_share, abs=0.003)


def test_median_margin_is_that_of_the_middle_day():
    """Weak on half of the days, strong on the rest; worse direction; nothing: NaN."""
    support = np.zeros(F)
    support[0], support[1] = 1.0, 0.4
    margin = np.full(F, NO_SIGNAL_DB)
    margin[0], margin[1] = 3.0, 30.0
    weak = routes(f2_support=support, f2_margin=margin)
    assert median_margin_db(weak, ends(-2.0)) == pytest.approx(1.0)
    support[1] = 0.6
    strong = routes(f2_support=support, f2_margin=margin)
    expected = 10 * np.log10(10**3.0 + 10**0.3)
    assert median_margin_db(strong, ends(2.0)) == pytest.approx(expected)
    assert np.isnan(median_margin_db(routes(), ends())).all()


def test_a_signal_that_only_one_end_can_use_still_counts():
    """45 dB short there and 40 dB quieter here, or the other way: that end alone."""
    faint = routes(f2_support=1.0, f2_margin=np.where(np.arange(F) < 1, -45.0, -400.0))
    there, here, both = chance(faint, ends(40.0))
    assert here == pytest.approx(float(reliability(-5.0, 8.0, 11.0)))
    assert np.all(there == 0.0)
    assert np.all(both == 0.0)
    strong = routes(f2_support=1.0, f2_margin=np.where(np.arange(F) < 1, -5.0, -400.0))
    there, here, _ = chance(strong, ends(-40.0))
    assert there == pytest.approx(float(reliability(-5.0, 8.0, 11.0)))
    assert np.all(here == 0.0)


@pytest.mark.slow
def test_one_of_several_under_the_same_sky():
    """
    A layer on four days in ten is there for all of them or for none.

    On such days one station is heard on half of them (margin 0); at least one of ten
    as the quadrature has it, and never beyond the days of the layer.
    """
    level = routes(f2_support=np.where(np.arange(F) < 1, 0.4, 0.0), f2_margin=0.0)
    one, several = (chance(level, ends(count=n)) for n in (1, 10))
    assert one[:2] == pytest.approx(0.2)
    for side, common in enumerate((0.3, 0.6)):
        worked = 0.4 * at_least_one_of(10, 0.5, common)
        assert several[side] == pytest.approx(worked, abs=0.001)
    both = one[2, 0] / 0.4
    assert several[2] == pytest.approx(0.4 * at_least_one_of(10, both, 0.6), abs=0.001)
    many = chance(level, ends(count=10_000))
    assert np.all(many <= 0.4 + 1e-9)


def test_each_end_has_its_own_spread():
    """The far end by its deciles, mine by mine: 0.1 and 0.9 where they lie."""
    far = np.full(CELLS, 5.0), np.full(CELLS, 7.0)
    mine = np.full(CELLS, 9.0), np.full(CELLS, 12.0)
    level = routes(f2_support=np.eye(F)[0], f2_margin=7.0)
    none = np.zeros(CELLS)
    apart = Ends(far, mine, np.full(CELLS, -16.0), none, (none, none))
    one, other, both = chance(level, apart)
    assert one == pytest.approx(0.9)
    assert other == pytest.approx(0.1)
    assert both == pytest.approx(0.09)


def test_the_reliability_between_its_deciles():
    """ITU-R P.533-14 section 10.1 (from memory): 1.3 - 0.8 / (1 + m / D) and mirror."""
    margin = np.array([2.0, 5.5, 30.0])
    above = 1.3 - 0.8 / (1.0 + margin / 11.0)
    assert reliability(margin, 8.0, 11.0) == pytest.approx(np.minimum(above, 1.0))
    below = 0.8 / (1.0 + margin / 8.0) - 0.3
    assert reliability(-margin, 8.0, 11.0) == pytest.approx(np.maximum(below, 0.0))


def test_signal_spread_is_blended_over_five_degrees_about_60():
    """Half way at 60 degrees on either hemisphere, not yet at 57.5, wholly at 62.5."""
    upper, lower = signal_deciles_db([57.5, 60.0, 62.5, -60.0, 61.25, 90.0])
    day = np.array([6.0, 7.5, 9.0, 7.5, 8.25, 9.0])
    assert upper == pytest.approx(np.hypot(day, 5.0))
    assert lower == pytest.approx(np.hypot(day + 2.0, 8.0))


def test_both_ways_weight_between_all_and_nothing():
    """No noise anywhere: together; no signal that varies: apart; ends swapped: same."""
    assert both_ways_weight(9.5, 0.0, 0.0) == pytest.approx(1.0)
    assert both_ways_weight(0.0, 9.5, 3.0) == pytest.approx(0.0)
    assert both_ways_weight(8.0, 3.0, 11.0) == pytest.approx(
        both_ways_weight(8.0, 11.0, 3.0)
    )
    # rho = 1/2 where all three are alike: arcsin is 30 degrees, a third.
    assert both_ways_weight(7.0, 7.0, 7.0) == pytest.approx(1.0 / 3.0)


def test_the_median_margin_is_asked_of_weak_signals_too():
    """100 dB short is a margin, over 300 is no signal; a day in 2000 is no middle."""
    mode = np.arange(F) < 1
    weak = routes(f2_support=0.5 * mode, f2_margin=np.where(mode, -100.0, NO_SIGNAL_DB))
    assert median_margin_db(weak, ends(3.0)) == pytest.approx(-100.0)
    assert median_margin_db(weak, ends(-3.0)) == pytest.approx(-103.0)
    for level, there in ((-299.5, True), (-300.5, False), (-310.0, False)):
        margin = np.where(mode, level, NO_SIGNAL_DB)
        found = median_margin_db(
            routes(f2_support=0.5 * mode, f2_margin=margin), ends()
        )
        assert np.all(np.isfinite(found) == there)
    for share, there in ((0.0005, False), (0.0015, True)):
        rare = routes(f2_support=share * mode, f2_margin=5.0)
        assert np.all(np.isfinite(median_margin_db(rare, ends())) == there)


def test_the_middle_between_two_halves_of_the_days_is_their_mean():
    """Half of the days 0 dB, half of them 10 log10 of 1 + 10^2: the mean of both."""
    support = np.array([1.0, 0.5, *np.zeros(F - 2)])
    margin = np.array([0.0, 20.0, *np.full(F - 2, NO_SIGNAL_DB)])
    # A share that was rounded to single precision on its way is still a half.
    for rounding in (0.0, 3e-8, -3e-8):
        split = routes(
            f2_support=support + rounding * (support == 0.5), f2_margin=margin
        )
        found = median_margin_db(split, ends())
        assert found == pytest.approx(0.5 * 10.0 * np.log10(101.0))
