"""An answer with the patterns it came from, and smaller questions cut out of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from advisor.answers.advice import Answer
from advisor.antenna.pattern import Pattern
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.station.setup import SetUp
from geo.places import Target


@dataclass(frozen=True, eq=False)
class Scene:
    """
    An answer with the patterns it came from.

    Attributes
    ----------
    advice : Answer
        The answer.
    cache_dir : pathlib.Path or None
        Where the wire solver keeps what it found between runs.
    """

    advice: Answer
    cache_dir: Path | None = None

    @property
    def patterns(self) -> Mapping[str, Mapping[str, Pattern]]:
        """For each set-up's name, the pattern on each band it works on."""
        return self.advice.halves.patterns

    @property
    def far_patterns(self) -> Mapping[str, Pattern]:
        """Pattern of the far end's antenna on every band."""
        return self.advice.halves.far_patterns

    @property
    def link(self) -> Link:
        """The sky's half of the whole question."""
        return self.advice.halves.link


@dataclass(frozen=True)
class Moment:
    """
    A place on the axes of an answer.

    Attributes
    ----------
    hour, band : int
        Places on the hour axis and on the band axis.
    """

    hour: int
    band: int


def setup_of(advice: Answer, place: int = 0) -> SetUp:
    """
    Find the set-up behind a place in the ranking.

    Parameters
    ----------
    advice : Answer
        The answer.
    place : int, optional
        Which set-up in order of rank.

    Returns
    -------
    setup : SetUp
        As the station has it.
    """
    name = advice.setups[place].name
    return next(each for each in advice.question.station.setups if each.name == name)


def best_moment(advice: Answer, target: int = 0, setup: int = 0) -> Moment:
    """
    Find the hour and band of the greatest chance.

    Parameters
    ----------
    advice : Answer
        The answer.
    target, setup : int, optional
        Which target, which set-up in order of rank.

    Returns
    -------
    moment : Moment
        Hour and band, the band one the set-up works on.
    """
    one = advice.setups[setup]
    chance = np.where(one.works, one.chance[target], -1.0)
    hour, band = np.unravel_index(int(chance.argmax()), chance.shape)
    return Moment(int(hour), int(band))


def narrowed(
    question: Question, target: int, hour: int | None = None, band: int | None = None
) -> Question:
    """
    Ask about one target only, and about one hour or one band if named.

    Parameters
    ----------
    question : Question
        The whole question.
    target : int
        Which target.
    hour, band : int, optional
        Which hour and band; all if not named.

    Returns
    -------
    question : Question
        The smaller question.
    """
    hours = slice(None) if hour is None else slice(hour, hour + 1)
    return replace(
        question,
        targets=(question.targets[target],),
        times=question.times[hours],
        bands=question.bands if band is None else (question.bands[band],),
        solar=question.solar.at(hours),
    )


def middle_point(target: Target) -> tuple[float, float]:
    """
    Find the sample point nearest to the middle of a target.

    Parameters
    ----------
    target : Target
        The target.

    Returns
    -------
    lat_deg, lon_deg : float
        The point whose direction from the Earth's centre is closest to the weighted
        mean of all. [deg]

    Examples
    --------
    >>> middle_point(Target("", "region", np.array([0.0, 1.0, 9.0]), np.zeros(3),
    ...                     np.full(3, 1 / 3), ""))
    (1.0, 0.0)
    """
    lat, lon = np.radians(target.lat_deg), np.radians(target.lon_deg)
    points = np.stack(
        [np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=-1
    )
    nearest = int(np.argmax(points @ (target.weight @ points)))
    return float(target.lat_deg[nearest]), float(target.lon_deg[nearest])
