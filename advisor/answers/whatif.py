"""What would change a chance: one thing is altered and the engine is asked again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from advisor.answers.advice import Advice, SetUpAdvice
from advisor.antenna.pattern import Pattern
from advisor.engine.engine import Gains, Link, contact_chance, link_for, wire_gains
from advisor.engine.question import Question
from advisor.engine.targets import over_targets
from advisor.engine.wires import far_end_patterns, solve_setup
from advisor.station.bands import Band, bands_for_region
from advisor.station.setup import SetUp
from geo.errors import InputError

MORE_DB = 10.0
"""How much signal, power or quiet is tried. [dB]"""

_HOUR = np.timedelta64(1, "h")

_TURN_COUNTS_DB = 0.05
"""A bearing that costs less than this is as good as the best. [dB]"""


@dataclass(frozen=True)
class Change:
    """
    One thing altered, everything else as asked.

    Attributes
    ----------
    kind : str
        ``signal``, ``power``, ``noise``, ``bearing``, ``hour``, ``band`` or
        ``set-up``.
    what : str
        What is altered, in words.
    chance : float
        Chance of a contact then, for the whole target.
    gain : float
        That chance minus the one asked about.
    """

    kind: str
    what: str
    chance: float
    gain: float


def patterns_of(
    setup: SetUp, question: Question, cache_dir: Path | None = None
) -> dict[str, Pattern]:
    """
    Work out the patterns of a set-up on the bands of a question.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    question : Question
        Holds the bands and the ground.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps its ground tables between runs.

    Returns
    -------
    patterns : dict of str to Pattern
        By band name; bands it is not used on are left out.
    """
    ground = question.station.ground
    solved = solve_setup(setup, question.bands, ground, cache_dir)
    return {band: one.pattern for band, one in solved.items()}


def changes(
    question: Question,
    advice: Advice,
    setup: SetUpAdvice,
    patterns: Mapping[str, Pattern],
    cache_dir: Path | None = None,
) -> tuple[Change, ...]:
    """
    Try what an operator could alter, one thing at a time.

    Parameters
    ----------
    question : Question
        One target, one hour and one band.
    advice : Advice
        The answer to it.
    setup : SetUpAdvice
        The set-up asked about, with the bearing it is worked on.
    patterns : mapping of str to Pattern
        Its pattern on the band, by band name.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps its ground tables between runs.

    Returns
    -------
    changes : tuple of Change
        More signal, power and quiet, the best bearing, the hours before and after,
        the next bands, then the other set-ups. What does not apply is left out: the
        bearing if it is the best, an hour beyond the sun's tables, a band or set-up
        that there is not.

    Notes
    -----
    The wire stays as it hangs but for the bearing and the other set-ups, which are
    turned as `advise` turned them. Other hours keep the solar activity of the hour
    asked about.
    """
    now = float(setup.chance[0, 0, 0])
    wire = next(one for one in question.station.setups if one.name == setup.name)
    tried = [
        *_stronger(question, setup, patterns),
        *_turned(question, setup, patterns),
        *_other_hours(question, setup, patterns),
        *_other_bands(question, setup, wire, cache_dir),
        *_other_setups(advice, setup),
    ]
    return tuple(Change(kind, what, then, then - now) for kind, what, then in tried)


Tried = Iterator[tuple[str, str, float]]


def _chance(
    question: Question,
    setup: SetUpAdvice,
    patterns: Mapping[str, Pattern],
    bearing_deg: float | None = None,
) -> float:
    """Chance of one question with the wire as it hangs or at another bearing."""
    link, gains = _link_and_gains(question, setup, patterns, bearing_deg)
    return _both(question, link, gains)


def _both(question: Question, link: Link, gains: Gains) -> float:
    """Chance of a contact over the one target, hour and band."""
    both = contact_chance(link, gains).both[0]
    return float(over_targets(question, both)[0, 0, 0])


def _link_and_gains(
    question: Question,
    setup: SetUpAdvice,
    patterns: Mapping[str, Pattern],
    bearing_deg: float | None = None,
) -> tuple[Link, Gains]:
    """Both halves of a question."""
    far = far_end_patterns(question.station.far_end, question.bands)
    link = link_for(question, question.solar.r12, far)
    hung = setup.bearing.wire_deg if bearing_deg is None else bearing_deg
    return link, wire_gains(question, link, patterns, hung or 0.0)


def _stronger(
    question: Question, setup: SetUpAdvice, patterns: Mapping[str, Pattern]
) -> Tried:
    """More signal, more power, less noise."""
    link, gains = _link_and_gains(question, setup, patterns)
    more = np.full(len(question.bands), MORE_DB)
    yield (
        "signal",
        f"{MORE_DB:g} dB more gain, sending and receiving",
        _both(question, link, gains.raised_by(more)),
    )
    louder = replace(link, heard_db=link.heard_db + MORE_DB)
    yield "power", "ten times your power", _both(question, louder, gains)
    station = question.station
    trimmed = replace(station, noise_trim_db=station.noise_trim_db - MORE_DB)
    yield (
        "noise",
        f"{MORE_DB:g} dB less man-made noise here",
        _chance(replace(question, station=trimmed), setup, patterns),
    )


def _turned(
    question: Question, setup: SetUpAdvice, patterns: Mapping[str, Pattern]
) -> Tried:
    """Turn the wire to its best bearing, unless it hangs there."""
    turn = setup.bearing
    if turn.best_deg is not None and turn.loss_db >= _TURN_COUNTS_DB:
        yield (
            "bearing",
            f"wire turned to {turn.best_deg:03.0f} true",
            _chance(question, setup, patterns, turn.best_deg),
        )


def _other_hours(
    question: Question, setup: SetUpAdvice, patterns: Mapping[str, Pattern]
) -> Tried:
    """Ask an hour earlier and an hour later."""
    for words, step in (("earlier", -_HOUR), ("later", _HOUR)):
        times = question.times + step
        name = f"{times[0].astype('datetime64[h]').astype(str)[-2:]}Z"
        with suppress(InputError):
            chance = _chance(replace(question, times=times), setup, patterns)
            yield "hour", f"an hour {words} ({name})", chance


def _other_bands(
    question: Question, setup: SetUpAdvice, wire: SetUp, cache_dir: Path | None
) -> Tried:
    """Ask on the next lower and the next higher band that the set-up is cut for."""
    for band in _next_bands(question, wire):
        moved = replace(question, bands=(band,))
        there = patterns_of(wire, moved, cache_dir)
        yield "band", f"on {band.name}", _chance(moved, setup, there)


def _next_bands(question: Question, wire: SetUp) -> list[Band]:
    """Next lower and next higher band."""
    station = question.station
    here = question.bands[0].planning_mhz
    usable = [
        band
        for band in bands_for_region(station.iaru_region)
        if band.name in station.bands and band.name in wire.bands
    ]
    lower = [band for band in usable if band.planning_mhz < here]
    higher = [band for band in usable if band.planning_mhz > here]
    return lower[-1:] + higher[:1]


def _other_setups(advice: Advice, setup: SetUpAdvice) -> Tried:
    """Read the answers of the station's other set-ups on the band."""
    for other in advice.setups:
        if other.name != setup.name and other.works[0]:
            yield "set-up", f"with {other.name}", float(other.chance[0, 0, 0])
