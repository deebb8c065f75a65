"""
What is not known well: the month, the method, and the ground under the wire.

The chance itself is a mean over months. The range beside it says how far one month may
stand off that, and by how much the method itself may be wrong. For a difference between
two wires or two bearings the same question is put again with both in the same month and
on the same ground; the error of the method is then common to both and plays no part.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from advisor.answers.perturb import Assumed, assume
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.propagation.groundpath import ground_loss_db
from advisor.propagation.noise import DECILE_SIGMAS
from geo.arrays import Floats

LEAST_DIFFERENCE = 0.02
"""Two mean chances closer than this are alike: what the method itself is good for.
The project's choice."""

METHOD_RMS_DB = 8.0
"""Error of the level: against a bank of measured monthly medians the parent of the
standard's method is off by 10.1 dB rms, by 7.7 with fitted corrections (Torres,
Hernando and Tutor, IEEE Trans. Broadcasting 38, 167, 1992, abstract). Part of that is
the error of the maps, which is counted apart; so the low end (ours). [dB]"""

METHOD_DECILE_DB = DECILE_SIGMAS * METHOD_RMS_DB
"""What one answer in ten is off by at either end: the same as is said of sun and map,
so that four in five lie within the range. [dB]"""

LIGHTNING_DECILE_DB = 10.0
"""The same of the lightning's median: off by 6 dB rms at night on 3 to 15 MHz and by
some 10 dB elsewhere (charts from memory, docs/method.md), 7.7 and 12.8 at a decile.
[dB]"""

MONTHS = (-1, 1)
"""A weak and a strong month, as of `advisor.engine.months.month_layers`."""

POOREST, RICHEST = "poor", "rich"
"""Grounds between which a soil may lie that nobody has measured."""

NOT_SOIL = frozenset({"sea water", "fresh water", "ice", "cold ice", "perfect"})
"""Grounds that are what they are called."""

_MONTH_NAMES = ("weak month", "strong month")

MOST_WIRES = 12
"""Wires, each set-up counting once for every band, up to which other grounds are tried:
each of them must be solved anew on each ground."""


def error_range(
    chance: Floats, months: Sequence[Floats], method: Sequence[Floats]
) -> tuple[Floats, Floats]:
    """
    Put the error of the month and that of the method together.

    Parameters
    ----------
    chance : numpy.ndarray
        The answer.
    months, method : sequence of numpy.ndarray
        The same in other months, and with the level off by the error of the method,
        both as far as one in ten is at either end.

    Returns
    -------
    low, high : numpy.ndarray
        The farthest down and up by each of the two, added as squares; within 0 and 1,
        and never beyond the answer.

    Examples
    --------
    >>> half = np.array([0.4])
    >>> low, high = error_range(half, [half - 0.12, half + 0.2], [half - 0.16, half])
    >>> low.round(2), high.round(2)
    (array([0.2]), array([0.6]))
    """

    def farthest(side: float) -> Floats:
        off = [
            np.max([np.zeros_like(chance), *(side * (one - chance) for one in each)], 0)
            for each in (months, method)
        ]
        return np.asarray(np.hypot(*off))

    low, high = chance - farthest(-1.0), chance + farthest(1.0)
    return np.clip(low, 0.0, 1.0), np.clip(high, 0.0, 1.0)


def level_off(link: Link, side: float) -> Link:
    """
    Put signal over noise off by the error of the method and of the lightning.

    Parameters
    ----------
    link : Link
        The sky's half.
    side : float
        -1 for a decile weaker, with lightning louder; 1 for a decile stronger.

    Returns
    -------
    link : Link
        The same with the levels at both ends off. What louder lightning adds to the
        noise goes by its share of it, and adds to the method's error as squares.
    """
    more = 10.0 ** (-0.1 * side * LIGHTNING_DECILE_DB) - 1.0
    off = [
        side * np.hypot(METHOD_DECILE_DB, 10.0 * np.log10(1.0 + share * more))
        for share in link.lightning_share
    ]
    return replace(link, heard_db=link.heard_db + off[0], hear_db=link.hear_db + off[1])


def range_words(low: float, high: float) -> str:
    """
    Say a range of chances with what it is over.

    Parameters
    ----------
    low, high : float
        Its ends, as of `error_range`.

    Returns
    -------
    words : str
        Half a sentence; empty for no range to speak of.

    Examples
    --------
    >>> range_words(0.2, 0.71), range_words(0.9, 0.91)
    ('2.0 to 7.1 with the error of method and month', '')
    """
    if high - low < LEAST_DIFFERENCE:
        return ""
    return f"{10.0 * low:.1f} to {10.0 * high:.1f} with the error of method and month"


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
        The same in a weak and a strong month, if it is worked out.
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs.

    Returns
    -------
    variants : tuple of Assumed
        A weak and a strong month; poor and rich ground, unless `other_grounds` knows
        better.
    """
    if spared is None:
        found = [
            assume(question, name, cache_dir, month)
            for name, month in zip(_MONTH_NAMES, MONTHS, strict=True)
        ]
    else:
        pairs = zip(_MONTH_NAMES, spared, strict=True)
        found = [Assumed(question, sky, name) for name, sky in pairs]
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
    >>> spread_words(["strong month", "rich ground"])
    "the month's layers and kind of ground"
    """
    told = " ".join(names)
    parts = {
        "sun": "solar activity",
        "month": "the month's layers",
        "ground": "kind of ground",
    }
    return " and ".join(words for mark, words in parts.items() if mark in told)
