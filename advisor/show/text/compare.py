"""Set-ups side by side, as text; nothing is worked out here."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial

import numpy as np

from advisor.answers.compare import Comparison, Lead, SetUpCompared
from advisor.answers.hours import hour_name
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.moved import told_by_target
from advisor.answers.runs import run_words
from advisor.answers.shut import least_bad_words
from advisor.answers.words import days_in_ten, in_ten, what_a_chance_is
from advisor.antenna.shapes.upright import LYING_RADIALS_N
from advisor.show.text.cells import Cell, Column, hours_of, mean_chance, text_table
from advisor.show.text.layout import paragraph
from advisor.show.text.tonight import cautions_text, heading, target_lines
from advisor.station.cautions import cautions_in_brief

Ranked = tuple[int, SetUpCompared]
"""A set-up behind its place in the ranking, from 1."""

_MOST_ACROSS = 6
"""Set-ups that have room beside each other in a table of hours."""


def compare_text(comparison: Comparison, *, brief: bool = False) -> str:
    """
    Write the ranking, why the first is first, then hours and bands.

    Parameters
    ----------
    comparison : Comparison
        What `advisor.answers.compare.compare` found.
    brief : bool, optional
        Whether to leave out reasons and keys, with the cautions in one sentence.

    Returns
    -------
    text : str
        Ready to print.
    """
    advice = comparison.advice
    question = advice.question
    asked = [heading(question), *target_lines(question, advice.targets)]
    blocks = ["\n".join([*asked, *map(paragraph, told_by_target(advice))])]
    brief_cautions = cautions_in_brief(comparison.cautions)
    best = max(float(each.advice.chance.max()) for each in comparison.setups)
    if not advice.setups[0].works.any():
        # The best has no band, so no set-up has one.
        names = ", ".join(band.name for band in question.bands)
        said = paragraph(f"No set-up here is cut for {names}.")
        return "\n\n".join([*blocks, said, paragraph(brief_cautions)])
    if best < OPEN_CHANCE:
        least_bad = least_bad_words(advice, question.declination_deg)
        said = paragraph(
            "Nothing opens in these hours on any band with any of these set-ups: "
            f"the best chance is {days_in_ten(best)}. Ask for other hours. {least_bad}"
        )
        return "\n\n".join([*blocks, said, paragraph(brief_cautions)])
    blocks.append(_ranking(comparison))
    turned = _turned(comparison, question.declination_deg)
    if turned:
        blocks.append("\n".join(turned))
    if comparison.leads and not brief:
        blocks.append(_why(comparison))
    for k, target in enumerate(advice.targets):
        blocks += [f"To {target.name}, best band of each hour:", _hours(comparison, k)]
        if len(question.bands) > 1:
            blocks.append(f"To {target.name}, best hour of each band:")
            blocks.append(_bands(comparison, k))
    if brief:
        return "\n\n".join([*blocks, paragraph(brief_cautions)])
    notes = paragraph(
        f"{what_a_chance_is(comparison.advice.question)} "
        f"Behind it stands the margin on a middling day in dB. "
        "'.' is less than one in twenty, '-' a band the set-up is not cut for. "
        "Above vertical and above dipole: gain at the angles the sky asks for, as "
        "a mean by chance, over a quarter-wave vertical on the same ground with "
        f"{LYING_RADIALS_N} radials and over a half-wave dipole as high "
        "as the set-up's top, turned as suits it best; both without feed loss. "
        "Each set-up is weighed over its own open bands and hours, against a "
        "dipole of its own height: the two columns are no scale between set-ups."
    )
    return "\n\n".join([*blocks, notes, cautions_text(comparison.cautions)])


def _signed(value_db: float) -> str:
    """Write a difference in dB; a dash where there is none."""
    return "-" if math.isnan(value_db) else f"{round(value_db, 1) + 0.0:+.1f}"


def _ranking(comparison: Comparison) -> str:
    """One line a set-up, best first."""
    mean = "Mean of the hours on the best band"
    if len(comparison.advice.targets) > 1:
        mean += " and of the targets"
    over = f", range over {comparison.varied}" if comparison.varied else ""
    ranked = list(enumerate(comparison.setups, start=1))
    said = paragraph(f"{mean}{over}:")
    return f"{said}\n\n{text_table(ranking_columns(comparison), ranked, keys=2)}"


def ranking_columns(comparison: Comparison) -> Iterator[Column[Ranked]]:
    """
    Make the columns of the ranking; a row is a set-up with its place.

    Parameters
    ----------
    comparison : Comparison
        What `advisor.answers.compare.compare` found.

    Yields
    ------
    column : Column
        Gains over the two yardsticks last.
    """
    varied = comparison.varied
    yield Column(" ", lambda each: str(each[0]), "place")
    yield Column(
        "set-up", lambda each: Cell(each[1].advice.name, look="words"), is_words=True
    )
    yield Column("days in ten", lambda each: mean_chance(each[1].advice.score))
    yield Column(
        "range" if varied else "",
        lambda each: f"{in_ten(each[1].score_low)}-{in_ten(each[1].score_high)}",
        f"range over {varied}" if varied else "range",
    )
    yield Column("at best", partial(_at_best, comparison), None, is_words=True)
    yield Column("above vertical dB", lambda each: _over(each[1].mean_over_vertical_db))
    yield Column("above dipole dB", lambda each: _over(each[1].mean_over_dipole_db))


def _over(level_db: float) -> Cell:
    """Set a difference in dB in a cell."""
    return Cell(_signed(level_db), "" if math.isnan(level_db) else repr(level_db))


def _at_best(comparison: Comparison, ranked: Ranked) -> str:
    """Write the best hour and band."""
    _, each = ranked
    question = comparison.advice.question
    k, t, b = np.unravel_index(
        int(each.advice.chance.argmax()), each.advice.chance.shape
    )
    if each.advice.chance[k, t, b] < OPEN_CHANCE:
        return "closed" if each.advice.works.any() else "not cut for"
    return (
        f"{question.bands[b].name} {hour_name(question, int(t))}: "
        f"{_chance_and_margin(each, int(k), int(t), int(b))}"
    )


def _chance_and_margin(each: SetUpCompared, k: int, t: int, b: int) -> str:
    """Write days in ten and the margin."""
    chance = float(each.advice.chance[k, t, b])
    if chance < OPEN_CHANCE:
        return "."
    margin = float(each.advice.margin_db[k, t, b])
    return f"{max(round(10 * chance), 1)} {round(margin) + 0:+d}"


def _turned(comparison: Comparison, declination_deg: float) -> list[str]:
    """Say how each set-up is turned to which that matters."""
    lines = []
    for place, each in enumerate(comparison.setups, start=1):
        turn = each.advice.bearing
        if turn.wire_deg is None or turn.good_from_deg is None:
            continue
        verb = "runs best" if turn.is_free else "hangs"
        lines.append(
            paragraph(
                f"{place} {each.advice.name} {verb} "
                f"{_words(each, turn.wire_deg, declination_deg)}.",
                "  ",
            )
        )
    return lines


def _words(each: SetUpCompared, wire_deg: float, declination_deg: float) -> str:
    """Say which way a set-up runs."""
    return run_words(wire_deg, declination_deg, each.advice.first_end)


def _why(comparison: Comparison) -> str:
    """Say why the first stands before each other."""
    first = comparison.setups[0].advice.name
    lines = [f"{first} against the others:"]
    lines += [
        paragraph(f"  {_lead_words(comparison, lead)}", "    ")
        for lead in comparison.leads
    ]
    lines.append(
        paragraph(
            "  In brackets, what each thing makes in days in ten if the other set-up "
            "had it as the first has; such parts need not add up. Polarisation plays "
            "no part: the ionosphere scrambles it.",
            "    ",
        )
    )
    return "\n".join(lines)


def _lead_words(comparison: Comparison, lead: Lead) -> str:
    """Say by how much, how sure, and by what."""
    ends = in_ten(lead.lead_low), in_ten(lead.lead_high)
    over = (
        f" ({ends[0]} to {ends[1]} over {comparison.varied})"
        if comparison.varied and ends[0] != ends[1]
        else ""
    )
    if lead.is_clear:
        words = f"before {lead.name} by {in_ten(lead.lead)} in ten{over}"
        closed = {
            each.advice.name
            for each in comparison.setups
            if each.advice.chance.max() < OPEN_CHANCE
        }
        words += ", which is closed in every hour" if lead.name in closed else ""
    else:
        words = (
            f"level with {lead.name}: {in_ten(lead.lead)} in ten apart{over}, too "
            "little to be told apart"
        )
    parts = []
    if lead.only_first or lead.only_other:
        only = [
            f"{' '.join(names)} only on {whose}"
            for names, whose in (
                ([", ".join(lead.only_first)], "the first"),
                ([", ".join(lead.only_other)], "the other"),
            )
            if names[0]
        ]
        parts.append((lead.bands, f"bands ({'; '.join(only)})"))
    if not math.isnan(lead.angle_db):
        parts += [
            (lead.angle, f"angles and directions {_signed(lead.angle_db)} dB"),
            (lead.efficiency, f"wire's efficiency {_signed(lead.efficiency_db)} dB"),
            (lead.feed, f"feed {_signed(lead.feed_db)} dB"),
        ]
    parts.sort(key=lambda part: -part[0])
    told = "; ".join(
        f"{name} ({10.0 * round(part, 3) + 0.0:+.1f})" for part, name in parts
    )
    return f"{words}: {told}." if told else f"{words}."


def _hours(comparison: Comparison, target: int) -> str:
    """Best band of each set-up by hour."""
    columns = [
        Column(
            f"{place} {each.advice.name[:14]}",
            partial(_hour_cell, comparison, each, target),
        )
        for place, each in enumerate(comparison.setups, start=1)
    ]
    question = comparison.advice.question
    return "\n\n".join(
        hours_of(question, columns[first : first + _MOST_ACROSS])
        for first in range(0, len(columns), _MOST_ACROSS)
    )


def _hour_cell(
    comparison: Comparison, each: SetUpCompared, target: int, hour: int
) -> str:
    """Band, days in ten and margin."""
    band = int(each.best_band[target, hour])
    if band < 0:
        return "." if each.advice.works.any() else "-"
    name = comparison.advice.question.bands[band].name
    return f"{name} {_chance_and_margin(each, target, hour, band):>5}"


def _bands(comparison: Comparison, target: int) -> str:
    """Best hour of each set-up by band."""
    question = comparison.advice.question

    def best(each: SetUpCompared, b: int) -> str:
        if not each.advice.works[b]:
            return "-"
        hour = int(each.advice.chance[target, :, b].argmax())
        told = _chance_and_margin(each, target, hour, b)
        return told if told == "." else f"{told} {hour_name(question, hour)}"

    first = Column[int]("band", lambda b: question.bands[b].name, is_words=True)
    others = (
        Column(str(place), partial(best, each))
        for place, each in enumerate(comparison.setups, start=1)
    )
    return text_table([first, *others], range(len(question.bands)))
