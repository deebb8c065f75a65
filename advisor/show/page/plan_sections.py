"""The plan of an outing as sections of a sheet: all that is taken to the hill."""

from __future__ import annotations

import numpy as np

from advisor.answers.limits import LIMITS, OPEN_CHANCE
from advisor.answers.plan import Activation, Slot
from advisor.answers.twilight import GreyBoth, SunAt
from advisor.answers.wire import BandWork, WireWork
from advisor.answers.words import angle_range
from advisor.show.page.base_sections import metres_up
from advisor.show.page.lead_sections import TIMETABLE
from advisor.show.page.sheet import (
    Cell,
    Heading,
    Section,
    Table,
    chance_look,
    number,
    plain_rows,
)
from advisor.show.text.plan import Sheet
from advisor.show.text.plan_words import (
    backup_words,
    fix_words,
    in_ten,
    minute,
    missed_words,
    notes_words,
    nothing_words,
    range_head,
    score_words,
    shares_words,
    slot_hours,
    steps_words,
    swapped_words,
    target_letter,
    target_words,
    wire_number,
    wire_words,
)
from advisor.show.text.tonight import local_hour
from advisor.station.setup import EACH_BAND

WIRES = "wires"
"""Key of the section that says what to cut and what the radio sees."""

_HIGH_SWR = 20.0


def plan_sections(sheet: Sheet, zone: str | None = None) -> tuple[Section, ...]:
    """
    Set out what the text of a plan says, for the first pages on paper.

    Parameters
    ----------
    sheet : Sheet
        What the text shows.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    sections : tuple of Section
        Timetable, wires with their feed, packing list, sun at both ends.
    """
    wires = (_wires(sheet), _packing(sheet)) if sheet.works else ()
    return (timetable_section(sheet.plan, zone), *wires, _sun(sheet, zone))


def timetable_section(plan: Activation, zone: str | None = None) -> Section:
    """
    Set out the timetable of an outing.

    Parameters
    ----------
    plan : Activation
        What `advisor.answers.plan.plan_activation` found.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    section : Section
        One row a slot; targets by their letters, which are explained.
    """
    targets = range(len(plan.advice.targets))
    head = ["UTC", *(["local"] if zone else []), "band", "wire"]
    head += [f"days in ten, {target_letter(k)}" for k in targets] + [
        range_head(plan),
        "or else",
    ]
    head += [*(["for"] if len(targets) > 1 else []), "needs", "wire dBi"]
    head += ["held back by"]
    missed = [missed_words(plan, each) for each in plan.missed]
    if plan.used:
        lines = [shares_words(plan), *missed, fix_words(plan)]
        large = steps_words(plan).replace(" m ", "\N{NO-BREAK SPACE}m ")
        heading = Heading("The plan", large, score_words(plan))
    else:
        lines = [nothing_words(plan), *missed]
        heading = Heading("The plan", "Nothing opens in these hours", lines[0])
    return Section(
        TIMETABLE,
        "Timetable",
        lines=tuple(lines),
        items=tuple((target_letter(k), target_words(plan, k)) for k in targets),
        tables=(
            Table(
                "Band and wire by the hour, days in ten to each target"
                + (f"; local time is {zone}" if zone else ""),
                tuple(head),
                tuple(_slot_row(plan, slot, zone, len(head)) for slot in plan.slots),
                key="slots",
                note=" ".join(
                    each for each in (swapped_words(plan), notes_words(plan)) if each
                ),
            ),
        ),
        heading=heading,
        front=True,
    )


def _slot_row(
    plan: Activation, slot: Slot, zone: str | None, width: int
) -> tuple[Cell, ...]:
    """Write one slot."""
    question = plan.advice.question
    row = [Cell(slot_hours(plan, slot))]
    if zone:
        row.append(Cell(local_hour(question.times[slot.first], zone)))
    several = len(plan.advice.targets) > 1
    if slot.setup < 0:
        closed = [Cell("-"), Cell("nothing opens", look="words")]
        closed += [chance_look(float(each)) for each in slot.chance]
        blank = [Cell("-") for _ in range(width - len(row) - len(closed))]
        return (*row, *closed, *blank)
    advice = plan.advice.setups[slot.setup]
    main, t, b = slot.target, slot.hour, slot.band
    seen = plan.advice.targets[main]
    row += [
        Cell(question.bands[b].name, look="key"),
        Cell(
            f"{wire_number(plan, slot.setup)} {plan.setups[slot.setup].name}",
            look="words",
        ),
        *(_mean(float(chance)) for chance in slot.chance),
        Cell(f"{in_ten(slot.low)}-{in_ten(slot.high)}"),
        Cell(backup_words(plan, slot)),
        *([Cell(target_letter(main))] if several else []),
        Cell(angle_range(seen.takeoff_low_deg[t, b], seen.takeoff_high_deg[t, b])),
        number(float(advice.gain_dbi[main, t, b])),
        Cell(LIMITS[int(advice.limit[main, t, b])], look="words"),
    ]
    return tuple(row)


def _mean(chance: float) -> Cell:
    """Set the mean chance of a slot in a cell, to a tenth of a day in ten."""
    if chance < OPEN_CHANCE:
        return chance_look(chance)
    return Cell(in_ten(chance), repr(chance), chance_look(chance).look)


def _wires(sheet: Sheet) -> Section:
    """Say how each wire runs, what to cut, how high it hangs, what its feed sees."""
    plan = sheet.plan
    is_fed_against = any(b.hanging.below_n for w in sheet.works for b in w.bands)
    rows = [
        (
            Cell(f"{wire_number(plan, s)}, {one.band}"),
            *_band_cells(work, one, is_fed_against),
        )
        for work, s in zip(sheet.works, plan.used, strict=False)
        for one in work.bands
    ]
    question = plan.advice.question
    return Section(
        WIRES,
        "Wires and feed",
        items=tuple(
            (
                f"{wire_number(plan, s)} {plan.setups[s].name}",
                wire_words(plan, s, sheet.declination_deg),
            )
            for s in plan.used
        ),
        tables=(
            Table(
                f"What to cut, how high it hangs and what the feed sees at "
                f"{question.station.power_w:g} W",
                (
                    "wire, band", "cut m", "each side m", "trim",
                    *(["fed against"] if is_fed_against else []),
                    "top m", "lowest m", "span m", "SWR at feed", "SWR at radio",
                    "feed voltage V", "feed current A", "exposure",
                ),
                tuple(rows),
                key="feed",
                note="Heights are above the ground, voltage and current rms. The "
                "cautions say how far to keep people, never less than 3 m.",
            ),
        ),
        front=True,
    )  # fmt: skip


def _band_cells(
    work: WireWork, one: BandWork, is_fed_against: bool
) -> tuple[Cell, ...]:
    """Write one band of one wire."""
    feed, hangs = one.feed, one.hanging
    trim = Cell("-")
    if (
        feed.resonance
        and not np.isnan(feed.resonance.add_mm)
        and work.setup.cut == EACH_BAND
    ):
        trim = Cell(
            f"{feed.resonance.add_mm / 10.0:+.0f} cm", repr(feed.resonance.add_mm)
        )
    below = f"{hangs.below_n} x {hangs.below_m:.2f} m" if hangs.below_n else "-"
    return (
        number(hangs.wire_m, 2),
        Cell("-") if np.isnan(hangs.side_m) else number(hangs.side_m, 2),
        trim,
        *([Cell(below)] if is_fed_against else []),
        number(hangs.top_m),
        number(hangs.lowest_m),
        number(hangs.span_m),
        _swr(feed.line_swr),
        _swr(feed.radio_swr),
        number(feed.voltage_v, 0),
        number(feed.current_a, 2),
        metres_up(one.exposure.distance_m),
    )


def _swr(value: float) -> Cell:
    """Write a standing-wave ratio; beyond 20 it is only high."""
    if not value <= _HIGH_SWR:
        return Cell(">20", repr(float(value)) if np.isfinite(value) else "")
    return number(value)


def _packing(sheet: Sheet) -> Section:
    """Write the packing list; the page puts boxes to tick before it."""
    return Section(
        "take-along",
        "Take along",
        items=tuple((item.kind, item.what) for item in sheet.items),
        front=True,
    )


def _sun(sheet: Sheet, zone: str | None) -> Section:
    """Sun, civil twilight and grey line at both ends."""
    rows = []
    for place, sun in enumerate(sheet.suns):
        events = sun.events
        times = (events.civil_dawn, events.rise, events.set, events.civil_dusk)
        name = "here" if place == 0 else _name_of(sheet, sun)
        rows.append([name, *map(minute, times)])
    zoned = ""
    if zone:
        first = sheet.plan.advice.question.times[0]
        zoned = (
            f" Local time in {zone} is {local_hour(first, zone)} at {minute(first)}Z."
        )
    lines = []
    if sheet.greys:
        spans = "; ".join(
            f"{_name_of(sheet, grey)} {minute(grey.begin)}-{minute(grey.end)}Z"
            for grey in sheet.greys
        )
        lines.append(f"Grey line at both ends at once: {spans}.{zoned}")
    elif len(sheet.suns) > 1:
        lines.append(f"Grey line is never at both ends in these 24 hours.{zoned}")
    return Section(
        "sun",
        "Sun and twilight",
        lines=tuple(lines),
        tables=(
            Table(
                "Sun and civil twilight, UTC",
                ("where", "civil dawn", "rise", "set", "civil dusk"),
                plain_rows(rows),
                key="twilight",
                narrow="fits",
            ),
        ),
        front=True,
    )


def _name_of(sheet: Sheet, end: SunAt | GreyBoth) -> str:
    """Write a far end by its letter."""
    names = [target.name for target in sheet.plan.advice.targets]
    return f"middle of {target_letter(names.index(end.name))}"
