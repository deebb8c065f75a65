"""
What a sheet can turn and slide: the best set-up on every bearing, hour and band.

A page between these numbers only interpolates and rotates.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from advisor.answers.advice import SetUpAdvice
from advisor.answers.bearings import BEARING_STEP_DEG
from advisor.answers.pictures.fan import scene_ways
from advisor.answers.pictures.scene import Scene
from advisor.answers.pictures.world_turned import turn_of
from advisor.answers.through import Ways, gives_dbi
from advisor.antenna.ground import ground_by_name
from advisor.antenna.hills import hills_of
from advisor.antenna.pattern import FLOOR_DBI, Pattern
from advisor.engine.contact import contact_chance
from advisor.engine.engine import wire_gains
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import over_targets, target_slices
from geo.arrays import Bools, Floats
from geo.records import ArrayRecord
from geo.sphere import angle_between_deg

CUT_ELEVATION_DEG = np.concatenate(
    [np.arange(0.0, 30.0, 2.5), np.arange(30.0, 91.0, 5.0)]
)
"""Elevations at which a page knows a pattern; low angles matter most. [deg]"""

CUT_AZIMUTH_DEG = np.arange(0.0, 360.0, 5.0)
"""Directions at which a page knows a pattern. [deg]"""

_AT_ONCE = 12
"""Bearings worked out together: fast, and still small in memory."""


@dataclass(frozen=True)
class Direction:
    """
    Where the sample points of a target lie.

    Attributes
    ----------
    bearing_deg, weight : tuple of float
        Bearing and weight of every point. [deg]
    """

    bearing_deg: tuple[float, ...]
    weight: tuple[float, ...]


class SheetData(ArrayRecord):
    """
    The best set-up turned through every bearing, K targets, G bearings.

    Attributes
    ----------
    setup : str
        Name of the set-up.
    wire_deg : float or None
        Bearing it is advised or hung on; None where turning changes nothing. [deg]
    turn_deg : float
        Turn after which everything repeats: 180 or 360. [deg]
    tried_deg : numpy.ndarray
        Shape (G,), rising wire bearings from 0, the advised one among them; 0 alone
        where turning changes nothing. [deg]
    chance : numpy.ndarray
        Shape (K, G, T, B), chance of a contact.
    gain_dbi : numpy.ndarray
        Shape (K, G, T, B), the wire's gain towards the hops; NaN where there are
        none. [dBi]
    cut_dbi : numpy.ndarray
        Shape (B, E, A), gain on `CUT_ELEVATION_DEG` and `CUT_AZIMUTH_DEG` from the
        wire's bearing; NaN on bands it does not work on. [dBi]
    hills : tuple of (tuple of numpy.ndarray) or None
        A band each, on the same grid: what the ground around adds to that, taken apart
        by `advisor.antenna.hills.Hills.parts`, the first by direction from the wire,
        the second by true bearing; None over flat ground.
    peak_elevation_deg : numpy.ndarray
        Shape (B,), elevation of the strongest radiation; NaN on other bands. [deg]
    directions : tuple of Direction
        One a target.
    ways : tuple of Ways
        One a target, the set-up as it is advised or hung.
    goes_back : tuple of numpy.ndarray of bool
        One a target, shape (P, T, B): whether the ways leave opposite to the bearing of
        their point, the other way round the Earth.
    """

    setup: str
    wire_deg: float | None
    turn_deg: float
    tried_deg: Floats
    chance: Floats
    gain_dbi: Floats
    cut_dbi: Floats
    hills: tuple[tuple[Floats, Floats] | None, ...]
    peak_elevation_deg: Floats
    directions: tuple[Direction, ...]
    ways: tuple[Ways, ...]
    goes_back: tuple[Bools, ...]


def sheet_data(scene: Scene, *, is_turned: bool = True) -> SheetData:
    """
    Turn the best set-up of an answer through every bearing.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    is_turned : bool, optional
        Whether other bearings are looked at than the one it hangs on.

    Returns
    -------
    data : SheetData
        Chances and gains in steps of `BEARING_STEP_DEG`.
    """
    question, best = scene.advice.question, scene.advice.setups[0]
    patterns = scene.patterns[best.name]
    link = scene.link
    wire = best.bearing.wire_deg
    turn = turn_of(patterns)
    tried = _tried_deg(wire, turn)
    if wire is not None and not is_turned:
        tried = np.array([wire % turn])
    bearings, slices = link.paths.bearing_deg, target_slices(question)
    turned = angle_between_deg(link.bearing_deg, bearings[:, None, None]) > 90.0
    return SheetData(
        setup=best.name,
        wire_deg=wire,
        turn_deg=turn,
        tried_deg=tried,
        chance=_chances(question, link, patterns, best, tried, turn),
        gain_dbi=_gains_dbi(question, link, patterns, tried),
        cut_dbi=np.stack([_cut_dbi(patterns.get(b.name)) for b in question.bands]),
        hills=tuple(_hills(question, patterns.get(b.name)) for b in question.bands),
        peak_elevation_deg=np.array(
            [
                patterns[b.name].peak().takeoff_deg if b.name in patterns else np.nan
                for b in question.bands
            ]
        ),
        directions=tuple(
            Direction(tuple(bearings[part].tolist()), tuple(target.weight.tolist()))
            for part, target in zip(slices, question.targets, strict=True)
        ),
        ways=tuple(scene_ways(scene, k) for k in range(len(slices))),
        goes_back=tuple(turned[part] for part in slices),
    )


def _tried_deg(wire_deg: float | None, turn_deg: float) -> Floats:
    """Bearings in steps and the advised one; 0 alone if turning changes nothing."""
    if wire_deg is None:
        return np.zeros(1)
    steps = np.arange(0.0, turn_deg, BEARING_STEP_DEG)
    return np.unique(np.append(steps, wire_deg % turn_deg))


def _chances(
    question: Question,
    link: Link,
    patterns: Mapping[str, Pattern],
    best: SetUpAdvice,
    tried_deg: Floats,
    turn_deg: float,
) -> Floats:
    """Chance on every bearing, (K, G, T, B); what the advice tried is taken from it."""
    known = {}
    if best.bearing.wire_deg is not None:
        known[best.bearing.wire_deg % turn_deg] = best.chance
    if best.scan is not None:
        known |= dict(zip(best.scan.tried_deg.tolist(), best.scan.chance, strict=True))
    chance = np.empty((tried_deg.size, *best.chance.shape))
    rest = []
    for g, deg in enumerate(tried_deg.tolist()):
        if deg in known:
            chance[g] = known[deg]
        else:
            rest.append(g)
    for first in range(0, len(rest), _AT_ONCE):
        some = rest[first : first + _AT_ONCE]
        gains = wire_gains(question, link, patterns, tried_deg[some])
        both = contact_chance(link, gains).both
        chance[some] = over_targets(question, both, axis=1)
    return np.moveaxis(chance, 0, 1)


def _gains_dbi(
    question: Question, link: Link, patterns: Mapping[str, Pattern], tried_deg: Floats
) -> Floats:
    """Tell what the wire gives on every bearing, (K, G, T, B)."""
    given = []
    for first in range(0, tried_deg.size, _AT_ONCE):
        some = tried_deg[first : first + _AT_ONCE]
        gains = wire_gains(question, link, patterns, some)
        given.append(gives_dbi(question, link, gains, patterns))
    return np.moveaxis(np.concatenate(given), 0, 1)


def _cut_dbi(pattern: Pattern | None) -> Floats:
    """Gain of one band on the grid of a page, (E, A)."""
    if pattern is None:
        return np.full((CUT_ELEVATION_DEG.size, CUT_AZIMUTH_DEG.size), np.nan)
    gain = pattern.gain_dbi(CUT_ELEVATION_DEG[:, None], CUT_AZIMUTH_DEG[None, :])
    return np.maximum(gain, FLOOR_DBI)


def _hills(question: Question, pattern: Pattern | None) -> tuple[Floats, Floats] | None:
    """Take apart what the hills add on one band, on the grid of a page."""
    station = question.station
    if pattern is None or station.hills is None:
        return None
    hills = hills_of(station.hills, pattern, ground_by_name(station.ground))
    around = CUT_AZIMUTH_DEG[None, :]
    return hills.parts(pattern, CUT_ELEVATION_DEG[:, None], around, around)
