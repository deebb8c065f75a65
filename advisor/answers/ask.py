"""From a station and a few words to an answer: what every command goes through."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from advisor.answers.advice import Answer, advise
from advisor.engine.question import LeftOut, Question, SolarIndex
from advisor.engine.wires import far_end_patterns, hung_wire, solve_setup
from advisor.station.bands import Band, bands_for_region
from advisor.station.emissions import Emission
from advisor.station.setup import SetUp
from advisor.station.station import Station
from geo.arrays import Times
from geo.errors import InputError
from geo.ionosphere.conditions import QUIET, Conditions
from geo.ionosphere.index import ig12_at, ig12_half_width, r12_from_flux
from geo.places import parse_place, resolve_target
from geo.solar import (
    AVERAGE_CYCLE,
    LEAST_FLUX_SFU,
    MOST_FLUX_SFU,
    MOST_R12,
    OBSERVED,
    r12_at,
    r12_range,
)

MAX_HOURS = 72

MOST_TARGETS, MOST_SETUPS = 40, 40
"""More than anybody compares in one answer."""

MOST_EMISSIONS = 4
"""As many as there is room for in a table."""

MOST_CELLS = 48_000
"""Points of all targets times hours times bands: a dozen regions for a day on ten
bands. A cell takes some 9 kB, what is seen of the sky at three levels of the sun."""


def hours_from(start: np.datetime64, hours: int) -> Times:
    """
    List whole hours from the hour a moment lies in.

    Parameters
    ----------
    start : numpy.datetime64
        First moment, UTC.
    hours : int
        How many, 1 to 72.

    Returns
    -------
    times : numpy.ndarray of datetime64[s]
        Shape (hours,).

    Raises
    ------
    InputError
        If the number of hours is out of range.

    Examples
    --------
    >>> hours_from(np.datetime64("2026-12-05T06:40"), 2)
    array(['2026-12-05T06:00:00', '2026-12-05T07:00:00'],
          dtype='datetime64[s]')
    """
    if not 1 <= hours <= MAX_HOURS:
        raise InputError(f"{hours} hours asked for: ask for 1 to {MAX_HOURS}")
    first = start.astype("datetime64[h]")
    times = first + np.arange(hours).astype("timedelta64[h]")
    return np.asarray(times.astype("datetime64[s]"))


def solar_index(
    times: Times, r12: float | None = None, flux: float | None = None
) -> SolarIndex:
    """
    Solar activity for each hour: from the table, or as given.

    Parameters
    ----------
    times : numpy.ndarray of datetime64[s]
        Shape (T,).
    r12 : float, optional
        Twelve-month smoothed sunspot number on the scale of the maps, instead of
        the table.
    flux : float, optional
        Smoothed 10.7 cm flux instead of it, see `geo.ionosphere.index`. [sfu]

    Returns
    -------
    solar : SolarIndex
        Middle, low and high value. A value that was given has no range.

    Raises
    ------
    InputError
        If both are given, one is out of range, or the table does not reach.
    """
    if r12 is not None and flux is not None:
        raise InputError("both --r12 and --flux given: they say the same, give one")
    if flux is not None:
        if not LEAST_FLUX_SFU <= flux <= MOST_FLUX_SFU:
            raise InputError(
                f"flux {flux:g} sfu is outside {LEAST_FLUX_SFU:g} to "
                f"{MOST_FLUX_SFU:g}: give the 10.7 cm flux, best its mean over months"
            )
        value = r12_from_flux(times, flux)
        words = f" from flux {flux:g} sfu"
    elif r12 is not None:
        if not np.isfinite(r12) or not 0.0 <= r12 <= MOST_R12:
            raise InputError(
                f"R12 {r12:g} is outside 0 to {MOST_R12:.0f}: give the 12-month "
                "smoothed sunspot number on the old scale (0.7 of today's)"
            )
        value, words = np.full(times.shape, r12), ""
    else:
        return _solar_table(times)
    index = ig12_at(times, value)
    middle = f"{value.mean():.0f}" if r12 is None else f"{r12:g}"
    basis = f"R12 {middle} (IG12 {index.mean():.0f}){words}, as given"
    return SolarIndex(value, value, value, index, basis)


def _solar_table(times: Times) -> SolarIndex:
    """Solar activity from the shipped table with its forecast error."""
    middle, kinds = r12_at(times)
    low, high = r12_range(times)
    index, least, most = (ig12_at(times, each) for each in (middle, low, high))
    error = ig12_half_width(times)
    least, most = (
        index - np.hypot(index - least, error),
        index + np.hypot(most - index, error),
    )
    words = [f"R12 {middle.mean():.0f}", f"IG12 {index.mean():.0f}"]
    if (kinds == OBSERVED).all():
        words[0] += " (observed)"
    else:
        source = "average cycle" if (kinds == AVERAGE_CYCLE).any() else "forecast"
        words[0] += f" ({source}, {low.mean():.0f} to {high.mean():.0f})"
    if error.any():
        words[1] += f" ({least.mean():.0f} to {most.mean():.0f} four times in five)"
    return SolarIndex(middle, low, high, index, ", ".join(words))


def bands_asked(station: Station, names: Iterable[str] = ()) -> tuple[Band, ...]:
    """
    Bands to look at: those asked for, or all that any set-up works on.

    Parameters
    ----------
    station : Station
        Holds its radio region and the bands it may use.
    names : iterable of str, optional
        Band names asked for; none means all that the station may use and at least
        one of its set-ups is cut for.

    Returns
    -------
    bands : tuple of Band
        Lowest first.

    Raises
    ------
    InputError
        If the station may not use a band asked for.
    """
    wanted = tuple(names)
    cut_for = {name for setup in station.setups for name in setup.bands}
    for name in wanted:
        if name not in station.bands:
            raise InputError(
                f"band {name} is not allowed by the station: it has "
                f"{', '.join(station.bands)}; add it there if your licence has it"
            )
    chosen = wanted or tuple(name for name in station.bands if name in cut_for)
    return tuple(b for b in bands_for_region(station.iaru_region) if b.name in chosen)


def question_for(
    station: Station,
    targets: Iterable[str],
    start: np.datetime64,
    hours: int = 24,
    *,
    band_names: Iterable[str] = (),
    r12: float | None = None,
    flux: float | None = None,
    long_path: bool = False,
    conditions: Conditions = QUIET,
    weights: str = "usual",
) -> Question:
    """
    Put a question together.

    Parameters
    ----------
    station : Station
        Who asks.
    targets : iterable of str
        Targets as typed, 40 at most.
    start : numpy.datetime64
        First hour, UTC.
    hours : int, optional
        How many hours.
    band_names : iterable of str, optional
        Bands to look at; none means all the station may use.
    r12, flux : float, optional
        Solar activity instead of the table's.
    long_path : bool, optional
        Ask about the long way round.
    conditions : Conditions, optional
        What is assumed of the sky besides the medians of the month.
    weights : str, optional
        What the sample points of a region are weighted by, see
        `geo.places.resolve_target`.

    Returns
    -------
    question : Question
        Ready for `answer`.

    Raises
    ------
    InputError
        If anything asked for is not possible, or more than one answer can hold.
    """
    place = parse_place(station.place)
    times = hours_from(start, hours)
    targets = tuple(targets)
    for what, count, most in (
        ("targets", len(targets), MOST_TARGETS),
        ("set-ups", len(station.setups), MOST_SETUPS),
    ):
        if count > most:
            raise InputError(f"{count} {what} are too many: ask for {most} at a time")
    bands = bands_asked(station, band_names)
    station, left_out = _as_hung(station, bands)
    resolved = tuple(resolve_target(text, place, weights) for text in targets)
    _check_size(sum(each.lat_deg.size for each in resolved), times.size, len(bands))
    solar = solar_index(times, r12, flux)
    conditions.check_against_map(times, solar.r12)
    return Question(
        station=station,
        place=place,
        targets=resolved,
        times=times,
        bands=bands,
        emission=station.emission,
        solar=solar,
        long_path=long_path,
        conditions=conditions,
        left_out=left_out,
    )


def _as_hung(
    station: Station, bands: Iterable[Band]
) -> tuple[Station, tuple[LeftOut, ...]]:
    """Leave set-ups out on the bands on which they cannot be hung."""
    kept, left_out = [], []
    for setup in station.setups:
        refused: dict[str, str] = {}
        for band in bands:
            if band.name in setup.bands:
                try:
                    hung_wire(setup, band.planning_mhz)
                except InputError as error:
                    refused[band.name] = str(error)
        if refused:
            keys = (*(name for name, _ in setup.dimensions), "bands")
            why = next(iter(refused.values())).removeprefix(f"{setup.shape}: ")
            left_out.append(LeftOut(setup.name, tuple(refused), keys, why))
        rest = tuple(name for name in setup.bands if name not in refused)
        if rest:
            kept.append(replace(setup, bands=rest) if refused else setup)
    if not kept:
        raise InputError(" ".join(each.words for each in left_out))
    return replace(station, setups=tuple(kept)), tuple(left_out)


def _check_size(points: int, hours: int, bands: int) -> None:
    """Refuse what would take gigabytes, before anything is worked out."""
    cells = points * hours * bands
    if cells > MOST_CELLS:
        raise InputError(
            f"{points} points of the targets, {hours} hours and {bands} bands are "
            f"{cells} figures, {MOST_CELLS} at most: ask for fewer hours, bands or "
            "targets at a time"
        )


def answer(question: Question, cache_dir: Path | None = None) -> Answer:
    """
    Answer a question: patterns of the wires, then the engine, then the advice.

    Parameters
    ----------
    question : Question
        What is asked.
    cache_dir : pathlib.Path, optional
        Where solved wires and rays are kept between runs.

    Returns
    -------
    advice : Answer
        The ranked answer.
    """
    station = question.station
    patterns = {
        setup.name: {
            band: solved.pattern
            for band, solved in solve_setup(
                setup, question.bands, station.ground, cache_dir, station.hills
            ).items()
        }
        for setup in station.setups
    }
    far = far_end_patterns(station.far_end, question.bands, cache_dir)
    return advise(question, patterns, far, cache_dir)


def answers(
    question: Question, emissions: Sequence[Emission], cache_dir: Path | None = None
) -> tuple[Answer, ...]:
    """
    Answer a question for each of several emissions.

    Parameters
    ----------
    question : Question
        What is asked.
    emissions : sequence of Emission
        What is sent, at least one; the wires are turned for the first.
    cache_dir : pathlib.Path, optional
        Where solved wires and rays are kept between runs.

    Returns
    -------
    answers : tuple of Answer
        One an emission, each over the bands it is used on; of one emission the plain
        answer. A wire hangs one way in all of them.

    Raises
    ------
    InputError
        If an emission comes twice, is used on no band asked about, or there are more
        than one answer can hold.
    """
    if len(emissions) == 1:
        return (answer(question, cache_dir),)
    names = [each.name for each in emissions]
    if len(names) > MOST_EMISSIONS or len(set(names)) < len(names):
        raise InputError(
            f"emissions {', '.join(names)}: name up to {MOST_EMISSIONS}, each once"
        )
    for sent in emissions:
        sent_as(question, sent)
    first = answer(sent_as(question, emissions[0]), cache_dir)
    hung = replace(question.station, setups=tuple(turned(first)))
    question = replace(question, station=hung)
    others = (answer(sent_as(question, sent), cache_dir) for sent in emissions[1:])
    return (first, *others)


def sent_as(question: Question, sent: Emission) -> Question:
    """
    Ask the same for another emission, over the bands it is used on.

    Parameters
    ----------
    question : Question
        What is asked.
    sent : Emission
        What is sent.

    Returns
    -------
    question : Question
        The same for it.

    Raises
    ------
    InputError
        If it is used on no band asked about.
    """
    bands = tuple(filter(sent.fits, question.bands))
    if not bands:
        asked = ", ".join(band.name for band in question.bands)
        raise InputError(f"{sent.name} is not used on {asked}: leave one out")
    station = replace(question.station, emission=sent)
    return replace(question, station=station, bands=bands, emission=sent)


def turned(first: Answer) -> Iterator[SetUp]:
    """
    Hang the wires of an answer the way it has them.

    Parameters
    ----------
    first : Answer
        The answer.

    Yields
    ------
    setup : SetUp
        As the station has it, but no more free to turn.
    """
    turns = {one.name: one.bearing.wire_deg for one in first.setups}
    for setup in first.question.station.setups:
        wire_deg = turns[setup.name]
        yield setup if wire_deg is None else replace(setup, bearing_deg=wire_deg)
