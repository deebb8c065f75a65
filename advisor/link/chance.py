"""
Chance that a contact is workable on a given day of the month, at a given hour.

Day by day the layers move. All F2 modes of a path move together, because one layer
carries them; so do the E modes and the E layer's screening; sporadic E is a third,
independent thing. A day is therefore three numbers: how far the F2 layer, the E layer
and sporadic E stand above their medians, each as a rank between 0 and 1. As the rank
of the E or F2 layer rises, modes join (or are screened) one by one at known ranks.
Between two such ranks nothing changes, so the average over days is an exact, finite
sum: no sampling, no steps. Sporadic E and the window of long paths change smoothly
with their rank and are summed over a few slices.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

WITHIN_HOUR_UPPER_DB, WITHIN_HOUR_LOWER_DB = 5.0, 8.0
"""Deciles of the signal within the hour, ITU-R P.533-14 section 8 (from memory)."""

_DAY_LOW_LATITUDE_DB = (6.0, 8.0)
_DAY_HIGH_LATITUDE_DB = (9.0, 11.0)
_HIGH_LATITUDE_DEG = 60.0
_LATITUDE_BLEND_DEG = 5.0

NO_SIGNAL_DB = -400.0
"""Stands for a way that is not there. [dB]"""

_FAINT_DB = -30.0
"""A way this far below what is needed adds nothing that counts. [dB]"""

_NOTHING_DB = -150.0
"""Below this there is no signal at all. [dB]"""

_RARE = 1e-3
"""Share of days that is too small to speak of a middle one."""


@dataclass(frozen=True)
class Ways:
    """
    The ways a signal can take in C cells, and on which days each is there.

    A cell is one path, hour and band; leading axes of the margins are set-ups or
    bearings. Margins are those of each way alone: its median signal-to-noise ratio
    minus what is required.

    Attributes
    ----------
    e_support : numpy.ndarray
        Shape (C, E): share of days on which each mode of the E layer (and F1) exists.
    f2_support, f2_screened : numpy.ndarray
        Shape (C, F): share of days on which the F2 layer returns each of its modes,
        and on which the E layer stops it short.
    e_margin_db, f2_margin_db : numpy.ndarray
        Shapes (..., C, E) and (..., C, F). [dB]
    es_share : numpy.ndarray
        Shape (W,): share of days in each slice of sporadic E; sums to 1.
    es_margin_db : numpy.ndarray
        Shape (..., C, W): sporadic E in each slice. [dB]
    ground_margin_db : numpy.ndarray
        Shape (..., C): ground wave, which is there every day. [dB]
    window_margin_db : numpy.ndarray
        Shape (..., C, V): the long-path window, in V equal slices of the F2 layer's
        rank, weakest first. [dB]
    window_weight : numpy.ndarray
        Shape (C,): 0 where hop modes alone count, 1 where the window alone does.
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

    def of(self, cells: NDArray[np.intp] | NDArray[np.bool_]) -> Ways:
        """
        Keep some cells.

        Parameters
        ----------
        cells : numpy.ndarray of int or bool
            Which.

        Returns
        -------
        ways : Ways
            The same with fewer cells.
        """
        return Ways(
            self.e_support[cells],
            self.f2_support[cells],
            self.f2_screened[cells],
            self.e_margin_db[..., cells, :],
            self.f2_margin_db[..., cells, :],
            self.es_share,
            self.es_margin_db[..., cells, :],
            self.ground_margin_db[..., cells],
            self.window_margin_db[..., cells, :],
            self.window_weight[cells],
        )


def signal_deciles_db(
    geomagnetic_lat_deg: ArrayLike,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
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
) -> NDArray[np.float64]:
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
    margin = np.asarray(margin_db, dtype=float)
    enough = 1.3 - 0.8 / (1.0 + np.maximum(margin, 0.0) / np.asarray(lower_db))
    short = 0.8 / (1.0 - np.minimum(margin, 0.0) / np.asarray(upper_db)) - 0.3
    return np.asarray(np.clip(np.where(margin >= 0.0, enough, short), 0.0, 1.0))


@dataclass(frozen=True)
class Ends:
    """
    What the two ends of C cells make of a margin.

    The margins of `Ways` are those at the far end; here they are brought to my end.

    Attributes
    ----------
    heard_spread_db, hear_spread_db : tuple of numpy.ndarray
        Shapes (C,): upper and lower decile of the signal-to-noise ratio at the far
        end and here. [dB]
    hear_offset_db : numpy.ndarray
        Shape (C,): margin here minus margin there. [dB]
    together : numpy.ndarray
        Shape (C,): how far both ends have good and bad days together, 0 to 1; see
        `togetherness`.
    """

    heard_spread_db: tuple[NDArray[np.float64], NDArray[np.float64]]
    hear_spread_db: tuple[NDArray[np.float64], NDArray[np.float64]]
    hear_offset_db: NDArray[np.float64]
    together: NDArray[np.float64]

    def of(self, cells: NDArray[np.intp] | NDArray[np.bool_]) -> Ends:
        """
        Keep some cells.

        Parameters
        ----------
        cells : numpy.ndarray of int or bool
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
            self.together[cells],
        )

    def works(self, margin_db: NDArray[np.float64]) -> NDArray[np.float64]:
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
        heard = reliability(
            margin_db, *(side[:, None] for side in self.heard_spread_db)
        )
        hear = reliability(
            margin_db + self.hear_offset_db[:, None],
            *(side[:, None] for side in self.hear_spread_db),
        )
        share = self.together[:, None]
        both = share * np.minimum(heard, hear) + (1.0 - share) * heard * hear
        return np.stack([heard, hear, both])


def togetherness(
    signal_db: ArrayLike, noise_far_db: ArrayLike, noise_here_db: ArrayLike
) -> NDArray[np.float64]:
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
    together : numpy.ndarray
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
    >>> togetherness(9.5, [0.0, 9.5], 9.5).round(2)
    array([0.5 , 0.33])
    """
    signal = np.asarray(signal_db, dtype=float) ** 2
    far, here = (
        signal + np.asarray(noise, dtype=float) ** 2
        for noise in (noise_far_db, noise_here_db)
    )
    return np.asarray(2.0 / np.pi * np.arcsin(signal / np.sqrt(far * here)))


def chance(ways: Ways, ends: Ends) -> NDArray[np.float64]:
    r"""
    Average over days of the reliability with the ways that exist on each day.

    Parameters
    ----------
    ways : Ways
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
    :math:`n` exists if :math:`u > 1 - s_n`, F2 mode :math:`m` is screened if
    :math:`u > 1 - c_m` and exists if :math:`v > 1 - s_m`. With the ranks cut at those
    values, :math:`P(u,v,w)` is constant in each piece and

    .. math:: \text{chance} = \sum_{ijk} \Delta u_i\,\Delta v_j\,\Delta w_k\,P_{ijk}

    Powers of all ways that are there add. Without noise, E layer and sporadic E this
    is the greatest support of any mode; with full support it is the standard's
    reliability.
    """
    ground = _power(ways.ground_margin_db)
    plain = _over_layers(ways, ground, ends)
    total = np.zeros_like(plain)
    for w, share in enumerate(ways.es_share):
        level = ways.es_margin_db[..., w]
        reached = level + np.maximum(ends.hear_offset_db, 0.0)
        loudest = reached.reshape(-1, level.shape[-1]).max(axis=0)
        cells = np.flatnonzero(loudest > _FAINT_DB)
        sliced = plain.copy()
        if cells.size:
            sliced[..., cells] = _over_layers(
                ways.of(cells),
                ground[..., cells] + _power(level[..., cells]),
                ends.of(cells),
            )
        total += share * sliced
    return total


def median_margin_db(ways: Ways, ends: Ends) -> NDArray[np.float64]:
    """
    Margin in the worse direction on the middle one of the days with any way at all.

    Parameters
    ----------
    ways : Ways
        C cells, without leading axes.
    ends : Ends
        What the two ends make of a margin.

    Returns
    -------
    margin_db : numpy.ndarray
        Shape (C,); NaN where no day has a way. [dB]
    """
    ground = _power(ways.ground_margin_db)
    margins, weights = [], []
    for w, share in enumerate(ways.es_share):
        always = ground + _power(ways.es_margin_db[..., w])
        for live, width, margin in _pieces(ways, always):
            whole = np.full((ways.window_weight.size, margin.shape[-1]), np.nan)
            days = np.zeros(whole.shape)
            whole[live], days[live] = margin, share * width
            margins.append(whole)
            weights.append(np.where(whole > _NOTHING_DB, days, 0.0))
    level, days = np.concatenate(margins, axis=-1), np.concatenate(weights, axis=-1)
    order = np.argsort(np.where(days > 0.0, level, np.inf), axis=-1)
    summed = np.cumsum(np.take_along_axis(days, order, axis=-1), axis=-1)
    total = summed[:, -1:]
    # The middle may fall between two kinds of day: their mean then.
    places = [
        (summed < (0.5 - _RARE**2) * total).sum(axis=-1),
        (summed <= (0.5 + _RARE**2) * total).sum(axis=-1),
    ]
    last = (days > 0.0).sum(axis=-1) - 1
    middle = np.zeros(last.shape)
    for place in places:
        row = np.clip(place, 0, np.maximum(last, 0))[:, None]
        chosen = np.take_along_axis(order, row, axis=-1)
        middle += 0.5 * np.take_along_axis(level, chosen, axis=-1)[:, 0]
    worse = middle + np.minimum(ends.hear_offset_db, 0.0)
    return np.where(total[:, 0] > _RARE, worse, np.nan)


def _power(margin_db: NDArray[np.float64]) -> NDArray[np.float64]:
    """Margin as a ratio of powers."""
    return np.asarray(10.0 ** (np.maximum(margin_db, NO_SIGNAL_DB) / 10.0))


def _over_layers(
    ways: Ways, always: NDArray[np.float64], ends: Ends
) -> NDArray[np.float64]:
    """Average over the E and F2 layers' days, with some power there on all of them."""
    total = np.zeros((3, *always.shape))
    for live, width, margin in _pieces(ways, always):
        works = ends.of(live).works(margin)
        total[..., live] += (works * width).sum(axis=-1)
    return total


def _pieces(
    ways: Ways, always: NDArray[np.float64]
) -> Iterator[tuple[NDArray[np.intp], NDArray[np.float64], NDArray[np.float64]]]:
    """
    Cut the days into pieces in which nothing changes.

    Yields, for each piece of the E rank: the cells that have it, the share of days of
    each of its pieces of the F2 rank (cells, V), and the margin there (..., cells, V).
    """
    cells = ways.window_weight.size
    zeros, ones = np.zeros((cells, 1)), np.ones((cells, 1))
    # Pieces of the E rank: edges where an E mode joins or an F2 mode is screened.
    joins_e, stops_f2 = 1.0 - ways.e_support, 1.0 - ways.f2_screened
    edges = np.sort(np.concatenate([joins_e, stops_f2], axis=-1), axis=-1)
    edges = np.concatenate([zeros, edges, ones], axis=-1)
    width_u = np.diff(edges, axis=-1)
    centre_u = 0.5 * (edges[:, 1:] + edges[:, :-1])
    e_there = centre_u[:, None, :] > joins_e[:, :, None]
    e_power = np.einsum("...cm,cmu->...cu", _power(ways.e_margin_db), e_there)
    # Pieces of the F2 rank: edges where a mode joins or the window's slice changes.
    slices = ways.window_margin_db.shape[-1]
    fixed = np.broadcast_to(np.arange(1, slices) / slices, (cells, slices - 1))
    windowed = bool(np.any(ways.window_weight > 0.0))
    joins_f2 = 1.0 - ways.f2_support
    cuts = [joins_f2, fixed] if windowed else [joins_f2]
    edges = np.sort(np.concatenate(cuts, axis=-1), axis=-1)
    edges = np.concatenate([zeros, edges, ones], axis=-1)
    width_v = np.diff(edges, axis=-1)
    centre_v = 0.5 * (edges[:, 1:] + edges[:, :-1])
    f2_there = centre_v[:, None, :] > joins_f2[:, :, None]
    f2_power = _power(ways.f2_margin_db)
    window = None
    if windowed:
        place = np.minimum((centre_v * slices).astype(int), slices - 1)
        window = np.take_along_axis(
            ways.window_margin_db,
            np.broadcast_to(place, (*always.shape, place.shape[-1])),
            axis=-1,
        )
    for piece in range(width_u.shape[-1]):
        live = np.flatnonzero(width_u[:, piece] > 1e-12)
        if not live.size:
            continue
        clear = centre_u[live, piece, None] <= stops_f2[live]
        there = f2_there[live] & clear[:, :, None]
        power = np.einsum("...cm,cmv->...cv", f2_power[..., live, :], there)
        power += e_power[..., live, piece, None]
        if window is not None:
            weight = ways.window_weight[live, None]
            power = _blend(power, window[..., live, :], weight)
        power += always[..., live, None]
        with np.errstate(divide="ignore"):
            margin = 10.0 * np.log10(power)
        yield live, width_u[live, piece, None] * width_v[live], margin


def _blend(
    hop_power: NDArray[np.float64],
    window_db: NDArray[np.float64],
    weight: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Join hop modes and window as ITU-R P.533-14 section 5.4 joins fields."""
    short, long = hop_power**0.1, 10.0 ** (window_db / 100.0)
    return np.asarray((short + weight * (long - short)) ** 10)
