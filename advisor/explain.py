"""
The answer in words: what to do, how sure, and why.

Only sentences are made here; every number in them comes from `advisor.advice`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from advisor.advice import Advice, SetUpAdvice
from advisor.limits import LIMITS, OPEN_CHANCE
from advisor.question import Question
from advisor.regions import WINDOW_NAME, TargetAdvice
from advisor.turning import TOLERANCE_DB

POINTS_OF_THE_COMPASS = (
    "north", "north-north-east", "north-east", "east-north-east",
    "east", "east-south-east", "south-east", "south-south-east",
    "south", "south-south-west", "south-west", "west-south-west",
    "west", "west-north-west", "north-west", "north-north-west",
)  # fmt: skip

HOURS_A_DAY = 24

_MONTHS = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun",
    "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip

WHAT_A_CHANCE_IS = (
    "A figure is the number of days in ten, in such a month at that hour, on which "
    "a station picked at random in the target can be worked both ways."
)


@dataclass(frozen=True)
class Opening:
    """
    A run of hours on one band.

    Attributes
    ----------
    band : str
        Band name.
    first, last : int
        First and last hour of the run, as places on the hour axis.
    peak : float
        Greatest chance in it.
    """

    band: str
    first: int
    last: int
    peak: float

    @property
    def hours(self) -> tuple[int, ...]:
        """Hours that name the run: first and last, or the only one."""
        return tuple(dict.fromkeys((self.first, self.last)))


def compass_point(bearing_deg: float) -> str:
    """
    Name the nearest of the sixteen points of the compass.

    Parameters
    ----------
    bearing_deg : float
        Bearing. [deg]

    Returns
    -------
    name : str
        Such as ``north-north-east``.

    Examples
    --------
    >>> compass_point(22.0), compass_point(359.0)
    ('north-north-east', 'north')
    """
    return POINTS_OF_THE_COMPASS[round(bearing_deg / 22.5) % 16]


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


def hour_name(question: Question, hour: int) -> str:
    """
    Name an hour of the question, UTC.

    Parameters
    ----------
    question : Question
        Holds the hours.
    hour : int
        Place on the hour axis.

    Returns
    -------
    name : str
        Such as ``06Z``; with its day, ``6 Dec 06Z``, if an hour comes twice.
    """
    return hour_names(question, (hour,))[0]


def hour_names(question: Question, hours: Iterable[int]) -> list[str]:
    """
    Name hours that are told one after the other.

    Parameters
    ----------
    question : Question
        Holds the hours.
    hours : iterable of int
        Places on the hour axis.

    Returns
    -------
    names : list of str
        Such as ``06Z``. If the question is longer than a day, the day stands before
        the first and wherever it is another than that of the name before.
    """
    names = []
    told = None
    for time in question.times[list(hours)]:
        day, hour = str(time.astype("datetime64[h]")).split("T")
        is_new = day != told and question.times.size > HOURS_A_DAY
        names.append(f"{_day_name(day)} {hour}Z" if is_new else f"{hour}Z")
        told = day
    return names


def _day_name(day: str) -> str:
    """Name a day, the same in every language: 2026-12-06 is 6 Dec."""
    month, number = day.split("-")[-2:]
    return f"{int(number)} {_MONTHS[int(month) - 1]}"


def openings(advice: Advice, target: int) -> list[Opening]:
    """
    List the runs of hours on the best band of the best set-up.

    Parameters
    ----------
    advice : Advice
        The answer.
    target : int
        Which target.

    Returns
    -------
    runs : list of Opening
        In time order; hours with no open band are left out.
    """
    best = advice.best_band[target]
    chance = advice.setups[0].chance[target]
    runs: list[Opening] = []
    edges = np.flatnonzero(np.diff(best)) + 1
    for part in np.split(np.arange(best.size), edges):
        band = int(best[part[0]])
        if band >= 0:
            name = advice.question.bands[band].name
            peak = float(chance[part, band].max())
            runs.append(Opening(name, int(part[0]), int(part[-1]), peak))
    return runs


def headline(advice: Advice, target: int) -> str:
    """
    Say which band when, and how sure.

    Parameters
    ----------
    advice : Advice
        The answer.
    target : int
        Which target.

    Returns
    -------
    words : str
        One or two sentences.
    """
    question = advice.question
    runs = openings(advice, target)
    name = advice.targets[target].name
    if not runs:
        top = float(advice.setups[0].chance[target].max())
        return (
            f"No band opens to {name} in these hours: the best chance is "
            f"{days_in_ten(top)}."
        )
    parts = []
    names = iter(hour_names(question, (i for run in runs for i in run.hours)))
    for run in runs:
        parts.append(f"{run.band} {' to '.join(next(names) for _ in run.hours)}")
    best = advice.setups[0]
    hour, band = np.unravel_index(
        int(best.chance[target].argmax()), best.chance[target].shape
    )
    low, peak, high = (
        float(values[target, hour, band])
        for values in (best.chance_low, best.chance, best.chance_high)
    )
    sure = (
        f"At best {days_in_ten(peak)} ({question.bands[band].name} at "
        f"{hour_name(question, int(hour))})"
    )
    if high - low >= 0.02:
        sure += f"; {10 * low:.1f} to {10 * high:.1f} over the range of solar activity"
    return f"Best: {', '.join(parts)}. {sure}."


def bearing_words(
    setup: SetUpAdvice, declination_deg: float, targets: tuple[TargetAdvice, ...]
) -> str:
    """
    Say how to turn a wire, by true north and by compass.

    Parameters
    ----------
    setup : SetUpAdvice
        The set-up.
    declination_deg : float
        Compass minus true north is minus this; east positive. [deg]
    targets : tuple of TargetAdvice
        For the bearing of the target.

    Returns
    -------
    words : str
        One or two sentences.
    """
    turn = setup.bearing
    where = " and ".join(
        f"{target.name} lies "
        + ("all round" if target.is_all_round else f"{target.bearing_deg:03.0f} true")
        for target in targets
    )
    if turn.wire_deg is None:
        return f"{setup.name}: radiates alike all round; turning it changes nothing."
    verb = "hang it" if turn.is_free else "it hangs"
    words = f"{setup.name}: {verb} {both_ends(turn.wire_deg, declination_deg)}"
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
            f"; turning it to {both_ends(turn.best_deg, declination_deg)} would give "
            f"{turn.loss_db:.1f} dB more"
        )
    return f"{words} ({where})."


def both_ends(wire_deg: float, declination_deg: float) -> str:
    """
    Say where a wire runs: both ends, true and by compass, and in words.

    Parameters
    ----------
    wire_deg : float
        Wire bearing from true north. [deg]
    declination_deg : float
        Magnetic declination, east positive. [deg]

    Returns
    -------
    words : str
        Both bearings of the wire.

    Examples
    --------
    >>> both_ends(65.0, 14.0)
    '065-245 true (051-231 by compass), east-north-east to west-south-west'
    """
    true = [wire_deg % 360.0, (wire_deg + 180.0) % 360.0]
    compass = [round(end - declination_deg) % 360 for end in true]
    return (
        f"{true[0]:03.0f}-{true[1]:03.0f} true "
        f"({compass[0]:03d}-{compass[1]:03d} by compass), "
        f"{compass_point(true[0])} to {compass_point(true[1])}"
    )


def limit_words(
    advice: Advice, setup: SetUpAdvice, target: int, hour: int, band: int
) -> str:
    """
    Say what stands in the way on one band at one hour.

    Parameters
    ----------
    advice : Advice
        The answer.
    setup : SetUpAdvice
        The set-up.
    target, hour, band : int
        Which target, hour and band.

    Returns
    -------
    words : str
        The limiting factor with its figure.
    """
    name = LIMITS[int(setup.limit[target, hour, band])]
    seen = advice.targets[target]
    if name == "none":
        return name
    cost = float(setup.limit_cost[target, hour, band])
    absorbed = float(seen.absorption_db[hour, band])
    if name == "absorbed" and absorbed >= 0.5:
        name = f"absorbed, {absorbed:.0f} dB"
    elif name == "no radiation at that angle":
        gain, angle = setup.gain_dbi[target, hour, band], seen.takeoff_deg[hour, band]
        name = f"wire gives {gain:.1f} dBi at {angle:.0f} deg"
    elif name == "below the noise":
        name = "signal close to the noise"
    return f"{name} (-{round(10 * cost)})" if cost >= OPEN_CHANCE else name


def reasons(advice: Advice, target: int) -> list[str]:
    """
    Say why: the best hour in figures, then what holds the other bands back.

    Parameters
    ----------
    advice : Advice
        The answer.
    target : int
        Which target.

    Returns
    -------
    lines : list of str
        One sentence each.
    """
    best = advice.setups[0]
    seen = advice.targets[target]
    question = advice.question
    hour, band = (
        int(i)
        for i in np.unravel_index(
            int(best.chance[target].argmax()), best.chance[target].shape
        )
    )
    if not best.works[band] or not seen.modes[hour, band]:
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


def _way_words(advice: Advice, target: int, hour: int, band: int) -> str:
    """Say how the best set-up's signal gets there, and with how much to spare."""
    best, seen = advice.setups[0], advice.targets[target]
    margin = float(best.margin_db[target, hour, band])
    spare = ""
    if np.isfinite(margin):
        less = "to spare" if round(margin) >= 0 else "short"
        spare = f"{abs(round(margin))} dB {less} on a middling day"
    if best.by_ground_wave[target, hour, band]:
        return "by ground wave" + (f", {spare}" if spare else "")
    mode = str(seen.modes[hour, band])
    low, high = seen.takeoff_low_deg[hour, band], seen.takeoff_high_deg[hour, band]
    words = (
        f"mostly {mode}, take-off {angle_range(low, high)}; the wire gives "
        f"{best.gain_dbi[target, hour, band]:.1f} dBi there"
    )
    if mode != WINDOW_NAME:
        often = days_in_ten(float(seen.support[hour, band]))
        words += f"; the layers carry it {often}"
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
