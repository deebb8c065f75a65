"""
Sporadic E: thin, dense patches near 105 km that return even 28 and 50 MHz for a while.

What a month offers is given by three numbers per place and hour: the lower decile,
median and upper decile of foEs. Two descriptions are kept apart and must not be
mixed up: the *support* says on how many days the patch returns the frequency by the
secant law; the *reflection loss* says how much weaker than free space the signal is
for a given foEs, also past the secant law, where it fades instead of ending. To use
both, take the loss at an foEs of the days that count: where a share P of days supports
the frequency, the middle one of them has the foEs that is exceeded on P/2 of all days.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.propagation.losses import UNFOCUSED_RESIDUAL_DB
from advisor.propagation.normal import normal_deviate, normal_share
from geo.ionosphere.hops import ray_path_km, sec_incidence, takeoff_angle_deg

ES_MIRROR_HEIGHT_KM = 105.0
"""Usual height of the patches; ionosondes mostly show 90 to 110. [km]"""

MAX_HOP_ES_KM = 2200.0
"""Longest hop counted: the ray then leaves half a degree above the horizon, where
operators put the end of single-hop openings (common practice, 2200 to 2300). [km]"""

_DECILE_SIGMAS = 1.2815515655446004
"""Standard deviations from the median to a decile of a normal law."""

_NOTHING_DB = 400.0
"""Loss that stands for no reflection. [dB]"""

_NARROWEST = 1e-6
"""Least spread of ln foEs, so that equal deciles still make a law."""


_CUTS = (0.01, 0.03, 0.1, 0.3, 0.6)
"""Shares of days at which the days of sporadic E are always cut: finest among the
strongest, which are the rare ones that matter. The project's choice."""


def es_takeoff_deg(hop_km: ArrayLike) -> NDArray[np.float64]:
    """
    Take-off angle of a hop off sporadic E.

    Parameters
    ----------
    hop_km : array_like
        Length of the hop along the ground, not negative. [km]

    Returns
    -------
    takeoff_deg : numpy.ndarray
        Elevation for a mirror at 105 km; NaN beyond `MAX_HOP_ES_KM`.
        [deg]

    References
    ----------
    ITU-R P.533-14, section 5.1, for the geometry.

    Examples
    --------
    >>> es_takeoff_deg([500.0, 1000.0, 2000.0, 2300.0]).round(1)
    array([21.5,  9.5,  1.4,  nan])
    """
    hop = np.asarray(hop_km, dtype=float)
    return takeoff_angle_deg(
        np.where(hop <= MAX_HOP_ES_KM, hop, np.nan), ES_MIRROR_HEIGHT_KM
    )


def needed_foes_mhz(
    frequency_mhz: ArrayLike, takeoff_deg: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Lowest foEs that returns a frequency at a take-off angle.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    takeoff_deg : array_like
        Take-off angle. Broadcasts. [deg]

    Returns
    -------
    foes_mhz : numpy.ndarray
        Needed foEs; NaN where the angle is NaN. [MHz]

    Notes
    -----
    .. math:: f_o E_s = f / \sec i_{105}

    the secant law on a spherical Earth: a frequency of 2.5 foEs at 500 km, 4.1 at
    1000 km, 5.1 at 1500 km and 5.5 at 2000 km.

    Examples
    --------
    >>> needed_foes_mhz(50.0, es_takeoff_deg([1000.0, 2000.0])).round(1)
    array([12.1,  9.1])
    """
    return np.asarray(
        np.asarray(frequency_mhz, dtype=float)
        / sec_incidence(takeoff_deg, ES_MIRROR_HEIGHT_KM)
    )


def _log_spreads(
    lower_mhz: ArrayLike, median_mhz: ArrayLike, upper_mhz: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Median and both standard deviations of ln foEs; NaN where a value is not > 0."""
    lower, median, upper = (
        np.asarray(value, dtype=float) for value in (lower_mhz, median_mhz, upper_mhz)
    )
    usable = (lower > 0.0) & (median > 0.0) & (upper > 0.0)
    lower, median, upper = (
        np.where(usable, value, np.nan) for value in (lower, median, upper)
    )
    below = np.maximum(np.log(median / lower) / _DECILE_SIGMAS, _NARROWEST)
    above = np.maximum(np.log(upper / median) / _DECILE_SIGMAS, _NARROWEST)
    return median, np.asarray(below), np.asarray(above)


def share_above(
    level_mhz: ArrayLike,
    lower_mhz: ArrayLike,
    median_mhz: ArrayLike,
    upper_mhz: ArrayLike,
) -> NDArray[np.float64]:
    r"""
    Share of the month's days on which foEs exceeds a level.

    Parameters
    ----------
    level_mhz : array_like
        The level, not negative. [MHz]
    lower_mhz, median_mhz, upper_mhz : array_like
        Lower decile, median and upper decile of foEs, positive. All broadcast. A
        decile on the wrong side of the median, as smoothed maps give now and then,
        counts as the median. [MHz]

    Returns
    -------
    share : numpy.ndarray
        0 to 1; NaN where an input is NaN or a decile is not positive.

    Notes
    -----
    A log-normal law on each side of the median, with its own spread:

    .. math:: P = \Phi\!\left(-\frac{\ln(F/F_{50})}{\sigma}\right),\quad
       \sigma = \frac{\ln(F_{90}/F_{50})}{1.2816}\ (F > F_{50}),\quad
       \frac{\ln(F_{50}/F_{10})}{1.2816}\ (F \le F_{50})

    exact at the three given points. The form beyond the deciles is the project's
    choice: on the rarest days (below 1 in 50) it is an extrapolation.

    Examples
    --------
    >>> share_above([1.4, 2.0, 5.0], 1.4, 2.0, 5.0).round(3)
    array([0.9, 0.5, 0.1])
    """
    median, below, above = _log_spreads(lower_mhz, median_mhz, upper_mhz)
    level = np.asarray(level_mhz, dtype=float)
    with np.errstate(divide="ignore"):
        rise = np.log(np.where(level >= 0.0, level, np.nan) / median)
    return normal_share(-rise / np.where(rise > 0.0, above, below))


def slices_of_days(
    returned: ArrayLike,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """
    Cut the days by how strong sporadic E is on them, strongest first.

    Parameters
    ----------
    returned : array_like
        Shape (..., N): share of days on which each mode is returned. The days are cut
        there, so that no slice is half returned, and at fixed shares.

    Returns
    -------
    share, exceeded : numpy.ndarray
        Shape (..., W): share of days in each slice, which add up to 1, and share of
        days that are stronger than the middle of it.

    Examples
    --------
    >>> share, exceeded = slices_of_days([0.2])
    >>> share.round(2)
    array([0.01, 0.02, 0.07, 0.1 , 0.1 , 0.3 , 0.4 ])
    """
    days = np.asarray(returned, dtype=float)
    fixed = np.broadcast_to([0.0, *_CUTS, 1.0], (*days.shape[:-1], len(_CUTS) + 2))
    cuts = np.sort(np.concatenate([fixed, days], axis=-1), axis=-1)
    return np.diff(cuts, axis=-1), 0.5 * (cuts[..., 1:] + cuts[..., :-1])


def foes_exceeded_mhz(
    share: ArrayLike, lower_mhz: ArrayLike, median_mhz: ArrayLike, upper_mhz: ArrayLike
) -> NDArray[np.float64]:
    """
    Level that foEs exceeds on a share of days: the inverse of `share_above`.

    Parameters
    ----------
    share : array_like
        Share of days, above 0 and below 1.
    lower_mhz, median_mhz, upper_mhz : array_like
        As in `share_above`. [MHz]

    Returns
    -------
    foes_mhz : numpy.ndarray
        The level; NaN where ``share`` is outside 0 to 1 or an input is NaN. [MHz]

    Examples
    --------
    >>> foes_exceeded_mhz([0.9, 0.5, 0.1], 1.4, 2.0, 5.0).round(1)
    array([1.4, 2. , 5. ])
    """
    median, below, above = _log_spreads(lower_mhz, median_mhz, upper_mhz)
    part = np.asarray(share, dtype=float)
    deviate = -normal_deviate(part)
    return np.asarray(median * np.exp(deviate * np.where(deviate > 0.0, above, below)))


def es_reflection_loss_db(
    ray_path_km: ArrayLike, frequency_mhz: ArrayLike, foes_mhz: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Loss of one sporadic-E hop beyond free space along the ray.

    Parameters
    ----------
    ray_path_km : array_like
        Length of the ray over the hop, positive. [km]
    frequency_mhz : array_like
        Working frequency. [MHz]
    foes_mhz : array_like
        foEs under the middle of the hop, positive. All broadcast. [MHz]

    Returns
    -------
    loss_db : numpy.ndarray
        Loss; NaN where the length or foEs is not positive. [dB]

    Notes
    -----
    .. math:: \Gamma = \left[\frac{40}{1 + p/130 + (p/250)^2}
       + 0.2\left(\frac{p}{2600}\right)^2\right]\left(\frac{f}{f_oE_s}\right)^2
       + e^{(p-1660)/280}

    There is no MUF in it. At the limit of the secant law it is already 20 to 30 dB,
    and it goes on rising smoothly beyond, so that weak signals do not end at a line.
    The last term is the ray's graze along the ground past some 1700 km. The fit was
    made for reflection at 120 km and for geomagnetic latitudes within 60 degrees.
    For two hops add the losses of both.

    References
    ----------
    ITU-R P.534 (from memory, middling confidence).

    Examples
    --------
    >>> es_reflection_loss_db([500.0, 1000.0, 2000.0], 50.0, 12.5).round(0)
    array([73., 27., 13.])
    """
    path = np.asarray(ray_path_km, dtype=float)
    foes = np.asarray(foes_mhz, dtype=float)
    path, foes = (np.where(each > 0.0, each, np.nan) for each in (path, foes))
    ratio_to_foes = np.asarray(frequency_mhz, dtype=float) / foes
    shape = 40.0 / (1.0 + path / 130.0 + (path / 250.0) ** 2)
    shape = shape + 0.2 * (path / 2600.0) ** 2
    return np.asarray(shape * ratio_to_foes**2 + np.exp((path - 1660.0) / 280.0))


def es_loss_db(
    hop_km: ArrayLike, frequency_mhz: ArrayLike, foes_mhz: ArrayLike, hops: int = 1
) -> NDArray[np.float64]:
    r"""
    Loss of sporadic-E hops beyond spreading and absorption, on any band.

    Parameters
    ----------
    hop_km : array_like
        Length of the hop. [km]
    frequency_mhz : array_like
        Working frequency. [MHz]
    foes_mhz : array_like
        foEs under the middle of each hop. All broadcast. [MHz]
    hops : int, optional
        Number of equal hops.

    Returns
    -------
    loss_db : numpy.ndarray
        Loss of all hops; NaN where a hop is longer than `MAX_HOP_ES_KM`. [dB]

    Notes
    -----
    From 30 MHz up it is `es_reflection_loss_db`, which was made for VHF. Up to 20 MHz,
    where that law would return steep rays far above the secant law, the patch counts
    as an E layer: up to the secant-law frequency the residual term of the hop modes,
    once for all hops, above it nothing. Between 20 and 30 MHz the two are blended.

    References
    ----------
    ITU-R P.534 (from memory) and the secant law; where one hands over to the other is
    the project's choice.

    Examples
    --------
    >>> es_loss_db(300.0, [3.6, 10.1], 5.0).round(0)
    array([  9., 400.])
    """
    hop = np.asarray(hop_km, dtype=float)
    hop = np.where(hop <= MAX_HOP_ES_KM, hop, np.nan)
    frequency = np.asarray(frequency_mhz, dtype=float)
    foes = np.asarray(foes_mhz, dtype=float)
    path = ray_path_km(hop, ES_MIRROR_HEIGHT_KM)
    takeoff = takeoff_angle_deg(hop, ES_MIRROR_HEIGHT_KM)
    highest_mhz = foes * sec_incidence(takeoff, ES_MIRROR_HEIGHT_KM)
    as_layer = np.where(
        frequency / highest_mhz <= 1.0, UNFOCUSED_RESIDUAL_DB, _NOTHING_DB
    )
    high = np.clip((frequency - 20.0) / 10.0, 0.0, 1.0)
    as_patch = hops * es_reflection_loss_db(path, frequency, foes)
    return np.asarray(high * as_patch + (1.0 - high) * as_layer)
