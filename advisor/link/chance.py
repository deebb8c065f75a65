"""
Chance that a contact is workable on a given day of the month, at a given hour.

Day by day the layers move. All F2 modes of a path move together, because one layer
carries them; so do the E modes and the E layer's screening. A day is therefore two
numbers: how far the F2 layer and how far the E layer stand above their medians, each
as a rank between 0 and 1. As either rank rises, modes join (or are screened) one by
one at known ranks. Between two such ranks nothing changes, so the average over days
is an exact, finite sum: no sampling, no steps.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.link.modes import E_MODES

WITHIN_HOUR_UPPER_DB, WITHIN_HOUR_LOWER_DB = 5.0, 8.0
"""Deciles of the signal within the hour, ITU-R P.533-14 section 8 (from memory)."""

_DAY_LOW_LATITUDE_DB = (6.0, 8.0)
_DAY_HIGH_LATITUDE_DB = (9.0, 11.0)
_HIGH_LATITUDE_DEG = 60.0


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
    would be twice.

    References
    ----------
    ITU-R P.842, day-to-day deciles (from memory); ITU-R P.533-14, section 8.

    Examples
    --------
    >>> upper, lower = signal_deciles_db(40.0)
    >>> float(upper.round(1)), float(lower.round(1))
    (7.8, 11.3)
    """
    polar = np.abs(np.asarray(geomagnetic_lat_deg, dtype=float)) >= _HIGH_LATITUDE_DEG
    upper = np.where(polar, _DAY_HIGH_LATITUDE_DB[0], _DAY_LOW_LATITUDE_DB[0])
    lower = np.where(polar, _DAY_HIGH_LATITUDE_DB[1], _DAY_LOW_LATITUDE_DB[1])
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


def chance(
    support: NDArray[np.float64],
    screened: NDArray[np.float64],
    mode_margin_db: NDArray[np.float64],
    upper_db: ArrayLike,
    lower_db: ArrayLike,
) -> NDArray[np.float64]:
    r"""
    Average over days of the reliability with the modes that exist on each day.

    Parameters
    ----------
    support : numpy.ndarray
        Shape (C, M): share of days on which each mode's layer returns the band. The
        first three modes are E modes, the rest F2 modes. C counts cells: any
        flattened set of paths, hours and bands.
    screened : numpy.ndarray
        Shape (C, M): share of days on which the E layer stops each F2 mode short.
    mode_margin_db : numpy.ndarray
        Shape (..., C, M): median signal-to-noise of each mode alone minus what is
        required; leading axes are set-ups or bearings. [dB]
    upper_db, lower_db : array_like
        Shape (C,): deciles of the signal-to-noise ratio. [dB]

    Returns
    -------
    chance : numpy.ndarray
        Shape (..., C), 0 to 1.

    Notes
    -----
    Let :math:`u` and :math:`v` be the ranks of the day's E and F2 layer, 1 for the
    strongest day. E mode :math:`n` exists if :math:`u > 1 - s_n`, F2 mode :math:`m`
    is screened if :math:`u > 1 - c_m` and exists if :math:`v > 1 - s_m`. With the
    ranks cut at those values, :math:`P(u,v)` is constant in each piece and

    .. math:: \text{chance} = \sum_{ij} \Delta u_i\,\Delta v_j\,P_{ij}

    With margins far above zero and no E layer this is the greatest support of any
    mode; with full support it is the standard's reliability.
    """
    cells, modes = support.shape
    f2 = slice(E_MODES, modes)
    # Pieces of the E rank: edges where an E mode joins or an F2 mode is screened.
    joins_e = 1.0 - support[:, :E_MODES]
    stops_f2 = 1.0 - screened[:, f2]
    edges = np.sort(np.concatenate([joins_e, stops_f2], axis=-1), axis=-1)
    edges = np.concatenate([np.zeros((cells, 1)), edges, np.ones((cells, 1))], axis=-1)
    width_u = np.diff(edges, axis=-1)
    centre = 0.5 * (edges[:, 1:] + edges[:, :-1])
    e_there = centre[:, :, None] > joins_e[:, None, :]
    f2_clear = centre[:, :, None] <= stops_f2[:, None, :]
    # Pieces of the F2 rank: modes in order of support, so that they join in turn.
    order = np.argsort(-support[:, f2], axis=-1, kind="stable")
    ranked = np.take_along_axis(support[:, f2], order, axis=-1)
    width_v = -np.diff(
        np.concatenate([np.ones((cells, 1)), ranked, np.zeros((cells, 1))], axis=-1),
        axis=-1,
    )
    f2_clear = np.take_along_axis(f2_clear, order[:, None, :], axis=-1)
    power = 10.0 ** (mode_margin_db / 10.0)
    e_power = np.einsum("...cm,cum->...cu", power[..., :E_MODES], e_there)
    f2_power = np.take_along_axis(
        power[..., f2],
        np.broadcast_to(order, power[..., f2].shape),
        axis=-1,
    )
    total = np.zeros(power.shape[:-1])
    for piece in range(width_u.shape[-1]):
        live = np.flatnonzero(width_u[:, piece] > 0.0)
        if not live.size:
            continue
        joined = np.cumsum(f2_power[..., live, :] * f2_clear[live, piece], axis=-1)
        joined += e_power[..., live, piece, None]
        alone = e_power[..., live, piece, None]
        with np.errstate(divide="ignore"):
            margin = 10.0 * np.log10(np.concatenate([alone, joined], axis=-1))
        works = reliability(
            margin,
            np.asarray(upper_db)[live, None],
            np.asarray(lower_db)[live, None],
        )
        total[..., live] += width_u[live, piece] * (works * width_v[live]).sum(axis=-1)
    return total
