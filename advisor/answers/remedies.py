"""
What would make an answer better, cheapest first: turn, raise, quieter, more power.

One thing is changed at a time and the same figure worked out again under the same
sky.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from advisor.answers.advice import SetUpAdvice
from advisor.answers.bearings import Bearing
from advisor.answers.limits import LIMITS
from advisor.answers.whatif import patterns_of
from advisor.antenna.shapes.registry import SHAPES, settle
from advisor.engine.engine import Link, contact_chance, wire_gains
from advisor.engine.question import Question
from advisor.engine.targets import over_targets
from advisor.station.bands import band_by_name
from advisor.station.setup import EACH_BAND, SetUp
from geo.errors import InputError

RAISED_M = 2.0
"""How much higher a wire is tried: one more section of pole. [m]"""

QUIETER_DB = 6.0
"""How much less noise is tried: some tens of metres away from the houses. [dB]"""

WORTH_IT = 0.01
"""A remedy that brings less than this is not named."""

_DOUBLE_DB = 10.0 * np.log10(2.0)

Value = Callable[[NDArray[np.float64]], float]


@dataclass(frozen=True)
class Remedy:
    """
    One thing changed.

    Attributes
    ----------
    what : str
        The change, in words.
    gain : float
        What it adds to the figure.
    """

    what: str
    gain: float


def remedies(
    question: Question,
    link: Link,
    setup: SetUp,
    bearing: Bearing,
    value: Value,
    cache_dir: Path | None = None,
) -> tuple[Remedy, ...]:
    """
    Try the usual remedies on one set-up.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half of it.
    setup : SetUp
        The set-up.
    bearing : Bearing
        How it hangs and how it might.
    value : callable
        From chances (K, T, B) to the figure to be raised.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps its ground tables between runs.

    Returns
    -------
    remedies : tuple of Remedy
        Cheapest first: turning, raising by 2 m, 6 dB less noise, twice the power.
        A wire that cannot be turned or raised has no such entry.
    """
    worked = bearing.wire_deg or 0.0
    patterns = patterns_of(setup, question, cache_dir)

    def figure(sky: Link, wire: SetUp, bearing_deg: float) -> float:
        own = patterns if wire is setup else patterns_of(wire, question, cache_dir)
        gains = wire_gains(question, sky, own, bearing_deg)
        return value(over_targets(question, contact_chance(sky, gains).both[0]))

    now = figure(link, setup, worked)
    found = []
    if not bearing.is_free and bearing.best_deg not in (None, bearing.wire_deg):
        then = figure(link, setup, bearing.best_deg)
        found.append(Remedy(f"turn it to {bearing.best_deg:03.0f} true", then - now))
    higher = raised(setup, RAISED_M)
    if higher is not None:
        try:
            then = figure(link, higher, worked)
        except InputError:
            pass
        else:
            found.append(Remedy(f"hang it {RAISED_M:g} m higher", then - now))
    quieter = replace(link, hear_db=link.hear_db + QUIETER_DB)
    found.append(
        Remedy(
            f"a spot with {QUIETER_DB:g} dB less noise",
            figure(quieter, setup, worked) - now,
        )
    )
    louder = replace(link, heard_db=link.heard_db + _DOUBLE_DB)
    found.append(Remedy("twice the power", figure(louder, setup, worked) - now))
    return tuple(found)


def raised(setup: SetUp, more_m: float) -> SetUp | None:
    """
    Hang a set-up higher.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    more_m : float
        By how much its top goes up. [m]

    Returns
    -------
    higher : SetUp or None
        With its top raised; None if it stands on the ground or is given point by
        point.
    """
    spec = SHAPES.get(setup.shape)
    if spec is None or not spec.top:
        return None
    sizes = dict(setup.dimensions)
    cut = band_by_name(setup.bands[-1] if setup.cut == EACH_BAND else setup.bands[0])
    top_m = settle(setup.shape, cut.planning_mhz, sizes)[spec.top]
    try:
        return setup.changed(**{spec.top: top_m + more_m})
    except InputError:
        return None


def cheapest(found: tuple[Remedy, ...]) -> Remedy | None:
    """
    Pick the cheapest remedy that is worth it.

    Parameters
    ----------
    found : tuple of Remedy
        Cheapest first.

    Returns
    -------
    remedy : Remedy or None
        The first that brings a good part of what the best of them brings; None if
        none brings anything to speak of.

    Examples
    --------
    >>> cheapest((Remedy("turn it", 0.02), Remedy("twice the power", 0.03))).what
    'turn it'
    """
    worth = [one for one in found if one.gain >= WORTH_IT]
    if not worth:
        return None
    most = max(one.gain for one in worth)
    return next(one for one in worth if one.gain >= 0.5 * most)


def holding_back(setup: SetUpAdvice) -> tuple[str, float]:
    """
    Name what holds a set-up back most over the hours, on the best band of each.

    Parameters
    ----------
    setup : SetUpAdvice
        The set-up.

    Returns
    -------
    name : str
        One of `advisor.answers.limits.LIMITS`.
    cost : float
        Mean over targets and hours of the chance lost to it.
    """
    best = setup.chance.argmax(axis=-1)[..., None]
    limit = np.take_along_axis(setup.limit, best, axis=-1)[..., 0]
    cost = np.take_along_axis(setup.limit_cost, best, axis=-1)[..., 0]
    summed = [float(np.where(limit == i, cost, 0.0).mean()) for i in range(len(LIMITS))]
    worst = int(np.argmax(summed))
    if summed[worst] == 0.0 and best.size:
        # Nothing alone would help: what is named most often.
        worst = int(np.bincount(limit.ravel(), minlength=len(LIMITS)).argmax())
    return LIMITS[worst], summed[worst]
