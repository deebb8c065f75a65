"""
The kinds of day there are in a month: which ways of the signal are there together.

A day is three numbers: how far the F2 layer, the E layer and sporadic E stand above
their medians, each as a rank between 0 and 1. As a rank rises, modes join (or are
screened) one by one at known ranks; between two such ranks nothing changes. So every
cell has a finite number of kinds of day with a known share each, and only those that
differ in something that counts are kept apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from scipy.sparse import csr_array

NO_SIGNAL_DB = -400.0
"""Stands for a way that is not there. [dB]"""

_NO_DAYS = 1e-12
"""A share of days that is rounding."""


@dataclass(frozen=True)
class Ways:
    """
    The ways a signal can take in C cells, and on which days each is there.

    A cell is one path, hour and band. Margins are those of each way alone, its median
    signal-to-noise ratio minus what is required, before the gain of my wire; leading
    axes of the gains are bearings tried.

    Attributes
    ----------
    e_support : numpy.ndarray
        Shape (C, E): share of days on which each mode of the E layer exists.
    f2_support, f2_screened : numpy.ndarray
        Shape (C, F): share of days on which the F2 layer returns each of its modes
        (and F1), and on which the E layer stops it short.
    e_margin_db, f2_margin_db : numpy.ndarray
        Shapes (C, E) and (C, F). [dB]
    es_share : numpy.ndarray
        Shape (C, W): share of days in each slice of sporadic E; sums to 1.
    es_margin_db : numpy.ndarray
        Shape (C, N, W): each mode of sporadic E in each slice. [dB]
    ground_margin_db : numpy.ndarray
        Shape (C,): ground wave, which is there every day. [dB]
    window_margin_db : numpy.ndarray
        Shape (C, V): the long-path window, in V equal slices of the F2 layer's rank,
        weakest first. [dB]
    window_weight : numpy.ndarray
        Shape (C,): 0 where hop modes alone count, 1 where the window alone does.
    hop_gain_db : numpy.ndarray
        Shape (..., C, E + F + N): my wire towards the hop modes. [dBi]
    ground_gain_db, window_gain_db : numpy.ndarray
        Shape (..., C): along the ground and towards the window. [dBi]
    """

    e_support: NDArray[np.float64]
    f2_support: NDArray[np.float64]
    f2_screened: NDArray[np.float64]
    e_margin_db: NDArray[np.float64]
    f2_margin_db: NDArray[np.float64]
    es_share: NDArray[np.float64]
    es_margin_db: NDArray[np.float64]
    ground_margin_db: NDArray[np.float64]
    window_margin_db: NDArray[np.float64]
    window_weight: NDArray[np.float64]
    hop_gain_db: NDArray[np.float64]
    ground_gain_db: NDArray[np.float64]
    window_gain_db: NDArray[np.float64]

    @property
    def e_modes(self) -> int:
        """E, how many modes the E layer has."""
        return int(self.e_support.shape[1])

    @property
    def ranked(self) -> int:
        """E + F, how many modes are there by the rank of a layer."""
        return self.e_modes + int(self.f2_support.shape[1])

    @property
    def window_slices(self) -> int:
        """V, into how many slices the long-path window is cut."""
        return int(self.window_margin_db.shape[1])


@dataclass(frozen=True)
class Days:
    """
    The S kinds of day that count, ordered by cell, and the R ways in them.

    Attributes
    ----------
    cell : numpy.ndarray of int
        Shape (S,).
    share : numpy.ndarray
        Shape (S,): share of the cell's days; what is missing to 1 are days without
        any way.
    hops, always : scipy.sparse.csr_array
        Shape (S, R): 1 where a way is there on a kind of day; hop modes by the ranked
        layers, and the ways that come on top of them.
    window : numpy.ndarray of int
        Shape (S,): slice of the long-path window, -1 where there is none.
    way_cell, way_gain : numpy.ndarray of int
        Shape (R,): cell of each way, and the gain it goes by: a place among the hop
        modes, or the one past the last for the ground wave.
    way_margin_db : numpy.ndarray
        Shape (R,). [dB]
    """

    cell: NDArray[np.intp]
    share: NDArray[np.float64]
    hops: csr_array
    always: csr_array
    window: NDArray[np.intp]
    way_cell: NDArray[np.intp]
    way_gain: NDArray[np.intp]
    way_margin_db: NDArray[np.float64]

    def mean_over(self, values: NDArray[np.float64], cells: int) -> NDArray[np.float64]:
        """
        Average over the days of every cell, days without any way counting 0.

        Parameters
        ----------
        values : numpy.ndarray
            Shape (S, G).
        cells : int
            C.

        Returns
        -------
        mean : numpy.ndarray
            Shape (C, G).
        """
        kinds = np.arange(self.cell.size)
        mean = _sums(self.share, kinds, self.cell, (cells, kinds.size))
        return np.asarray(mean @ values)


@dataclass(frozen=True)
class _Ranks:
    """
    Pieces that the ranks of E layer (U), F2 layer (V) and sporadic E (W) are cut into.

    Share of days, shapes (B, U), (B, V) and (B, W) for B busy cells; middles of the
    pieces of F2; and the ways that each piece lets be there, as bits, those of
    sporadic E alike in all cells, (W,).
    """

    share_u: NDArray[np.float64]
    share_v: NDArray[np.float64]
    share_w: NDArray[np.float64]
    rank_v: NDArray[np.float64]
    by_u: NDArray[np.int64]
    by_v: NDArray[np.int64]
    by_w: NDArray[np.int64]


def kinds_of_day(ways: Ways, floor_db: NDArray[np.float64]) -> Days:
    """
    Cut the days into pieces in which nothing changes, and join pieces alike.

    Parameters
    ----------
    ways : Ways
        C cells.
    floor_db : numpy.ndarray
        Shape (C,): ways that are weaker on every bearing are left out, and so are the
        kinds of day on which neither a way nor the long-path window is above it. [dB]

    Returns
    -------
    days : Days
        What is left.
    """
    margin, gain = _all_ways(ways)
    strong, counts = _strong_and_counted(ways, margin, gain, floor_db)
    window_strong = _strong_window(ways, floor_db)
    busy = np.concatenate([strong, window_strong], axis=1).max(axis=1)
    counts &= busy[:, None]
    ranks = _ranks(ways, busy, counts)
    cell, u, v, w = _pieces(ranks.share_u, ranks.share_v, ranks.share_w)

    # A way is there on the days on which all three ranks let it.
    there = ranks.by_u[cell, u] & ranks.by_v[cell, v] & ranks.by_w[w]
    there &= _packed(counts[busy])[cell]
    window = (ranks.rank_v[cell, v] * ways.window_slices).astype(int)
    # A blend is never above both, so what is faint in both is faint.
    kept = (there & _packed(strong[busy])[cell]) > 0
    kept |= window_strong[busy][cell, window]
    share = ranks.share_u[cell, u] * ranks.share_v[cell, v] * ranks.share_w[cell, w]
    cell, window, there = np.flatnonzero(busy)[cell[kept]], window[kept], there[kept]
    window = np.where(ways.window_weight[cell] > 0.0, window, -1)

    # Pieces of a cell in which the same ways are there are one kind of day.
    key = ((cell * (ways.window_slices + 1) + window + 1) << margin.shape[1]) | there
    _, first, alike = np.unique(key, return_index=True, return_inverse=True)
    cell, window, there = cell[first], window[first], there[first]
    joined = np.asarray(np.bincount(alike, share[kept], first.size), dtype=float)

    way_cell, way = np.nonzero(counts)
    number = (np.cumsum(counts.ravel()) - 1).reshape(counts.shape)

    def members(places: NDArray[np.intp]) -> csr_array:
        kind, place = np.nonzero((there[:, None] >> places) & 1)
        inside = number[cell[kind], places[place]]
        return _sums(np.ones(inside.size), inside, kind, (first.size, way.size))

    return Days(
        cell=cell,
        share=joined,
        hops=members(np.arange(ways.ranked)),
        always=members(np.arange(ways.ranked, margin.shape[1])),
        window=window,
        way_cell=way_cell,
        way_gain=gain[way],
        way_margin_db=margin[way_cell, way],
    )


def margin_on(ways: Ways, days: Days) -> NDArray[np.float64]:
    """
    Margin of all that is there on each kind of day.

    Parameters
    ----------
    ways : Ways
        C cells, G bearings.
    days : Days
        Kinds of day of these ways.

    Returns
    -------
    margin_db : numpy.ndarray
        Shape (S, G). [dB]
    """
    cells, modes = ways.hop_gain_db.shape[-2:]
    by_hops = days.way_gain < modes
    place = days.way_cell * modes + np.where(by_hops, days.way_gain, 0)
    gain = ways.hop_gain_db.reshape(-1, cells * modes)[:, place]
    ground = ways.ground_gain_db.reshape(-1, cells)
    gain[:, ~by_hops] = ground[:, days.way_cell[~by_hops]]
    power = np.ascontiguousarray(gain.T)
    power += days.way_margin_db[:, None]
    power *= np.log(10.0) / 10.0
    np.exp(power, out=power)
    total = np.asarray(days.hops @ power)
    far = np.flatnonzero(days.window >= 0)
    if far.size:
        cell = days.cell[far]
        window = ways.window_margin_db[cell, days.window[far], None]
        window = window + ways.window_gain_db.reshape(-1, cells)[:, cell].T
        total[far] = _blend(total[far], window, ways.window_weight[cell, None])
    total += days.always @ power
    with np.errstate(divide="ignore"):
        np.log(total, out=total)
    total *= 10.0 / np.log(10.0)
    return total


def _all_ways(ways: Ways) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Margins of all ways side by side, (C, K), and the gain that each goes by."""
    cells, modes, slices = ways.es_margin_db.shape
    margin = np.concatenate(
        [
            np.where(ways.e_support > 0.0, ways.e_margin_db, NO_SIGNAL_DB),
            np.where(ways.f2_support > 0.0, ways.f2_margin_db, NO_SIGNAL_DB),
            ways.es_margin_db.reshape(cells, -1),
            ways.ground_margin_db[:, None],
        ],
        axis=1,
    )
    sporadic = np.repeat(ways.ranked + np.arange(modes), slices)
    along_ground = ways.ranked + modes
    gain = np.concatenate([np.arange(ways.ranked), sporadic, [along_ground]])
    return margin, gain


def _strong_and_counted(
    ways: Ways,
    margin_db: NDArray[np.float64],
    gain: NDArray[np.intp],
    floor_db: NDArray[np.float64],
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Ways (C, K) above the floor on some bearing, and those that are worked with."""
    lead = tuple(range(ways.ground_gain_db.ndim - 1))
    ground = ways.ground_gain_db.max(axis=lead)[:, None]
    peak = np.concatenate([ways.hop_gain_db.max(axis=lead), ground], axis=1)
    strong = margin_db + peak[:, gain] > floor_db[:, None]
    ranked = ways.ranked
    # Beside the window a weak mode counts too: the two are not added but blended.
    # Where the window alone counts, no mode does.
    windowed, alone = ways.window_weight > 0.0, ways.window_weight >= 1.0
    strong[:, :ranked] &= ~alone[:, None]
    counts = strong.copy()
    beside = (windowed & ~alone)[:, None]
    counts[:, :ranked] |= beside & (margin_db[:, :ranked] > NO_SIGNAL_DB)
    return strong, counts


def _strong_window(ways: Ways, floor_db: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Slices of the long-path window (C, V) above the floor on some bearing."""
    peak = ways.window_gain_db.max(axis=tuple(range(ways.window_gain_db.ndim - 1)))
    strong = ways.window_margin_db + peak[:, None] > floor_db[:, None]
    return np.asarray(strong & (ways.window_weight > 0.0)[:, None])


def _ranks(ways: Ways, busy: NDArray[np.bool_], counts: NDArray[np.bool_]) -> _Ranks:
    """Cut the ranks of the three layers wherever something changes."""
    modes, slices = ways.es_margin_db.shape[1:]
    bits = _bits(counts)
    e_bits, f2_bits, es_bits = np.split(bits[:-1], [ways.e_modes, ways.ranked])
    # Where the window alone counts, its slices are all that changes.
    weight = ways.window_weight[busy, None]
    joins_e, joins_f2, stops_f2 = (
        1.0 - (weight < 1.0) * each[busy]
        for each in (ways.e_support, ways.f2_support, ways.f2_screened)
    )
    inner = np.arange(1, ways.window_slices)
    edges = (weight > 0.0) * inner / ways.window_slices
    share_u, _, by_u = _between(
        np.concatenate([joins_e, stops_f2], axis=1), np.append(e_bits, -f2_bits)
    )
    share_v, rank_v, by_v = _between(
        np.concatenate([joins_f2, edges], axis=1),
        np.append(f2_bits, 0 * inner),
    )
    # Slices of sporadic E in which nothing counts are one, the last.
    es = counts[busy, ways.ranked : -1].reshape(-1, modes, slices).any(axis=1)
    share_w = np.where(es, ways.es_share[busy], 0.0)
    share_w = np.concatenate([share_w, 1.0 - share_w.sum(axis=1)[:, None]], axis=1)
    by_w = np.append(es_bits.reshape(modes, slices).sum(axis=0), 0)
    every = bits.sum()
    return _Ranks(
        share_u,
        share_v,
        share_w,
        rank_v,
        by_u=by_u + every - e_bits.sum(),
        by_v=by_v + every - f2_bits.sum(),
        by_w=by_w + every - es_bits.sum(),
    )


def _bits(flags: NDArray[np.bool_]) -> NDArray[np.int64]:
    """One bit for each of the last axis; fewer than 53, which a double holds."""
    return np.left_shift(1, np.arange(flags.shape[-1], dtype=np.int64))


def _packed(flags: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Join flags (..., K) to the bits of one number."""
    return np.asarray(flags @ _bits(flags).astype(float), dtype=np.int64)


def _between(
    ranks: NDArray[np.float64], changes: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """
    Cut 0 to 1 at some ranks (B, N), at each of which a number changes.

    Lengths and middles of the pieces and the number in each, all (B, N + 1).
    """
    order = np.argsort(ranks, axis=1)
    inner = np.take_along_axis(ranks, order, axis=1)
    edges = np.pad(inner, ((0, 0), (1, 1)), constant_values=(0.0, 1.0))
    number = np.pad(np.cumsum(changes[order], axis=1), ((0, 0), (1, 0)))
    return np.diff(edges, axis=1), 0.5 * (edges[:, 1:] + edges[:, :-1]), number


def _pieces(*shares: NDArray[np.float64]) -> tuple[NDArray[np.intp], ...]:
    """Cell and place on each axis of all pieces with days; shares are (B, ...)."""
    cells = len(shares[0])
    found: tuple[NDArray[np.intp], ...] = (np.arange(cells),)
    for share in shares:
        cell, place = np.nonzero(share > _NO_DAYS)
        # Every piece so far with every place of the same cell; both lists ascend.
        start = np.searchsorted(cell, np.arange(cells + 1))
        partners = np.diff(start)[found[0]]
        before = np.repeat(np.arange(partners.size), partners)
        behind = np.cumsum(partners) - partners
        partner = start[found[0]][before] + np.arange(before.size) - behind[before]
        found = (*(each[before] for each in found), place[partner])
    return found


def _sums(
    weight: NDArray[np.float64],
    column: NDArray[np.intp],
    row: NDArray[np.intp],
    shape: tuple[int, int],
) -> csr_array:
    """Sparse matrix of weighted sums; ``row`` ascends."""
    from scipy.sparse import csr_array

    starts = np.searchsorted(row, np.arange(shape[0] + 1))
    return csr_array((weight, column, starts), shape=shape)


def _blend(
    hop_power: NDArray[np.float64],
    window_db: NDArray[np.float64],
    weight: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Join hop modes and window as ITU-R P.533-14 section 5.4 joins fields."""
    short, long = hop_power**0.1, 10.0 ** (window_db / 100.0)
    return np.asarray((short + weight * (long - short)) ** 10)
