"""
The answer in words: what to do, how sure, and why.

Only sentences are made here; every number in them comes from `advisor.answers.advice`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.answers.advice import Answer, SetUpAdvice
from advisor.answers.bearings import TOLERANCE_DB
from advisor.answers.best import Readings
from advisor.answers.hours import hour_name, span_names
from advisor.answers.limits import LIMITS, OPEN_CHANCE
from advisor.answers.long_wire import long_wire_words
from advisor.answers.moved import moved_words
from advisor.answers.runs import run_words
from advisor.answers.shut import shut_headline
from advisor.answers.states import NO_LAYER, OPEN, STATES, states
from advisor.answers.storm_doubt import storm_doubt
from advisor.answers.uncertainty import range_words
from advisor.engine.question import Question
from advisor.propagation.mode_axis import SCATTER, mode_name
from geo.land import whereabouts
from geo.places import Place


def counted(count: int, name: str, several: str = "") -> str:
    """
    Write a number with what it counts.

    Parameters
    ----------
    count : int
        How many.
    name : str
        What one is called.
    several : str, optional
        What several are called, with an s if left out.

    Returns
    -------
    words : str
        Such as ``1 spot``.

    Examples
    --------
    >>> counted(1, "spot"), counted(2, "spot"), counted(3, "try", "tries")
    ('1 spot', '2 spots', '3 tries')
    """
    return f"{count} {name if count == 1 else several or f'{name}s'}"


def what_a_chance_is(question: Question) -> str:
    """
    Say what a figure of a chance means.

    Parameters
    ----------
    question : Question
        What was asked; it holds who is there.

    Returns
    -------
    words : str
        One sentence.
    """
    count = question.station.far_end.at_least_one_of
    who = "a station picked at random in the target"
    if count > 1:
        who = f"at least one of {count} such stations about one place of the target"
    return (
        "A figure is the number of days in ten, in such a month at that hour, on which "
        f"{who} can be worked both ways."
    )


@dataclass(frozen=True)
class Opening:
    """
    A run of hours on one band.

    Attributes
    ----------
    band : str
        Band name.
    setup : str
        Name of the set-up.
    first, last : int
        First and last hour of the run, as places on the hour axis.
    peak : float
        Greatest chance in it.
    """

    band: str
    setup: str
    first: int
    last: int
    peak: float


def place_words(place: Place, name: str = "") -> str:
    """
    Say where a place is, nothing twice.

    Parameters
    ----------
    place : Place
        The place.
    name : str, optional
        What its operator calls it.

    Returns
    -------
    words : str
        Name and locator as far as there are any, and the coordinates once. For bare
        coordinates, which are easily swapped, where that roughly is.

    Examples
    --------
    >>> place_words(Place(56.45, -5.95, "56.45, -5.95"))
    '56.45, -5.95 (by the coast, in or near Northern Europe)'
    >>> place_words(Place(56.45, -5.95, "56.45, -5.95"), "hut by the sound")
    'hut by the sound (56.45, -5.95; by the coast, in or near Northern Europe)'
    >>> place_words(Place(56.5, -5.0, "IO66"), "hut by the sound")
    'hut by the sound, IO66 (56.50, -5.00)'
    """
    is_locator = any(each.isalpha() for each in place.label)
    if not is_locator:
        where = whereabouts(place.lat_deg, place.lon_deg)
        inside = f"{place.label}; {where}" if name else where
        return f"{name or place.label} ({inside})"
    called = f"{name}, {place.label}" if name else place.label
    return f"{called} ({place.lat_deg:.2f}, {place.lon_deg:.2f})"


def days_in_ten(chance: float) -> str:
    """
    Say a chance as days in ten.

    Parameters
    ----------
    chance : float
        0 to 1.

    Returns
    -------
    words : str
        Never "0" for something that may happen.

    Examples
    --------
    >>> days_in_ten(0.71), days_in_ten(0.02), days_in_ten(0.98)
    ('7 days in 10', 'less than 1 day in 20', 'nearly every day')
    """
    if chance < OPEN_CHANCE:
        return "less than 1 day in 20"
    if chance >= 0.95:
        return "nearly every day"
    return f"{max(round(10 * chance), 1)} day{'s' if chance >= 0.15 else ''} in 10"


WORTH_A_WORD = 0.15
"""An hour of less than this is not told as one to be on the air in (our choice)."""


def best_cell(advice: Answer, target: int) -> tuple[int, int]:
    """
    Find the hour and band of the greatest chance, or what comes nearest to a contact.

    Of the bands to be on, as the table marks them: another may be better by less than a
    change of band is worth.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target.

    Returns
    -------
    hour, band : int
        Places on the axes.
    """
    chance, found = advice.best.chance[target], advice.states[target]
    least_db = np.nan_to_num(advice.best.margin_db[target], nan=-400.0)
    rank = np.where(found == OPEN, 1e4 * chance, least_db - 1e4 * found)
    marked = np.arange(rank.shape[1]) == advice.best.band[target][:, None]
    if marked.any():
        rank = np.where(marked, rank, -np.inf)
    hour, band = np.unravel_index(int(rank.argmax()), rank.shape)
    return int(hour), int(band)


def openings(advice: Answer, target: int) -> list[Opening]:
    """
    List the runs of hours on the best band and set-up.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target.

    Returns
    -------
    runs : list of Opening
        In time order; hours with no open band are left out, and those with less than
        `WORTH_A_WORD` where another has twice as much.
    """
    best, chance = advice.best, advice.best.chance[target]
    ways = np.stack([best.wire[target], best.band[target]])
    there = np.take_along_axis(chance, np.maximum(ways[1:].T, 0), axis=1)[:, 0]
    ways[:, there < _least_told(best, target)] = -1
    runs: list[Opening] = []
    edges = np.flatnonzero(np.diff(ways).any(axis=0)) + 1
    for part in np.split(np.arange(ways.shape[1]), edges):
        wire, band = (int(each) for each in ways[:, part[0]])
        if band >= 0:
            name, setup = advice.question.bands[band].name, advice.setups[wire].name
            peak = float(chance[part, band].max())
            runs.append(Opening(name, setup, int(part[0]), int(part[-1]), peak))
    return runs


def _least_told(best: Readings, target: int) -> float:
    """Chance below which an hour is marked in the table and not told as a run."""
    return min(WORTH_A_WORD, 0.5 * float(best.chance[target].max(initial=0.0)))


def in_ten(chance: float) -> str:
    """
    Write a mean chance in days in ten.

    Parameters
    ----------
    chance : float
        0 to 1.

    Returns
    -------
    figure : str
        One decimal.
    """
    return f"{10.0 * chance + 0.0:.1f}"


def headline(advice: Answer, target: int) -> str:
    """
    Say which band when, and how sure.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target.

    Returns
    -------
    words : str
        One or two sentences.
    """
    runs, sure, spread, more = headline_parts(advice, target)
    if sure:
        runs += f" {sure}; {spread}." if spread else f" {sure}."
    return f"{runs} {more}".rstrip()


def headline_parts(advice: Answer, target: int) -> tuple[str, str, str, str]:
    """
    Say which band when, how often, between what and what else, each by itself.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target.

    Returns
    -------
    runs, sure, spread, more : str
        A sentence; two halves of one without a stop, empty where nothing opens, the
        second also where there is no range to speak of; and sentences, or nothing.
    """
    question = advice.question
    runs, moved = openings(advice, target), moved_words(advice, target)
    if not runs:
        return shut_headline(advice, target), "", "", " ".join(moved)
    spans = span_names(question, ((run.first, run.last) for run in runs))
    parts = []
    told = runs[0].setup if len(advice.used) < 2 else ""
    for run, span in zip(runs, spans, strict=True):
        on = "" if run.setup == told else f" on {run.setup}"
        parts.append(f"{run.band} {span}{on}")
        told = run.setup
    best = advice.best
    hour, band = best_cell(advice, target)
    low, peak, high = (
        float(values[target, hour, band])
        for values in (best.chance_low, best.chance, best.chance_high)
    )
    sure = (
        f"At best {days_in_ten(peak)} ({question.bands[band].name} at "
        f"{hour_name(question, hour)})"
    )
    doubt = storm_doubt(question, target)
    told_n, least = sum(r.last - r.first + 1 for r in runs), _least_told(best, target)
    if told_n < (best.band[target] >= 0).sum():
        parts[-1] += f"; other open hours are under {in_ten(least)} days in ten"
    more = [*long_wire_words(advice, target)]
    if doubt:
        more.append(f"Do not rely on it: {doubt}.")
    spread, best_told = range_words(low, high), f"Best: {', '.join(parts)}."
    return best_told, sure, spread, " ".join([*more, *moved])


def bearing_words(setup: SetUpAdvice, declination_deg: float) -> str:
    """
    Say how to turn a wire, by true north and by compass.

    Parameters
    ----------
    setup : SetUpAdvice
        The set-up.
    declination_deg : float
        Compass minus true north is minus this; east positive. [deg]

    Returns
    -------
    words : str
        One or two sentences.
    """
    turn = setup.bearing
    if turn.wire_deg is None:
        return f"{setup.name}: radiates alike all round; turning it changes nothing."
    end = setup.first_end
    run = run_words(turn.wire_deg, declination_deg, end)
    words = f"{setup.name}: {setup.verb} {run}"
    if turn.is_free or turn.loss_db < 0.05:
        if turn.good_from_deg is None or turn.good_to_deg is None:
            words += f"; any other bearing costs under {TOLERANCE_DB:g} dB"
        else:
            words += (
                f"; {turn.good_from_deg:03.0f} to {turn.good_to_deg:03.0f} costs "
                f"under {TOLERANCE_DB:g} dB"
            )
    elif turn.best_deg is not None:
        words += (
            f"; turning it to {run_words(turn.best_deg, declination_deg, end)} would "
            f"give {turn.loss_db:.1f} dB more"
        )
    return f"{words}."


def limit_words(
    advice: Answer, setup: Readings, target: int, hour: int, band: int
) -> str:
    """
    Say what stands in the way on one band at one hour.

    Parameters
    ----------
    advice : Answer
        The answer.
    setup : Readings
        What a set-up gives, or the best of several.
    target, hour, band : int
        Which target, hour and band.

    Returns
    -------
    words : str
        The limiting factor with its figure; of a band that no layer returns just that.
    """
    name = LIMITS[int(setup.limit[target, hour, band])]
    seen = advice.targets[target]
    if name == "none":
        return name
    found = advice.states
    if setup is not advice.best:
        found = states(advice.question, advice.halves.link, setup)
    if found[target, hour, band] == NO_LAYER and name != "stopped by the E layer":
        return STATES[NO_LAYER]
    cost = float(setup.limit_cost[target, hour, band])
    absorbed = float(seen.absorption_db[hour, band])
    if name == "absorbed" and absorbed >= 0.5:
        name = f"absorbed, {absorbed:.0f} dB"
    elif name == "no radiation at that angle":
        gain, angle = setup.gain_dbi[target, hour, band], seen.takeoff_deg[hour, band]
        name = f"wire gives {gain:.1f} dBi at {angle:.0f} deg"
    return f"{name} (-{round(10 * cost)})" if cost >= OPEN_CHANCE else name


def reasons(advice: Answer, target: int) -> list[str]:
    """
    Say why: the best hour in figures, then what holds the other bands back.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target.

    Returns
    -------
    lines : list of str
        One sentence each.
    """
    best = advice.best
    question = advice.question
    hour, band = best_cell(advice, target)
    if not best.works.any():
        return ["Cut a wire for the band, or ask for a band that yours works on."]
    if not best.works[band] or not best.mode[target, hour, band]:
        return ["No layer carries any of these bands to the target in these hours."]
    lines = [
        f"{question.bands[band].name} at {hour_name(question, hour)}: "
        f"{_way_words(advice, target, hour, band)}; limit: "
        f"{limit_words(advice, best, target, hour, band)}."
    ]
    others = [
        f"{question.bands[b].name} {limit_words(advice, best, target, hour, b)}"
        for b in range(len(question.bands))
        if b != band and best.works[b] and best.limit[target, hour, b]
    ]
    if others:
        lines.append(f"The others at that hour: {'; '.join(others)}.")
    return lines


_SCATTER_SUPPORT = 0.1
"""Share of days below which a signal is told to come by scatter."""


def _way_words(advice: Answer, target: int, hour: int, band: int) -> str:
    """Say how the signal gets there, and with how much to spare."""
    best, seen = advice.best, advice.targets[target]
    margin = float(best.margin_db[target, hour, band])
    spare = ""
    if np.isfinite(margin):
        less = "to spare" if round(margin) >= 0 else "short"
        spare = f"{abs(round(margin))} dB {less} on a middling day"
    if best.by_ground_wave[target, hour, band]:
        return "by ground wave" + (f", {spare}" if spare else "")
    mode = str(best.mode[target, hour, band])
    low, high = seen.takeoff_low_deg[hour, band], seen.takeoff_high_deg[hour, band]
    way = ""
    if seen.long_way[hour, band]:
        turned = 0.0 if advice.question.long_path else 180.0
        way = (
            f" the long way round, bearing {(seen.bearing_deg + turned) % 360.0:03.0f}"
        )
    through = angle_range(
        best.through_low_deg[target, hour, band],
        best.through_high_deg[target, hour, band],
    )
    by = "only by scatter"
    if LIMITS[int(best.limit[target, hour, band])] != by:
        # Of days, not of power, of which a few strong ones may bring most.
        by = f"by {mode}{way} on most of its days"
    else:
        by += f", {mode} on most of its days" if mode != mode_name(SCATTER, 2) else ""
        by += way
    if best.chance[target, hour, band] < OPEN_CHANCE:
        # Angles and gain of what never opens tell nobody how to hang a wire.
        words = f"the nearest way is {mode}{way}"
    else:
        words = (
            f"the sky offers {angle_range(low, high)}; the wire gives "
            f"{best.gain_dbi[target, hour, band]:.1f} dBi there, {through} gets "
            f"through; the contact comes {by}"
        )
    support = float(seen.support[hour, band])
    words += f"; the layers carry it {days_in_ten(support)}"
    if support < _SCATTER_SUPPORT:
        words += ", else it is scattered above the MUF"
    return words + (f", {spare}" if spare else "")


def angle_range(low_deg: float, high_deg: float) -> str:
    """
    Write a range of angles in whole degrees.

    Parameters
    ----------
    low_deg, high_deg : float
        Ends of the range; NaN if there is none. [deg]

    Returns
    -------
    words : str
        Such as ``6-11 deg``.

    Examples
    --------
    >>> angle_range(5.6, 11.2), angle_range(6.1, 6.3), angle_range(np.nan, np.nan)
    ('6-11 deg', '6 deg', '-')
    """
    if np.isnan(low_deg) or np.isnan(high_deg):
        return "-"
    low, high = round(low_deg), round(high_deg)
    return f"{low} deg" if low == high else f"{low}-{high} deg"
