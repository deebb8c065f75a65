r"""
The weak signal there is above a layer's MUF.

A layer weaker than the frequency asks for does not fall silent: patches that are
denser than the rest still return something, weaker the further above. The loss is
meant **day by day**: a mode whose layer is weaker that day, its MUF of the day being
the median times the ratio of that day's rank, is there with the loss at f over that
MUF.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from advisor.propagation.normal import log_normal_share
from geo.arrays import Floats

ONSET_DB, SLOPE_DB = 5.0, 36.0
"""Loss just above the MUF, and its rise with the square root of what the frequency is
over it. [dB]"""

PATCHES = 0.04
"""Standard deviation of the critical frequency from patch to patch, as a share: what
foF2 wanders by within the hour, 2 to 5 % (common practice, no source). Within that, 4
of 3, 4 and 5 % was taken by what was received (docs/validation.md)."""

MOST_DB = 300.0
"""Beyond this it is no signal. [dB]"""


def above_muf_loss_db(ratio: ArrayLike) -> Floats:
    r"""
    Give the loss of a mode on a frequency above the MUF of the day.

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
    The greater of two laws:

    .. math:: 36 \sqrt{f/f_b - 1} + 5, \qquad
              -10 \log_{10} \Phi\!\left(-\frac{f/f_b - 1}{0.04}\right)

    The first is published and was fitted to signals not far above the MUF; it would
    have 34 dB at 1.65 of it, with which 20 m would be heard from 750 km on most nights
    on which nothing is. The second is the share of patches dense enough, were they
    normally spread; the two cross at 1.07. Single hops of 2500 km were seen more than
    55 dB down at 1.6 of the MUF, where the first has 33. What the ground scatters back
    from beyond the skip zone is not in it: signals of high power from inside the skip
    zone are stronger than told.

    References
    ----------
    ITU-R P.533-14, section 5.2 (from memory), for the first.

    Examples
    --------
    >>> above_muf_loss_db([0.9, 1.0, 1.1, 1.25, 1.5]).round(1)
    array([  0. ,   0. ,  22.1,  96.9, 300. ])
    """
    value = np.asarray(ratio, dtype=float)
    over = np.where(value > 0.0, value, np.nan) - 1.0
    some = np.maximum(over, 0.0)
    published = SLOPE_DB * np.sqrt(some) + ONSET_DB
    patches = -10.0 / np.log(10.0) * log_normal_share(-some / PATCHES)
    loss = np.minimum(np.maximum(published, patches), MOST_DB)
    return np.asarray(np.where(over > 0.0, loss, np.where(over <= 0.0, 0.0, np.nan)))
