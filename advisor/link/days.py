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


@dataclass(frozen=True)
class Days:
    """
    The S kinds of day that count, ordered by cell, and the R ways that do.

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
    """Ranks at which modes join or are stopped, and the pieces they cut (C, ...)."""

    joins_e: NDArray[np.float64]
    stops_f2: NDArray[np.float64]
    joins_f2: NDArray[np.float64]
    share_u: NDArray[np.float64]
    rank_u: NDArray[np.float64]
    share_v: NDArray[np.float64]
    rank_v: NDArray[np.float64]


def kinds_of_day(ways: Ways, floor_db: NDArray[np.float64]) -> Days:
    """
    Cut the days into pieces in which nothing changes, and join pieces alike.

    Parameters
    ----------
    ways : Ways
        C cells.
    floor_db : numpy.ndarray
        Shape (C,): ways that are weaker on every bearing are left out, and so are the
        kinds of day without any way. [dB]

    Returns
    -------
    days : Days
        What is left.
    """
    cells, modes, slices = ways.es_margin_db.shape
    e_modes = ways.e_support.shape[1]
    ranked = e_modes + ways.f2_support.shape[1]
    margin, gain = _all_ways(ways)
    counts = _counts(ways, margin, gain, floor_db)
    ranks = _ranks(ways)
    es_counts = counts[:, ranked:-1].reshape(cells, modes, slices).any(axis=1)
    share_w = np.where(es_counts, ways.es_share, 0.0)
    share_w = np.concatenate([share_w, 1.0 - share_w.sum(axis=1)[:, None]], axis=1)

    windowed = ways.window_weight > 0.0
    cell, u, v, w = _pieces(
        counts.any(axis=1) | windowed, ranks.share_u, ranks.share_v, share_w
    )
    share = ranks.share_u[cell, u] * ranks.share_v[cell, v] * share_w[cell, w]
    today_u, today_v = ranks.rank_u[cell, u, None], ranks.rank_v[cell, v, None]
    there = counts[cell]
    there[:, :e_modes] &= today_u > ranks.joins_e[cell]
    there[:, e_modes:ranked] &= today_v > ranks.joins_f2[cell]
    there[:, e_modes:ranked] &= today_u <= ranks.stops_f2[cell]
    there[:, ranked:-1] &= np.tile(np.arange(slices), modes) == w[:, None]
    window_slices = ways.window_margin_db.shape[1]
    place = (today_v[:, 0] * window_slices).astype(int)
    window = np.where(windowed[cell], place, -1)

    # Pieces of a cell in which the same ways are there are one kind of day.
    bits = there.astype(float) @ 2.0 ** np.arange(there.shape[1])
    key = (cell * (window_slices + 1) + window + 1) * 2 ** there.shape[1]
    _, first, alike = np.unique(
        key + bits.astype(int), return_index=True, return_inverse=True
    )
    joined = np.bincount(alike, share, first.size)
    kept = (bits[first] > 0.0) | (window[first] >= 0)
    first, joined = first[kept], joined[kept]

    way_cell, way = np.nonzero(counts)
    number = (np.cumsum(counts.ravel()) - 1).reshape(counts.shape)[cell[first]]
    there = there[first]

    def members(part: slice) -> csr_array:
        kind, _ = np.nonzero(there[:, part])
        inside = number[:, part][there[:, part]]
        return _sums(np.ones(inside.size), inside, kind, (first.size, way.size))

    return Days(
        cell=cell[first],
        share=joined,
        hops=members(slice(ranked)),
        always=members(slice(ranked, None)),
        window=window[first],
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
    np.maximum(power, NO_SIGNAL_DB, out=power)
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
    ranked = ways.e_support.shape[1] + ways.f2_support.shape[1]
    margin = np.concatenate(
        [
            np.where(ways.e_support > 0.0, ways.e_margin_db, NO_SIGNAL_DB),
            np.where(ways.f2_support > 0.0, ways.f2_margin_db, NO_SIGNAL_DB),
            ways.es_margin_db.reshape(cells, -1),
            ways.ground_margin_db[:, None],
        ],
        axis=1,
    )
    sporadic = np.repeat(ranked + np.arange(modes), slices)
    along_ground = ranked + modes
    gain = np.concatenate([np.arange(ranked), sporadic, [along_ground]])
    return margin, gain


def _counts(
    ways: Ways,
    margin_db: NDArray[np.float64],
    gain: NDArray[np.intp],
    floor_db: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Ways (C, K) that are strong enough to count on some bearing."""
    lead = tuple(range(ways.ground_gain_db.ndim - 1))
    ground = ways.ground_gain_db.max(axis=lead)[:, None]
    peak = np.concatenate([ways.hop_gain_db.max(axis=lead), ground], axis=1)
    counts = margin_db + peak[:, gain] > floor_db[:, None]
    ranked = ways.e_support.shape[1] + ways.f2_support.shape[1]
    # Beside the window a weak mode counts too: the two are not added but blended.
    # Where the window alone counts, no mode does.
    windowed, alone = ways.window_weight > 0.0, ways.window_weight >= 1.0
    counts[:, :ranked] |= windowed[:, None] & (margin_db[:, :ranked] > NO_SIGNAL_DB)
    counts[:, :ranked] &= ~alone[:, None]
    return np.asarray(counts)


def _ranks(ways: Ways) -> _Ranks:
    """Cut the ranks of both layers wherever something changes."""
    # Where the window alone counts, its slices are all that changes.
    hopped = ways.window_weight[:, None] < 1.0
    windowed = ways.window_weight[:, None] > 0.0
    slices = ways.window_margin_db.shape[1]
    joins_e, joins_f2 = 1.0 - hopped * ways.e_support, 1.0 - hopped * ways.f2_support
    stops_f2 = 1.0 - hopped * ways.f2_screened
    return _Ranks(
        joins_e,
        stops_f2,
        joins_f2,
        *_between(joins_e, stops_f2),
        *_between(joins_f2, windowed * np.arange(1, slices) / slices),
    )


def _between(
    *changes: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lengths and middles of the pieces that some ranks (C, N) cut 0 to 1 into."""
    cells = changes[0].shape[0]
    ends = np.zeros((cells, 1)), np.ones((cells, 1))
    edges = np.sort(np.concatenate([*ends, *changes], axis=1), axis=1)
    return np.diff(edges, axis=1), 0.5 * (edges[:, 1:] + edges[:, :-1])


def _pieces(
    busy: NDArray[np.bool_], *shares: NDArray[np.float64]
) -> tuple[NDArray[np.intp], ...]:
    """Cell and place on each axis of all pieces with days, of the busy cells."""
    found: tuple[NDArray[np.intp], ...] = (np.flatnonzero(busy),)
    for share in shares:
        cell, place = np.nonzero((share > _NO_DAYS) & busy[:, None])
        # Every piece so far with every place of the same cell; both lists ascend.
        start = np.searchsorted(cell, np.arange(busy.size + 1))
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
