"""
What is not known well: the sun's activity, and the ground under the wire.

The same question is put again under each of a few other assumptions, so that an
answer can be shown as a range, and a difference between two wires or two bearings
can be judged with both under the same sun and on the same ground.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from advisor.answers.perturb import Assumed, assume
from advisor.engine.engine import Link
from advisor.engine.question import Question
from advisor.propagation.groundpath import ground_loss_db

LEAST_DIFFERENCE = 0.02
"""Two mean chances closer than this are alike: what the method itself is good for.
The project's choice."""

POOREST, RICHEST = "poor", "rich"
"""Grounds between which a soil may lie that nobody has measured."""

NOT_SOIL = frozenset({"sea water", "fresh water", "ice", "cold ice", "perfect"})
"""Grounds that are what they are called."""

MOST_WIRES = 12
"""Wires, each set-up counting once for every band, up to which other grounds are tried:
each of them must be solved anew on each ground."""


def variants(
    question: Question,
    link: Link,
    spared: Sequence[Link] | None = None,
    cache_dir: Path | None = None,
) -> tuple[Assumed, ...]:
    """
    Put the question under other assumptions.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half as asked; the ground under me changes only the ground wave.
    spared : sequence of Link, optional
        The same at both ends of the range of solar activity, if it is worked out.
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs.

    Returns
    -------
    variants : tuple of Assumed
        A quieter and a busier sun within the forecast's error, unless the activity
        was given; poor and rich ground, unless `other_grounds` knows better.
    """
    solar = question.solar
    edges = [
        (name, r12)
        for name, r12 in (("quieter sun", solar.low), ("busier sun", solar.high))
        if not np.array_equal(r12, solar.r12)
    ]
    if spared is None:
        found = [assume(question, r12, name, cache_dir) for name, r12 in edges]
    else:
        pairs = zip(edges, spared, strict=True)
        found = [Assumed(question, sky, name) for (name, _), sky in pairs]
    for ground in other_grounds(question):
        along = ground_loss_db(link.paths, question.frequency_mhz, ground, cache_dir)
        moved = replace(link, ground_loss_db=along)
        found.append(Assumed(on_ground(question, ground), moved, f"{ground} ground"))
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
    bands = {band.name for band in question.bands}
    wires = sum(len(bands & set(each.bands)) for each in question.station.setups)
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


def spread_words(names: Iterable[str]) -> str:
    """
    Say what the range over some variants is over.

    Parameters
    ----------
    names : iterable of str
        Names of what `variants` gave.

    Returns
    -------
    words : str
        Empty if nothing was varied.

    Examples
    --------
    >>> spread_words(["busier sun", "rich ground"])
    'solar activity and kind of ground'
    """
    told = " ".join(names)
    parts = {"sun": "solar activity", "ground": "kind of ground"}
    return " and ".join(words for mark, words in parts.items() if mark in told)
