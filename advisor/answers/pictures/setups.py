"""Set-ups side by side."""

from __future__ import annotations

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.best import best_bands
from geo.arrays import Floats
from geo.records import ArrayRecord


class SetUpHours(ArrayRecord):
    """
    One set-up hour by hour on its best band.

    Attributes
    ----------
    name : str
        The set-up.
    score : float
        Mean chance over hours, targets, best band.
    bands : tuple of str
        Best band of each hour; empty where all are closed.
    chance : numpy.ndarray
        Shape (T,), chance on it; the greatest of all bands where all are closed.
    """

    name: str
    score: float
    bands: tuple[str, ...]
    chance: Floats


def setups_by_hour(advice: Answer, target: int = 0) -> tuple[SetUpHours, ...]:
    """
    Follow every set-up through the hours on its own best band.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int, optional
        Which target.

    Returns
    -------
    setups : tuple of SetUpHours
        In order of rank.
    """
    names = [band.name for band in advice.question.bands]
    found = []
    for one in advice.setups:
        best = best_bands(one.chance)[target]
        chance = one.chance[target]
        held = np.where(best >= 0, best, chance.argmax(axis=-1))
        found.append(
            SetUpHours(
                name=one.name,
                score=one.score,
                bands=tuple(names[b] if b >= 0 else "" for b in best.tolist()),
                chance=np.take_along_axis(chance, held[:, None], axis=-1)[:, 0],
            )
        )
    return tuple(found)
