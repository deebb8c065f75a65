"""
What if: one thing is changed, everything else stays, and the engine is asked again.

A `Case` is all that a chance is worked out from: a question with its sky (`Assumed`)
and a wire on a bearing. A `Perturbation` makes another case of it and keeps what it
does not touch: the sky if a wire is turned, the solved wire if the sky changes. One and
the same perturbation serves as a line of ``why`` and as a remedy.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from advisor.answers.bearings import Bearing
from advisor.antenna.pattern import Pattern
from advisor.antenna.shapes.registry import SHAPES, settle
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains, with_own_noise
from advisor.engine.gains import Gains
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import over_targets
from advisor.engine.wires import far_end_patterns, patterns_of
from advisor.station.bands import band_by_name, bands_for_region
from advisor.station.setup import EACH_BAND, SetUp
from geo.arrays import Floats
from geo.errors import InputError
from geo.fields import Share, record

MORE_SIGNAL_DB = 10.0
"""How much more signal is tried, to see what noise costs. [dB]"""

MORE_POWER_DB = 10.0 * np.log10(2.0)
"""How much more power is tried: twice as much. [dB]"""

LESS_NOISE_DB = 6.0
"""How much less man-made noise is tried: some tens of metres away from the houses.
[dB]"""

RAISED_M = 2.0
"""How much higher a wire is tried: one more section of pole. [m]"""

WORTH_IT = 0.01
"""A remedy that brings less than this is not named."""

_HOUR = np.timedelta64(1, "h")

_TURN_COUNTS_DB = 0.05
"""A bearing that costs less than this is as good as the best. [dB]"""

Figure = Callable[[Floats], float]
"""From chances (K, T, B) to the one figure that is compared."""


@dataclass(frozen=True, eq=False)
class Assumed:
    """
    A question with its sky worked out.

    Attributes
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half.
    name : str
        What is different from the question as asked.
    """

    question: Question
    link: Link
    name: str = "as asked"

    def scores(self, patterns: Mapping[str, Pattern], bearing_deg: ArrayLike) -> Floats:
        """
        Mean over the hours of the best band's chance, at some bearings.

        Parameters
        ----------
        patterns : mapping of str to Pattern
            Pattern for each band the set-up works on, on this question's ground.
        bearing_deg : array_like
            Wire bearings, (G,). [deg]

        Returns
        -------
        scores : numpy.ndarray
            Shape (G, K), by bearing and target.
        """
        gains = wire_gains(self.question, self.link, patterns, bearing_deg)
        both = contact_chance(self.link, gains).both
        chance = over_targets(self.question, both, axis=1)
        return np.asarray(chance.max(axis=-1).mean(axis=-1))


def assume(
    question: Question,
    name: str = "",
    cache_dir: Path | None = None,
    month: int = 0,
) -> Assumed:
    """
    Work out the sky of a question.

    Parameters
    ----------
    question : Question
        What is asked.
    name : str, optional
        What is different.
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs.
    month : int, optional
        As in `advisor.engine.months.month_layers`.

    Returns
    -------
    assumed : Assumed
        The question with its sky.
    """
    far = far_end_patterns(question.station.far_end, question.bands, cache_dir)
    index = question.solar.r12
    link = link_for(question, index, far, month=month, cache_dir=cache_dir)
    return Assumed(question, link, name)


@dataclass(frozen=True, eq=False)
class Case:
    """
    A wire on a bearing under the sky of a question.

    Attributes
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half.
    patterns : mapping of str to Pattern
        Pattern for each band the wire works on.
    bearing_deg : float
        Bearing of the wire. [deg]
    gains : Gains
        The wire's gains at that bearing.
    """

    question: Question
    link: Link
    patterns: Mapping[str, Pattern]
    bearing_deg: float
    gains: Gains

    def chance(self) -> Floats:
        """Chance of a contact, (K, T, B)."""
        both = contact_chance(self.link, self.gains).both[0]
        return over_targets(self.question, both)

    def hung(self, patterns: Mapping[str, Pattern], bearing_deg: float | None) -> Case:
        """
        Hang another wire, or turn this one, under the same sky.

        Parameters
        ----------
        patterns : mapping of str to Pattern
            Pattern for each band the wire works on.
        bearing_deg : float or None
            Bearing; None for a wire that has none. [deg]

        Returns
        -------
        case : Case
            The changed case.
        """
        return case_of(Assumed(self.question, self.link), patterns, bearing_deg)


def case_of(
    sky: Assumed, patterns: Mapping[str, Pattern], bearing_deg: float | None
) -> Case:
    """
    Hang a wire under the sky of a question.

    Parameters
    ----------
    sky : Assumed
        The question with its sky.
    patterns : mapping of str to Pattern
        Pattern for each band the wire works on.
    bearing_deg : float or None
        Bearing; None for a wire that has none. [deg]

    Returns
    -------
    case : Case
        Ready to be asked.
    """
    worked = bearing_deg or 0.0
    gains = wire_gains(sky.question, sky.link, patterns, worked)
    return Case(sky.question, sky.link, patterns, worked, gains)


@dataclass(frozen=True)
class Perturbation:
    """
    One thing that may be changed.

    Attributes
    ----------
    kind : str
        ``signal``, ``power``, ``noise``, ``bearing``, ``height``, ``hour``, ``band``
        or ``set-up``.
    what : str
        The change with its size, in words.
    applied : callable
        Makes the changed case of the one asked about. It may raise
        `geo.errors.InputError` where there is no such case.
    """

    kind: str
    what: str
    applied: Callable[[Case], Case]


@record
class Change:
    """
    What one perturbation does.

    Attributes
    ----------
    kind : str
        Signal, power, noise, bearing, hour, band or set-up.
    what : str
        What is altered, in words.
    chance : float
        The figure then, such as the chance for the whole target.
    gain : float
        That less the figure as asked.
    """

    kind: str
    what: str
    chance: Share
    gain: float


def ask_again(
    now: Case, tried: Iterable[Perturbation], figure: Figure
) -> tuple[Change, ...]:
    """
    Change one thing at a time.

    Parameters
    ----------
    now : Case
        The case asked about.
    tried : iterable of Perturbation
        What to change.
    figure : callable
        From chances (K, T, B) to the figure to be compared.

    Returns
    -------
    changes : tuple of Change
        In the order tried; what is not possible is left out.
    """
    before = figure(now.chance())
    found = []
    for one in tried:
        with suppress(InputError):
            then = figure(one.applied(now).chance())
            found.append(Change(one.kind, one.what, then, then - before))
    return tuple(found)


# --- what may be changed --------------------------------------------------------------


def more_signal(case: Case) -> Case:
    """
    Raise the wire's gain by `MORE_SIGNAL_DB`, sending and receiving.

    Parameters
    ----------
    case : Case
        The case asked about.

    Returns
    -------
    case : Case
        The changed case.
    """
    more = np.full(len(case.question.bands), MORE_SIGNAL_DB)
    return replace(case, gains=case.gains.raised_by(more))


def _more_power(case: Case) -> Case:
    """Send more; what is heard stays."""
    louder = replace(case.link, heard_db=case.link.heard_db + MORE_POWER_DB)
    return replace(case, link=louder)


def _less_noise(case: Case) -> Case:
    """Take my man-made noise down; lightning and the galaxy stay."""
    station = case.question.station
    trimmed = replace(station, noise_trim_db=station.noise_trim_db - LESS_NOISE_DB)
    question = replace(case.question, station=trimmed)
    return replace(case, question=question, link=with_own_noise(question, case.link))


SIGNAL = Perturbation(
    "signal", f"{MORE_SIGNAL_DB:g} dB more gain, sending and receiving", more_signal
)
POWER = Perturbation("power", "twice the power", _more_power)
NOISE = Perturbation(
    "noise", f"a spot with {LESS_NOISE_DB:g} dB less man-made noise", _less_noise
)


def turned_to_best(bearing: Bearing) -> Iterator[Perturbation]:
    """
    Turn a wire to its best bearing.

    Parameters
    ----------
    bearing : Bearing
        How it hangs and how it might.

    Yields
    ------
    perturbation : Perturbation
        None if it is free to turn, hangs as well as it can, or has no bearing.
    """
    best_deg = bearing.best_deg
    if best_deg is None or bearing.is_free or bearing.loss_db < _TURN_COUNTS_DB:
        return
    yield Perturbation(
        "bearing",
        f"turn it to {best_deg:03.0f} true",
        lambda case: case.hung(case.patterns, best_deg),
    )


def _higher(wire: SetUp, cache_dir: Path | None) -> Iterator[Perturbation]:
    """Hang a wire higher, if it has a top that may go up."""
    higher = raised(wire, RAISED_M)
    if higher is not None:
        yield Perturbation(
            "height",
            f"hang it {RAISED_M:g} m higher",
            lambda case: case.hung(
                patterns_of(higher, case.question, cache_dir), case.bearing_deg
            ),
        )


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
    top = SHAPES[setup.shape].top
    if not top:
        return None
    sizes = dict(setup.dimensions)
    cut = band_by_name(setup.bands[-1] if setup.cut == EACH_BAND else setup.bands[0])
    top_m = settle(setup.shape, cut.planning_mhz, sizes)[top]
    try:
        return setup.changed(**{top: top_m + more_m})
    except InputError:
        return None


def _other_hours(question: Question, cache_dir: Path | None) -> Iterator[Perturbation]:
    """Ask an hour earlier and an hour later, with the solar activity of this one."""
    for words, step in (("earlier", -_HOUR), ("later", _HOUR)):
        moved = replace(question, times=question.times + step)
        name = f"{moved.times[0].astype('datetime64[h]').astype(str)[-2:]}Z"
        yield Perturbation(
            "hour", f"an hour {words} ({name})", partial(_put, moved, None, cache_dir)
        )


def _other_bands(
    question: Question, wire: SetUp, cache_dir: Path | None
) -> Iterator[Perturbation]:
    """Ask on the next lower and the next higher band that the wire is cut for."""
    station, here = question.station, question.bands[0].planning_mhz
    usable = [
        band
        for band in bands_for_region(station.iaru_region)
        if band.name in station.bands and band.name in wire.bands
    ]
    lower = [band for band in usable if band.planning_mhz < here]
    higher = [band for band in usable if band.planning_mhz > here]
    for band in lower[-1:] + higher[:1]:
        moved = replace(question, bands=(band,))
        yield Perturbation(
            "band", f"on {band.name}", partial(_put, moved, wire, cache_dir)
        )


def _put(
    question: Question, wire: SetUp | None, cache_dir: Path | None, case: Case
) -> Case:
    """Put another question with the wire as it hangs, solved anew if it is given."""
    solved = patterns_of(wire, question, cache_dir) if wire else case.patterns
    then = assume(question, cache_dir=cache_dir)
    return case_of(then, solved, case.bearing_deg)


def other_setup(
    name: str, patterns: Mapping[str, Pattern], bearing_deg: float | None
) -> Perturbation:
    """
    Take another wire.

    Parameters
    ----------
    name : str
        Its name.
    patterns : mapping of str to Pattern
        Its pattern on each band it works on.
    bearing_deg : float or None
        Its bearing; None if it has none. [deg]

    Returns
    -------
    perturbation : Perturbation
        The same question with that wire.
    """
    return Perturbation(
        "set-up", f"with {name}", lambda case: case.hung(patterns, bearing_deg)
    )


# --- what is made of it ---------------------------------------------------------------


def what_if(
    now: Case,
    wire: SetUp,
    bearing: Bearing,
    others: Iterable[Perturbation] = (),
    cache_dir: Path | None = None,
) -> tuple[Change, ...]:
    """
    Try what an operator could alter on one target, hour and band.

    Parameters
    ----------
    now : Case
        One target, one hour and one band.
    wire : SetUp
        The set-up asked about.
    bearing : Bearing
        How it hangs and how it might.
    others : iterable of Perturbation, optional
        The other set-ups that work on the band.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps its ground tables between runs.

    Returns
    -------
    changes : tuple of Change
        More signal, power and quiet, the best bearing, the hours before and after,
        the next bands, then the other set-ups. What does not apply is left out: the
        bearing if it is the best, an hour beyond the sun's tables, a band or set-up
        that there is not.
    """
    tried = [
        SIGNAL,
        POWER,
        NOISE,
        *turned_to_best(bearing),
        *_other_hours(now.question, cache_dir),
        *_other_bands(now.question, wire, cache_dir),
        *others,
    ]
    return ask_again(now, tried, lambda chance: float(chance[0, 0, 0]))


def remedies(
    now: Case,
    wire: SetUp,
    bearing: Bearing,
    figure: Figure,
    cache_dir: Path | None = None,
) -> tuple[Change, ...]:
    """
    Try the usual remedies on one set-up.

    Parameters
    ----------
    now : Case
        The set-up as it hangs.
    wire : SetUp
        The set-up.
    bearing : Bearing
        How it hangs and how it might.
    figure : callable
        From chances (K, T, B) to the figure to be raised.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps its ground tables between runs.

    Returns
    -------
    remedies : tuple of Change
        Cheapest first: turning, raising by 2 m, less noise, more power.
        A wire that cannot be turned or raised has no such entry.
    """
    tried = [*turned_to_best(bearing), *_higher(wire, cache_dir), NOISE, POWER]
    return ask_again(now, tried, figure)


def cheapest(found: Iterable[Change]) -> Change | None:
    """
    Pick the cheapest remedy that is worth it.

    Parameters
    ----------
    found : iterable of Change
        Cheapest first.

    Returns
    -------
    remedy : Change or None
        The first that brings a good part of what the best of them brings; None if
        none brings anything to speak of.

    Examples
    --------
    >>> turn = Change("bearing", "turn it", 0.42, 0.02)
    >>> cheapest((turn, Change("power", "twice the power", 0.43, 0.03))).what
    'turn it'
    """
    worth = [one for one in found if one.gain >= WORTH_IT]
    if not worth:
        return None
    most = max(one.gain for one in worth)
    return next(one for one in worth if one.gain >= 0.5 * most)
