"""The fan: what the sky offers, the wire gives and gets through, angle by angle."""

from __future__ import annotations

import numpy as np

from advisor.answers.pictures.scene import Moment, Scene, best_moment
from advisor.answers.through import Way, Ways, by_angle, ways_at, ways_to
from advisor.antenna.pattern import FLOOR_DBI
from advisor.engine.engine import wire_gains
from advisor.engine.targets import target_slices
from advisor.engine.wires import gain_over_hills
from geo.arrays import Floats
from geo.records import ArrayRecord

EDGE_DEG = np.arange(0.0, 91.0, 3.0)
"""Edges of the steps of angle in which shares are shown. [deg]"""

LEAST_SHARE = 0.05
"""A way that carries less of what gets through is not named."""

MOST_WAYS = 4
"""Ways named at once, what gets through most first."""


class Fan(ArrayRecord):
    """
    One target at one hour on one band, by take-off angle.

    Attributes
    ----------
    setup, target, band : str
        Names.
    utc : numpy.datetime64
        The hour.
    chance : float
        Chance of a contact.
    takeoff_deg, gain_dbi : numpy.ndarray
        Shape (E,), from 0 to 90: gain towards the target, mean power over its
        bearings. [deg], [dBi]
    offered, through : numpy.ndarray
        Shape (N,), share of what the sky offers and of what gets through between the
        edges of `EDGE_DEG`; all 0 where there is no way.
    ways : tuple of Way
        What gets through most first, those of `LEAST_SHARE` and more.
    offered_low_deg, offered_high_deg : float
        Deciles of what the sky offers; NaN where there is no way. [deg]
    through_low_deg, through_high_deg : float
        Deciles of what gets through; NaN where there is no way. [deg]
    gives_dbi : float
        What the wire gives; NaN where there is no way. [dBi]
    """

    setup: str
    target: str
    band: str
    utc: np.datetime64
    chance: float
    takeoff_deg: Floats
    gain_dbi: Floats
    offered: Floats
    through: Floats
    ways: tuple[Way, ...]
    offered_low_deg: float
    offered_high_deg: float
    through_low_deg: float
    through_high_deg: float
    gives_dbi: float


def fan(
    scene: Scene, target: int = 0, setup: int = 0, moment: Moment | None = None
) -> Fan:
    """
    Lay what gets through beside what the sky offers.

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
    record : Fan
        For a chart.
    """
    advice = scene.advice
    question, one, seen = advice.question, advice.setups[setup], advice.targets[target]
    at = moment or best_moment(advice, target, setup)
    ways = scene_ways(scene, target, setup)
    here = at.hour, at.band
    takeoff, gain = towards_dbi(scene, at, target, setup)
    band = question.bands[at.band].name
    offered, through = (
        by_angle(shares, ways.takeoff_deg, EDGE_DEG)[here]
        for shares in (ways.offered, ways.through)
    )
    return Fan(
        setup=one.name,
        target=seen.name,
        band=band,
        utc=question.times[at.hour],
        chance=float(one.chance[target, at.hour, at.band]),
        takeoff_deg=takeoff,
        gain_dbi=gain,
        offered=offered,
        through=through,
        ways=named(ways_at(ways, at.hour, at.band)),
        offered_low_deg=float(seen.takeoff_low_deg[here]),
        offered_high_deg=float(seen.takeoff_high_deg[here]),
        through_low_deg=float(one.through_low_deg[target][here]),
        through_high_deg=float(one.through_high_deg[target][here]),
        gives_dbi=float(one.gain_dbi[target][here]),
    )


def scene_ways(scene: Scene, target: int = 0, setup: int = 0) -> Ways:
    """
    Lay out all ways of a set-up as it is advised or hung.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    target, setup : int, optional
        Which target, which set-up in order of rank.

    Returns
    -------
    ways : Ways
        All hours and bands.
    """
    question, one = scene.advice.question, scene.advice.setups[setup]
    wire = one.bearing.wire_deg or 0.0
    gains = wire_gains(question, scene.link, scene.patterns[one.name], wire)
    return ways_to(question, scene.link, gains, target)


def named(ways: tuple[Way, ...]) -> tuple[Way, ...]:
    """
    Keep the ways that are worth a name.

    Parameters
    ----------
    ways : tuple of Way
        What gets through most first.

    Returns
    -------
    ways : tuple of Way
        At most `MOST_WAYS`.
    """
    return tuple(way for way in ways if way.through >= LEAST_SHARE)[:MOST_WAYS]


def towards_dbi(
    scene: Scene, moment: Moment, target: int = 0, setup: int = 0
) -> tuple[Floats, Floats]:
    """
    Cut the pattern of a set-up towards a target, as it is advised or hung.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    moment : Moment
        Band, and hour for the way round the Earth.
    target, setup : int, optional
        Which target, which set-up in order of rank.

    Returns
    -------
    takeoff_deg, gain_dbi : numpy.ndarray
        Shape (E,), from 0 to 90, and mean power over the bearings of the target.
        [deg], [dBi]
    """
    question, one = scene.advice.question, scene.advice.setups[setup]
    part = target_slices(question)[target]
    bearing = scene.link.bearing_deg[part, moment.hour, moment.band]
    towards = bearing - (one.bearing.wire_deg or 0.0)
    takeoff = np.linspace(0.0, 90.0, 181)
    pattern = scene.patterns[one.name][question.bands[moment.band].name]
    gain = question.targets[target].weight @ gain_over_hills(
        question, pattern, takeoff[None, :], towards[:, None], bearing[:, None]
    )
    return takeoff, 10.0 * np.log10(np.maximum(gain, 10.0 ** (FLOOR_DBI / 10.0)))
