"""The ribbon: the hours of a question as they are to be spent, target by target."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.outing.plan import Activation
from advisor.answers.pictures.daylight import Daylight, daylight_of_targets
from advisor.engine.question import Question
from geo.arrays import Floats
from geo.records import ArrayRecord


@dataclass(frozen=True)
class Run:
    """
    Hours in a row on one band.

    Attributes
    ----------
    first, last : int
        First and last hour, as places on the hour axis.
    band : str
        The band; empty where all are closed.
    setup : str
        The set-up it is worked with.
    """

    first: int
    last: int
    band: str
    setup: str


class RibbonRow(ArrayRecord):
    """
    One target.

    Attributes
    ----------
    target : str
        Its name.
    runs : tuple of Run
        In time order, all hours covered.
    chance : numpy.ndarray
        Shape (T,), chance of a contact on the band of the run; 0 where all are closed.
    ends : tuple of Daylight
        The sun at my end and, if the target lies in a direction, at its middle.
    """

    target: str
    runs: tuple[Run, ...]
    chance: Floats
    ends: tuple[Daylight, ...]


class Ribbon(ArrayRecord):
    """
    The hours of a question.

    Attributes
    ----------
    question : Question
        Holds the hours.
    rows : tuple of RibbonRow
        One a target.
    """

    question: Question
    rows: tuple[RibbonRow, ...]


def ribbon(advice: Answer) -> Ribbon:
    """
    Lay out the best set-up and band of each hour.

    Parameters
    ----------
    advice : Answer
        The answer.

    Returns
    -------
    ribbon : Ribbon
        Each target by itself.
    """
    best = advice.best
    ways = np.stack([np.maximum(best.wire, 0), best.band], axis=-1)
    return _ribbon(advice, [[(int(s), int(b)) for s, b in row] for row in ways])


def plan_ribbon(plan: Activation) -> Ribbon:
    """
    Lay out the hours of an outing, the same bands for every target.

    Parameters
    ----------
    plan : Activation
        The plan.

    Returns
    -------
    ribbon : Ribbon
        What each target has of it.
    """
    hours = [(slot.setup, slot.band) for slot in plan.slots for _ in range(slot.hours)]
    return _ribbon(plan.advice, [hours] * len(plan.advice.targets))


def _ribbon(advice: Answer, chosen: Sequence[Sequence[tuple[int, int]]]) -> Ribbon:
    """Put set-up and band of each target's hours together; -1 is none."""
    bands = [band.name for band in advice.question.bands]
    rows = []
    for k, ends in enumerate(daylight_of_targets(advice)):
        runs: list[Run] = []
        for t, (s, b) in enumerate(chosen[k]):
            now = (bands[b], advice.setups[s].name) if b >= 0 else ("", "")
            if runs and (runs[-1].band, runs[-1].setup) == now:
                runs[-1] = Run(runs[-1].first, t, *now)
            else:
                runs.append(Run(t, t, *now))
        chance = [
            float(advice.setups[s].chance[k, t, b]) if b >= 0 else 0.0
            for t, (s, b) in enumerate(chosen[k])
        ]
        rows.append(
            RibbonRow(advice.targets[k].name, tuple(runs), np.array(chance), ends)
        )
    return Ribbon(advice.question, tuple(rows))
