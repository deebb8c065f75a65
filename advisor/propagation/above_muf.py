r"""
The weak signal there is above a layer's MUF.

A layer weaker than the frequency asks for does not fall silent: patches, tilts and
the rough underside of the layer still bring something, weaker the further above. The
loss is meant **day by day**: a mode whose layer is weaker that day, its MUF of the day
being the median times the ratio of that day's rank, is there with the loss at f over
that MUF. No answer uses it yet.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Floats

ONSET_DB = 5.0
"""Loss just above the MUF. [dB]"""

F2_SLOPE_DB, F2_MOST_DB = 36.0, 60.0
E_SLOPE_DB, E_MOST_DB = 46.0, 58.0
"""Rise with the square root of what the frequency is over the MUF, and the greatest
loss, of F2 and of E modes. [dB]"""

LONG_SLOPE_DB, LONG_ONSET_DB, LONG_MOST_DB = 70.0, 8.0, 80.0
LONG_FROM_KM = 3000.0
"""The straight rise of F2 paths beyond 3000 km. [dB], [km]"""


def above_muf_loss_db(
    ratio: ArrayLike, *, layer: str = "F2", slope_db: float | None = None
) -> Floats:
    r"""
    Give the loss of a mode on a frequency above the MUF of the day.

    Parameters
    ----------
    ratio : array_like
        Frequency over the MUF of that day, positive.
    layer : str, optional
        ``F2`` (F1 goes with it) or ``E``.
    slope_db : float, optional
        Another slope than that of the layer. On records of two days of time signals 45
        costs nothing against 36 and 60 costs 0.9 dB of their score, while the skip zone
        of 20 m at night asks for more than 45; single hops of 2500 km were over 55 dB
        down where 36 gives 33. [dB]

    Returns
    -------
    loss_db : numpy.ndarray
        0 up to the MUF; NaN where the ratio is not positive. [dB]

    Notes
    -----
    .. math:: L_m = \min\left(s \sqrt{f/f_b - 1} + 5,\; L_{most}\right)

    with s 36 dB and at most 60 for F2, 46 dB and at most 58 for E.

    References
    ----------
    ITU-R P.533-14, section 5.2 (from memory).

    Examples
    --------
    >>> above_muf_loss_db([0.9, 1.0, 1.1, 1.5, 4.0]).round(1)
    array([ 0. ,  0. , 16.4, 30.5, 60. ])
    """
    slope, most = (E_SLOPE_DB, E_MOST_DB) if layer == "E" else (F2_SLOPE_DB, F2_MOST_DB)
    slope = slope if slope_db is None else slope_db
    over = _over(ratio)
    loss = np.minimum(slope * np.sqrt(np.maximum(over, 0.0)) + ONSET_DB, most)
    return np.asarray(np.where(over > 0.0, loss, np.where(over <= 0.0, 0.0, np.nan)))


def long_above_muf_loss_db(ratio: ArrayLike) -> Floats:
    r"""
    Give the loss of F2 modes on paths beyond `LONG_FROM_KM`.

    Parameters
    ----------
    ratio : array_like
        Frequency over the MUF of that day, positive.

    Returns
    -------
    loss_db : numpy.ndarray
        0 up to the MUF; NaN where the ratio is not positive. [dB]

    Notes
    -----
    .. math:: L_m = \min\left(70\,(f/f_b - 1) + 8,\; 80\right)

    References
    ----------
    ITU-R P.533-14, section 5.2 (from memory, middling confidence).

    Examples
    --------
    >>> long_above_muf_loss_db([1.0, 1.2, 3.0]).round(1)
    array([ 0., 22., 80.])
    """
    over = _over(ratio)
    loss = np.minimum(LONG_SLOPE_DB * over + LONG_ONSET_DB, LONG_MOST_DB)
    return np.asarray(np.where(over > 0.0, loss, np.where(over <= 0.0, 0.0, np.nan)))


def _over(ratio: ArrayLike) -> Floats:
    """How far a frequency is over the MUF; NaN where the ratio is no ratio."""
    value = np.asarray(ratio, dtype=float)
    return np.where(value > 0.0, value, np.nan) - 1.0
