"""
Day states: which routes of the signal are there together, and on what share of days.

Within a month the layers move from day to day. A day is three numbers, the ranks of
the E layer, the F2 layer and sporadic E: 0 for its weakest day, 1 for its strongest,
even between them and independent of each other. A mode that the F2 layer returns on a
share s of days is there on the days whose F2 rank is above 1 - s. So as a rank rises,
modes join (or are stopped short) one by one at known ranks, and between two such ranks
nothing changes: the days of a month fall into a finite number of *states*, each with a
known share, and an average over days is an exact sum over states.

Two layers show it. 1F2 is returned on 6 days in ten, 2F2 on 8, and 1E on 3::

    F2 rank   0 .. 0.2   nothing        share 0.2
            0.2 .. 0.4   2F2                  0.2
            0.4 .. 1     2F2 and 1F2          0.6

    E rank    0 .. 0.7   nothing        share 0.7
            0.7 .. 1     1E                   0.3

    state              from                   share
    nothing            0.2 x 0.7              0.14
    1E                 0.2 x 0.3              0.06
    2F2                0.2 x 0.7              0.14
    2F2 and 1E         0.2 x 0.3              0.06
    2F2, 1F2           0.6 x 0.7              0.42
    2F2, 1F2 and 1E    0.6 x 0.3              0.18

Where that arithmetic is below: `_ranks` cuts each rank (`_between`), `_pieces` lists
the products of the cuts, and `day_states` joins products alike. What is there on a
piece is kept as the bits of one integer, one bit a route: a route is there where the
bits by all three ranks have it, so that "and" is an intersection; and pieces are alike
if cell, slice of the F2 rank and bits are, which makes one key of the three to sort by.
`margin_on` then adds up the powers of what is there on each state. Sporadic E and the
weak signal above the MUF change smoothly with their rank; they come cut in slices.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from advisor.reliability.sums import RowSums
from advisor.reliability.today import Today
from geo.arrays import Bools, Floats, Indices, Ints
from geo.records import ArrayRecord

NO_SIGNAL_DB = -400.0
"""Stands for a route that is not there. [dB]"""

_UNHEARD_DB = -150.0
"""Weak signals with less margin are left out of sums, for speed. [dB]"""

_NO_DAYS = 1e-12
"""A share of days that is rounding."""

_MOST_BITS = 53
"""Routes whose bits a double holds, in which they are packed."""

_KEY_BITS = 62
"""Bits of the key that tells states apart: a signed 64-bit number with one to spare."""


class Routes(ArrayRecord):
    """
    The routes a signal can take in C cells, and on which days each is there.

    A cell is one path, hour and band. Margins are those of each route alone, its median
    signal-to-noise ratio minus what is required, before the gain of my wire; leading
    axes of the gains are bearings tried.

    Attributes
    ----------
    e_support : numpy.ndarray
        Shape (C, E): share of days on which each mode of the E layer exists.
    f2_support : numpy.ndarray
        Shape (C, F): share of days on which the F2 layer returns each of its modes.
    e_margin_db, f2_margin_db : numpy.ndarray
        Shapes (C, E) and (C, F). [dB]
    es_share : numpy.ndarray
        Shape (C, W): share of days in each slice of sporadic E; sums to 1.
    es_margin_db : numpy.ndarray
        Shape (C, N, W): each mode of sporadic E in each slice. [dB]
    ground_margin_db : numpy.ndarray
        Shape (C,): ground wave, which is there every day. [dB]
    above_margin_db : numpy.ndarray
        Shape (C, L, V): the weak signals of F2 above the MUF, of L modes in V equal
        slices of the F2 layer's rank, weakest first. [dB]
    above_modes : numpy.ndarray of int
        Shape (L,): place of each of them among the hop modes.
    hop_gain_db : numpy.ndarray
        Shape (..., C, M): my wire towards the hop modes: E, F and N of the above, then
        any that only `above_modes` names. [dBi]
    ground_gain_db : numpy.ndarray
        Shape (..., C): along the ground. [dBi]
    today : Today or None
        Days like today; None if nothing is known but the month.
    """

    e_support: Floats
    f2_support: Floats
    e_margin_db: Floats
    f2_margin_db: Floats
    es_share: Floats
    es_margin_db: Floats
    ground_margin_db: Floats
    above_margin_db: Floats
    above_modes: Indices
    hop_gain_db: Floats
    ground_gain_db: Floats
    today: Today | None = None

    def of(self, cells: slice | Indices) -> Routes:
        """
        Keep some cells.

        Parameters
        ----------
        cells : slice or numpy.ndarray of int
            Which; places may come more than once.

        Returns
        -------
        routes : Routes
            The same with those cells.
        """
        whole = {field.name: getattr(self, field.name) for field in fields(self)}
        gains = {
            "hop_gain_db": whole.pop("hop_gain_db")[..., cells, :],
            "ground_gain_db": whole.pop("ground_gain_db")[..., cells],
        }
        modes, today = whole.pop("above_modes"), whole.pop("today")
        if today is not None:
            today = replace(today, row=today.row[cells])
        cut = {name: each[cells] for name, each in whole.items()}
        return Routes(**cut, **gains, above_modes=modes, today=today)

    @property
    def e_modes(self) -> int:
        """E, how many modes the E layer has."""
        return int(self.e_support.shape[1])

    @property
    def ranked(self) -> int:
        """E + F, how many modes are there by the rank of a layer."""
        return self.e_modes + int(self.f2_support.shape[1])

    @property
    def slices(self) -> int:
        """V, into how many slices the F2 layer's rank is cut."""
        return int(self.above_margin_db.shape[2])


class DayStates(ArrayRecord):
    """
    The S states that count, ordered by cell, and the R routes in them.

    Attributes
    ----------
    cell : numpy.ndarray of int
        Shape (S,).
    share : numpy.ndarray
        Shape (S,): share of the cell's days; what is missing to 1 are days without
        any route.
    hops, always : tuple of RowSums and numpy.ndarray of int
        Sets of routes that are there together, 1 where a route is in a set; and which
        set each state has, (S,). Hop modes by the ranked layers, and the routes that
        come on top of them: a few of each make many states.
    f2_slice : numpy.ndarray of int
        Shape (S,): slice of the F2 rank, -1 where no signal above the MUF counts.
    route_cell, route_gain : numpy.ndarray of int
        Shape (R,): cell of each route, and the gain it goes by: a place among the hop
        modes, or the one past the last for the ground wave.
    route_margin_db : numpy.ndarray
        Shape (R,). [dB]
    """

    cell: Indices
    share: Floats
    hops: tuple[RowSums, Indices]
    always: tuple[RowSums, Indices]
    f2_slice: Indices
    route_cell: Indices
    route_gain: Indices
    route_margin_db: Floats

    def mean_over(self, values: Floats, cells: int) -> Floats:
        """
        Average over the days of every cell, days without any route counting 0.

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
        states = np.arange(self.cell.size)
        return RowSums(self.share, states, self.cell, cells) @ values


class _Ranks(ArrayRecord):
    """
    Pieces that the ranks of E layer (U), F2 layer (V) and sporadic E (W) are cut into.

    Share of days, shapes (B, U), (B, V) and (B, W) for B busy cells; middles of the
    pieces of F2; and the routes that each piece lets be there, as bits, those of
    sporadic E alike in all cells, (W,).
    """

    share_u: Floats
    share_v: Floats
    share_w: Floats
    rank_v: Floats
    by_u: Ints
    by_v: Ints
    by_w: Ints


def day_states(routes: Routes, floor_db: Floats) -> DayStates:
    """
    Cut the days into pieces in which nothing changes, and join pieces alike.

    Parameters
    ----------
    routes : Routes
        C cells.
    floor_db : numpy.ndarray
        Shape (C,): routes that are weaker on every bearing are left out, and so are the
        states in which nothing is above it. [dB]

    Returns
    -------
    days : DayStates
        What is left.

    Raises
    ------
    ValueError
        If cells, slices and routes are too many for one 64-bit key: then states that
        differ would be taken for one.
    """
    margin, gain = _all_routes(routes)
    slices, (cells, count) = routes.slices + 1, margin.shape
    if count > _MOST_BITS or cells * slices >= 2 ** (_KEY_BITS - count):
        raise ValueError(
            f"{count} routes in {cells} cells with {slices} slices of the F2 rank do "
            f"not fit a key of {_KEY_BITS} bits: ask for fewer cells at a time, or cut "
            "sporadic E into fewer slices"
        )
    counts, above = _strong(routes, margin, gain, floor_db)
    busy = np.asarray(np.concatenate([counts, above], axis=1).any(axis=1))
    ranks = _ranks(routes, busy, counts, np.asarray(above.any(axis=1)))
    cell, u, v, w = _pieces(ranks.share_u, ranks.share_v, ranks.share_w)

    # A route is there on the days on which all three ranks let it.
    there = ranks.by_u[cell, u] & ranks.by_v[cell, v] & ranks.by_w[w]
    there &= _packed(counts[busy])[cell]
    rank = np.minimum(ranks.rank_v[cell, v], 1.0 - 1e-9)
    slice_ = (rank * routes.slices).astype(int)
    weak = above[busy][cell, slice_]
    kept = (there > 0) | weak
    share = ranks.share_u[cell, u] * ranks.share_v[cell, v] * ranks.share_w[cell, w]
    if routes.today is not None:
        cut = ranks.share_u, ranks.share_v, routes.es_share[busy]
        counted = ranks.share_w[:, :-1] > 0.0
        share = routes.today.shares(busy, cut, counted, (cell, u, v, w), share)
    slice_ = np.where(weak, slice_, -1)[kept]
    cell, there = np.flatnonzero(busy)[cell[kept]], there[kept]

    # Pieces of a cell in which the same routes are there are one state.
    key = ((cell * slices + slice_ + 1) << count) | there
    _, first, alike = np.unique(key, return_index=True, return_inverse=True)
    cell, slice_, there = cell[first], slice_[first], there[first]
    joined = np.asarray(np.bincount(alike, share[kept], first.size), dtype=float)

    route_cell, route = np.nonzero(counts)
    number = (np.cumsum(counts.ravel()) - 1).reshape(counts.shape)

    def members(places: Indices) -> tuple[RowSums, Indices]:
        sets = (cell << count) | (there & (1 << places).sum())
        _, some, which = np.unique(sets, return_index=True, return_inverse=True)
        each, place = np.nonzero((there[some, None] >> places) & 1)
        inside = number[cell[some[each]], places[place]]
        return RowSums(np.ones(inside.size), inside, each, some.size), which

    return DayStates(
        cell=cell,
        share=joined,
        hops=members(np.arange(routes.ranked)),
        always=members(np.arange(routes.ranked, count)),
        f2_slice=slice_,
        route_cell=route_cell,
        route_gain=gain[route],
        route_margin_db=margin[route_cell, route],
    )


def margin_on(routes: Routes, days: DayStates) -> Floats:
    """
    Margin of all that is there in each state.

    Parameters
    ----------
    routes : Routes
        C cells, G bearings.
    days : DayStates
        States of these routes.

    Returns
    -------
    margin_db : numpy.ndarray
        Shape (S, G). [dB]
    """
    cells, modes = routes.hop_gain_db.shape[-2:]
    by_hops = days.route_gain < modes
    place = days.route_cell * modes + np.where(by_hops, days.route_gain, 0)
    gain = routes.hop_gain_db.reshape(-1, cells * modes)[:, place]
    ground = routes.ground_gain_db.reshape(-1, cells)
    gain[:, ~by_hops] = ground[:, days.route_cell[~by_hops]]
    power = np.ascontiguousarray(gain.T)
    power += days.route_margin_db[:, None]
    power *= np.log(10.0) / 10.0
    np.exp(power, out=power)
    sums, which = days.hops
    total = (sums @ power)[which]
    far = np.flatnonzero(days.f2_slice >= 0)
    level = routes.above_margin_db[days.cell[far], :, days.f2_slice[far]]
    state, mode = np.nonzero(level > _UNHEARD_DB)
    if state.size:
        towards = days.cell[far[state]] * modes + routes.above_modes[mode]
        weak = level[state, mode][:, None]
        weak = weak + routes.hop_gain_db.reshape(-1, cells * modes)[:, towards].T
        first = np.flatnonzero(np.diff(state, prepend=-1))
        each = np.exp(np.log(10.0) / 10.0 * weak)
        total[far[state[first]]] += np.add.reduceat(each, first, axis=0)
    sums, which = days.always
    total += (sums @ power)[which]
    with np.errstate(divide="ignore"):
        np.log(total, out=total)
    total *= 10.0 / np.log(10.0)
    return total


def _all_routes(routes: Routes) -> tuple[Floats, Indices]:
    """Margins of all routes side by side, (C, K), and the gain that each goes by."""
    cells, modes, slices = routes.es_margin_db.shape
    margin = np.concatenate(
        [
            np.where(routes.e_support > 0.0, routes.e_margin_db, NO_SIGNAL_DB),
            np.where(routes.f2_support > 0.0, routes.f2_margin_db, NO_SIGNAL_DB),
            routes.es_margin_db.reshape(cells, -1),
            routes.ground_margin_db[:, None],
        ],
        axis=1,
    )
    sporadic = np.repeat(routes.ranked + np.arange(modes), slices)
    along_ground = routes.hop_gain_db.shape[-1]
    gain = np.concatenate([np.arange(routes.ranked), sporadic, [along_ground]])
    return margin, gain


def _strong(
    routes: Routes, margin_db: Floats, gain: Indices, floor_db: Floats
) -> tuple[Bools, Bools]:
    """Routes (C, K) and slices above the MUF (C, V) above the floor on some bearing."""
    lead = tuple(range(routes.ground_gain_db.ndim - 1))
    ground = routes.ground_gain_db.max(axis=lead)[:, None]
    towards = routes.hop_gain_db.max(axis=lead)
    peak = np.concatenate([towards, ground], axis=1)
    strong = np.asarray(margin_db + peak[:, gain] > floor_db[:, None])
    weak = routes.above_margin_db + towards[:, routes.above_modes, None]
    most = weak.max(axis=1)
    together = 10.0 * np.log10((10.0 ** (0.1 * (weak - most[:, None]))).sum(axis=1))
    return strong, np.asarray(most + together > floor_db[:, None])


def _ranks(routes: Routes, busy: Bools, counts: Bools, above: Bools) -> _Ranks:
    """Cut the ranks of the three layers wherever something changes."""
    modes, slices = routes.es_margin_db.shape[1:]
    bits = _bits(counts)
    e_bits, f2_bits, es_bits = np.split(bits[:-1], [routes.e_modes, routes.ranked])
    joins_e, joins_f2 = (
        1.0 - each[busy] for each in (routes.e_support, routes.f2_support)
    )
    inner = np.arange(1, routes.slices)
    edges = above[busy, None] * inner / routes.slices
    share_u, _, by_u = _between(joins_e, e_bits)
    share_v, rank_v, by_v = _between(
        np.concatenate([joins_f2, edges], axis=1), np.append(f2_bits, 0 * inner)
    )
    # Slices of sporadic E in which nothing counts are one, the last.
    es = counts[busy, routes.ranked : -1].reshape(-1, modes, slices).any(axis=1)
    share_w = np.where(es, routes.es_share[busy], 0.0)
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


def _bits(flags: Bools) -> Ints:
    """One bit for each of the last axis, at most `_MOST_BITS`."""
    return np.left_shift(1, np.arange(flags.shape[-1], dtype=np.int64))


def _packed(flags: Bools) -> Ints:
    """Join flags (..., K) to the bits of one number."""
    return np.asarray(flags @ _bits(flags).astype(float), dtype=np.int64)


def _between(ranks: Floats, changes: Ints) -> tuple[Floats, Floats, Ints]:
    """
    Cut 0 to 1 at some ranks (B, N), at each of which a number changes.

    Lengths and middles of the pieces and the number in each, all (B, N + 1).
    """
    order = np.argsort(ranks, axis=1)
    inner = np.take_along_axis(ranks, order, axis=1)
    edges = np.pad(inner, ((0, 0), (1, 1)), constant_values=(0.0, 1.0))
    number = np.pad(np.cumsum(changes[order], axis=1), ((0, 0), (1, 0)))
    return np.diff(edges, axis=1), 0.5 * (edges[:, 1:] + edges[:, :-1]), number


def _pieces(*shares: Floats) -> tuple[Indices, ...]:
    """Cell and place on each axis of all pieces with days; shares are (B, ...)."""
    cells = len(shares[0])
    found: tuple[Indices, ...] = (np.arange(cells),)
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
