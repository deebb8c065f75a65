"""The day states: every day of a fine grid of ranks gone through, one by one."""

from dataclasses import replace

import numpy as np
import pytest

from advisor.propagation import sporadic_e
from advisor.reliability import chance as chance_module
from advisor.reliability.chance import Ends, chance, median_margin_db, reliability
from advisor.reliability.day_states import NO_SIGNAL_DB, Routes, day_states, margin_on

CELLS, E, F, ES, BEARINGS = 12, 3, 4, 2, 3
ES_SLICES = 4
SLICES, WEAK = 8, 3
# Tenths and eighths both fall on the edges of this grid, so that the sum is exact.
GRID = 40
RANKS = (np.arange(GRID) + 0.5) / GRID


def random_routes(seed, lead=(BEARINGS,), faintest_db=-20.0):
    """Routes of all sorts; supports in tenths; the wire adds up to 9 dB either way."""
    dice = np.random.default_rng(seed)

    def tenths(*shape):
        return dice.integers(0, 11, shape) / 10.0

    def margin(*shape):
        there = dice.random(shape) < 0.7
        return np.where(there, dice.uniform(faintest_db, 15.0, shape), NO_SIGNAL_DB)

    def gain(*shape):
        return dice.uniform(-9.0, 9.0, (*lead, *shape))

    return Routes(
        e_support=tenths(CELLS, E),
        f2_support=tenths(CELLS, F),
        e_margin_db=margin(CELLS, E),
        f2_margin_db=margin(CELLS, F),
        es_share=dice.dirichlet(np.ones(ES_SLICES), CELLS),
        es_margin_db=margin(CELLS, ES, ES_SLICES),
        ground_margin_db=margin(CELLS) * (np.arange(CELLS) % 3 > 0)
        + NO_SIGNAL_DB * (np.arange(CELLS) % 3 == 0),
        # Every fourth cell is below the MUF on all days.
        above_margin_db=np.where(
            np.arange(CELLS)[:, None, None] % 4 > 0,
            margin(CELLS, WEAK, SLICES),
            NO_SIGNAL_DB,
        ),
        above_modes=dice.permutation(np.arange(E, E + F + ES + 1))[:WEAK],
        hop_gain_db=gain(CELLS, E + F + ES + 1),
        ground_gain_db=gain(CELLS),
    )


def random_ends(seed, count=1):
    """Two ends, other ones in every cell."""
    dice = np.random.default_rng(seed)
    upper, lower, far_upper, far_lower = dice.uniform(5.0, 15.0, (4, CELLS))
    return Ends(
        (far_upper, far_lower),
        (upper, lower),
        dice.uniform(-6.0, 6.0, CELLS),
        dice.uniform(0.0, 1.0, CELLS),
        (dice.uniform(0.0, 0.9, CELLS), dice.uniform(0.0, 0.9, CELLS)),
        count,
    )


def day_by_day(routes, cell, bearing):
    """Margin on each day of one cell, (u, v, w), and the shares of the w's."""
    hop = routes.hop_gain_db[bearing][cell]
    u, v = RANKS[:, None, None], RANKS[None, :, None]
    hops = np.zeros((GRID, GRID, 1))
    # Powers are added of what is there.
    silent = NO_SIGNAL_DB
    for mode, level in enumerate(routes.e_margin_db[cell]):
        there = (level > silent) & (u > 1.0 - routes.e_support[cell, mode])
        hops = hops + there * 10.0 ** ((level + hop[mode]) / 10.0)
    for mode, level in enumerate(routes.f2_margin_db[cell]):
        there = (level > silent) & (v > 1.0 - routes.f2_support[cell, mode])
        hops = hops + there * 10.0 ** ((level + hop[E + mode]) / 10.0)
    # Above the MUF: by the slice of the F2 rank, each mode at its own gain.
    slice_ = (v * SLICES).astype(int)
    for mode, levels in enumerate(routes.above_margin_db[cell]):
        gain = hop[routes.above_modes[mode]]
        weak = 10.0 ** ((levels[slice_] + gain) / 10.0)
        hops = hops + np.where(levels[slice_] > silent, weak, 0.0)
    towards = hop[E + F : E + F + ES, None]
    sporadic = 10.0 ** ((routes.es_margin_db[cell] + towards) / 10.0)
    sporadic = np.append(sporadic.sum(axis=0), 0.0)
    ground = routes.ground_margin_db[cell] + routes.ground_gain_db[bearing][cell]
    with np.errstate(divide="ignore"):
        margin = 10.0 * np.log10(hops + sporadic + 10.0 ** (ground / 10.0))
    share = np.append(routes.es_share[cell], 0.0) / GRID**2
    return margin, np.broadcast_to(share, margin.shape)


@pytest.mark.parametrize("seed", range(4))
def test_the_chance_is_the_average_over_all_days(seed):
    """Every bearing, every cell, every way at once: there, here and both."""
    routes, ends = random_routes(seed), random_ends(seed)
    ours = chance(routes, ends)
    assert ours.shape == (3, BEARINGS, CELLS)
    for cell in range(CELLS):
        there, here = (
            [side[cell] for side in spread]
            for spread in (ends.heard_spread_db, ends.hear_spread_db)
        )
        for bearing in range(BEARINGS):
            margin, share = day_by_day(routes, cell, bearing)
            heard = reliability(margin, *there)
            hear = reliability(margin + ends.hear_offset_db[cell], *here)
            lesser, product = np.minimum(heard, hear), heard * hear
            both = product + ends.both_ways_weight[cell] * (lesser - product)
            expected = [np.sum(share * each) for each in (heard, hear, both)]
            assert ours[:, bearing, cell] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_the_median_margin_is_that_of_all_days_in_order(seed):
    """The middle of the days with any way at all, heavier in the worse direction."""
    routes, ends = random_routes(seed, ()), random_ends(seed)
    # What only scatters above the MUF is no way.
    silent = np.full(routes.above_margin_db.shape, NO_SIGNAL_DB)
    # One bearing in front for the days; days on which nothing is there are not in it.
    given = ["hop_gain_db", "ground_gain_db"]
    before = replace(routes, **{name: getattr(routes, name)[None] for name in given})
    before = replace(before, above_margin_db=silent)
    ours = median_margin_db(routes, ends)
    assert ours.shape == (CELLS,)
    for cell in range(CELLS):
        margin, share = (each.ravel() for each in day_by_day(before, cell, 0))
        there = margin > -300.0
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
    routes, ends = random_routes(7), random_ends(7)
    whole = chance(routes, ends)
    for block in (1, 10, 10_000):
        monkeypatch.setattr(chance_module, "_BLOCK", block)
        assert chance(routes, ends) == pytest.approx(whole, abs=1e-12)


def test_a_bearing_asked_alone_has_the_same_chance():
    """What is kept because of one bearing does not change another."""
    routes, ends = random_routes(8), random_ends(8)
    whole = chance(routes, ends)
    for bearing in range(BEARINGS):
        alone = replace(
            routes,
            hop_gain_db=routes.hop_gain_db[bearing],
            ground_gain_db=routes.ground_gain_db[bearing],
        )
        assert chance(alone, ends) == pytest.approx(whole[:, bearing], abs=1e-9)


def plain_routes(**given):
    """One cell, one mode of the F2 layer on six days in ten, and what is given."""
    values = {
        "e_support": np.zeros((1, 1)),
        "f2_support": np.full((1, 2), 0.6),
        "e_margin_db": np.full((1, 1), NO_SIGNAL_DB),
        "f2_margin_db": np.array([[3.0, NO_SIGNAL_DB]]),
        "es_share": np.array([[0.1, 0.9]]),
        "es_margin_db": np.full((1, 1, 2), NO_SIGNAL_DB),
        "ground_margin_db": np.full(1, NO_SIGNAL_DB),
        "above_margin_db": np.full((1, 1, 4), NO_SIGNAL_DB),
        "above_modes": np.ones(1, dtype=int),
        "hop_gain_db": np.zeros((1, 4)),
        "ground_gain_db": np.zeros(1),
    }
    return Routes(**{**values, **given})


def kinds(routes, floor_db=-40.0):
    """Shares and margins of the kinds of day, weakest first."""
    days = day_states(routes, np.array([floor_db]))
    margin = margin_on(routes, days)[:, 0]
    order = np.argsort(margin)
    return days.share[order], margin[order]


def test_only_days_that_differ_are_kept_apart():
    """One mode: one kind of day; a second one less often there makes two."""
    share, margin = kinds(plain_routes())
    assert share == pytest.approx([0.6])
    assert margin == pytest.approx([3.0])
    two = plain_routes(
        f2_support=np.array([[0.6, 0.2]]), f2_margin_db=np.array([[3.0, 3.0]])
    )
    share, margin = kinds(two)
    assert share == pytest.approx([0.4, 0.2])
    assert margin == pytest.approx([3.0, 3.0 + 10.0 * np.log10(2.0)])


def test_what_is_fainter_than_the_floor_makes_no_kind_of_day():
    """By the margin with the gain of the wire, and just above it does count."""
    for gain in (0.0, -6.0):
        for level, count in ((-39.9, 2), (-40.1, 1)):
            faint = plain_routes(
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
    none = day_states(plain_routes(), np.array([10.0]))
    assert none.share.size == none.cell.size == 0


@pytest.mark.parametrize("seed", range(4))
def test_faint_days_are_left_out_and_their_share_with_them(seed):
    """Each day of the grid has a route above the floor, or none."""
    routes = random_routes(seed, (1,), faintest_db=-60.0)
    floor = np.random.default_rng(seed).uniform(-30.0, 0.0, CELLS)
    days = day_states(routes, floor)
    share = np.bincount(days.cell, days.share, CELLS)
    margin = margin_on(routes, days)[:, 0]
    for cell in range(CELLS):
        louder = loud_days(routes, cell, floor[cell])
        assert share[cell] == pytest.approx(louder.mean(axis=(0, 1)).sum(), abs=1e-9)
        # And what is left is as loud as on the grid but for what is faint.
        every, parts = day_by_day(routes, cell, 0)
        kept = np.broadcast_to(louder > 0.0, every.shape)
        expected = np.sum(parts[kept] * every[kept])
        mine = days.cell == cell
        ours = np.sum(days.share[mine] * margin[mine])
        # Routes below the floor are not added to a louder one; there are 18 at most.
        assert expected - 10.0 * np.log10(19.0) * share[cell] <= ours
        assert ours <= expected + 1e-9


def loud_days(routes, cell, floor):
    """Share of each slice of sporadic E where a day has anything above the floor."""
    hop = routes.hop_gain_db[0, cell]
    u, v, w = RANKS[:, None, None], RANKS[None, :, None], np.arange(ES_SLICES + 1)
    share = np.append(routes.es_share[cell], 0.0)
    loud = np.zeros((GRID, GRID, ES_SLICES + 1), dtype=bool)
    for mode, level in enumerate(routes.e_margin_db[cell]):
        if level + hop[mode] > floor:
            loud |= u > 1.0 - routes.e_support[cell, mode]
    for mode, level in enumerate(routes.f2_margin_db[cell]):
        if level + hop[E + mode] > floor:
            loud |= v > 1.0 - routes.f2_support[cell, mode]
    for mode, levels in enumerate(routes.es_margin_db[cell]):
        loud |= np.isin(w, np.flatnonzero(levels + hop[E + F + mode] > floor))
    loud |= routes.ground_margin_db[cell] + routes.ground_gain_db[0, cell] > floor
    weak = routes.above_margin_db[cell] + hop[routes.above_modes, None]
    loud |= (weak > floor).any(axis=0)[(v * SLICES).astype(int)]
    return loud * share


def test_what_stands_just_at_the_floor_is_not_above_it():
    """A mode and a slice above the MUF, each on the floor to the bit."""
    mode = plain_routes(f2_margin_db=np.array([[-40.0, NO_SIGNAL_DB]]))
    above = plain_routes(
        f2_support=np.zeros((1, 2)), above_margin_db=np.full((1, 1, 4), -40.0)
    )
    for routes in (mode, above):
        assert kinds(routes, -40.0)[0].size == 0
        assert kinds(routes, np.nextafter(-40.0, -50.0))[0].sum() > 0.5


def test_above_the_muf_slices_of_the_layer_are_days():
    """A weak signal alone has one kind of day for each slice, all equally long."""
    level = np.array([[[-10.0, 0.0, 5.0, 12.0]]])
    alone = plain_routes(f2_support=np.zeros((1, 2)), above_margin_db=level)
    share, margin = kinds(alone)
    assert share == pytest.approx([0.25] * 4)
    assert margin == pytest.approx(level[0, 0])


def test_a_slice_is_cut_where_the_mode_joins():
    """
    On six days in ten the mode, and the weak signal in the three weakest quarters.

    The ranks are cut at 1/4, 0.4, 1/2 and 3/4: weak alone 0.25 and 0.15, both 0.1
    and 0.25, the mode alone 0.25.
    """
    share, margin = kinds(
        plain_routes(above_margin_db=np.array([[[-9.0, -3.0, 3.0, NO_SIGNAL_DB]]]))
    )
    both = 10.0 * np.log10(10.0**0.3 + 10.0 ** np.array([-0.3, 0.3]))
    assert margin == pytest.approx([-9.0, -3.0, 3.0, *both])
    assert share == pytest.approx([0.25, 0.15, 0.25, 0.1, 0.25])


def test_above_the_muf_each_mode_goes_by_its_own_gain():
    """Alone by the one it is told; two of other gains by the sum of their powers."""
    gain = np.array([[-8.0, 1.0, 6.0, 9.0]])
    for modes in ([0], [3], [1, 2], [2, 0]):
        level = np.array([2.0, -3.0])[: len(modes)]
        routes = plain_routes(
            f2_support=np.zeros((1, 2)),
            above_margin_db=np.repeat(level[None, :, None], 4, axis=2),
            above_modes=np.array(modes),
            hop_gain_db=gain,
        )
        whole = 10.0 * np.log10((10.0 ** (0.1 * (level + gain[0, modes]))).sum())
        assert kinds(routes)[1] == pytest.approx([whole] * 4)


def test_the_mean_over_days_counts_days_without_a_way_as_nothing():
    """Six days in ten with 1 and four without anything: 0.6."""
    routes = plain_routes()
    days = day_states(routes, np.array([-40.0]))
    values = np.array([[1.0, 5.0]]) * np.ones((days.share.size, 1))
    assert days.mean_over(values, 1) == pytest.approx(np.array([[0.6, 3.0]]))


def test_shares_never_round_to_more_than_all_days():
    """Loud on every day, however the days are cut: 1 and not a bit more."""
    for seed in range(20):
        drawn = random_routes(seed)
        loud = replace(
            drawn,
            e_support=np.random.default_rng(seed).random((CELLS, E)),
            ground_margin_db=np.full(CELLS, 200.0),
        )
        found = chance(loud, random_ends(seed))
        assert np.all(found <= 1.0)
        assert found == pytest.approx(1.0, abs=1e-12)


def test_only_ways_that_can_be_there_are_kept():
    """A loud mode on no day is none."""
    loud = plain_routes(
        e_margin_db=np.full((1, 1), 50.0),
        f2_support=np.array([[0.6, 0.0]]),
        f2_margin_db=np.array([[3.0, 50.0]]),
    )
    kept = day_states(loud, np.array([-40.0]))
    assert kept.route_margin_db == pytest.approx([3.0])


def test_a_way_that_one_bearing_hears_is_kept_for_it():
    """30 dB less towards one bearing: the floor is asked of the best of them."""
    gain = np.array([[-30.0], [0.0], [-20.0]])
    ground = plain_routes(
        ground_margin_db=np.full(1, -35.0),
        f2_support=np.zeros((1, 2)),
        hop_gain_db=np.zeros((3, 1, 4)),
        ground_gain_db=gain,
    )
    hops = replace(
        ground,
        ground_margin_db=np.full(1, NO_SIGNAL_DB),
        f2_support=np.ones((1, 2)),
        f2_margin_db=np.array([[-35.0, NO_SIGNAL_DB]]),
        hop_gain_db=np.repeat(gain[..., None], 4, axis=2),
        ground_gain_db=np.zeros((3, 1)),
    )
    above = replace(
        hops, f2_support=np.zeros((1, 2)), above_margin_db=np.full((1, 1, 1), -35.0)
    )
    for routes in (ground, hops, above):
        days = day_states(routes, np.array([-40.0]))
        assert days.share == pytest.approx([1.0])
        assert margin_on(routes, days)[0] == pytest.approx(gain[:, 0] - 35.0)


def test_the_two_layers_of_the_worked_example():
    """The head of the module: 1F2 on 6 days in ten, 2F2 on 8, and 1E on 3."""
    example = plain_routes(
        e_support=np.array([[0.3]]),
        e_margin_db=np.array([[-3.0]]),
        f2_support=np.array([[0.6, 0.8]]),
        f2_margin_db=np.array([[3.0, 0.0]]),
    )
    share, margin = kinds(example)
    assert share == pytest.approx([0.06, 0.14, 0.06, 0.42, 0.18])
    one_e, two, one = 10.0 ** np.array([-0.3, 0.0, 0.3])
    powers = [one_e, two, two + one_e, two + one, two + one + one_e]
    assert margin == pytest.approx(10.0 * np.log10(powers))


@pytest.mark.slow
def test_what_does_not_fit_the_key_is_refused(monkeypatch):
    """17 cuts of sporadic E over 2880 cells would take days that differ for one."""
    cells = 2880
    shares = {}
    for cuts in (5, 10, 17):
        monkeypatch.setattr(sporadic_e, "_CUTS", tuple(np.linspace(0.01, 0.6, cuts)))
        share, _ = sporadic_e.slices_of_days(np.full((cells, 2), 0.5))
        slices = share.shape[-1]
        many = Routes(
            e_support=np.full((cells, 3), 0.5),
            f2_support=np.full((cells, 7), 0.5),
            e_margin_db=np.zeros((cells, 3)),
            f2_margin_db=np.zeros((cells, 7)),
            es_share=share,
            es_margin_db=np.zeros((cells, 2, slices)),
            ground_margin_db=np.full(cells, NO_SIGNAL_DB),
            above_margin_db=np.full((cells, 1, 8), NO_SIGNAL_DB),
            above_modes=np.array([4]),
            hop_gain_db=np.zeros((1, cells, 12)),
            ground_gain_db=np.zeros((1, cells)),
        )
        if cuts == 17:
            with pytest.raises(ValueError, match="51 routes in 2880 cells"):
                day_states(many, np.full(cells, -40.0))
        else:
            days = day_states(many, np.full(cells, -40.0))
            shares[cuts] = np.bincount(days.cell, days.share, cells)
    # Sporadic E is there on every slice: no day is left without a route.
    assert shares[5] == pytest.approx(1.0)
    assert shares[10] == pytest.approx(1.0)
