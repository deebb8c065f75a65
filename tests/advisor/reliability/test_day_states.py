"""The kinds of day: every day of a fine grid of ranks gone through, one by one."""

from dataclasses import replace

import numpy as np
import pytest

from advisor.reliability import chance as chance_module
from advisor.reliability.chance import Ends, chance, median_margin_db, reliability
from advisor.reliability.day_states import NO_SIGNAL_DB, Ways, kinds_of_day, margin_on

CELLS, E, F, ES, BEARINGS = 12, 3, 4, 2, 3
ES_SLICES = 4
SLICES = 8
# Tenths and eighths both fall on the edges of this grid, so that the sum is exact.
GRID = 40
RANKS = (np.arange(GRID) + 0.5) / GRID
WEIGHTS = np.array([0.0, 0.3, 1.0, 0.7])


def random_ways(seed, lead=(BEARINGS,), faintest_db=-20.0):
    """Ways of all sorts; supports in tenths; the wire adds up to 9 dB either way."""
    dice = np.random.default_rng(seed)

    def tenths(*shape):
        return dice.integers(0, 11, shape) / 10.0

    def margin(*shape):
        there = dice.random(shape) < 0.7
        return np.where(there, dice.uniform(faintest_db, 15.0, shape), NO_SIGNAL_DB)

    def gain(*shape):
        return dice.uniform(-9.0, 9.0, (*lead, *shape))

    return Ways(
        e_support=tenths(CELLS, E),
        f2_support=tenths(CELLS, F),
        f2_screened=tenths(CELLS, F),
        e_margin_db=margin(CELLS, E),
        f2_margin_db=margin(CELLS, F),
        es_share=dice.dirichlet(np.ones(ES_SLICES), CELLS),
        es_margin_db=margin(CELLS, ES, ES_SLICES),
        ground_margin_db=margin(CELLS) * (np.arange(CELLS) % 3 > 0)
        + NO_SIGNAL_DB * (np.arange(CELLS) % 3 == 0),
        window_margin_db=margin(CELLS, SLICES),
        window_weight=np.resize(WEIGHTS, CELLS),
        hop_gain_db=gain(CELLS, E + F + ES),
        ground_gain_db=gain(CELLS),
        window_gain_db=gain(CELLS),
    )


def random_ends(seed):
    """Two ends, other ones in every cell."""
    dice = np.random.default_rng(seed)
    upper, lower, far_upper, far_lower = dice.uniform(5.0, 15.0, (4, CELLS))
    return Ends(
        (far_upper, far_lower),
        (upper, lower),
        dice.uniform(-6.0, 6.0, CELLS),
        dice.uniform(0.0, 1.0, CELLS),
    )


def day_by_day(ways, cell, bearing):
    """Margin on each day of one cell, (u, v, w), and the shares of the w's."""
    hop, window_gain = ways.hop_gain_db[bearing][cell], ways.window_gain_db[bearing]
    u, v = RANKS[:, None, None], RANKS[None, :, None]
    hops = np.zeros((GRID, GRID, 1))
    # Powers are added of what is there; in a blend even 1e-40 would count a little.
    silent = NO_SIGNAL_DB
    for mode, level in enumerate(ways.e_margin_db[cell]):
        there = (level > silent) & (u > 1.0 - ways.e_support[cell, mode])
        hops = hops + there * 10.0 ** ((level + hop[mode]) / 10.0)
    for mode, level in enumerate(ways.f2_margin_db[cell]):
        there = (level > silent) & (v > 1.0 - ways.f2_support[cell, mode])
        there = there & (u <= 1.0 - ways.f2_screened[cell, mode])
        hops = hops + there * 10.0 ** ((level + hop[E + mode]) / 10.0)
    weight = ways.window_weight[cell]
    if weight:
        # ITU-R P.533-14 section 5.4: fields are joined as 100 log10 of their blend.
        level = ways.window_margin_db[cell, (v * SLICES).astype(int)]
        far = 10.0 ** ((level + window_gain[cell]) / 100.0)
        near = hops**0.1 if weight < 1.0 else 0.0
        hops = ((1.0 - weight) * near + weight * far) ** 10 + np.zeros_like(hops)
    sporadic = 10.0 ** ((ways.es_margin_db[cell] + hop[E + F :, None]) / 10.0)
    sporadic = np.append(sporadic.sum(axis=0), 0.0)
    ground = ways.ground_margin_db[cell] + ways.ground_gain_db[bearing][cell]
    with np.errstate(divide="ignore"):
        margin = 10.0 * np.log10(hops + sporadic + 10.0 ** (ground / 10.0))
    share = np.append(ways.es_share[cell], 0.0) / GRID**2
    return margin, np.broadcast_to(share, margin.shape)


@pytest.mark.parametrize("seed", range(4))
def test_the_chance_is_the_average_over_all_days(seed):
    """Every bearing, every cell, every way at once: there, here and both."""
    ways, ends = random_ways(seed), random_ends(seed)
    ours = chance(ways, ends)
    assert ours.shape == (3, BEARINGS, CELLS)
    for cell in range(CELLS):
        there, here = (
            [side[cell] for side in spread]
            for spread in (ends.heard_spread_db, ends.hear_spread_db)
        )
        for bearing in range(BEARINGS):
            margin, share = day_by_day(ways, cell, bearing)
            heard = reliability(margin, *there)
            hear = reliability(margin + ends.hear_offset_db[cell], *here)
            lesser, product = np.minimum(heard, hear), heard * hear
            both = product + ends.together[cell] * (lesser - product)
            expected = [np.sum(share * each) for each in (heard, hear, both)]
            assert ours[:, bearing, cell] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_the_median_margin_is_that_of_all_days_in_order(seed):
    """The middle of the days with any way at all, heavier in the worse direction."""
    ways, ends = random_ways(seed, ()), random_ends(seed)
    # One bearing in front for the days; days on which nothing is there are not in it.
    given = ["hop_gain_db", "ground_gain_db", "window_gain_db"]
    before = replace(ways, **{name: getattr(ways, name)[None] for name in given})
    ours = median_margin_db(ways, ends)
    assert ours.shape == (CELLS,)
    for cell in range(CELLS):
        margin, share = (each.ravel() for each in day_by_day(before, cell, 0))
        there = margin > -150.0
        order = np.argsort(margin[there])
        level, part = margin[there][order], share[there][order]
        if not level.size:
            assert np.isnan(ours[cell])
            continue
        upto = np.cumsum(part) / part.sum()
        low = level[np.flatnonzero(upto > 0.5 - 1e-9)[0]]
        high = level[np.flatnonzero(upto > 0.5 + 1e-9)[0]]
        expected = 0.5 * (low + high) + min(ends.hear_offset_db[cell], 0.0)
        assert ours[cell] == pytest.approx(expected, abs=1e-9)


def test_working_in_blocks_changes_nothing(monkeypatch):
    ways, ends = random_ways(7), random_ends(7)
    whole = chance(ways, ends)
    for block in (1, 10, 10_000):
        monkeypatch.setattr(chance_module, "_BLOCK", block)
        assert chance(ways, ends) == pytest.approx(whole, abs=1e-12)


def test_a_bearing_asked_alone_has_the_same_chance():
    """What is kept because of one bearing does not change another."""
    ways, ends = random_ways(8), random_ends(8)
    whole = chance(ways, ends)
    for bearing in range(BEARINGS):
        alone = replace(
            ways,
            hop_gain_db=ways.hop_gain_db[bearing],
            ground_gain_db=ways.ground_gain_db[bearing],
            window_gain_db=ways.window_gain_db[bearing],
        )
        assert chance(alone, ends) == pytest.approx(whole[:, bearing], abs=1e-9)


def plain_ways(**given):
    """One cell, one mode of the F2 layer on six days in ten, and what is given."""
    values = {
        "e_support": np.zeros((1, 1)),
        "f2_support": np.full((1, 2), 0.6),
        "f2_screened": np.zeros((1, 2)),
        "e_margin_db": np.full((1, 1), NO_SIGNAL_DB),
        "f2_margin_db": np.array([[3.0, NO_SIGNAL_DB]]),
        "es_share": np.array([[0.1, 0.9]]),
        "es_margin_db": np.full((1, 1, 2), NO_SIGNAL_DB),
        "ground_margin_db": np.full(1, NO_SIGNAL_DB),
        "window_margin_db": np.full((1, 4), NO_SIGNAL_DB),
        "window_weight": np.zeros(1),
        "hop_gain_db": np.zeros((1, 4)),
        "ground_gain_db": np.zeros(1),
        "window_gain_db": np.zeros(1),
    }
    return Ways(**{**values, **given})


def kinds(ways, floor_db=-40.0):
    """Shares and margins of the kinds of day, weakest first."""
    days = kinds_of_day(ways, np.array([floor_db]))
    margin = margin_on(ways, days)[:, 0]
    order = np.argsort(margin)
    return days.share[order], margin[order]


def test_only_days_that_differ_are_kept_apart():
    """One mode: one kind of day; a second one less often there makes two."""
    share, margin = kinds(plain_ways())
    assert share == pytest.approx([0.6])
    assert margin == pytest.approx([3.0])
    two = plain_ways(
        f2_support=np.array([[0.6, 0.2]]), f2_margin_db=np.array([[3.0, 3.0]])
    )
    share, margin = kinds(two)
    assert share == pytest.approx([0.4, 0.2])
    assert margin == pytest.approx([3.0, 3.0 + 10.0 * np.log10(2.0)])


def test_what_is_fainter_than_the_floor_makes_no_kind_of_day():
    """By the margin with the gain of the wire, and just above it does count."""
    for gain in (0.0, -6.0):
        for level, count in ((-39.9, 2), (-40.1, 1)):
            faint = plain_ways(
                f2_support=np.array([[0.6, 0.9]]),
                f2_margin_db=np.array([[3.0, level - gain]]),
                hop_gain_db=np.full((1, 4), gain),
            )
            share, margin = kinds(faint)
            assert share.size == count
            # On days when both are there the faint one is not added either.
            added = 10.0 * np.log10(10.0 ** ((3.0 + gain) / 10.0) + 10.0**-3.99)
            loudest = added if count == 2 else 3.0 + gain
            assert margin[-1] == pytest.approx(loudest, abs=1e-9)
            assert share.sum() == pytest.approx(0.9 if count == 2 else 0.6)
    none = kinds_of_day(plain_ways(), np.array([10.0]))
    assert none.share.size == none.cell.size == 0


@pytest.mark.parametrize("seed", range(4))
def test_faint_days_are_left_out_and_their_share_with_them(seed):
    """Each day of the grid has a way or the window above the floor, or is left out."""
    ways = random_ways(seed, (1,), faintest_db=-60.0)
    floor = np.random.default_rng(seed).uniform(-30.0, 0.0, CELLS)
    days = kinds_of_day(ways, floor)
    share = np.bincount(days.cell, days.share, CELLS)
    margin = margin_on(ways, days)[:, 0]
    for cell in range(CELLS):
        louder = loud_days(ways, cell, floor[cell])
        assert share[cell] == pytest.approx(louder.mean(axis=(0, 1)).sum(), abs=1e-9)
        # And what is left is as loud as on the grid, blends with faint ways included.
        every, parts = day_by_day(ways, cell, 0)
        kept = np.broadcast_to(louder > 0.0, every.shape)
        expected = np.sum(parts[kept] * every[kept])
        mine = days.cell == cell
        ours = np.sum(days.share[mine] * margin[mine])
        # Ways below the floor are not added to a louder one; there are 18 at most.
        assert expected - 10.0 * np.log10(19.0) * share[cell] <= ours
        assert ours <= expected + 1e-9


def loud_days(ways, cell, floor):
    """Share of each slice of sporadic E where a day has anything above the floor."""
    hop = ways.hop_gain_db[0, cell]
    u, v, w = RANKS[:, None, None], RANKS[None, :, None], np.arange(ES_SLICES + 1)
    share = np.append(ways.es_share[cell], 0.0)
    loud = np.zeros((GRID, GRID, ES_SLICES + 1), dtype=bool)
    weight = ways.window_weight[cell]
    for mode, level in enumerate(ways.e_margin_db[cell]):
        if weight < 1.0 and level + hop[mode] > floor:
            loud |= u > 1.0 - ways.e_support[cell, mode]
    for mode, level in enumerate(ways.f2_margin_db[cell]):
        if weight < 1.0 and level + hop[E + mode] > floor:
            free = u <= 1.0 - ways.f2_screened[cell, mode]
            loud |= free & (v > 1.0 - ways.f2_support[cell, mode])
    for mode, levels in enumerate(ways.es_margin_db[cell]):
        loud |= np.isin(w, np.flatnonzero(levels + hop[E + F + mode] > floor))
    loud |= ways.ground_margin_db[cell] + ways.ground_gain_db[0, cell] > floor
    if weight:
        level = ways.window_margin_db[cell] + ways.window_gain_db[0, cell]
        loud |= (level > floor)[(v * SLICES).astype(int)]
    return loud * share


def test_what_stands_just_at_the_floor_is_not_above_it():
    """A mode and a slice of the window, each on the floor to the bit."""
    mode = plain_ways(f2_margin_db=np.array([[-40.0, NO_SIGNAL_DB]]))
    window = plain_ways(
        f2_support=np.zeros((1, 2)),
        window_margin_db=np.full((1, 4), -40.0),
        window_weight=np.ones(1),
    )
    for ways in (mode, window):
        assert kinds(ways, -40.0)[0].size == 0
        assert kinds(ways, np.nextafter(-40.0, -50.0))[0].sum() > 0.5


def test_beside_the_window_slices_of_the_layer_are_days():
    """A window alone has one kind of day for each slice, all equally long."""
    level = np.array([[-10.0, 0.0, 5.0, 12.0]])
    alone = plain_ways(window_margin_db=level, window_weight=np.ones(1))
    share, margin = kinds(alone)
    assert share == pytest.approx([0.25] * 4)
    assert margin == pytest.approx(level[0])


def test_between_hops_and_window_fields_are_blended():
    """
    ITU-R P.533-14 section 5.4 (from memory): 100 log10 of the mean of 10^(E/100).

    20 dB by the hop and 0 by the window, half way: 100 log10((10^0.2 + 1) / 2) =
    100 log10(1.29245) = 11.141 dB; without the hop 100 log10(0.5) = -30.103 dB.
    """
    half = plain_ways(
        f2_margin_db=np.array([[20.0, NO_SIGNAL_DB]]),
        f2_support=np.array([[0.5, 0.0]]),
        window_margin_db=np.zeros((1, 4)),
        window_weight=np.array([0.5]),
    )
    share, margin = kinds(half)
    assert np.sum(share[margin < 0.0]) == pytest.approx(0.5)
    assert np.sum(share[margin > 0.0]) == pytest.approx(0.5)
    assert margin[margin < 0.0] == pytest.approx(-30.103, abs=1e-3)
    assert margin[margin > 0.0] == pytest.approx(11.141, abs=1e-3)


def test_beside_a_loud_window_a_faint_mode_is_blended_too():
    """
    A mode that is 60 dB weaker moves the blend of fields by 10 dB.

    ITU-R P.533-14 section 5.4 (from memory), -50 dB by the hop and 10 by the window,
    half way: 100 log10((10^-0.5 + 10^0.1) / 2) = 100 log10(0.78757) = -10.371 dB; by
    the window alone 100 log10(10^0.1 / 2) = -20.103 dB.
    """
    half = plain_ways(
        f2_margin_db=np.array([[-50.0, NO_SIGNAL_DB]]),
        f2_support=np.array([[1.0, 0.0]]),
        window_margin_db=np.full((1, 4), 10.0),
        window_weight=np.array([0.5]),
    )
    share, margin = kinds(half)
    assert share.sum() == pytest.approx(1.0)
    assert margin == pytest.approx([-10.371] * 4, abs=1e-3)
    alone = replace(half, f2_support=np.zeros((1, 2)))
    assert kinds(alone)[1] == pytest.approx([-20.103] * 4, abs=1e-3)


def test_the_mean_over_days_counts_days_without_a_way_as_nothing():
    """Six days in ten with 1 and four without anything: 0.6."""
    ways = plain_ways()
    days = kinds_of_day(ways, np.array([-40.0]))
    values = np.array([[1.0, 5.0]]) * np.ones((days.share.size, 1))
    assert days.mean_over(values, 1) == pytest.approx(np.array([[0.6, 3.0]]))


def test_shares_never_round_to_more_than_all_days():
    """Loud on every day, however the days are cut: 1 and not a bit more."""
    for seed in range(20):
        drawn = random_ways(seed)
        loud = replace(
            drawn,
            e_support=np.random.default_rng(seed).random((CELLS, E)),
            ground_margin_db=np.full(CELLS, 200.0),
        )
        found = chance(loud, random_ends(seed))
        assert np.all(found <= 1.0)
        assert found == pytest.approx(1.0, abs=1e-12)


def test_only_ways_that_can_be_there_are_kept():
    """A loud mode on no day at all is none; beside a window that counts alone, none."""
    loud = plain_ways(
        e_margin_db=np.full((1, 1), 50.0),
        f2_support=np.array([[0.6, 0.0]]),
        f2_margin_db=np.array([[3.0, 50.0]]),
    )
    kept = kinds_of_day(loud, np.array([-40.0]))
    assert kept.way_margin_db == pytest.approx([3.0])
    alone = replace(
        loud, window_weight=np.ones(1), window_margin_db=np.full((1, 4), 5.0)
    )
    assert kinds_of_day(alone, np.array([-40.0])).way_margin_db.size == 0


def test_a_way_that_one_bearing_hears_is_kept_for_it():
    """30 dB less towards one bearing: the floor is asked of the best of them."""
    gain = np.array([[-30.0], [0.0], [-20.0]])
    ground = plain_ways(
        ground_margin_db=np.full(1, -35.0),
        f2_support=np.zeros((1, 2)),
        hop_gain_db=np.zeros((3, 1, 4)),
        ground_gain_db=gain,
        window_gain_db=np.zeros((3, 1)),
    )
    hops = replace(
        ground,
        ground_margin_db=np.full(1, NO_SIGNAL_DB),
        f2_support=np.ones((1, 2)),
        f2_margin_db=np.array([[-35.0, NO_SIGNAL_DB]]),
        hop_gain_db=np.repeat(gain[..., None], 4, axis=2),
        ground_gain_db=np.zeros((3, 1)),
    )
    window = replace(
        hops,
        f2_support=np.zeros((1, 2)),
        window_margin_db=np.full((1, 1), -35.0),
        window_weight=np.ones(1),
        window_gain_db=gain,
    )
    for ways in (ground, hops, window):
        days = kinds_of_day(ways, np.array([-40.0]))
        assert days.share == pytest.approx([1.0])
        assert margin_on(ways, days)[0] == pytest.approx(gain[:, 0] - 35.0)
