"""An answer with the patterns it came from, and smaller questions cut out of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np

from advisor.answers.advice import Advice
from advisor.antenna.pattern import Pattern
from advisor.engine.engine import Link, link_for
from advisor.engine.question import Question
from advisor.engine.wires import far_end_patterns, solve_setup
from advisor.station.setup import SetUp
from geo.places import Target


@dataclass(frozen=True)
class Scene:
    """
    An answer with the patterns it came from.

    Attributes
    ----------
    advice : Advice
        The answer.
    patterns : mapping of str to mapping of str to Pattern
        For each set-up's name, the pattern on each band it works on.
    far_patterns : mapping of str to Pattern
        Pattern of the far end's antenna on every band.
    cache_dir : pathlib.Path or None
        Where the wire solver keeps what it found between runs.
    """

    advice: Advice
    patterns: Mapping[str, Mapping[str, Pattern]]
    far_patterns: Mapping[str, Pattern]
    cache_dir: Path | None = None

    @cached_property
    def link(self) -> Link:
        """The sky's half of the whole question, worked out once for all charts."""
        question = self.advice.question
        return link_for(question, question.solar.r12, self.far_patterns)


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


def scene_for(advice: Advice, cache_dir: Path | None = None) -> Scene:
    """
    Put the patterns beside an answer.

    Parameters
    ----------
    advice : Advice
        The answer.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps its ground tables between runs.

    Returns
    -------
    scene : Scene
        The answer with its patterns; what was solved for it is not solved again.
    """
    question = advice.question
    station = question.station
    patterns = {
        setup.name: {
            band: solved.pattern
            for band, solved in solve_setup(
                setup, question.bands, station.ground, cache_dir
            ).items()
        }
        for setup in station.setups
    }
    far = far_end_patterns(station.far_end, question.bands)
    return Scene(advice, patterns, far, cache_dir)


def setup_of(advice: Advice, place: int = 0) -> SetUp:
    """
    Find the set-up behind a place in the ranking.

    Parameters
    ----------
    advice : Advice
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


def best_moment(advice: Advice, target: int = 0, setup: int = 0) -> Moment:
    """
    Find the hour and band of the greatest chance.

    Parameters
    ----------
    advice : Advice
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
    solar = question.solar
    return replace(
        question,
        targets=(question.targets[target],),
        times=question.times[hours],
        bands=question.bands if band is None else (question.bands[band],),
        solar=replace(
            solar, r12=solar.r12[hours], low=solar.low[hours], high=solar.high[hours]
        ),
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
