"""The lobe of a set-up and the take-off angles of the hops, for one target."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.answers.advice import best_bands
from advisor.answers.pictures.scene import Moment, Scene, best_moment
from advisor.antenna.pattern import FLOOR_DBI, Pattern
from advisor.engine.engine import Link
from advisor.engine.question import Question
from advisor.engine.targets import mode_names, mode_strengths, target_slices
from geo.arrays import Floats, Names
from geo.records import ArrayRecord

LEAST_SHARE = 0.05
"""A hop mode that carries less than this part of the power is left out."""

MOST_HOPS = 3
"""Hop modes shown at once, strongest first."""

MOST_LOBES = 4
"""Bands whose lobes are shown at once."""


@dataclass(frozen=True)
class Hop:
    """
    One hop mode to a target on one band at one hour.

    Attributes
    ----------
    name : str
        Such as 2F2.
    share : float
        Part of the power it carries, 0 to 1, the wire left out.
    support : float
        Share of days on which it exists, mean over the target.
    low_deg, takeoff_deg, high_deg : float
        Take-off angles over the target: lower decile, median, upper decile. [deg]
    gain_dbi : float
        The wire's gain towards the target at the middle angle. [dBi]
    """

    name: str
    share: float
    support: float
    low_deg: float
    takeoff_deg: float
    high_deg: float
    gain_dbi: float


@dataclass(frozen=True)
class HourHops:
    """
    What the best band of one hour asks for.

    Attributes
    ----------
    utc : numpy.datetime64
        The hour.
    band : str
        Best band; empty where all are closed.
    chance : float
        Its chance.
    hops : tuple of Hop
        Strongest first.
    """

    utc: np.datetime64
    band: str
    chance: float
    hops: tuple[Hop, ...]


@dataclass(frozen=True, eq=False)
class Lobe(ArrayRecord):
    """
    Gain over elevation towards a target on one band.

    Attributes
    ----------
    band : str
        Band name.
    gain_dbi : numpy.ndarray
        Shape (E,), mean power over the target's bearings. [dBi]
    """

    band: str
    gain_dbi: Floats


@dataclass(frozen=True, eq=False)
class LobeMeetsHop(ArrayRecord):
    """
    The lobe of a set-up and the angles of the hops, one target.

    Attributes
    ----------
    setup, target : str
        Names.
    moment : Moment
        Hour and band looked at.
    takeoff_deg : numpy.ndarray
        Shape (E,), from 0 to 90. [deg]
    lobes : tuple of Lobe
        That of the band looked at first, then those of other best bands.
    hops : tuple of Hop
        Hop modes of the band and hour looked at, strongest first.
    hours : tuple of HourHops
        Every hour on its best band.
    utc : numpy.datetime64
        The hour looked at.
    chance : float
        Chance on the band and hour looked at.
    """

    setup: str
    target: str
    moment: Moment
    takeoff_deg: Floats
    lobes: tuple[Lobe, ...]
    hops: tuple[Hop, ...]
    hours: tuple[HourHops, ...]
    utc: np.datetime64
    chance: float


def lobe_meets_hop(
    scene: Scene, target: int = 0, setup: int = 0, moment: Moment | None = None
) -> LobeMeetsHop:
    """
    Lay the lobe of a set-up over the angles the hops need.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    target, setup : int, optional
        Which target, which set-up in order of rank.
    moment : Moment, optional
        Hour and band looked at; that of the greatest chance if not given.

    Returns
    -------
    record : LobeMeetsHop
        Lobes and hops.
    """
    advice = scene.advice
    one = advice.setups[setup]
    at = moment or best_moment(advice, target, setup)
    question = advice.question
    modes = _modes_of(question, scene.link, target)
    best = best_bands(one.chance)[target]
    takeoff = np.linspace(0.0, 90.0, 181)
    part = target_slices(question)[target]
    towards = scene.link.paths.bearing_deg[part] - (one.bearing.wire_deg or 0.0)
    weight = question.targets[target].weight
    patterns = scene.patterns[one.name]
    counted = np.bincount(best[best >= 0], minlength=len(question.bands))
    others = [int(b) for b in np.argsort(-counted, kind="stable") if counted[b]]
    gains = {
        b: _mean_gain_dbi(patterns[question.bands[b].name], takeoff, towards, weight)
        for b in dict.fromkeys([at.band, *others])
        if one.works[b]
    }

    def hops(hour: int, band: int) -> tuple[Hop, ...]:
        curve = gains.get(band, np.full(takeoff.size, np.nan))
        return _hops(modes, hour, band, takeoff, curve)

    hours = tuple(
        HourHops(
            utc=time,
            band=question.bands[b].name if b >= 0 else "",
            chance=float(one.chance[target, t, b]) if b >= 0 else 0.0,
            hops=hops(t, b) if b >= 0 else (),
        )
        for t, (time, b) in enumerate(zip(question.times, best.tolist(), strict=True))
    )
    return LobeMeetsHop(
        setup=one.name,
        target=advice.targets[target].name,
        moment=at,
        takeoff_deg=takeoff,
        lobes=tuple(
            Lobe(question.bands[b].name, gain)
            for b, gain in list(gains.items())[:MOST_LOBES]
        ),
        hops=hops(at.hour, at.band),
        hours=hours,
        utc=question.times[at.hour],
        chance=float(one.chance[target, at.hour, at.band]),
    )


def _mean_gain_dbi(
    pattern: Pattern, takeoff_deg: Floats, towards_deg: Floats, weight: Floats
) -> Floats:
    """Gain over elevation, mean power over the bearings of a target."""
    gain = weight @ pattern.gain(takeoff_deg[None, :], towards_deg[:, None])
    return np.asarray(10.0 * np.log10(np.maximum(gain, 10.0 ** (FLOOR_DBI / 10.0))))


@dataclass(frozen=True, eq=False)
class _TargetModes(ArrayRecord):
    """
    Hop modes to the P points of one target.

    Attributes
    ----------
    names : numpy.ndarray of str
        Shape (P, T, B, M).
    weight : numpy.ndarray
        Shape (P,), of each point.
    shares : numpy.ndarray
        Shape (P, T, B, M), part of the power times the point's weight.
    takeoff_deg, support : numpy.ndarray
        Shape (P, T, B, M), take-off angle and share of days on which it exists. [deg]
    """

    names: Names
    weight: Floats
    shares: Floats
    takeoff_deg: Floats
    support: Floats


def _modes_of(question: Question, link: Link, target: int) -> _TargetModes:
    """Cut the hop modes of one target out of the link of all."""
    part = target_slices(question)[target]
    weight = question.targets[target].weight
    names = mode_names(link)[part]
    takeoff, strength = link.modes.takeoff_deg[part], mode_strengths(link)[part]
    shares = weight[:, None, None, None] * strength
    support = link.modes.support[part]
    return _TargetModes(names, weight, shares, takeoff, support)


def _hops(
    modes: _TargetModes, hour: int, band: int, grid_deg: Floats, gain_dbi: Floats
) -> tuple[Hop, ...]:
    """Hop modes of one hour and band, points of the one target together."""
    names, shares = modes.names[:, hour, band], modes.shares[:, hour, band]
    takeoff, support = modes.takeoff_deg[:, hour, band], modes.support[:, hour, band]
    total = shares.sum()
    found = []
    for name in dict.fromkeys(names.ravel().tolist()):
        mine = (names == name) & (shares > 0.0)
        share = float(shares[mine].sum() / total) if total > 0.0 else 0.0
        if share < LEAST_SHARE:
            continue
        low_deg, middle_deg, high_deg = (
            float(
                np.quantile(
                    takeoff[mine], q, weights=shares[mine], method="inverted_cdf"
                )
            )
            for q in (0.1, 0.5, 0.9)
        )
        exists = np.where(names == name, support, 0.0).max(axis=-1)
        found.append(
            Hop(
                name=name,
                share=share,
                support=float(modes.weight @ exists),
                low_deg=low_deg,
                takeoff_deg=middle_deg,
                high_deg=high_deg,
                gain_dbi=float(np.interp(middle_deg, grid_deg, gain_dbi)),
            )
        )
    return tuple(sorted(found, key=lambda hop: -hop.share)[:MOST_HOPS])
