"""
What is not known well: the sun's activity, and the ground under the wire.

The same question is put again under each of a few other assumptions, so that an
answer can be shown as a range, and a difference between two wires or two bearings
can be judged with both under the same sun and on the same ground.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from advisor.answers.whatif import patterns_of
from advisor.antenna.pattern import Pattern
from advisor.engine.engine import Link, contact_chance, link_for, wire_gains
from advisor.engine.question import Question
from advisor.engine.targets import over_targets
from advisor.engine.wires import far_end_patterns
from advisor.propagation.groundpath import ground_loss_db
from advisor.station.setup import SetUp

POOREST, RICHEST = "poor", "rich"
"""Grounds between which a soil may lie that nobody has measured."""

NOT_SOIL = frozenset({"sea water", "fresh water", "ice", "cold ice", "perfect"})
"""Grounds that are what they are called."""

LEAST_DIFFERENCE = 0.02
"""Two mean chances closer than this are alike: what the method itself is good for.
The project's choice."""


MOST_WIRES = 12
"""Wires, each set-up counting once for every band, up to which other grounds are tried:
each of them must be solved anew on each ground."""


@dataclass(frozen=True)
class Variant:
    """
    The question under one other assumption.

    Attributes
    ----------
    name : str
        What is different.
    question : Question
        The question, with the ground it is put for.
    link : Link
        The sky's half.
    """

    name: str
    question: Question
    link: Link

    def scores(
        self, setup: SetUp, bearing_deg: object, cache_dir: Path | None = None
    ) -> NDArray[np.float64]:
        """
        Mean over the hours of the best band's chance.

        Parameters
        ----------
        setup : SetUp
            The set-up.
        bearing_deg : array_like
            Wire bearings, (G,). [deg]
        cache_dir : pathlib.Path, optional
            Where the wire solver keeps its ground tables between runs.

        Returns
        -------
        scores : numpy.ndarray
            Shape (G, K), by bearing and target.
        """
        patterns = patterns_of(setup, self.question, cache_dir)
        return mean_best_chance(self.question, self.link, patterns, bearing_deg)


def mean_best_chance(
    question: Question,
    link: Link,
    patterns: Mapping[str, Pattern],
    bearing_deg: object,
) -> NDArray[np.float64]:
    """
    Mean over the hours of the best band's chance, at some bearings.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half.
    patterns : mapping of str to Pattern
        Pattern for each band the set-up works on.
    bearing_deg : array_like
        Wire bearings, (G,). [deg]

    Returns
    -------
    scores : numpy.ndarray
        Shape (G, K), by bearing and target.
    """
    gains = wire_gains(question, link, patterns, np.asarray(bearing_deg, dtype=float))
    chance = over_targets(question, contact_chance(link, gains).both, axis=1)
    return np.asarray(chance.max(axis=-1).mean(axis=-1))


def variants(question: Question, link: Link) -> tuple[Variant, ...]:
    """
    Put the question under other assumptions.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half as asked; the ground under me changes only the ground wave.

    Returns
    -------
    variants : tuple of Variant
        A quieter and a busier sun within the forecast's error, unless the activity
        was given; poor and rich ground, unless `other_grounds` knows better.
    """
    far = far_end_patterns(question.station.far_end, question.bands)
    solar = question.solar
    found = [
        Variant(name, question, link_for(question, r12, far))
        for name, r12 in (("quieter sun", solar.low), ("busier sun", solar.high))
        if not np.array_equal(r12, solar.r12)
    ]
    for ground in other_grounds(question):
        moved = on_ground(question, ground)
        along = ground_loss_db(link.paths, question.frequency_mhz, ground)
        found.append(
            Variant(f"{ground} ground", moved, replace(link, ground_loss_db=along))
        )
    return tuple(found)


def other_grounds(question: Question) -> tuple[str, ...]:
    """
    Name the grounds that the soil may turn out to be.

    Parameters
    ----------
    question : Question
        What is asked.

    Returns
    -------
    grounds : tuple of str
        The poorest and the richest; none if the station stands on something that is
        no soil, or has more wires than `MOST_WIRES`.
    """
    here = question.station.ground
    asked = {band.name for band in question.bands}
    wires = sum(len(asked & set(each.bands)) for each in question.station.setups)
    if here in NOT_SOIL or wires > MOST_WIRES:
        return ()
    return tuple(ground for ground in (POOREST, RICHEST) if ground != here)


def on_ground(question: Question, ground: str) -> Question:
    """
    Move a question to another kind of ground.

    Parameters
    ----------
    question : Question
        What is asked.
    ground : str
        Kind of ground.

    Returns
    -------
    question : Question
        The same with the station on that ground.
    """
    return replace(question, station=replace(question.station, ground=ground))


def spread_words(found: tuple[Variant, ...]) -> str:
    """
    Say what a range is over.

    Parameters
    ----------
    found : tuple of Variant
        What `variants` gave.

    Returns
    -------
    words : str
        Such as "solar activity and ground"; empty if nothing was varied.
    """
    sun, ground = (
        any(variant.name.endswith(mark) for variant in found)
        for mark in ("sun", "ground")
    )
    return varied_words(sun, ground)


def varied_words(sun: bool, ground: bool) -> str:
    """
    Say what a range is over.

    Parameters
    ----------
    sun, ground : bool
        Whether solar activity and ground were varied.

    Returns
    -------
    words : str
        Empty if neither was.

    Examples
    --------
    >>> varied_words(True, True)
    'solar activity and kind of ground'
    """
    parts = [
        words
        for words, varied in (("solar activity", sun), ("kind of ground", ground))
        if varied
    ]
    return " and ".join(parts)
