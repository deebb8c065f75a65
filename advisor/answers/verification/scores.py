"""
How good chances and levels that were told turned out to be: scores and their errors.

Hours of one day are not independent of each other, so that every error is worked out
from the sums of whole days (clusters).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from advisor.answers.rows.check import BrierParts, Clock
from geo.arrays import Bools, Floats, Indices

BINS = 10
"""Classes of what was told in a diagram."""

PRIOR_HOURS = 5.0
"""What is usual of a band and hour is drawn towards what is usual of the band, as if it
had been seen so many times (the project's choice)."""

LEAST_CHANCE = 0.01
"""A chance below this counts as this where its logarithm is taken."""


FEWEST = 5
"""Of fewer values a standard error is itself off by half or more: that of N values by
1 / sqrt(2 (N - 1)) of it, if they are normal; the project's choice."""


def error_of_mean(values: ArrayLike, day: ArrayLike, fewest: int = 2) -> float:
    r"""
    Work out the standard error of a mean over values whose days go together.

    Parameters
    ----------
    values : array_like
        Shape (N,).
    day : array_like
        Shape (N,), day of each.
    fewest : int, optional
        Values of which an error is told at least.

    Returns
    -------
    error : float
        NaN of fewer values, and of one day.

    Notes
    -----
    .. math:: \frac{1}{N}\sqrt{\frac{G}{G-1}\sum_g\Bigl(\sum_{i\in g}(x_i-\bar
              x)\Bigr)^2}

    References
    ----------
    Liang and Zeger 1986, the robust variance of a mean (from memory).

    Examples
    --------
    >>> round(error_of_mean([1.0, 3.0, 1.0, 3.0], [0, 1, 2, 3]), 4)
    0.5774
    """
    values = np.asarray(values, dtype=float)
    _, place = np.unique(day, return_inverse=True)
    if values.size < fewest or place.max() < 1:
        return float("nan")
    sums = np.bincount(place, values - values.mean())
    groups = sums.size
    return float(np.sqrt(groups / (groups - 1.0) * (sums**2).sum()) / values.size)


def brier_parts(said: ArrayLike, happened: ArrayLike) -> BrierParts:
    r"""
    Part the mean squared error of chances.

    Parameters
    ----------
    said : array_like
        Shape (N,), chances, 0 to 1.
    happened : array_like
        Shape (N,), whether it came so.

    Returns
    -------
    parts : BrierParts
        Over `BINS` classes of equal width.

    Notes
    -----
    .. math:: B = \sum_k w_k(\bar p_k-\bar o_k)^2 - \sum_k w_k(\bar o_k-\bar o)^2
              + \bar o(1-\bar o) + \text{within}

    What chances of one class differ among themselves goes to the resolution, so that
    the parts add up exactly.

    References
    ----------
    Murphy 1973; Stephenson, Coelho and Jolliffe 2008 for what is within the classes
    (both from memory).

    Examples
    --------
    >>> parts = brier_parts([0.2] * 5 + [0.8] * 5, [1, 0, 0, 0, 0, 1, 1, 1, 1, 0])
    >>> round(parts.brier, 3), round(parts.reliability, 3), round(parts.resolution, 3)
    (0.16, 0.0, 0.09)
    """
    said, happened = (np.asarray(each, dtype=float) for each in (said, happened))
    score = float(np.mean((said - happened) ** 2))
    count, told, came = binned(said, happened)
    share = count / said.size
    mean = float(happened.mean())
    some = count > 0
    reliability = float(np.sum((share * (told - came) ** 2)[some]))
    uncertainty = mean * (1.0 - mean)
    return BrierParts(
        score, reliability, uncertainty + reliability - score, uncertainty
    )


def binned(
    said: ArrayLike, happened: ArrayLike, bins: int = BINS
) -> tuple[Floats, Floats, Floats]:
    """
    Count what was told and what happened by classes of equal width.

    Parameters
    ----------
    said, happened : array_like
        Shape (N,), chances and whether it came so.
    bins : int, optional
        Number of classes.

    Returns
    -------
    count, told, came : numpy.ndarray
        Shape (bins,): number, mean chance and share that came; NaN of none.
    """
    said, happened = (np.asarray(each, dtype=float) for each in (said, happened))
    place = bin_of(said, bins)
    count, told, came = (
        np.bincount(place, weight, bins) for weight in (None, said, happened)
    )
    with np.errstate(invalid="ignore"):
        return count.astype(float), told / count, came / count


def bin_of(said: ArrayLike, bins: int = BINS) -> Indices:
    """
    Find the class of each chance.

    Parameters
    ----------
    said : array_like
        Chances, 0 to 1.
    bins : int, optional
        Number of classes.

    Returns
    -------
    place : numpy.ndarray of int
        From 0.
    """
    edges = np.linspace(0.0, 1.0, bins + 1)[1:-1]
    return np.asarray(np.digitize(np.asarray(said, dtype=float), edges))


def usual_shares(
    happened: Bools, shown: Floats, groups: Indices, day: Indices | None = None
) -> Floats:
    """
    Tell what is usual of each group: the climatology that a chance has to beat.

    Parameters
    ----------
    happened : numpy.ndarray of bool
        Shape (N,).
    shown : numpy.ndarray
        Shape (N,), share of times in which an open way shows itself.
    groups : numpy.ndarray of int
        Shape (N,), such as bands, or bands and hours.
    day : numpy.ndarray of int, optional
        Shape (N,). If given, a day's own share is left out of what is usual on it.

    Returns
    -------
    usual : numpy.ndarray
        Shape (N,): every way of a group open on the same share of times; drawn towards
        the mean of all where little is known, if days are left out.
    """
    _, place = np.unique(groups, return_inverse=True)
    came, most = (np.bincount(place, each) for each in (happened, shown))
    if day is None:
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray(np.nan_to_num(came / most)[place] * shown)
    mean = happened.sum() / shown.sum() if shown.sum() else 0.0
    _, both = np.unique(np.stack([place, day]), axis=1, return_inverse=True)
    own_came, own_most = (np.bincount(both.ravel(), each) for each in (happened, shown))
    left = came[place] - own_came[both.ravel()] + PRIOR_HOURS * mean
    return np.asarray(left / (most[place] - own_most[both.ravel()] + PRIOR_HOURS)) * (
        shown
    )


def skill(said: Floats, usual: Floats, happened: Bools) -> float:
    """
    Tell how much better chances do than what is usual.

    Parameters
    ----------
    said, usual : numpy.ndarray
        Shape (N,), what was told and what is usual.
    happened : numpy.ndarray of bool
        Shape (N,).

    Returns
    -------
    skill : float
        1 is perfect, 0 no better, NaN if what is usual is perfect.
    """
    least = np.mean((usual - happened) ** 2)
    if not least:
        return float("nan")
    return float(1.0 - np.mean((said - happened) ** 2) / least)


def rank(value: float, others: Floats) -> float:
    """
    Say which share of others is below a value, equal ones by half.

    Parameters
    ----------
    value : float
        The value.
    others : numpy.ndarray
        Shape (N,), at least one.

    Returns
    -------
    rank : float
        0 to 1; one half is what no knowledge gives.

    Examples
    --------
    >>> rank(0.5, np.array([0.1, 0.5, 0.9]))
    0.5
    """
    return float((np.sum(others < value) + 0.5 * np.sum(others == value)) / others.size)


def best_shift(chance: Floats, hour: Indices, day: Indices) -> Clock:
    r"""
    Find the shift of hours under which the ways of a log fit their hours best.

    Parameters
    ----------
    chance : numpy.ndarray
        Shape (N, 24), chance of the way of each row at every hour of its day.
    hour, day : numpy.ndarray of int
        Shape (N,), hour and day of each row.

    Returns
    -------
    clock : Clock
        The best against none; it is off with a gain of four errors and of a tenth.

    Notes
    -----
    When people are at home is no business of the sky. So a row is held against the
    other ways of the log at the same hour:

    .. math:: S(k) = \overline{\log p_i(h_i+k) - \log \overline{p_j(h_i+k)}}
    """
    floored = np.maximum(chance, LEAST_CHANCE)
    usual = np.log(floored.mean(axis=0))
    rows = np.arange(hour.size)
    scores = np.array(
        [
            np.log(floored[rows, (hour + k) % 24]) - usual[(hour + k) % 24]
            for k in range(24)
        ]
    )
    best = int(scores.mean(axis=1).argmax())
    gains = scores[best] - scores[0]
    gain, error = float(gains.mean()), error_of_mean(gains, day)
    is_off = best != 0 and gain > max(4.0 * error, 0.1)
    return Clock(best if best <= 12 else best - 24, gain, error, is_off)
