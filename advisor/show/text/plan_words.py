"""What the plan of an outing says in words, for the screen and for the page alike."""

from __future__ import annotations

import numpy as np

from advisor.answers.hours import hour_name, span_names
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.outing.battery import battery_words
from advisor.answers.outing.plan import ALIKE_CHANCE, Activation, Missed, Slot
from advisor.answers.rows.activation import Outing
from advisor.answers.runs import run_figures, run_words
from advisor.answers.shut import least_bad_words, shut_headline
from advisor.answers.words import days_in_ten, in_ten, what_a_chance_is
from advisor.show.text.hang import remedy_words
from advisor.show.text.layout import distance_words, hour_cell
from advisor.station.segments import LICENCE_FIRST, segment_words

MOST_STEPS = 8
"""Steps of a plan named in a sentence; the timetable has them all."""


POOR_CHANCE = 0.1
"""Of a plan that works on fewer days than one in ten the best hour is told."""

HOPELESS_CHANCE = 0.2
"""If that is under two days in ten, the plan is told to be hardly worth it."""


def target_letter(place: int) -> str:
    """
    Name a target shortly.

    Parameters
    ----------
    place : int
        Its place among the targets, from 0.

    Returns
    -------
    letter : str
        A, B and so on; a number after Z.

    Examples
    --------
    >>> target_letter(1), target_letter(26)
    ('B', '27')
    """
    return chr(ord("A") + place) if place < 26 else str(place + 1)


def target_words(plan: Activation, place: int) -> str:
    """
    Say what a target's letter stands for, and what it counts.

    Parameters
    ----------
    plan : Activation
        The plan.
    place : int
        The target's place, from 0.

    Returns
    -------
    words : str
        Name, distance, bearing, and its share where there are several.
    """
    target = plan.advice.targets[place]
    several = len(plan.advice.targets) > 1
    far = distance_words(target.nearest_km, target.farthest_km)
    way = "all round" if target.is_all_round else f"{target.bearing_deg:03.0f} true"
    counts = f", counts {100.0 * plan.weights[place]:.0f} in 100" if several else ""
    return f"{target.name}: {far}, {way}{counts}"


def slot_hours(plan: Activation, slot: Slot) -> str:
    """
    Write the hours of a slot, to the end of the last one.

    Parameters
    ----------
    plan : Activation
        The plan.
    slot : Slot
        One of its slots.

    Returns
    -------
    hours : str
        Such as ``09-15``, UTC; over more than a day the day of the month goes before.
    """
    times = plan.advice.question.times
    end = times[slot.last] + np.timedelta64(1, "h")
    span = f"{hour_cell(times[slot.first])}-{hour_cell(end)}"
    return f"{str(times[slot.first])[8:10]}/{span}" if times.size > 24 else span


def steps_words(plan: Activation) -> str:
    """
    Say which band when.

    Parameters
    ----------
    plan : Activation
        The plan.

    Returns
    -------
    words : str
        The first steps, and how they were shared out; empty where nothing opens.
    """
    question = plan.advice.question
    worked = [slot for slot in plan.slots if slot.setup >= 0]
    spans = span_names(question, ((slot.first, slot.last) for slot in worked))
    steps = [
        f"{question.bands[slot.band].name} {span}"
        for slot, span in zip(worked, spans, strict=True)
    ]
    more = ", then as below" if len(steps) > MOST_STEPS else ""
    shown = ", ".join(steps[:MOST_STEPS]) + more
    if plan.enough_h is not None:
        shown += f", shared out so that a target counts half after {plan.enough_h:g} h"
    return shown


def range_head(plan: Activation) -> str:
    """
    Head the column of ranges, which are over all targets together.

    Parameters
    ----------
    plan : Activation
        What `advisor.answers.outing.plan.plan_activation` found.

    Returns
    -------
    head : str
        One or two words.
    """
    return "range" if len(plan.advice.targets) == 1 else "in all"


def score_words(plan: Activation) -> str:
    """
    Say how many changes a plan has, how often it works, what more would give.

    Parameters
    ----------
    plan : Activation
        The plan.

    Returns
    -------
    words : str
        Two sentences.
    """
    over = (
        f" ({in_ten(plan.low)} to {in_ten(plan.high)} over {plan.varied})"
        if plan.varied and plan.high > plan.low
        else ""
    )
    changes = f"{plan.changes} change{'' if plan.changes == 1 else 's'}"
    lost = plan.best_possible - plan.score
    return (
        f"{changes}. It works {in_ten(plan.score)} days in ten{over}"
        + (
            f"; changing every hour would give {in_ten(plan.best_possible)}."
            if lost >= 0.005
            else "; more changes would gain nothing."
        )
        + (_poor_words(plan) if plan.score < POOR_CHANCE else "")
    )


def _poor_words(plan: Activation) -> str:
    """Say what is best of a poor outing, and whether even that is hardly worth it."""
    slot = max(plan.slots, key=lambda each: float(each.peak.max()))
    k, question = int(slot.peak.argmax()), plan.advice.question
    there = plan.advice.setups[slot.setup].chance[k, :, slot.band]
    hour = slot.first + int(there[slot.first : slot.last + 1].argmax())
    peak = float(slot.peak[k])
    verdict = "Hardly worth the way: at" if peak < HOPELESS_CHANCE else "At"
    to = f" to {target_letter(k)}" if len(plan.weights) > 1 else ""
    return (
        f" {verdict} best {days_in_ten(peak)}{to}, on "
        f"{question.bands[slot.band].name} at {hour_name(question, hour)}."
    )


def wire_number(plan: Activation, setup: int) -> int:
    """
    Give the wires of the plan numbers.

    Parameters
    ----------
    plan : Activation
        The plan.
    setup : int
        Which of its set-ups.

    Returns
    -------
    number : int
        1 is used most.
    """
    return plan.used.index(setup) + 1 if setup in plan.used else len(plan.used) + 1


def wire_words(plan: Activation, setup: int, declination_deg: float) -> str:
    """
    Say how a wire of the plan runs.

    Parameters
    ----------
    plan : Activation
        The plan.
    setup : int
        Which of its set-ups.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]

    Returns
    -------
    words : str
        True and by compass, and what a better bearing would give.
    """
    turn = plan.advice.setups[setup].bearing
    if turn.wire_deg is None:
        return "radiates alike all round."
    end = plan.advice.setups[setup].first_end
    verb = "run it" if turn.is_free else "hangs"
    words = f"{verb} {run_words(turn.wire_deg, declination_deg, end)}"
    if not turn.is_free and turn.best_deg is not None and turn.loss_db >= 0.05:
        words += (
            f"; {run_figures(turn.best_deg, end)} true would give "
            f"{turn.loss_db:.1f} dB more"
        )
    return f"{words}."


def swapped_words(plan: Activation) -> str:
    """
    Name the wires that a backup marked with a star is on.

    Parameters
    ----------
    plan : Activation
        The plan.

    Returns
    -------
    words : str
        Empty if every backup is on the wire of its slot.
    """
    swapped = sorted(
        {s.backup_setup for s in plan.slots if s.backup_setup not in (-1, s.setup)}
    )
    names = ", ".join(plan.setups[s].name for s in swapped)
    return f"* on another wire: {names}." if names else ""


def backup_words(plan: Activation, slot: Slot) -> str:
    """
    Write the backup band, and a star if it is on another wire.

    Parameters
    ----------
    plan : Activation
        The plan.
    slot : Slot
        One of its slots.

    Returns
    -------
    words : str
        Band and days in ten.
    """
    if slot.backup_band < 0:
        return "none"
    band = plan.advice.question.bands[slot.backup_band].name
    other = "" if slot.backup_setup == slot.setup else "*"
    return f"{band}{other} {in_ten(slot.backup_mean)}"


def shares_words(plan: Activation) -> str:
    """
    Say what the plan gives each target.

    Parameters
    ----------
    plan : Activation
        The plan.

    Returns
    -------
    words : str
        Expected hours, target by target.
    """
    total = float(plan.expected_h.sum())
    parts = []
    for k, target in enumerate(plan.advice.targets):
        hours = float(plan.expected_h[k])
        share = (
            f" ({100.0 * hours / total:.0f} %)"
            if total > 0.0 and len(plan.expected_h) > 1
            else ""
        )
        name = target.name if len(plan.expected_h) == 1 else target_letter(k)
        parts.append(f"{name} {hours:.1f} h{share}")
    return (
        "Expected hours in which a station picked at random there can be worked: "
        f"{', '.join(parts)}."
    )


def outing_words(outing: Outing) -> list[str]:
    """
    Say where on the bands to be, and whether the battery lasts.

    Parameters
    ----------
    outing : Outing
        The outing.

    Returns
    -------
    lines : list of str
        None of either where it is not known.
    """
    question = outing.plan.advice.question
    sent = (question.emission, *question.station.also_sent)
    told = [segment_words(outing.segments_of(each), each) for each in sent]
    told = [each for each in told if each]
    # Only the last says what comes first.
    spans = [each.partition(f" {LICENCE_FIRST}")[0] for each in told[:-1]]
    where = " ".join([*spans, *told[-1:]])
    station, battery = question.station, outing.battery
    lasts = battery_words(battery) if battery else ""
    if battery is None and (station.send_a, station.receive_a) != (None, None):
        lasts = (
            "Whether the battery lasts is told once --battery-ah says what it gives."
        )
    return [each for each in (where, lasts) if each]


def missed_words(plan: Activation, missed: Missed) -> str:
    """
    Say why a target is not reached.

    Parameters
    ----------
    plan : Activation
        The plan.
    missed : Missed
        The target.

    Returns
    -------
    words : str
        Where it comes nearest, and what to ask for instead.
    """
    question = plan.advice.question
    where = (
        f"{question.bands[missed.band].name} at "
        f"{hour_cell(question.times[missed.hour])}Z on {plan.setups[missed.setup].name}"
    )
    if missed.chance < OPEN_CHANCE:
        return (
            f"{target_letter(missed.target)} never opens in these hours; it is nearest "
            f"on {where}, held back by: {missed.limit}."
        )
    return (
        f"{target_letter(missed.target)} is not reached by the plan; it does best with "
        f"{days_in_ten(missed.chance)} on {where}. To reach it let it count more with "
        "--priority, or share out with --enough-h 2."
    )


def fix_words(plan: Activation) -> str:
    """
    Say what holds the wire used most back and what would help.

    Parameters
    ----------
    plan : Activation
        A plan that uses a wire.

    Returns
    -------
    words : str
        The limit with what it costs, then the remedies.
    """
    name, cost = plan.advice.setups[plan.used[0]].held_back_by()
    lost = f" ({in_ten(cost)} in ten lost to it)" if cost > 0.0 else ""
    return f"What holds wire 1 back most: {name}{lost}. {remedy_words(plan.remedies)}"


def nothing_words(plan: Activation) -> str:
    """
    Say that a plan has no hour in it.

    Parameters
    ----------
    plan : Activation
        A plan that uses no wire.

    Returns
    -------
    words : str
        What keeps each target shut, and which wire is least bad.
    """
    question = plan.advice.question
    told = [shut_headline(plan.advice, k) for k in range(len(plan.advice.targets))]
    told.append(least_bad_words(plan.advice, question.declination_deg))
    if question.station.also_sent:
        told.append(
            f"All this is for {question.emission.name}, which was named first; for a "
            f"plan of {question.station.also_sent[0].name} name that first."
        )
    return (
        "Nothing opens in these hours on any band with any of these wires. "
        f"{' '.join(filter(None, told))} Ask for other hours."
    )


def notes_words(plan: Activation) -> str:
    """
    Explain the figures of a plan once.

    Parameters
    ----------
    plan : Activation
        The plan.

    Returns
    -------
    words : str
        What a chance is, the signs, the costs.
    """
    costs = plan.costs
    also = [sent.name for sent in plan.advice.question.station.also_sent]
    others = ""
    if also:
        over = ", over the targets by what they count" if len(plan.weights) > 1 else ""
        others = f" {' and '.join(also)}: on the same band and wire{over}."
    by_weight = (
        ", and for 'in all' and 'or else' over the targets by what they count"
        if len(plan.weights) > 1
        else ""
    )
    spread = f"'{range_head(plan)}' goes over {plan.varied}."
    ties = ""
    if len(plan.setups) > 1:
        ties = (
            f" Wires within {10 * ALIKE_CHANCE:g} in ten are alike; then that without "
            "live parts within reach is taken."
        )
    last = ""
    if any(slot.backup_mean > slot.mean for slot in plan.slots):
        last = " (where nothing else opens one that is better, left for its cost"
        last += " or to share out)"
    return (
        f"{what_a_chance_is(plan.advice.question)} "
        f"Here it is a mean over the hours of the slot{by_weight}; "
        f"{spread} "
        "'.' is less than one in twenty, 'or else' the band to try if the first is "
        f"dead{last}.{others} A change of band is counted as {costs.change_min:g} "
        f"minutes of the best hour lost, a change of wire as {costs.swap_min:g}.{ties} "
        "Voltage and current are rms at the feedpoint; trim is what to add to the "
        "whole wire (+) or cut."
    )
