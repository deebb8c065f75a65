"""Bands that nothing opens: what keeps each shut, and what would bridge it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import islice

import numpy as np

from advisor.answers.advice import Answer, SetUpAdvice
from advisor.answers.hours import hour_name
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.runs import compass_point, run_figures
from advisor.answers.states import (
    BELOW_HORIZON,
    FAR_SHORT_DB,
    FAR_TOO_WEAK,
    NO_LAYER,
    NOT_CUT,
    OPEN,
    SHORT,
    STATES,
    WEAK_SIGNAL,
    WEAK_SIGNAL_EMISSION,
)
from advisor.engine.contact import routes_and_ends
from advisor.engine.engine import wire_gains
from advisor.engine.question import Question
from advisor.engine.targets import target_slices
from advisor.reliability.chance import chance
from advisor.station.emissions import emission_by_name
from geo.errors import InputError
from geo.fields import record

USUAL_POWER_W = 100.0
"""What most transceivers give at most (common practice, no source). [W]"""


@record
class ShutBand:
    """
    A band that no set-up opens to a target in the hours asked about.

    Attributes
    ----------
    band : str
        Band name.
    state : str
        The best it comes to: open for weak-signal modes, short of signal, far too weak,
        below the horizon, no layer, or not cut for by any set-up.
    utc : str
        The hour in which it lacks least signal; empty if it is not that it lacks.
    short_db : float
        Signal that it lacks then, on a middling day; NaN if it is not that. [dB]
    setup : str
        Set-up that lacks least then; empty if it is not that.
    bridge : str
        What would bridge it, in words; empty if nothing cheap does.
    """

    band: str
    state: str
    utc: str
    short_db: float
    setup: str
    bridge: str


def shut_bands(advice: Answer, target: int) -> tuple[ShutBand, ...]:
    """
    List the bands that no set-up opens to a target.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target.

    Returns
    -------
    bands : tuple of ShutBand
        In the order of the question.
    """
    question, best = advice.question, advice.best
    found = advice.states[target]
    shut = []
    for b, band in enumerate(question.bands):
        state = int(found[:, b].min())
        if state == OPEN:
            continue
        lacks = state in (WEAK_SIGNAL, SHORT, FAR_TOO_WEAK)
        margin = np.where(found[:, b] == state, best.margin_db[target, :, b], -np.inf)
        t = int(margin.argmax())
        short_db = -float(margin[t]) if lacks else math.nan
        is_near = short_db <= FAR_SHORT_DB
        shut.append(
            ShutBand(
                band=band.name,
                state=STATES[state],
                utc=hour_name(question, t) if lacks else "",
                short_db=short_db,
                setup=advice.setups[int(best.setup[target, t, b])].name
                if lacks
                else "",
                bridge=bridge(advice, target, t, b) if is_near else "",
            )
        )
    return tuple(shut)


def bridge(advice: Answer, target: int, hour: int, band: int) -> str:
    """
    Say what would open a band that is short of signal, if that is cheap.

    Parameters
    ----------
    advice : Answer
        The answer.
    target, hour, band : int
        Which target, hour and band; the best set-up there is taken.

    Returns
    -------
    words : str
        Such as ``CW or 80 W would open it 1 day in 20``, each asked
        again; empty if neither another emission nor the power of a usual transceiver
        would.
    """
    question, sent = advice.question, advice.question.emission
    opens = _asked_again(advice, target, hour, band)
    cheap = [
        name
        for name in ("CW", WEAK_SIGNAL_EMISSION)
        if (less_db := sent.snr_db_hz - emission_by_name(name).snr_db_hz) > 0.0
        and opens(less_db, less_db)
    ][:1]
    now_w = question.station.power_w
    powers = (power for power in _POWERS_W if power > now_w)
    enough = (p for p in powers if opens(10.0 * math.log10(p / now_w), 0.0))
    cheap += [f"{power_w:g} W" for power_w in islice(enough, 1)]
    return f"{' or '.join(cheap)} would open it 1 day in 20" if cheap else ""


_POWERS_W = (*range(1, 30), *range(30, 60, 5), *range(60, int(USUAL_POWER_W) + 1, 10))
"""Powers that are tried, least first. [W]"""


def _asked_again(
    advice: Answer, target: int, hour: int, band: int
) -> Callable[[float, float], bool]:
    """Tell whether a band opens with so many dB more as heard there, and here."""
    question, link = advice.question, advice.halves.link
    setup = advice.setups[int(advice.best.setup[target, hour, band])]
    name, points = question.bands[band].name, target_slices(question)[target]
    patterns = {name: advice.halves.patterns[setup.name][name]}
    gains = wire_gains(question, link, patterns, setup.bearing.wire_deg or 0.0)
    cells = np.arange(link.heard_db.size).reshape(link.heard_db.shape)
    cells = cells[points, hour, band]
    routes, ends = routes_and_ends(link, gains)
    routes, ends = routes.of(cells), ends.of(cells)

    def opens(heard_db: float, hear_db: float) -> bool:
        louder = replace(
            routes,
            hop_gain_db=routes.hop_gain_db + heard_db,
            ground_gain_db=routes.ground_gain_db + heard_db,
        )
        offset = ends.hear_offset_db + (hear_db - heard_db)
        both = chance(louder, replace(ends, hear_offset_db=offset))[2, 0]
        return bool(both @ question.targets[target].weight >= OPEN_CHANCE)

    return opens


def shut_words(advice: Answer, target: int) -> list[str]:
    """
    Say which bands stay shut, why, and what would bridge it.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target.

    Returns
    -------
    lines : list of str
        One sentence a reason; none if every band opens.
    """
    shut = shut_bands(advice, target)
    near: dict[str, list[str]] = {}
    for each in shut:
        if not math.isnan(each.short_db) and each.short_db <= FAR_SHORT_DB:
            on = f" on {each.setup}" if len(advice.setups) > 1 else ""
            words = f"{each.band} {max(each.short_db, 1.0):.0f} dB ({each.utc}{on})"
            near.setdefault(each.bridge or "nothing cheap helps", []).append(words)
    lines = [
        f"Open but short, at best: {', '.join(words)}; {way}."
        for way, words in near.items()
    ]
    for state, words in _ALL_THE_TIME.items():
        bands = [each.band for each in shut if each.state == STATES[state]]
        if bands:
            lines.append(words.format(", ".join(bands)))
    return lines


_ALL_THE_TIME = {
    FAR_TOO_WEAK: f"Over {FAR_SHORT_DB:.0f} dB short in every hour: {{}}.",
    BELOW_HORIZON: "Below your horizon in every hour: {}.",
    NO_LAYER: "No layer in these hours: {}.",
    NOT_CUT: "No wire here is cut for {}.",
}


def shut_headline(advice: Answer, target: int) -> str:
    """
    Say that nothing opens, and what comes nearest.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target, to which nothing opens.

    Returns
    -------
    words : str
        One or two sentences.
    """
    question = advice.question
    name, sent = advice.targets[target].name, question.emission.name
    state = int(advice.states[target].min())
    if state == NOT_CUT:
        asked = ", ".join(band.name for band in question.bands)
        return f"No set-up here is cut for {asked}, so there is no answer to {name}."
    said = f"No band opens to {name} in these hours"
    if state == NO_LAYER:
        return f"{said}: no layer returns any of them on one day in twenty."
    if state == BELOW_HORIZON:
        return f"{said}: what the layers return is below your horizon."
    if state == FAR_TOO_WEAK:
        return (
            f"{said}: where a layer returns one it is over {FAR_SHORT_DB:.0f} dB short."
        )
    near = sorted(shut_bands(advice, target), key=lambda each: each.short_db)
    nearest = next(each for each in near if each.state == STATES[state])
    way = nearest.bridge or "nothing cheap helps"
    other = next((each for each in near if each.bridge), nearest)
    if other.bridge and not nearest.bridge:
        way += f" there, but {other.band} at {other.utc}: {other.bridge}"
    return (
        f"{said} for {sent} at {question.station.power_w:g} W. Nearest: "
        f"{nearest.band} at {nearest.utc}, open but "
        f"{max(nearest.short_db, 1.0):.0f} dB short; {way}."
    )


def least_bad_words(advice: Answer, declination_deg: float) -> str:
    """
    Say where to hang a wire though nothing opens to any target.

    Parameters
    ----------
    advice : Answer
        The answer.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]

    Returns
    -------
    words : str
        One sentence on the set-up that lacks least; empty where something opens, no
        set-up is cut for the bands, or turning it changes nothing.
    """
    best = advice.best
    if advice.used or not best.works.any():
        return ""
    nearest = int(np.nan_to_num(best.margin_db, nan=-np.inf).argmax())
    one = advice.setups[max(int(best.setup.ravel()[nearest]), 0)]
    wire, end = one.bearing.wire_deg, one.first_end
    if wire is None:
        return ""
    hung = "hung" if one.bearing.is_free else "as it hangs,"
    which = f", {end} at the {compass_point(wire + 180.0)}" if end else ""
    return (
        f"Least bad: {one.name} {hung} {run_figures(wire, end)} true "
        f"({run_figures(wire - declination_deg, end)} by compass){which}."
    )


def hour_words(advice: Answer, target: int, *hours: int) -> str:
    """
    Say in a few words why nothing is open in an hour, or in the least bad of several.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target.
    *hours : int
        Hours in which nothing is open.

    Returns
    -------
    words : str
        Such as ``20 m 8 dB short``.
    """
    opens = (advice.states[target] == OPEN).any(axis=0)
    # A band that stays shut is told of in a line of its own.
    told = opens if opens.any() else np.ones_like(opens)
    found = np.where(told, advice.states[target, list(hours)], len(STATES))
    state = int(found.min())
    if state in (WEAK_SIGNAL, SHORT):
        lacks_db = -advice.best.margin_db[target, list(hours)]
        lacks_db = np.where(found == state, lacks_db, np.inf)
        band = int(lacks_db.min(axis=0).argmin())
        lacks = f"{max(lacks_db.min(), 1.0):.0f} dB short"
        if state == WEAK_SIGNAL:
            lacks = "for weak-signal modes"
        return f"{advice.question.bands[band].name} {lacks}"
    return "not cut for" if state == NOT_CUT else STATES[state]


def check_is_cut(advice: Answer) -> None:
    """
    Refuse to draw an answer that has nothing in it.

    Parameters
    ----------
    advice : Answer
        The answer.

    Raises
    ------
    InputError
        If no set-up is cut for any band asked about.
    """
    if not advice.best.works.any():
        asked = ", ".join(band.name for band in advice.question.bands)
        raise InputError(
            f"no set-up here is cut for {asked}, so there is nothing to draw: ask "
            "for another --band, or give a wire cut for it"
        )


def uncut_words(question: Question, setup: SetUpAdvice) -> str:
    """
    Say which of the bands asked about a set-up is not cut for.

    Parameters
    ----------
    question : Question
        Holds the bands.
    setup : SetUpAdvice
        The set-up.

    Returns
    -------
    words : str
        Such as ``not cut for 40 m, 20 m``; empty if it works on all.
    """
    uncut = [
        band.name
        for band, works in zip(question.bands, setup.works, strict=True)
        if not works
    ]
    return f"not cut for {', '.join(uncut)}" if uncut else ""
