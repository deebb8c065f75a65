"""
From chances to decisions: band, hour, set-up, and what stands in the way.

Everything shown to a person is worked out here and in `advisor.engine.targets`,
`advisor.answers.bearings` and `advisor.answers.limits`; ``show`` only arranges it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import field, replace
from functools import cached_property, partial
from pathlib import Path

import numpy as np

from advisor.answers.bearings import (
    Bearing,
    Scan,
    bearing_from,
    is_by_ground_wave,
    scan_bearings,
)
from advisor.answers.best import Best, Readings, best_of
from advisor.answers.first_end import first_end
from advisor.answers.limits import LIMITS, limiting_factors
from advisor.answers.perturb import Case
from advisor.answers.states import states
from advisor.answers.through import carried_by, gives_dbi, through_angles_deg
from advisor.answers.uncertainty import MONTHS, error_range, level_off
from advisor.answers.why_facts import GROUND_WAVE_NAME
from advisor.antenna.pattern import Pattern
from advisor.antenna.shapes.registry import SHAPES
from advisor.engine.contact import contact_chance, contact_margin_db
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.gains import Gains
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import (
    TargetAdvice,
    describe_targets,
    over_targets,
    target_slices,
)
from advisor.station.setup import SetUp
from geo.arrays import Floats, Ints
from geo.records import ArrayRecord


class SetUpAdvice(Readings):
    """
    One set-up on the question: its readings, and how it hangs.

    Attributes
    ----------
    name, shape : str
        The set-up's name and shape.
    bearing : Bearing
        How to turn it.
    score : float
        Mean over targets and hours of the best band's chance.
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
    scan: Scan | None = None
    first_end: str = ""

    @property
    def verb(self) -> str:
        """What to do with it, before the way it runs."""
        if not SHAPES[self.shape].has_bearing:
            return "its radials run"
        return "hang it" if self.bearing.is_free else "it hangs"

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


class Halves(ArrayRecord):
    """
    Both halves of the link, worked out once for a question.

    Attributes
    ----------
    link : Link
        The sky's half as asked.
    spared : tuple of Link
        The same in a weak and a strong month.
    patterns : mapping of str to mapping of str to Pattern
        For each set-up's name, the pattern on each band it works on.
    far_patterns : mapping of str to Pattern
        Pattern of the far end's antenna on every band.
    """

    link: Link
    spared: tuple[Link, ...]
    patterns: Mapping[str, Mapping[str, Pattern]]
    far_patterns: Mapping[str, Pattern]


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
    halves : Halves
        What it was worked out from; later questions read it.
    are_rivals : bool
        Whether only the first set-up will hang, the others being what it was chosen
        from.
    """

    question: Question
    targets: tuple[TargetAdvice, ...]
    setups: tuple[SetUpAdvice, ...]
    halves: Halves = field(repr=False)
    are_rivals: bool = False

    @cached_property
    def best(self) -> Best:
        """The best wire of every target, hour and band, and what to be on."""
        return best_of(self.setups[:1] if self.are_rivals else self.setups)

    @cached_property
    def states(self) -> Ints:
        """What the best of every target, hour and band is, (K, T, B), in `STATES`."""
        return states(self.question, self.halves.link, self.best)

    @property
    def best_band(self) -> Ints:
        """Band to be on, (K, T); -1 where all are closed."""
        return self.best.band

    @property
    def used(self) -> tuple[SetUpAdvice, ...]:
        """Set-ups to be on in any hour, in the order of the ranking."""
        return tuple(self.setups[i] for i in np.unique(self.best.wire) if i >= 0)


def sky_halves(
    question: Question,
    far_patterns: Mapping[str, Pattern],
    cache_dir: Path | None = None,
) -> tuple[Link, tuple[Link, ...]]:
    """
    Work out the sky as asked, and in a weak and a strong month.

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
        In the other months.
    """
    sky = partial(
        link_for, question, question.solar.r12, far_patterns, cache_dir=cache_dir
    )

    def level(month: int) -> Link:
        """Only the level is asked of it, not what it is made of."""
        link = sky(month=month)
        return replace(link, modes=link.modes.summed())

    return sky(), tuple(level(month) for month in MONTHS)


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
        halves=Halves(link, spared, patterns, far_patterns),
    )


def advise_setup(
    question: Question,
    link: Link,
    spared: Iterable[Link],
    setup: SetUp,
    patterns: Mapping[str, Pattern],
    bearing: Bearing | None = None,
    scan: Scan | None = None,
    *,
    with_limits: bool = True,
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
        The same in a weak and a strong month.
    setup : SetUp
        The set-up.
    patterns : mapping of str to Pattern
        Pattern for each band it works on.
    bearing : Bearing, optional
        How it is turned, if that is worked out already.
    scan : Scan, optional
        It on every bearing, if that is worked out already.
    with_limits : bool, optional
        Whether to find what stands in the way and the range by the errors, which takes
        more than half of the time; if not, the first is the first of the list
        throughout, and the range has no width.

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

    def chance_in(sky: Link, hung: Gains) -> Floats:
        return over_targets(question, contact_chance(sky, hung).both[0])

    by_month = chance
    if link.today is not None:
        by_month = chance_in(replace(link, today=None), gains)
    low, high = chance, chance
    case = Case(question, link, patterns, worked, gains)
    limit, limit_cost = np.zeros(chance.shape, np.int64), np.zeros(chance.shape)
    if with_limits:
        low, high = error_range(
            chance,
            [
                chance_in(sky, wire_gains(question, sky, patterns, worked))
                for sky in spared
            ],
            [chance_in(level_off(link, side), gains) for side in (-1.0, 1.0)],
        )
        limit, limit_cost = limiting_factors(case, chance)
    through = through_angles_deg(question, link, gains)
    margin_db = _median_margin_db(question, link, gains)
    by_scatter = limit == LIMITS.index("only by scatter")
    if by_scatter.any():
        faint_db = _median_margin_db(question, link, gains, scattered=True)
        margin_db = np.where(by_scatter, faint_db, margin_db)
    along = is_by_ground_wave(question, link, gains)
    return SetUpAdvice(
        name=setup.name,
        shape=setup.shape,
        bearing=bearing,
        score=float(chance.max(axis=-1).mean()),
        works=np.array([band.name in patterns for band in question.bands]),
        chance=chance,
        chance_low=low,
        chance_high=high,
        chance_month=by_month,
        heard=over_targets(question, contact.heard[0]),
        hear=over_targets(question, contact.hear[0]),
        margin_db=margin_db,
        gain_dbi=gives_dbi(question, link, gains, patterns)[0],
        through_low_deg=through[0],
        through_deg=through[1],
        through_high_deg=through[2],
        mode=np.where(along, GROUND_WAVE_NAME, carried_by(question, link, gains)),
        by_ground_wave=along,
        limit=limit,
        limit_cost=limit_cost,
        scan=scan,
        first_end=first_end(setup, patterns.values()),
    )


def _median_margin_db(
    question: Question, link: Link, gains: Gains, *, scattered: bool = False
) -> Floats:
    """Margin on the middle day with a way, of the middle station that has such days."""
    margin = contact_margin_db(link, gains, scattered=scattered)
    middle = []
    for part, target in zip(target_slices(question), question.targets, strict=True):
        order = margin[part].argsort(axis=0)
        found = np.take_along_axis(margin[part], order, axis=0)
        weight = np.where(np.isfinite(found), target.weight[order], 0.0).cumsum(axis=0)
        half = (weight >= 0.5 * weight[-1]).argmax(axis=0)
        middle.append(np.take_along_axis(found, half[None], axis=0)[0])
    return np.stack(middle)
