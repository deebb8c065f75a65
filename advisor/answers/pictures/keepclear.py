"""How far people have to keep from the wires of an answer while they send."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.best import best_bands
from advisor.answers.one_wire.wire import band_exposure
from advisor.antenna.exposure import ExposureDistance


@dataclass(frozen=True)
class KeepClear:
    """
    One set-up on one band.

    Attributes
    ----------
    setup, band : str
        Names.
    mean_w : float
        Mean power at the wire. [W]
    exposure : ExposureDistance
        Distance within which public reference levels may be passed.
    """

    setup: str
    band: str
    mean_w: float
    exposure: ExposureDistance


def keep_clear(
    advice: Answer,
    cache_dir: Path | None = None,
    bands: Mapping[str, Sequence[str]] | None = None,
) -> tuple[KeepClear, ...]:
    """
    Work out the exposure distances of the bands an answer sends people to.

    Parameters
    ----------
    advice : Answer
        The answer.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps what it found between runs.
    bands : mapping of str to sequence of str, optional
        For each set-up's name the bands to look at; by default those that are its
        best in some hour to some target, and only the first set-up by the field close
        to its wires, the others by the far-field formula, which errs on the far side.

    Returns
    -------
    clear : tuple of KeepClear
        Set-ups by rank, bands lowest first.

    Raises
    ------
    geo.errors.InputError
        If a set-up cannot be hung or solved on a band.
    """
    question = advice.question
    setups = {each.name: each for each in question.station.setups}
    wanted = best_of_each(advice) if bands is None else bands
    found = []
    for place, one in enumerate(advice.setups):
        quick = bands is None and place > 0
        for band in question.bands:
            if band.name not in wanted.get(one.name, ()):
                continue
            mean_w, exposure = band_exposure(
                question.station, setups[one.name], band, cache_dir, quick=quick
            )
            found.append(KeepClear(one.name, band.name, mean_w, exposure))
    return tuple(found)


def best_of_each(advice: Answer) -> dict[str, tuple[str, ...]]:
    """
    Name the bands each set-up is best on in some hour to some target.

    Parameters
    ----------
    advice : Answer
        The answer.

    Returns
    -------
    bands : dict of str to tuple of str
        By the set-up's name; where nothing opens, the band of the greatest chance.
    """
    names = [band.name for band in advice.question.bands]
    found = {}
    for one in advice.setups:
        best = set(best_bands(one.chance).ravel().tolist()) - {-1}
        if not best:
            chance = np.where(one.works, one.chance.max(axis=(0, 1)), -1.0)
            best = {int(chance.argmax())}
        found[one.name] = tuple(names[b] for b in sorted(best) if one.works[b])
    return found
