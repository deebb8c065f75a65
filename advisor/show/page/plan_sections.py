"""The plan of an outing as sections of a sheet: all that is taken to the hill."""

from __future__ import annotations

from dataclasses import replace

from advisor.answers.outing.plan import Activation
from advisor.answers.rows.activation import Outing
from advisor.show.page.lead_sections import TIMETABLE
from advisor.show.page.sheet import Heading, Section
from advisor.show.text.cells import page_table
from advisor.show.text.plan_tables import (
    feed_columns,
    slot_columns,
    sun_columns,
    sun_words,
    wires_by_band,
)
from advisor.show.text.plan_words import (
    fix_words,
    missed_words,
    notes_words,
    nothing_words,
    outing_words,
    score_words,
    shares_words,
    steps_words,
    swapped_words,
    target_letter,
    target_words,
    wire_number,
    wire_words,
)

WIRES = "wires"
"""Key of the section that says what to cut and what the radio sees."""


def plan_sections(outing: Outing, zone: str | None = None) -> tuple[Section, ...]:
    """
    Set out what the text of a plan says, for the first pages on paper.

    Parameters
    ----------
    outing : Outing
        What is shown.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    sections : tuple of Section
        Timetable, wires with their feed, packing list, sun at both ends.
    """
    wires = (_wires(outing), _packing(outing)) if outing.works else ()
    timetable = timetable_section(outing.plan, zone)
    timetable = replace(timetable, lines=(*outing_words(outing), *timetable.lines))
    return (timetable, *wires, _sun(outing, zone))


def timetable_section(plan: Activation, zone: str | None = None) -> Section:
    """
    Set out the timetable of an outing.

    Parameters
    ----------
    plan : Activation
        What `advisor.answers.outing.plan.plan_activation` found.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    section : Section
        One row a slot; targets by their letters, which are explained.
    """
    targets = range(len(plan.advice.targets))
    missed = [missed_words(plan, each) for each in plan.missed]
    if plan.used:
        lines = [shares_words(plan), *missed, fix_words(plan)]
        large = steps_words(plan).replace(" m ", "\N{NO-BREAK SPACE}m ")
        heading = Heading("The plan", large, score_words(plan))
    else:
        lines = [nothing_words(plan)]
        heading = Heading("The plan", "Nothing opens in these hours", lines[0])
    return Section(
        TIMETABLE,
        "Timetable",
        lines=tuple(lines),
        items=tuple((target_letter(k), target_words(plan, k)) for k in targets),
        tables=(
            page_table(
                "Band and wire by the hour, days in ten to each target"
                + (f"; local time is {zone}" if zone else ""),
                slot_columns(plan, zone),
                plan.slots,
                key="slots",
                note=f"{swapped_words(plan)} {notes_words(plan)}".strip(),
            ),
        ),
        heading=heading,
        front=True,
        stays=True,
    )


def _wires(outing: Outing) -> Section:
    """Say how each wire runs, what to cut, how high it hangs, what its feed sees."""
    plan, rows = outing.plan, wires_by_band(outing)
    return Section(
        WIRES,
        "Wires and feed",
        items=tuple(
            (
                f"{wire_number(plan, s)} {plan.setups[s].name}",
                wire_words(plan, s, outing.declination_deg),
            )
            for s in plan.used
        ),
        tables=(
            page_table(
                f"What to cut, how high it hangs and what the feed sees at "
                f"{plan.advice.question.station.power_w:g} W",
                feed_columns(rows),
                rows,
                key="feed",
                note="Heights are above the ground, voltage and current rms. The "
                "cautions say how far to keep people, never less than 3 m.",
            ),
        ),
        front=True,
    )


def _packing(outing: Outing) -> Section:
    """Write the packing list; the page puts boxes to tick before it."""
    return Section(
        "take-along",
        "Take along",
        items=tuple((item.kind, item.what) for item in outing.items),
        front=True,
    )


def _sun(outing: Outing, zone: str | None) -> Section:
    """Sun, civil twilight and grey line at both ends."""
    grey = sun_words(outing, zone)
    return Section(
        "sun",
        "Sun and twilight",
        lines=(grey,) if grey else (),
        tables=(
            page_table(
                "Sun and civil twilight, UTC",
                sun_columns(outing),
                outing.suns,
                key="twilight",
            ),
        ),
        front=True,
    )
