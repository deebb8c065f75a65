"""The answer of an evening on one screen: what to do, the hours, why, one caution."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import partial

import numpy as np

from advisor.answers.advice import Answer, SetUpAdvice
from advisor.answers.bearings import TOLERANCE_DB
from advisor.answers.hours import zone_title
from advisor.answers.runs import compass_point, run_figures
from advisor.answers.shut import hour_words, least_bad_words, shut_words
from advisor.answers.states import marks_key
from advisor.answers.storm_doubt import storm_doubt
from advisor.answers.words import headline, reasons
from advisor.show.text.cells import Cell, Column, chance_cell, hours_table
from advisor.show.text.layout import paragraph
from advisor.show.text.tonight import IN_FULL_ONLY, heading, hour_columns, target_line
from advisor.station.cautions import CAUTIONS_IN_BRIEF, Caution, cautions_in_brief

MOST_LINES = 38
"""Lines of a screen, as far as the hours asked about leave room; two more are left to
what a command says before it."""

_FIGURES = "Figures:"


def _letter(target: int) -> str:
    """Name a target in the head of a column."""
    return chr(ord("A") + target % 26)


def screen_text(
    told: Sequence[Answer], declination_deg: float, zone: str | None = None
) -> str:
    """
    Write an answer for one screen.

    Parameters
    ----------
    told : sequence of Answer
        The answer; several are for one emission each.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    text : str
        Targets with what is best, the wires, one table of hours, and as many reasons as
        there is room for.
    """
    advice, question = told[0], told[0].question
    sent = [each.question.emission.name for each in told]
    several = len(advice.targets) > 1
    sending = " and ".join(filter(None, [", ".join(sent[:-1]), sent[-1]]))
    above = [heading(question, in_full=False, sent=sending)]
    for k, target in enumerate(advice.targets):
        letter = f"{_letter(k)}  " if several else ""
        above.append(
            paragraph(letter + " ".join(target_line(question, target, k).split()))
        )
        for name, each in zip(sent, told, strict=True):
            which = f"{name}: " if len(told) > 1 else ""
            above.append(paragraph(which + headline(each, k)))
    wires = [_wire_line(one, declination_deg) for one in _used(told)]
    wires = wires or [least_bad_words(advice, declination_deg)]
    above += [paragraph(line) for line in wires if line]
    if several or len(told) > 1:
        every = [(t, t) for t in range(question.times.size)]
        columns = [*_by_target(told, every)]
        extra = [_key(())]
        if len(told) == 1:
            extra += [
                paragraph(f"{_letter(k)}  {reasons(advice, k)[0]}", "   ")
                for k in range(len(advice.targets))
                if (advice.best.band[k] >= 0).any()
            ]
    else:
        columns = [
            each for each in hour_columns(advice, 0) if each.head not in IN_FULL_ONLY
        ]
        why = [paragraph(line, "  ") for line in reasons(advice, 0)]
        shut = [paragraph(line) for line in shut_words(advice, 0)]
        extra = [why[0], *shut, _key(advice.states.ravel()), *why[1:]]
    shown = hours_table(question.times, columns, zone, zone_title(zone))
    licence = "".join(
        f" {each.name}: {each.note}." for each in question.bands if each.name == "60 m"
    )
    below = paragraph(f"{CAUTIONS_IN_BRIEF}{licence} More of everything: --more.")
    taken = sum(part.count("\n") + 1 for part in (*above, shown, extra[0], below))
    if taken > MOST_LINES:
        runs = _runs(told)
        # What never opens is told above, and what it lacks with it.
        columns = [*_by_target(told, runs, open_only=True)]
        columns = columns or [*_by_target(told, runs)]
        begins = question.times[[first for first, _ in runs]]
        shown = hours_table(begins, columns, zone, zone_title(zone))
        others = [part for part in extra if not part.startswith(_FIGURES)]
        extra = [_key((), in_runs=True), *others]
        taken = sum(part.count("\n") + 1 for part in (*above, shown, below))
    # What is less worth goes where there is no room: from the last on.
    kept: list[str] = []
    for part in extra:
        lines = part.count("\n") + 1
        if taken + lines <= MOST_LINES or not kept:
            kept.append(part)
            taken += lines
    gap = [""] if taken < MOST_LINES else []
    return "\n".join([*above, *gap, shown, *kept, below])


def fit_screen(
    text: str,
    first: Sequence[str] = (),
    own: Sequence[Caution] = (),
) -> str:
    """
    Cut an answer to one screen: whole blocks of it, the cautions in one sentence.

    Parameters
    ----------
    text : str
        The whole answer, an empty line between its blocks, cautions last.
    first : sequence of str, optional
        How the blocks begin that are wanted most after the heading.
    own : sequence of Caution, optional
        What these wires call for; told before the others.

    Returns
    -------
    text : str
        The first block, those, and of the others from the first on what there is room
        for, in the order of the whole; the same text if it fits.
    """
    if text.count("\n") < MOST_LINES:
        return text
    body, _, long = text.partition("\n\nCautions\n")
    blocks: list[str] = []
    for block in body.split("\n\n"):
        # A line by itself that is no sentence is the title of what follows.
        is_title = bool(blocks) and "\n" not in blocks[-1] and blocks[-1][-1] != "."
        blocks.append(f"{blocks.pop()}\n\n{block}" if is_title else block)
    cautions = f"{cautions_in_brief(own)} " if long else ""
    below = paragraph(f"{cautions}More: --more.")
    wanted = [i for each in first for i, b in enumerate(blocks) if b.startswith(each)]
    taken, kept = below.count("\n") + 1, set()
    for i in (0, *wanted, *range(1, len(blocks))):
        lines = blocks[i].count("\n") + 2
        if i not in kept and (not i or taken + lines <= MOST_LINES):
            kept.add(i)
            taken += lines
    return "\n\n".join([*(blocks[i] for i in sorted(kept)), below])


def _key(seen: Iterable[int], *, in_runs: bool = False) -> str:
    """Say how to read the figures and the marks that are there, in a line or two."""
    marks = marks_key(int(each) for each in seen)
    runs = " Each line holds until the next; every hour: --more." if in_runs else ""
    return paragraph(
        f"{_FIGURES} days in ten on which a contact works, (-3) lost to a limit; '*' "
        f"the band to be on{', ' if marks else ''}{marks}.{runs}"
    )


def _wire_line(setup: SetUpAdvice, declination_deg: float) -> str:
    """Say which way a wire runs, in one line."""
    turn = setup.bearing
    if turn.wire_deg is None:
        return f"{setup.name}: the same all round."
    end, wire = setup.first_end, turn.wire_deg
    run = f"{run_figures(wire, end)} true ({run_figures(wire - declination_deg, end)} "
    run += (
        f"by compass), {end} at the {compass_point(wire + 180.0)}"
        if end
        else ("by compass)")
    )
    if turn.good_from_deg is None or turn.good_to_deg is None:
        return f"{setup.name}: {setup.verb} {run}; any bearing will do."
    return (
        f"{setup.name}: {setup.verb} {run}; {turn.good_from_deg:03.0f} to "
        f"{turn.good_to_deg:03.0f} costs under {TOLERANCE_DB:g} dB."
    )


def _used(told: Sequence[Answer]) -> list[SetUpAdvice]:
    """Set-ups that any emission is to be on; each hangs one way in all answers."""
    names = {one.name for each in told for one in each.used}
    return [one for one in told[0].setups if one.name in names]


_Run = tuple[int, int]
"""First and last hour in which bands and set-ups to be on stay the same."""


def _runs(told: Sequence[Answer]) -> list[_Run]:
    """Split the hours where a band or a set-up to be on changes for any target."""
    ways = np.vstack(
        [rows for each in told for rows in (each.best.band, each.best.wire)]
    )
    edges = np.flatnonzero(np.diff(ways).any(axis=0)) + 1
    hours = np.split(np.arange(ways.shape[1]), edges)
    return [(int(part[0]), int(part[-1])) for part in hours]


def _by_target(
    told: Sequence[Answer], runs: Sequence[_Run], *, open_only: bool = False
) -> Iterator[Column[int]]:
    """Say what to be on for each target and emission, a run of hours a row."""
    targets = range(len(told[0].targets))
    for k in targets:
        letter = _letter(k) if len(targets) > 1 else ""
        for each in told:
            if open_only and (each.best.band[k] < 0).all():
                continue
            sent = each.question.emission.name if len(told) > 1 else ""
            head = f"{letter} {sent}".strip() or "to be on"
            yield Column(head, partial(_way, each, k, runs), is_words=True)


def _way(advice: Answer, target: int, runs: Sequence[_Run], row: int) -> Cell:
    """Band, days in ten, and the set-up where it changes."""
    first, last = runs[row]
    best, hours = advice.best, np.arange(first, last + 1)
    band, wire = int(best.band[target, first]), int(best.wire[target, first])
    if band < 0:
        return Cell(hour_words(advice, target, *hours))
    is_doubtful = bool(storm_doubt(advice.question, target))
    chances = best.chance[target, hours, band]
    least = chance_cell(float(chances.min()), "", False).strip()
    days = chance_cell(float(chances.max()), "", True, is_doubtful)
    if not days.startswith(least):
        days = f"{least}-{days}"
    words = f"{advice.question.bands[band].name} {days}"
    if len(advice.used) < 2:
        return Cell(words)
    same = first and best.wire[target, first - 1] == wire
    name = '"' if same else advice.setups[wire].name
    return Cell(f"{words} {name}")
