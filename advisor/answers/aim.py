"""
Which way to run a wire: the best bearing, what others cost, and when two beat one.

The best bearing is the one that `advisor.answers.bearings` finds for every other
command; here the whole turn is laid open, target by target.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from advisor.answers.advice import Answer, SetUpAdvice
from advisor.answers.bearings import (
    TOLERANCE_CHANCE,
    Bearing,
    Scan,
    good_range,
    scan_bearings,
)
from advisor.answers.hours import hour_name
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.moved import told_by_target
from advisor.answers.perturb import Assumed
from advisor.answers.uncertainty import LEAST_DIFFERENCE, spread_words, variants
from advisor.antenna.pattern import Pattern
from advisor.engine.question import Question
from advisor.engine.targets import TargetAdvice
from advisor.engine.wires import patterns_of
from advisor.station.setup import SetUp
from geo.arrays import Floats
from geo.fields import Share, record
from geo.sphere import angle_between_deg

ROW_STEP_DEG = 15.0
"""Step of the table of bearings. [deg]"""


MAIN_LOBE_DB = 3.0
"""Lobes this much weaker than the strongest are not called main lobes. [dB]"""


@dataclass(frozen=True)
class TriedBearing:
    """
    One bearing of a wire; a chance is the mean over the hours of the best band's.

    Attributes
    ----------
    wire_deg : float
        Bearing of the wire, below the turn after which everything repeats. [deg]
    is_best, is_given : bool
        Whether it is the best one, and the one the wire hangs on.
    chance : tuple of float
        For each target.
    peak : tuple of float
        The same of the best hour alone.
    level_db : tuple of float
        Mean level against the target's own best bearing. [dB]
    lobes_deg : tuple of float
        Where the main lobes then point, strongest first; empty if the wire has none.
        [deg]
    off_lobe_deg : tuple of float
        Angle from the nearest main lobe to each target; NaN where there is no lobe or
        the target lies all round. [deg]
    """

    wire_deg: float
    is_best: bool
    is_given: bool
    chance: tuple[float, ...]
    peak: tuple[float, ...]
    level_db: tuple[float, ...]
    lobes_deg: tuple[float, ...]
    off_lobe_deg: tuple[float, ...]

    @property
    def mean(self) -> float:
        """Mean chance over the targets."""
        return float(np.mean(self.chance))


@record
class TargetAim:
    """
    One target and a bearing that serves all.

    Attributes
    ----------
    name : str
        Name of the target.
    is_open : bool
        Whether any bearing opens any band to it in any hour.
    best_deg : float
        Best bearing for this target alone. [deg]
    best_chance : float
        Mean chance with it.
    chance : float
        Mean chance with the bearing that serves all.
    lost_chance : float
        What the target loses by that.
    lost_db : float
        The same as a mean level; NaN where nothing opens. [dB]
    peak : float
        Chance of the best hour with the bearing that serves all.
    peak_when : str
        That hour, UTC, and its band.
    highest : float
        Chance of the best hour with any bearing.
    highest_when : str
        That hour and its band.
    highest_deg : float
        The bearing. [deg]
    """

    name: str
    is_open: bool
    best_deg: float
    best_chance: Share
    chance: Share
    lost_chance: float
    lost_db: float
    peak: Share
    peak_when: str
    highest: Share
    highest_when: str
    highest_deg: float


@record
class TwoBearings:
    """
    Two bearings instead of one, each target on the better.

    Attributes
    ----------
    first_deg : float
        First bearing. [deg]
    second_deg : float
        Second bearing. [deg]
    first_for : tuple of str
        Names of the targets on the first.
    second_for : tuple of str
        Names of the targets on the second.
    gain : float
        Mean chance more than with one bearing.
    gain_low : float
        Low end of that gain's range under the other assumptions.
    gain_high : float
        High end of that gain's range.
    is_worth_it : bool
        Whether two beat one by a fifth of a day in ten under every assumption.
    """

    first_deg: float
    second_deg: float
    first_for: tuple[str, ...]
    second_for: tuple[str, ...]
    gain: float
    gain_low: float
    gain_high: float
    is_worth_it: bool


@dataclass(frozen=True)
class SetUpAim:
    """
    One set-up turned.

    Attributes
    ----------
    name, shape : str
        The set-up.
    bearing : Bearing
        Best bearing and its tolerance for 1 dB.
    has_front : bool
        Whether its two ends differ, so that it matters which way it runs.
    first_end : str
        Name of the end that its bearing starts from, where they differ.
    is_open : bool
        Whether any bearing opens any band in any hour.
    good_from_deg, good_to_deg : float or None
        Bearings that cost under `TOLERANCE_CHANCE`; None if all do. [deg]
    chance, chance_low, chance_high : float
        Mean chance on the best bearing, and its range under the other assumptions.
    given_chance : float or None
        The same on the bearing that is given; None if it is free.
    lobe_band : str
        Band the lobes are told for: the one that is best most.
    lobe_takeoff_deg : float
        Take-off angle they are told for, the median of what the sky asks for. [deg]
    rows : tuple of TriedBearing
        Every 15 degrees, the best and the given bearing; empty where turning changes
        nothing.
    targets : tuple of TargetAim
        Each target on the best bearing.
    two : TwoBearings or None
        The best two bearings; None for one target or where turning changes nothing.
    """

    name: str
    shape: str
    bearing: Bearing
    has_front: bool
    first_end: str
    is_open: bool
    good_from_deg: float | None
    good_to_deg: float | None
    chance: float
    chance_low: float
    chance_high: float
    given_chance: float | None
    lobe_band: str
    lobe_takeoff_deg: float
    rows: tuple[TriedBearing, ...]
    targets: tuple[TargetAim, ...]
    two: TwoBearings | None


@dataclass(frozen=True)
class Aim:
    """
    Every set-up turned.

    Attributes
    ----------
    question : Question
        What was asked.
    targets : tuple of TargetAdvice
        In the order asked.
    setups : tuple of SetUpAim
        Best first.
    varied : str
        What the ranges are over, in words.
    moved : tuple of str
        How what was heard moves the figures, one sentence a target.
    """

    question: Question
    targets: tuple[TargetAdvice, ...]
    setups: tuple[SetUpAim, ...]
    varied: str
    moved: tuple[str, ...] = ()


def aim(advice: Answer, cache_dir: Path | None = None) -> Aim:
    """
    Lay the whole turn of every set-up of an answer open.

    Parameters
    ----------
    advice : Answer
        The answer.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps its ground tables between runs.

    Returns
    -------
    aim : Aim
        Set-ups by their mean chance on the best bearing.
    """
    question = advice.question
    halves = advice.halves
    others = variants(question, halves.link, halves.spared, cache_dir)
    told = {each.name: each for each in advice.setups}
    setups = sorted(
        (
            _turned(advice, setup, told[setup.name], others, cache_dir)
            for setup in question.station.setups
        ),
        key=lambda one: -one.chance,
    )
    varied = spread_words(each.name for each in others)
    return Aim(
        question,
        advice.targets,
        tuple(setups),
        varied,
        tuple(told_by_target(advice)),
    )


def _turned(
    advice: Answer,
    setup: SetUp,
    told: SetUpAdvice,
    others: tuple[Assumed, ...],
    cache_dir: Path | None,
) -> SetUpAim:
    """Lay the turn of one set-up open, with its range under other assumptions."""
    question, targets, link = advice.question, advice.targets, advice.halves.link
    patterns = advice.halves.patterns[setup.name]
    scan = told.scan or scan_bearings(question, link, patterns)
    bearing = told.bearing
    best = float(scan.tried_deg[scan.best])
    worked = best if bearing.wire_deg is None else bearing.wire_deg
    pair = () if scan.is_round or len(targets) == 1 else _best_pair(scan)
    asked = [best, worked, *pair]
    each = np.stack(
        [
            Assumed(question, link).scores(patterns, asked),
            *(
                other.scores(patterns_of(setup, other.question, cache_dir), asked)
                for other in others
            ),
        ]
    )
    means = each[:, 0].mean(axis=-1)
    good = good_range(
        scan.tried_deg,
        scan.turn_deg,
        scan.score.mean(axis=1),
        scan.best,
        TOLERANCE_CHANCE,
    )
    band, takeoff = _telling_band(question, targets, scan.chance[scan.best])
    rows: tuple[TriedBearing, ...] = ()
    if band in patterns and not scan.is_round:
        lobes = _main_lobes_deg(patterns[band], takeoff)
        hung = None if bearing.is_free else worked % scan.turn_deg
        rows = tuple(
            _row(wire, each[0, 1] if wire == hung else None, scan, lobes, targets)
            for wire in _shown_bearings(scan, best, hung)
        )
    return SetUpAim(
        name=setup.name,
        shape=setup.shape,
        bearing=bearing,
        has_front=scan.turn_deg > 180.0,
        first_end=told.first_end,
        is_open=bool(scan.chance.max() >= OPEN_CHANCE),
        good_from_deg=good[0],
        good_to_deg=good[1],
        chance=float(means[0]),
        chance_low=float(means.min()),
        chance_high=float(means.max()),
        given_chance=None if bearing.is_free else float(each[0, 1].mean()),
        lobe_band=band,
        lobe_takeoff_deg=takeoff,
        rows=rows,
        targets=_each_target(question, targets, scan),
        two=_two_bearings(targets, each, pair) if pair else None,
    )


def _shown_bearings(scan: Scan, best_deg: float, hung_deg: float | None) -> list[float]:
    """Bearings of the table: every 15 degrees, the best and the one given."""
    shown = {*np.arange(0.0, scan.turn_deg, ROW_STEP_DEG).tolist(), best_deg}
    return sorted(shown if hung_deg is None else shown | {hung_deg})


def _best_pair(scan: Scan) -> tuple[float, float]:
    """Two bearings that serve the targets best, each target on the better."""
    score = scan.score
    both = np.maximum(score[:, None], score[None, :]).mean(axis=-1)
    first, second = divmod(int(both.argmax()), score.shape[0])
    return float(scan.tried_deg[first]), float(scan.tried_deg[second])


def _two_bearings(
    targets: tuple[TargetAdvice, ...], each: Floats, pair: tuple[float, ...]
) -> TwoBearings:
    """Set the two bearings, last in ``each`` (V, G, K), against the first."""
    both = each[:, -2:]
    gain = both.max(axis=1).mean(axis=-1) - each[:, 0].mean(axis=-1)
    first = both[0, 0] >= both[0, 1]
    return TwoBearings(
        first_deg=pair[0],
        second_deg=pair[1],
        first_for=tuple(t.name for t, on in zip(targets, first, strict=True) if on),
        second_for=tuple(
            t.name for t, on in zip(targets, first, strict=True) if not on
        ),
        gain=float(gain[0]),
        gain_low=float(gain.min()),
        gain_high=float(gain.max()),
        is_worth_it=bool(gain.min() >= LEAST_DIFFERENCE),
    )


def _telling_band(
    question: Question, targets: tuple[TargetAdvice, ...], chance: Floats
) -> tuple[str, float]:
    """Band that is best most, and the median angle the sky asks for on it."""
    top = chance.max(axis=-1, keepdims=True)
    worth = np.where(chance == top, chance, 0.0)
    band = int(worth.sum(axis=(0, 1)).argmax())
    angles = np.array([target.takeoff_deg[:, band] for target in targets])
    known = np.isfinite(angles) & (worth[:, :, band] > 0.0)
    takeoff = float(np.median(angles[known])) if known.any() else np.nan
    return question.bands[band].name, takeoff


def _main_lobes_deg(pattern: Pattern, takeoff_deg: float) -> tuple[float, ...]:
    """Directions of the main lobes from the wire's own bearing, strongest first."""
    lobes = pattern.lobes(takeoff_deg)
    return tuple(
        azimuth
        for azimuth, gain in zip(lobes.maxima_deg, lobes.maxima_dbi, strict=True)
        if gain >= lobes.maxima_dbi[0] - MAIN_LOBE_DB
    )


def _row(
    wire_deg: float,
    given: Floats | None,
    scan: Scan,
    lobes_deg: tuple[float, ...],
    targets: tuple[TargetAdvice, ...],
) -> TriedBearing:
    """Put one bearing together; ``given`` holds its chances (K,) if it is given."""
    tried = int(np.argmin(np.abs(scan.tried_deg - wire_deg)))
    chance = scan.score[tried] if given is None else given
    turned = tuple((wire_deg + lobe) % 360.0 for lobe in lobes_deg)
    off = [
        float("nan")
        if target.is_all_round or not turned
        else float(np.min(angle_between_deg(target.bearing_deg, turned)))
        for target in targets
    ]
    level = [_level_at(scan.for_target(k), wire_deg) for k in range(len(targets))]
    return TriedBearing(
        wire_deg=wire_deg,
        is_best=bool(wire_deg == scan.tried_deg[scan.best]),
        is_given=given is not None,
        chance=tuple(chance.tolist()),
        peak=tuple(scan.chance[tried].max(axis=(1, 2)).tolist()),
        level_db=tuple(level),
        lobes_deg=turned,
        off_lobe_deg=tuple(off),
    )


def _level_at(scan: Scan, wire_deg: float) -> float:
    """Mean level at a bearing against the best one, in dB."""
    level = scan.mean_db
    places = np.append(scan.tried_deg, scan.turn_deg)
    here = np.interp(wire_deg % scan.turn_deg, places, np.append(level, level[0]))
    return float(here - level[scan.best])


def _each_target(
    question: Question, targets: tuple[TargetAdvice, ...], scan: Scan
) -> tuple[TargetAim, ...]:
    """Set each target's own best bearing against the one that serves all."""
    found = []
    for k, target in enumerate(targets):
        own = scan.for_target(k)
        score = own.score[:, 0]
        mine = own.chance[:, 0]

        def when(wire: int, mine: Floats = mine) -> str:
            hour, band = divmod(int(mine[wire].argmax()), mine.shape[-1])
            return f"{question.bands[band].name} at {hour_name(question, hour)}"

        highest = int(mine.max(axis=(1, 2)).argmax())
        found.append(
            TargetAim(
                name=target.name,
                is_open=bool(own.chance.max() >= OPEN_CHANCE),
                best_deg=float(own.tried_deg[own.best]),
                best_chance=float(score[own.best]),
                chance=float(score[scan.best]),
                lost_chance=float(score[own.best] - score[scan.best]),
                lost_db=-_level_at(own, float(scan.tried_deg[scan.best])),
                peak=float(mine[scan.best].max()),
                peak_when=when(scan.best),
                highest=float(mine[highest].max()),
                highest_when=when(highest),
                highest_deg=float(own.tried_deg[highest]),
            )
        )
    return tuple(found)
