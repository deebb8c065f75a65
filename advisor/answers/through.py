"""
What the sky offers, what a wire gives and what gets through: defined here, once.

At one hour, on one band, over the points of a target and the ways to each:

* the sky offers a way in the share that it carries of the mean power that reaches its
  point from a source alike in all directions, the antenna there counted, times the
  weight of the point (`advisor.engine.targets.strengths`);
* the wire gives the mean of its gain over what the sky offers, as powers;
* a way gets through in the share that it carries with the wire: what the sky offers
  times the wire's gain, times the weight of the point;
* a way carries the contact if, were it the only one, the chance would be greatest: a
  strong signal on rare days is not what a contact goes by.

Angles are told as lower decile, median and upper decile by these shares.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from advisor.antenna.pattern import Pattern
from advisor.engine.contact import mode_chances
from advisor.engine.gains import Gains
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import (
    mode_names,
    mode_strengths,
    over_targets,
    target_slices,
    weighted_quantile,
)
from geo.arrays import Floats, Names
from geo.records import ArrayRecord

_NO_CHANCE = 1e-6
"""A chance that is rounding."""

DECILES = (0.1, 0.5, 0.9)
"""At what shares angles are told."""


class Ways(ArrayRecord):
    """
    The ways to the P points of one target, shapes (P, T, B, M).

    Attributes
    ----------
    names : numpy.ndarray of str
        Such as 2F2.
    takeoff_deg : numpy.ndarray
        Take-off angle; NaN where there is no such ray. [deg]
    support : numpy.ndarray
        Share of days on which the way is there, times the weight of the point.
    offered : numpy.ndarray
        What the sky offers: sum over P and M 1, less where a point has no way.
    gain_dbi : numpy.ndarray
        Gain of the wire. [dBi]
    through : numpy.ndarray
        What gets through, summing up as what the sky offers does.
    """

    names: Names
    takeoff_deg: Floats
    support: Floats
    offered: Floats
    gain_dbi: Floats
    through: Floats


@dataclass(frozen=True)
class Way:
    """
    One way to a target at one hour on one band, its points together.

    Attributes
    ----------
    name : str
        Such as 2F2.
    offered, through : float
        Its part of what the sky offers and of what gets through, 0 to 1.
    support : float
        Share of days on which it is there, mean over the target.
    low_deg, takeoff_deg, high_deg : float
        Angles at which it gets through: lower decile, median, upper decile. [deg]
    gain_dbi : float
        What the wire gives over this way. [dBi]
    """

    name: str
    offered: float
    through: float
    support: float
    low_deg: float
    takeoff_deg: float
    high_deg: float
    gain_dbi: float


def through_shares(offered: Floats, hop_db: Floats) -> Floats:
    """
    Share of each way in the power that a wire gets through.

    Parameters
    ----------
    offered : numpy.ndarray
        Shape (..., M), power of each way without the wire, in any unit.
    hop_db : numpy.ndarray
        Gain of the wire towards it. [dBi]

    Returns
    -------
    shares : numpy.ndarray
        Sum over the last axis 1, or 0 where no way is there.

    Examples
    --------
    >>> through_shares(np.array([0.9, 0.1]), np.array([-10.0, 0.0])).round(2).tolist()
    [0.47, 0.53]
    """
    power = offered * 10.0 ** (0.1 * hop_db)
    total = power.sum(axis=-1, keepdims=True)
    return np.asarray(
        np.divide(power, total, out=np.zeros_like(power), where=total > 0.0)
    )


def ways_to(question: Question, link: Link, gains: Gains, target: int = 0) -> Ways:
    """
    Lay out all ways to a target with what each of them is worth.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half.
    gains : Gains
        The wire's gains at one bearing.
    target : int, optional
        Which target.

    Returns
    -------
    ways : Ways
        What the sky offers, the wire gives and gets through.
    """
    part = target_slices(question)[target]
    weight = question.targets[target].weight[:, None, None, None]
    modes, hop_db = link.modes, gains.hop_db[0][part]
    offered = mode_strengths(link)[part]
    return Ways(
        names=mode_names(link)[part],
        takeoff_deg=modes.takeoff_deg[part],
        support=weight * modes.support[part],
        offered=weight * offered,
        gain_dbi=hop_db,
        through=weight * through_shares(offered, hop_db),
    )


def ways_at(ways: Ways, hour: int, band: int) -> tuple[Way, ...]:
    """
    Put the points of a target together, way by way.

    Parameters
    ----------
    ways : Ways
        All of one target.
    hour, band : int
        Where to look.

    Returns
    -------
    ways : tuple of Way
        Those that the sky offers, what gets through most first.
    """
    cell = slice(None), hour, band
    names, takeoff, gain = ways.names[cell], ways.takeoff_deg[cell], ways.gain_dbi[cell]
    offered, through = ways.offered[cell], ways.through[cell]
    found = []
    for name in dict.fromkeys(names[offered > 0.0].tolist()):
        mine = (names == name) & (offered > 0.0)
        low, middle, high = (
            float(weighted_quantile(takeoff[mine], through[mine], q)) for q in DECILES
        )
        there = np.where(names == name, ways.support[cell], 0.0).max(axis=-1)
        found.append(
            Way(
                name=name,
                offered=float(offered[mine].sum() / offered.sum()),
                through=float(through[mine].sum() / through.sum()),
                support=float(there.sum()),
                low_deg=low,
                takeoff_deg=middle,
                high_deg=high,
                gain_dbi=_mean_db(offered[mine], gain[mine]),
            )
        )
    return tuple(sorted(found, key=lambda way: -way.through))


def carried_by(question: Question, link: Link, gains: Gains) -> Names:
    """
    Name the way that carries the contact, in every hour on every band.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half.
    gains : Gains
        The wire's gains at one bearing.

    Returns
    -------
    names : numpy.ndarray of str
        Shape (K, T, B): the mode with the greatest chance by itself, or where none has
        any, that which gets through most; empty where there is no way.
    """
    alone = mode_chances(link, gains)
    named = mode_names(link)
    found = []
    for k, part in enumerate(target_slices(question)):
        weight = question.targets[k].weight[:, None, None, None]
        counts = weight * alone[part]
        idle = counts.sum(axis=(0, 3), keepdims=True) <= _NO_CHANCE
        counts = np.where(idle, ways_to(question, link, gains, k).through, counts)
        kinds = np.unique(named[part])
        summed = np.stack(
            [np.where(named[part] == kind, counts, 0.0).sum((0, 3)) for kind in kinds]
        )
        name = kinds[summed.argmax(axis=0)]
        found.append(np.where(summed.sum(axis=0) > 0.0, name, ""))
    return np.stack(found)


def by_angle(shares: Floats, takeoff_deg: Floats, edge_deg: Floats) -> Floats:
    """
    Sum shares up by angle.

    Parameters
    ----------
    shares, takeoff_deg : numpy.ndarray
        Shape (P, T, B, M), as in `Ways`. [1], [deg]
    edge_deg : numpy.ndarray
        Shape (N + 1,), rising; what lies outside counts to the nearest. [deg]

    Returns
    -------
    summed : numpy.ndarray
        Shape (T, B, N), sum over N 1, or 0 where there is no way.
    """
    _, hours, bands, _ = shares.shape
    place = np.searchsorted(edge_deg[1:-1], takeoff_deg, side="right")
    known = np.isfinite(takeoff_deg)
    summed = np.zeros((hours, bands, edge_deg.size - 1))
    _, t, b, _ = np.nonzero(known)
    np.add.at(summed, (t, b, place[known]), shares[known])
    total = summed.sum(axis=-1, keepdims=True)
    return np.asarray(
        np.divide(summed, total, out=np.zeros_like(summed), where=total > 0.0)
    )


def through_angles_deg(
    question: Question, link: Link, gains: Gains
) -> tuple[Floats, Floats, Floats]:
    """
    At what angles power gets through to each target.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half.
    gains : Gains
        The wire's gains at one bearing.

    Returns
    -------
    low_deg, middle_deg, high_deg : numpy.ndarray
        Shape (K, T, B): lower decile, median, upper decile; NaN where there is no
        way. [deg]
    """
    found = []
    for k in range(len(question.targets)):
        ways = ways_to(question, link, gains, k)
        angles, shares = (
            np.moveaxis(each, 0, -2).reshape(*each.shape[1:3], -1)
            for each in (ways.takeoff_deg, ways.through)
        )
        found.append([weighted_quantile(angles, shares, q) for q in DECILES])
    low, middle, high = np.moveaxis(np.array(found), 1, 0)
    return low, middle, high


def gives_dbi(
    question: Question, link: Link, gains: Gains, patterns: Mapping[str, Pattern]
) -> Floats:
    """
    Tell what a wire gives towards each target.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half.
    gains : Gains
        The wire's gains on G bearings.
    patterns : mapping of str to Pattern
        Pattern for each band it works on.

    Returns
    -------
    gain_dbi : numpy.ndarray
        Shape (G, K, T, B); NaN where no way is there and on other bands. [dBi]
    """
    offered = mode_strengths(link)
    hops = np.einsum("ptbm,gptbm->gptb", offered, 10.0 ** (0.1 * gains.hop_db))
    reached = over_targets(question, offered.sum(axis=-1))
    works = np.array([band.name in patterns for band in question.bands])
    with np.errstate(divide="ignore", invalid="ignore"):
        gain = 10.0 * np.log10(over_targets(question, hops, axis=1) / reached)
    return np.where(works & (reached > 0.0), gain, np.nan)


def _mean_db(weight: Floats, level_db: Floats) -> float:
    """Mean of levels as powers."""
    return float(10.0 * np.log10(weight @ 10.0 ** (0.1 * level_db) / weight.sum()))
