"""
Chance that a contact is workable on a given day of the month, at a given hour.

Day by day the layers move. All F2 modes of a path move together, because one layer
carries them; so do those of E and F1; sporadic E is a third, independent thing. A day
is therefore three numbers: how far the F2 layer, the E layer and sporadic E stand above
their medians, each as a rank between 0 and 1. As the rank of the E or F2 layer rises,
modes join one by one at known ranks. Between two such ranks nothing changes, so the
average over days is an exact, finite sum: no sampling, no steps. Sporadic E and what
comes above the MUF change smoothly with their rank and are summed over a few slices.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from advisor.reliability.at_least_one import read_at_least_one
from advisor.reliability.day_states import (
    NO_SIGNAL_DB,
    Routes,
    day_states,
    margin_on,
)
from geo.arrays import Bools, Floats, Indices
from geo.records import ArrayRecord

WITHIN_HOUR_UPPER_DB, WITHIN_HOUR_LOWER_DB = 5.0, 8.0
"""Deciles of the signal within the hour, ITU-R P.533-14 section 8 (from memory)."""

_DAY_LOW_LATITUDE_DB = (6.0, 8.0)
_DAY_HIGH_LATITUDE_DB = (9.0, 11.0)
_HIGH_LATITUDE_DEG = 60.0
_LATITUDE_BLEND_DEG = 5.0

FAINT_DB = -40.0
"""A route this far below what is needed adds nothing that counts: under 0.001 in the
chance, against the sum over all routes. The project's choice. [dB]"""

_ENDLESS_DB = 1e6
"""A margin beyond this is the same as an infinite one. [dB]"""

_NOTHING_DB = -300.0
"""Below this there is no signal at all. [dB]"""

_BLOCK = 16384
"""So many margins are worked on at a time."""

_RARE = 1e-3
"""Share of days that is too small to speak of a middle one."""


def signal_deciles_db(geomagnetic_lat_deg: ArrayLike) -> tuple[Floats, Floats]:
    """
    Spread of the signal, day to day and within the hour together.

    Parameters
    ----------
    geomagnetic_lat_deg : array_like
        Geomagnetic latitude of the middle of the path. [deg]

    Returns
    -------
    upper_db, lower_db : numpy.ndarray
        Distance from the median to the upper and the lower decile. [dB]

    Notes
    -----
    The day-to-day part is that of frequencies well below the MUF (at most 0.8 of
    it). The wider figures near the MUF describe days on which the layer fails;
    those are counted by the support of the modes, and counting them here again
    would be twice. The standard steps at 60 degrees; here the two figures are
    blended over 5 degrees about it.

    References
    ----------
    ITU-R P.842, day-to-day deciles (from memory); ITU-R P.533-14, section 8.

    Examples
    --------
    >>> upper, lower = signal_deciles_db(40.0)
    >>> float(upper.round(1)), float(lower.round(1))
    (7.8, 11.3)
    """
    beyond = np.abs(np.asarray(geomagnetic_lat_deg, dtype=float)) - _HIGH_LATITUDE_DEG
    polar = np.clip(beyond / _LATITUDE_BLEND_DEG + 0.5, 0.0, 1.0)
    low, high = np.array(_DAY_LOW_LATITUDE_DB), np.array(_DAY_HIGH_LATITUDE_DB)
    upper, lower = (low[i] + polar * (high[i] - low[i]) for i in (0, 1))
    return np.hypot(upper, WITHIN_HOUR_UPPER_DB), np.hypot(lower, WITHIN_HOUR_LOWER_DB)


def reliability(
    margin_db: ArrayLike, upper_db: ArrayLike, lower_db: ArrayLike
) -> Floats:
    r"""
    Probability that the signal-to-noise ratio meets what is required.

    Parameters
    ----------
    margin_db : array_like
        Median ratio minus the required one; -inf for no signal. [dB]
    upper_db, lower_db : array_like
        Distances from the median of the ratio to its deciles. [dB]

    Returns
    -------
    reliability : numpy.ndarray
        0 to 1.

    Notes
    -----
    .. math:: 1.3 - \frac{0.8}{1 + m/D_l}\;(m \ge 0),\qquad
              \frac{0.8}{1 - m/D_u} - 0.3\;(m < 0)

    held within 0 and 1.

    References
    ----------
    ITU-R P.533-14, section 10.1 (from memory; 0.1, 0.5 and 0.9 checked).

    Examples
    --------
    >>> reliability([-8.0, 0.0, 11.0], 8.0, 11.0).round(2)
    array([0.1, 0.5, 0.9])
    """
    # The same as 0.5 + 0.8 m / (D + |m|) either side; finite, so that inf/inf is not.
    over = np.clip(margin_db, 0.0, _ENDLESS_DB)
    under = np.clip(margin_db, -_ENDLESS_DB, 0.0)
    works = np.asarray(over / (over + lower_db))
    works += under / (upper_db - under)
    works *= 0.8
    works += 0.5
    return np.clip(works, 0.0, 1.0, out=works)


class Ends(ArrayRecord):
    """
    What the two ends of C cells make of a margin.

    The margins of `Routes` are those at the far end; here they are brought to my end.

    Attributes
    ----------
    heard_spread_db, hear_spread_db : tuple of numpy.ndarray
        Shapes (C,): upper and lower decile of the signal-to-noise ratio at the far
        end and here. [dB]
    hear_offset_db : numpy.ndarray
        Shape (C,): margin here minus margin there. [dB]
    both_ways_weight : numpy.ndarray
        Shape (C,): how far both ends have good and bad days together, 0 to 1; see
        `both_ways_weight`.
    common : tuple of numpy.ndarray
        Shapes (C,): part of the variance of either ratio that stations there share.
    count : int
        How many stations there are, of which one is to be worked.
    """

    heard_spread_db: tuple[Floats, Floats]
    hear_spread_db: tuple[Floats, Floats]
    hear_offset_db: Floats
    both_ways_weight: Floats
    common: tuple[Floats, Floats]
    count: int = 1

    def of(self, cells: Indices | Bools | slice) -> Ends:
        """
        Keep some cells.

        Parameters
        ----------
        cells : numpy.ndarray of int or bool, or slice
            Which.

        Returns
        -------
        ends : Ends
            The same with fewer cells.
        """
        return Ends(
            (self.heard_spread_db[0][cells], self.heard_spread_db[1][cells]),
            (self.hear_spread_db[0][cells], self.hear_spread_db[1][cells]),
            self.hear_offset_db[cells],
            self.both_ways_weight[cells],
            (self.common[0][cells], self.common[1][cells]),
            self.count,
        )

    def works(self, margin_db: Floats) -> Floats:
        """
        Probability that the signal is good enough there, here and both ways.

        Parameters
        ----------
        margin_db : numpy.ndarray
            Shape (..., C, V): margin at the far end. [dB]

        Returns
        -------
        works : numpy.ndarray
            Shape (3, ..., C, V): heard, hear, both.
        """
        works = np.empty((3, *margin_db.shape))
        heard, hear, both = works
        share = self.both_ways_weight[:, None]
        heard[:] = reliability(
            margin_db, *(side[:, None] for side in self.heard_spread_db)
        )
        hear[:] = reliability(
            margin_db + self.hear_offset_db[:, None],
            *(side[:, None] for side in self.hear_spread_db),
        )
        # share * lesser + (1 - share) * product
        np.multiply(heard, hear, out=both)
        lesser = np.minimum(heard, hear)
        lesser -= both
        lesser *= share
        both += lesser
        if self.count > 1:
            heard_in, hear_in = (side[:, None] for side in self.common)
            for found, common in zip(
                works, (heard_in, hear_in, np.maximum(heard_in, hear_in)), strict=True
            ):
                found[:] = read_at_least_one(self.count, found, common)
        return works


def both_ways_weight(
    signal_db: ArrayLike, noise_far_db: ArrayLike, noise_here_db: ArrayLike
) -> Floats:
    r"""
    How far both ends have good and bad days together.

    Parameters
    ----------
    signal_db : array_like
        Decile of the signal, which both directions share. [dB]
    noise_far_db, noise_here_db : array_like
        Decile of the noise at either end, which they do not. [dB]

    Returns
    -------
    both_ways_weight : numpy.ndarray
        1 if only the signal varies, 0 if only the noise does.

    Notes
    -----
    The two ratios are correlated by

    .. math:: \rho = \frac{S^2}{\sqrt{(S^2+N_1^2)(S^2+N_2^2)}}

    and of two normal quantities with that correlation both exceed their medians with
    probability :math:`1/4 + \arcsin(\rho)/2\pi`. The chance of both directions is taken
    as a mixture of full dependence (the lesser of the two) and none (their product)
    with the weight :math:`w = \frac{2}{\pi}\arcsin\rho`, which gives just that where
    both stand at one half, and the right limits everywhere.

    Examples
    --------
    >>> both_ways_weight(9.5, [0.0, 9.5], 9.5).round(2)
    array([0.5 , 0.33])
    """
    signal = np.asarray(signal_db, dtype=float) ** 2
    far, here = (
        signal + np.asarray(noise, dtype=float) ** 2
        for noise in (noise_far_db, noise_here_db)
    )
    return np.asarray(2.0 / np.pi * np.arcsin(signal / np.sqrt(far * here)))


def chance(routes: Routes, ends: Ends) -> Floats:
    r"""
    Average over days of the reliability with the routes that exist on each day.

    Parameters
    ----------
    routes : Routes
        C cells.
    ends : Ends
        What the two ends make of a margin.

    Returns
    -------
    chance : numpy.ndarray
        Shape (3, ..., C), 0 to 1: that I am heard, that I hear, and both.

    Notes
    -----
    Let :math:`u`, :math:`v` and :math:`w` be the ranks of the day's E layer, F2 layer
    and sporadic E, 1 for the strongest day, taken as independent of each other. E mode
    :math:`n` exists if :math:`u > 1 - s_n`, F2 mode :math:`m` if
    :math:`v > 1 - s_m`. With the ranks cut at those values, :math:`P(u,v,w)` is
    constant in each piece and

    .. math:: \text{chance} = \sum_{ijk} \Delta u_i\,\Delta v_j\,\Delta w_k\,P_{ijk}

    Powers of all routes that are there add. Without noise, E layer and sporadic E this
    is the greatest support of any mode; with full support it is the standard's
    reliability.
    """
    days = day_states(routes, FAINT_DB - np.maximum(ends.hear_offset_db, 0.0))
    margin = margin_on(routes, days)
    works = np.empty((len(margin), 3, margin.shape[1]))
    # In blocks that stay in the processor's cache.
    block = max(1, _BLOCK // margin.shape[1])
    for first in range(0, len(margin), block):
        part = slice(first, first + block)
        told = ends.of(days.cell[part]).works(margin[part])
        works[part] = np.moveaxis(told, 0, 1)
    lead, cells = routes.hop_gain_db.shape[:-2], routes.ground_margin_db.size
    # Shares of days add up to 1 but for rounding.
    means = days.mean_over(works.reshape(len(works), 3 * margin.shape[1]), cells)
    return np.minimum(means, 1.0).T.reshape(3, *lead, cells)


def median_margin_db(routes: Routes, ends: Ends, *, scattered: bool = False) -> Floats:
    """
    Margin in the worse direction on the middle one of the days with any route at all.

    Parameters
    ----------
    routes : Routes
        C cells, without leading axes.
    ends : Ends
        What the two ends make of a margin.
    scattered : bool, optional
        Whether a day on which it only scatters above the MUF, and is not fainter than
        `FAINT_DB`, is one with a way.

    Returns
    -------
    margin_db : numpy.ndarray
        Shape (C,); NaN where no day has a route. [dB]
    """
    if not scattered:
        silent = np.full(routes.above_margin_db.shape, NO_SIGNAL_DB)
        routes = replace(routes, above_margin_db=silent)
    cells = routes.ground_margin_db.size
    days = day_states(routes, np.full(cells, _NOTHING_DB))
    level = margin_on(routes, days)[:, 0]
    there = level > (FAINT_DB if scattered else _NOTHING_DB)
    cell, level, share = days.cell[there], level[there], days.share[there]
    order = np.lexsort((level, cell))
    cell, level, share = cell[order], level[order], share[order]
    total = np.bincount(cell, share, cells)
    before = np.cumsum(share) - share
    first = np.searchsorted(cell, np.arange(total.size))
    # Share of the cell's days up to each state.
    summed = before - np.append(before, 0.0)[first][cell] + share
    middle = np.zeros(total.size)
    # The middle may fall between two states: their mean then.
    for place in (
        np.bincount(cell, summed < (0.5 - _RARE**2) * total[cell], total.size),
        np.bincount(cell, summed <= (0.5 + _RARE**2) * total[cell], total.size),
    ):
        last = np.bincount(cell, minlength=total.size) - 1
        chosen = first + np.clip(place.astype(int), 0, np.maximum(last, 0))
        middle += 0.5 * np.append(level, 0.0)[np.minimum(chosen, level.size)]
    worse = middle + np.minimum(ends.hear_offset_db, 0.0)
    return np.where(total > _RARE, worse, np.nan)
