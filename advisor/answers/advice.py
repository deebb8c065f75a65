"""
From chances to decisions: band, hour, set-up, and what stands in the way.

Everything shown to a person is worked out here and in `advisor.engine.targets`,
`advisor.answers.bearings` and `advisor.answers.limits`; ``show`` only arranges it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import numpy as np

from advisor.answers.bearings import (
    Bearing,
    Scan,
    bearing_from,
    is_by_ground_wave,
    scan_bearings,
)
from advisor.answers.first_end import first_end
from advisor.answers.limits import LIMITS, OPEN_CHANCE, limiting_factors
from advisor.answers.perturb import Case
from advisor.answers.through import gives_dbi, through_angles_deg
from advisor.antenna.pattern import Pattern
from advisor.engine.contact import contact_chance, contact_margin_db
from advisor.engine.engine import Link, link_for, wire_gains
from advisor.engine.gains import Gains
from advisor.engine.question import Question
from advisor.engine.targets import (
    TargetAdvice,
    describe_targets,
    over_targets,
)
from advisor.station.setup import SetUp
from geo.arrays import Bools, Floats, Ints
from geo.records import ArrayRecord

STAY_CHANCE = 0.05
"""A band is kept for the next hour if it is within this of the best."""


@dataclass(frozen=True, eq=False)
class SetUpAdvice(ArrayRecord):
    """
    One set-up on the question, arrays of shape (K, T, B) over K targets.

    Attributes
    ----------
    name, shape : str
        The set-up's name and shape.
    bearing : Bearing
        How to turn it.
    score : float
        Mean over targets and hours of the best band's chance.
    works : numpy.ndarray of bool
        Shape (B,), bands the set-up works on.
    chance, chance_low, chance_high : numpy.ndarray
        Chance of a contact, and its range over the solar index.
    heard, hear : numpy.ndarray
        Chance in each direction.
    margin_db : numpy.ndarray
        Median signal over what is needed in the worse direction, on the middle one of
        the days with any way at all, scatter counting where it carries the band; NaN
        where there is none. [dB]
    gain_dbi : numpy.ndarray
        My wire's gain towards the modes, by strength; NaN where no mode exists.
    through_low_deg, through_deg, through_high_deg : numpy.ndarray
        Take-off angles of what gets through, as of
        `advisor.answers.through.through_angles_deg`. [deg]
    by_ground_wave : numpy.ndarray of bool
        Whether the ground wave is stronger than the sky over most of the target.
    limit : numpy.ndarray of int
        What stands in the way, as a place in `LIMITS`.
    limit_cost : numpy.ndarray
        Chance that is lost to it.
    scan : Scan or None
        The set-up on every other bearing, if it was tried there.
    first_end : str
        Name of the end that its bearing starts from; empty where it may run either
        way.
    """

    name: str
    shape: str
    bearing: Bearing
    score: float
    works: Bools
    chance: Floats
    chance_low: Floats
    chance_high: Floats
    heard: Floats
    hear: Floats
    margin_db: Floats
    gain_dbi: Floats
    through_low_deg: Floats
    through_deg: Floats
    through_high_deg: Floats
    by_ground_wave: Bools
    limit: Ints
    limit_cost: Floats
    scan: Scan | None = None
    first_end: str = ""

    def held_back_by(self) -> tuple[str, float]:
        """
        Name what holds the set-up back most over the hours, on the best band of each.

        Returns
        -------
        name : str
            One of `advisor.answers.limits.LIMITS`.
        cost : float
            Mean over targets and hours of the chance lost to it.
        """
        best = self.chance.argmax(axis=-1)[..., None]
        limit = np.take_along_axis(self.limit, best, axis=-1)[..., 0]
        cost = np.take_along_axis(self.limit_cost, best, axis=-1)[..., 0]
        lost = [
            float(np.where(limit == i, cost, 0.0).mean()) for i in range(len(LIMITS))
        ]
        worst = int(np.argmax(lost))
        if lost[worst] == 0.0 and best.size:
            # Nothing alone would help: what is named most often.
            worst = int(np.bincount(limit.ravel(), minlength=len(LIMITS)).argmax())
        return LIMITS[worst], lost[worst]


class OnDemand(Mapping[str, Mapping[str, Pattern]]):
    """Patterns of what was found, solved when they are looked at: few of them are."""

    def __init__(self, solve: Mapping[str, Callable[[], Mapping[str, Pattern]]]):
        self._solve = solve

    def __getitem__(self, name: str) -> Mapping[str, Pattern]:
        return self._solve[name]()

    def __iter__(self) -> Iterator[str]:
        return iter(self._solve)

    def __len__(self) -> int:
        return len(self._solve)


@dataclass(frozen=True, eq=False)
class Halves(ArrayRecord):
    """
    Both halves of the link, worked out once for a question.

    Attributes
    ----------
    link : Link
        The sky's half as asked.
    spared : tuple of Link
        The same at both ends of the range of solar activity; empty for no range.
    patterns : mapping of str to mapping of str to Pattern
        For each set-up's name, the pattern on each band it works on.
    far_patterns : mapping of str to Pattern
        Pattern of the far end's antenna on every band.
    """

    link: Link
    spared: tuple[Link, ...]
    patterns: Mapping[str, Mapping[str, Pattern]]
    far_patterns: Mapping[str, Pattern]


@dataclass(frozen=True, eq=False)
class Answer(ArrayRecord):
    """
    The answer to a question.

    Attributes
    ----------
    question : Question
        What was asked.
    targets : tuple of TargetAdvice
        In the order asked.
    setups : tuple of SetUpAdvice
        Best first.
    best_band : numpy.ndarray of int
        Shape (K, T): best band of the best set-up each hour, -1 where all are
        closed.
    halves : Halves
        What it was worked out from; later questions read it.
    """

    question: Question
    targets: tuple[TargetAdvice, ...]
    setups: tuple[SetUpAdvice, ...]
    best_band: Ints
    halves: Halves = field(repr=False)


def sky_halves(
    question: Question,
    far_patterns: Mapping[str, Pattern],
    cache_dir: Path | None = None,
) -> tuple[Link, tuple[Link, ...]]:
    """
    Work out the sky as asked, and at both ends of the range of solar activity.

    Parameters
    ----------
    question : Question
        What is asked.
    far_patterns : mapping of str to Pattern
        Pattern of the far end's antenna on every band of the question.
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs.

    Returns
    -------
    link : Link
        As asked.
    spared : tuple of Link
        At the low and the high end; empty for no range.
    """
    solar = question.solar
    sky = partial(link_for, question, far_patterns=far_patterns, cache_dir=cache_dir)
    return sky(solar.r12), tuple(
        sky(r12)
        for r12 in (solar.low, solar.high)
        if not np.array_equal(r12, solar.r12)
    )


def advise(
    question: Question,
    patterns: Mapping[str, Mapping[str, Pattern]],
    far_patterns: Mapping[str, Pattern],
    cache_dir: Path | None = None,
) -> Answer:
    """
    Answer a question.

    Parameters
    ----------
    question : Question
        What is asked.
    patterns : mapping of str to mapping of str to Pattern
        For each set-up's name, the pattern on each band it works on.
    far_patterns : mapping of str to Pattern
        Pattern of the far end's antenna on every band of the question.
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs.

    Returns
    -------
    advice : Answer
        Ranked answer.
    """
    link, spared = sky_halves(question, far_patterns, cache_dir)
    setups = sorted(
        (
            advise_setup(question, link, spared, setup, patterns[setup.name])
            for setup in question.station.setups
        ),
        key=lambda one: -one.score,
    )
    return Answer(
        question=question,
        targets=tuple(describe_targets(question, link)),
        setups=tuple(setups),
        best_band=best_bands(setups[0].chance),
        halves=Halves(link, spared, patterns, far_patterns),
    )


def best_bands(chance: Floats) -> Ints:
    """
    Best band each hour, with few changes.

    Parameters
    ----------
    chance : numpy.ndarray
        Shape (K, T, B).

    Returns
    -------
    best : numpy.ndarray of int
        Shape (K, T); -1 where no band reaches `OPEN_CHANCE`. A band is kept while
        it is within `STAY_CHANCE` of the best.

    Examples
    --------
    >>> best_bands(np.array([[[0.5, 0.4], [0.5, 0.52], [0.1, 0.6], [0.0, 0.0]]]))
    array([[ 0,  0,  1, -1]])
    """
    top = chance.argmax(axis=-1)
    best = np.full(chance.shape[:2], -1)
    for k, hours in enumerate(chance):
        held = -1
        for t, bands in enumerate(hours):
            greatest = bands[top[k, t]]
            if greatest < OPEN_CHANCE:
                held = -1
            elif held < 0 or bands[held] < max(greatest - STAY_CHANCE, OPEN_CHANCE):
                held = int(top[k, t])
            best[k, t] = held
    return best


def advise_setup(
    question: Question,
    link: Link,
    spared: Iterable[Link],
    setup: SetUp,
    patterns: Mapping[str, Pattern],
    bearing: Bearing | None = None,
    scan: Scan | None = None,
) -> SetUpAdvice:
    """
    Turn one set-up, then read everything at the bearing chosen.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half.
    spared : iterable of Link
        The same at both ends of the range of solar activity; empty for no range.
    setup : SetUp
        The set-up.
    patterns : mapping of str to Pattern
        Pattern for each band it works on.
    bearing : Bearing, optional
        How it is turned, if that is worked out already.
    scan : Scan, optional
        It on every bearing, if that is worked out already.

    Returns
    -------
    advice : SetUpAdvice
        Chances, bearing and limits.
    """
    if bearing is None:
        scan = scan or scan_bearings(question, link, patterns)
        bearing = bearing_from(scan, setup.bearing_deg)
    worked = 0.0 if bearing.wire_deg is None else bearing.wire_deg
    gains = wire_gains(question, link, patterns, worked)
    contact = contact_chance(link, gains)
    chance = over_targets(question, contact.both[0])
    ranges = [chance]
    for other in spared:
        moved = wire_gains(question, other, patterns, worked)
        ranges.append(over_targets(question, contact_chance(other, moved).both[0]))
    case = Case(question, link, patterns, worked, gains)
    limit, limit_cost = limiting_factors(case, chance)
    through = through_angles_deg(question, link, gains)
    margin_db = _median_margin_db(question, link, gains)
    by_scatter = limit == LIMITS.index("only by scatter")
    if by_scatter.any():
        faint_db = _median_margin_db(question, link, gains, scattered=True)
        margin_db = np.where(by_scatter, faint_db, margin_db)
    return SetUpAdvice(
        name=setup.name,
        shape=setup.shape,
        bearing=bearing,
        score=float(chance.max(axis=-1).mean()),
        works=np.array([band.name in patterns for band in question.bands]),
        chance=chance,
        chance_low=np.min(ranges, axis=0),
        chance_high=np.max(ranges, axis=0),
        heard=over_targets(question, contact.heard[0]),
        hear=over_targets(question, contact.hear[0]),
        margin_db=margin_db,
        gain_dbi=gives_dbi(question, link, gains, patterns)[0],
        through_low_deg=through[0],
        through_deg=through[1],
        through_high_deg=through[2],
        by_ground_wave=is_by_ground_wave(question, link, gains),
        limit=limit,
        limit_cost=limit_cost,
        scan=scan,
        first_end=first_end(setup, patterns.values()),
    )


def _median_margin_db(
    question: Question, link: Link, gains: Gains, *, scattered: bool = False
) -> Floats:
    """Margin on the middle day with a way, mean over each target's points."""
    margin = contact_margin_db(link, gains, scattered=scattered)
    found = np.isfinite(margin)
    share = over_targets(question, found.astype(float))
    total = over_targets(question, np.where(found, margin, 0.0))
    return np.asarray(
        np.divide(total, share, out=np.full_like(total, np.nan), where=share > 0.0)
    )
