"""The answer as plain text for a terminal; nothing is worked out here."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.hours import asked_hours, hour_name, zone_title
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.shut import (
    hour_words,
    least_bad_words,
    shut_words,
    uncut_words,
)
from advisor.answers.states import mark, marks_key
from advisor.answers.storm_doubt import storm_doubt
from advisor.answers.words import (
    angle_range,
    bearing_words,
    headline,
    limit_words,
    place_words,
    reasons,
    what_a_chance_is,
)
from advisor.engine.question import Question
from advisor.engine.targets import TargetAdvice
from advisor.show.text.cells import (
    Cell,
    Column,
    chance_cell,
    chance_look,
    hours_table,
    number,
)
from advisor.show.text.layout import distance_words, paragraph
from advisor.station.cautions import CAUTIONS_IN_BRIEF, Caution, cautions
from advisor.station.segments import segment_words, segments

IN_FULL_ONLY = ("needs", "wire dBi")
"""Columns that only the whole answer has."""


def cautions_text(own: Sequence[Caution] = ()) -> str:
    """
    Write out every caution.

    Parameters
    ----------
    own : sequence of Caution, optional
        What the wires of this answer call for; goes first.

    Returns
    -------
    text : str
        A heading, then one paragraph each, the deference to local rules last.
    """
    told = (*own, *cautions())
    lines = (paragraph(f"  {each.topic}: {each.text}", "    ") for each in told)
    return "\n".join(["Cautions", *lines])


def advice_text(
    advice: Answer,
    declination_deg: float,
    zone: str | None = None,
    *,
    brief: bool = False,
) -> str:
    """
    Write the whole answer: answer, tables, reasons, cautions.

    Parameters
    ----------
    advice : Answer
        The answer.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]
    zone : str, optional
        IANA time zone whose local time stands beside UTC.
    brief : bool, optional
        Whether to leave out reasons and keys, with the cautions in one sentence.

    Returns
    -------
    text : str
        Ready to print.
    """
    question = advice.question
    blocks = [heading(question)]
    for k, target in enumerate(advice.targets):
        told = [headline(advice, k)]
        if k == 0:
            told += [bearing_words(one, declination_deg) for one in advice.used]
            told += filter(None, [least_bad_words(advice, declination_deg)])
        blocks += [
            "\n".join([target_line(question, target, k), *map(paragraph, told)]),
            _hour_table(advice, k, zone, brief=brief),
        ]
        if not brief:
            why = (paragraph(line, "  ") for line in reasons(advice, k))
            blocks.append("\n".join(why))
    if brief:
        return "\n\n".join([*blocks, paragraph(CAUTIONS_IN_BRIEF)])
    sent = question.emission
    where = segment_words(segments(question.bands, sent), sent)
    blocks += [paragraph(where)] if where else []
    notes = (
        f"{what_a_chance_is(advice.question)} (-3) behind a limit: three days in ten "
        "are lost to it. '*' is the band to be on, kept while no other gains half a "
        f"day in ten{wires_note(advice)}{doubt_note(advice)}. {shut_note(advice)}"
    )
    blocks.append(paragraph(notes))
    if len(advice.setups) > 1:
        over = " and of the targets, alike" if len(advice.targets) > 1 else ""
        title = (
            f"Each set-up by itself, days in ten: mean of the hours{over}, each on its "
            "best band"
        )
        each = (_by_itself(advice, i) for i in range(len(advice.setups)))
        blocks.append("\n".join([title, *each]))
    return "\n\n".join([*blocks, cautions_text()])


def heading(question: Question, *, in_full: bool = True, sent: str = "") -> str:
    """
    Say what was understood of a question, the targets left out.

    Parameters
    ----------
    question : Question
        What was asked.
    in_full : bool, optional
        Whether noise and the index of foF2 are told too.
    sent : str, optional
        Emissions, if there are others than that of the question.

    Returns
    -------
    text : str
        Its parts, one below the other.
    """
    asked, *notes = heading_parts(question, in_full=in_full, sent=sent)
    return "\n".join([paragraph(asked), *(paragraph(each, "  ") for each in notes)])


def heading_parts(
    question: Question, *, in_full: bool = True, sent: str = ""
) -> tuple[str, ...]:
    """
    Say what was understood of a question, part by part.

    Parameters
    ----------
    question : Question
        What was asked.
    in_full, sent : optional
        As in `heading`.

    Returns
    -------
    parts : tuple of str
        Place, hours, emission, noise and sun; then what is left out, and what is
        assumed of the sky.
    """
    station = question.station
    noise = (
        f"noise {station.noise} here, {station.far_end.noise} with "
        f"{station.far_end.words} there, "
    )
    sun = question.solar.basis
    if not in_full:
        noise, sun = "", sun.partition(", IG12")[0]
    asked = (
        f"From {place_words(question.place, station.own_name)}, "
        f"{asked_hours(question.times, station.time_zone)}, "
        f"{sent or question.emission.name} {station.power_w:g} W, {noise}{sun}"
        + (", long path" if question.long_path else "")
    )
    left_out = (each.words for each in question.left_out)
    return (asked, *left_out, *question.assumed)


def target_line(question: Question, target: TargetAdvice, place: int) -> str:
    """
    Say where a target lies and how it is sampled.

    Parameters
    ----------
    question : Question
        What was asked.
    target : TargetAdvice
        The target as seen from the station.
    place : int
        Its place among the targets.

    Returns
    -------
    text : str
        One paragraph.
    """
    points = f"{target.points} sample point{'s' if target.points > 1 else ''}"
    if question.targets[place].by_operators:
        points += f" weighted by {target.weight_source}"
    return paragraph(
        f"To {target.name}: {distance_words(target.nearest_km, target.farthest_km)}, "
        f"{_direction(target)}, {points}"
    )


def target_lines(question: Question, targets: Sequence[TargetAdvice]) -> list[str]:
    """
    Say so of every target.

    Parameters
    ----------
    question : Question
        What was asked.
    targets : sequence of TargetAdvice
        All its targets as seen from the station.

    Returns
    -------
    lines : list of str
        A paragraph each.
    """
    return [target_line(question, each, k) for k, each in enumerate(targets)]


def _direction(target: TargetAdvice) -> str:
    """Write the bearing of a target; a target around me has none."""
    if target.is_all_round:
        return "all round"
    return f"bearing {target.bearing_deg:03.0f} true"


def shut_note(advice: Answer) -> str:
    """
    Explain the marks of shut bands that are there.

    Parameters
    ----------
    advice : Answer
        The answer.

    Returns
    -------
    words : str
        Such as ``Shut: ...``; empty where nothing is shut.
    """
    key = marks_key(advice.states.ravel().tolist())
    return f"Shut: {key}." if key else ""


def wires_note(advice: Answer) -> str:
    """
    Say which set-up a figure is of, where there are several.

    Parameters
    ----------
    advice : Answer
        The answer.

    Returns
    -------
    words : str
        Half a sentence; may be empty.
    """
    several = len(advice.setups) > 1 and not advice.are_rivals
    return "; each figure is of the best set-up on its band" if several else ""


def doubt_note(advice: Answer) -> str:
    """
    Explain the question mark only where there is one.

    Parameters
    ----------
    advice : Answer
        The answer.

    Returns
    -------
    words : str
        Half a sentence; may be empty.
    """
    targets = range(len(advice.targets))
    if any(storm_doubt(advice.question, k) for k in targets):
        return ", '?' a figure not to be relied on in this storm"
    return ""


def _hour_table(advice: Answer, target: int, zone: str | None, *, brief: bool) -> str:
    """Chance by hour and band, with what the best band needs and gets."""
    columns: Iterable[Column[int]] = hour_columns(advice, target)
    if brief:
        columns = [each for each in columns if each.head not in IN_FULL_ONLY]
    shown = hours_table(advice.question.times, columns, zone, zone_title(zone))
    return "\n".join([shown, *(paragraph(each) for each in shut_words(advice, target))])


def hour_columns(advice: Answer, target: int) -> Iterator[Column[int]]:
    """
    Say what is shown of an hour: chances, what the best band needs and gets.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Place of the target.

    Yields
    ------
    column : Column
        Of an hour's place. A band that stays closed is told in one line under the table
        of a terminal, unless all do.
    """
    question, best = advice.question, advice.best
    seen, bands = advice.targets[target], range(len(question.bands))
    is_doubtful = bool(storm_doubt(question, target))
    picked, wire = best.band[target], best.wire[target]

    def chance(band: int, t: int) -> Cell:
        told = float(best.chance[target, t, band])
        state = int(advice.states[target, t, band])
        shut = mark(state, float(best.margin_db[target, t, band]))
        is_best = band == picked[t]
        short = chance_cell(told, shut, is_best, is_doubtful)
        return replace(chance_look(told, shut, is_best), short=short)

    def on(t: int) -> Cell:
        if picked[t] < 0:
            return Cell("-", look="words", short="")
        name = advice.setups[wire[t]].name
        is_told = t and wire[t] == wire[t - 1]
        return Cell(name, look="words", short='"' if is_told else name)

    def needs(t: int) -> Cell:
        low, high = (
            each[t, picked[t]] for each in (seen.takeoff_low_deg, seen.takeoff_high_deg)
        )
        return Cell(angle_range(low, high) if picked[t] >= 0 else "-")

    def gain(t: int) -> Cell:
        if picked[t] < 0:
            return Cell("-")
        return number(best.gain_dbi[target, t, picked[t]])

    def limit(t: int) -> Cell:
        if picked[t] >= 0:
            words = limit_words(advice, best, target, t, picked[t])
        else:
            words = hour_words(advice, target, t)
        return Cell(words, look="words")

    closed = [_is_closed(advice, target, b) for b in bands]
    for b in bands:
        name = question.bands[b].name
        head = "" if closed[b] and not all(closed) else name
        yield Column(head, partial(chance, b), name)
    if len(advice.used) > 1:
        yield Column("set-up", on, is_words=True)
    yield Column("needs", needs)
    yield Column("wire dBi", gain)
    yield Column("limit", limit, is_words=True)


def _is_closed(advice: Answer, target: int, band: int) -> bool:
    """Whether no set-up ever reaches the target on a band."""
    return bool((advice.best.chance[target, :, band] < OPEN_CHANCE).all())


def _by_itself(advice: Answer, place: int) -> str:
    """One line on a set-up by itself, turned as above."""
    other, question = advice.setups[place], advice.question
    uncut = uncut_words(question, other)
    if not other.works.any():
        return paragraph(f"  {other.name}: {uncut}.", "    ")
    # Mean of the targets at each hour and band.
    mean = other.chance.mean(axis=0)
    hour, band = np.unravel_index(int(mean.argmax()), mean.shape)
    peak = float(mean[hour, band])
    at_best = "closed in these hours"
    if peak >= OPEN_CHANCE:
        at_best = (
            f"at best {10 * peak:.0f} on {question.bands[band].name} at "
            f"{hour_name(question, int(hour))}"
        )
    return paragraph(
        f"  {other.name}: {10 * other.score:.1f}; {at_best}"
        f"{'; ' if uncut else ''}{uncut}.",
        "    ",
    )
