"""The plan of an outing on a page or two, and as rows; nothing is worked out here."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from advisor.answers.limits import LIMITS, OPEN_CHANCE
from advisor.answers.packing import Item
from advisor.answers.plan import Activation
from advisor.answers.twilight import GreyBoth, SunAt
from advisor.answers.wire import BandWork, WireWork, own_cautions
from advisor.answers.words import (
    angle_range,
)
from advisor.show.formats.exports import Row
from advisor.show.text.exposure import (
    LEAST_DISTANCE_M,
    exposure_cell,
    least_words,
    method_words,
    metres_up,
)
from advisor.show.text.layout import day_lines, paragraph, table
from advisor.show.text.plan_words import (
    backup_words,
    clock,
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
from advisor.show.text.tonight import cautions_text, heading, local_hour
from advisor.station.setup import EACH_BAND


@dataclass(frozen=True)
class Sheet:
    """
    All that the sheet of an outing shows.

    Attributes
    ----------
    plan : Activation
        Timetable and bearings.
    works : tuple of WireWork
        The wires of the plan on the bands of the plan.
    suns : tuple of SunAt
        The sun here and at the targets.
    greys : tuple of GreyBoth
        Grey line at both ends at once.
    items : tuple of Item
        What to take along.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]
    """

    plan: Activation
    works: tuple[WireWork, ...]
    suns: tuple[SunAt, ...]
    greys: tuple[GreyBoth, ...]
    items: tuple[Item, ...]
    declination_deg: float

    @property
    def keep_clear_m(self) -> float:
        """Longest exposure distance of any band, at least 3 m."""
        found = [b.exposure.distance_m for work in self.works for b in work.bands]
        return max([LEAST_DISTANCE_M, *found])


def activation_text(sheet: Sheet, zone: str | None = None) -> str:
    """
    Write the sheet.

    Parameters
    ----------
    sheet : Sheet
        What it shows.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    text : str
        Ready to print, lines of 96 characters.
    """
    plan = sheet.plan
    question = plan.advice.question
    parts = [heading(question), *_targets(plan), ""]
    if not plan.used:
        parts.append(paragraph(nothing_words(plan)))
    else:
        parts += [
            paragraph(f"Plan: {steps_words(plan)}; {score_words(plan)}"),
            "",
            _timetable(plan, zone),
            "",
        ]
        parts += [*_wires(sheet), ""]
        parts.append(paragraph(shares_words(plan)))
        parts += [paragraph(missed_words(plan, each)) for each in plan.missed]
        parts += [paragraph(fix_words(plan)), ""]
    parts += [*_sun(sheet, zone), ""]
    if sheet.works:
        exposures = [one.exposure for work in sheet.works for one in work.bands]
        parts += ["Wires, feed and distance", "", _feed_table(sheet)]
        parts += [paragraph(method_words(exposures)), ""]
        parts += ["Take along", *_packing(sheet), ""]
    parts += [paragraph(notes_words(plan)), "", "Cautions"]
    if sheet.works:
        parts.append(
            paragraph(
                f"  distance shown: keep everybody {metres_up(sheet.keep_clear_m)} m "
                "or more from every part of wire and feed, at "
                f"{question.station.power_w:g} W {question.emission.name}, sending all "
                f"the time. {least_words(each.distance_m for each in exposures)}",
                "    ",
            )
        )
    parts.append(cautions_text(own_cautions(sheet.works)))
    return "\n".join(parts)


def _targets(plan: Activation) -> list[str]:
    """Say what each letter stands for, and what it counts."""
    return [
        paragraph(f"{target_letter(k)} = {target_words(plan, k)}", "    ")
        for k in range(len(plan.advice.targets))
    ]


def _cell(chance: float) -> str:
    """Write one chance; a dot where it is closed."""
    return "." if chance < OPEN_CHANCE else in_ten(chance)


def _timetable(plan: Activation, zone: str | None) -> str:
    """One line a slot."""
    question = plan.advice.question
    targets = range(len(plan.advice.targets))
    head = ["UTC", *(["local"] if zone else []), "band", "wire"]
    head += [target_letter(k) for k in targets] + [range_head(plan), "or else"]
    head += [*(["for"] if len(targets) > 1 else []), "needs", "dBi", "held back by"]
    rows = []
    for slot in plan.slots:
        row = [slot_hours(plan, slot)]
        if zone:
            row.append(local_hour(question.times[slot.first], zone))
        if slot.setup < 0:
            closed = ["-", "-", *("." for _ in targets)]
            rows.append([*row, *closed, *["-"] * (len(head) - len(row) - len(closed))])
            continue
        advice = plan.advice.setups[slot.setup]
        main, t, b = slot.target, slot.hour, slot.band
        seen = plan.advice.targets[main]
        gain = float(advice.gain_dbi[main, t, b])
        row += [question.bands[b].name, str(wire_number(plan, slot.setup))]
        row += [_cell(float(chance)) for chance in slot.chance]
        row += [
            f"{in_ten(slot.low)}-{in_ten(slot.high)}",
            backup_words(plan, slot),
            *([target_letter(main)] if len(targets) > 1 else []),
            angle_range(seen.takeoff_low_deg[t, b], seen.takeoff_high_deg[t, b]),
            "-" if np.isnan(gain) else f"{gain:.1f}",
            LIMITS[int(advice.limit[main, t, b])],
        ]
        rows.append(row)
    begins = question.times[[slot.first for slot in plan.slots]]
    return table(
        head,
        rows,
        left=frozenset({len(head) - 1}),
        keys=2 if zone else 1,
        above=day_lines(begins),
    )


def _wires(sheet: Sheet) -> list[str]:
    """Say which wire is which and how it runs."""
    plan = sheet.plan
    lines = []
    for s in plan.used:
        name = f"  {wire_number(plan, s)} {plan.setups[s].name}"
        words = wire_words(plan, s, sheet.declination_deg)
        lines.append(paragraph(f"{name}: {words}", "    "))
    swapped = swapped_words(plan)
    if swapped:
        lines.append(paragraph(f"  {swapped}", "    "))
    return lines


def _sun(sheet: Sheet, zone: str | None) -> list[str]:
    """Sun and grey line at both ends."""
    zoned = f" (local time of {zone} is {_offset(sheet, zone)})" if zone else ""
    head = ["sun, UTC", "civil dawn", "rise", "set", "civil dusk"]
    rows = []
    for place, sun in enumerate(sheet.suns):
        events = sun.events
        name = "here" if place == 0 else _name_of(sheet, sun)
        rows.append(
            [
                name,
                *map(
                    minute,
                    (events.civil_dawn, events.rise, events.set, events.civil_dusk),
                ),
            ]
        )
    lines = [table(head, rows, left=frozenset({0}))]
    if sheet.greys:
        spans = "; ".join(
            f"{_name_of(sheet, grey)} {minute(grey.begin)}-{minute(grey.end)}"
            for grey in sheet.greys
        )
        lines.append(paragraph(f"Grey line at both ends at once: {spans}Z{zoned}."))
    elif len(sheet.suns) > 1:
        lines.append(
            paragraph(f"Grey line is never at both ends in these 24 hours{zoned}.")
        )
    return lines


def _name_of(sheet: Sheet, end: SunAt | GreyBoth) -> str:
    """Write a far end by its letter."""
    names = [target.name for target in sheet.plan.advice.targets]
    return f"middle of {target_letter(names.index(end.name))}"


def _offset(sheet: Sheet, zone: str) -> str:
    """Say what local time is at the first hour."""
    first = sheet.plan.advice.question.times[0]
    return f"{local_hour(first, zone)} at {clock(first)}Z"


def _feed_table(sheet: Sheet) -> str:
    """Cut lengths, feed and exposure, one line a wire and band."""
    head = ["wire", "band", "cut m", "each side m", "trim", "SWR feed", "at radio"]
    head += ["feed V", "A", "exposure m"]
    rows = []
    for work, s in zip(sheet.works, sheet.plan.used, strict=False):
        number = str(wire_number(sheet.plan, s))
        rows += [[number, *_feed_row(work, one)] for one in work.bands]
    return table(head, rows, keys=2)


def _feed_row(work: WireWork, one: BandWork) -> list[str]:
    """Write one band of one wire."""
    feed = one.feed
    side_m = one.hanging.side_m
    side = "-" if np.isnan(side_m) else f"{side_m:.2f}"
    trim = "-"
    if (
        feed.resonance
        and not np.isnan(feed.resonance.add_mm)
        and work.setup.cut == EACH_BAND
    ):
        trim = f"{feed.resonance.add_mm / 10.0:+.0f} cm"
    return [
        one.band,
        f"{one.hanging.wire_m:.2f}",
        side,
        trim,
        _swr(feed.line_swr),
        _swr(feed.radio_swr),
        f"{feed.voltage_v:.0f}",
        f"{feed.current_a:.2f}",
        exposure_cell(one.exposure),
    ]


def _swr(value: float) -> str:
    """Write a standing-wave ratio; beyond 20 it is only high."""
    return ">20" if not value <= 20.0 else f"{value:.1f}"


def _packing(sheet: Sheet) -> list[str]:
    """Write the packing list with boxes to tick."""
    return [
        paragraph(f"  [ ] {item.kind}: {item.what}", "      ") for item in sheet.items
    ]


def activation_rows(plan: Activation) -> list[Row]:
    """
    List the timetable: one row a slot and target.

    Parameters
    ----------
    plan : Activation
        The plan.

    Returns
    -------
    rows : list of dict
        Keys carry units; empty names where nothing opens.
    """
    question = plan.advice.question
    rows: list[Row] = []
    for place, slot in enumerate(plan.slots, start=1):
        is_open = slot.setup >= 0
        backup = slot.backup_band >= 0
        turn = plan.advice.setups[slot.setup].bearing.wire_deg if is_open else None
        end = question.times[slot.last] + np.timedelta64(1, "h")
        for k, target in enumerate(plan.advice.targets):
            rows.append(
                {
                    "slot": place,
                    "utc_first": _stamp(question.times[slot.first]),
                    "utc_end": _stamp(end),
                    "hours": slot.hours,
                    "band": question.bands[slot.band].name if is_open else "",
                    "frequency_mhz": question.bands[slot.band].planning_mhz
                    if is_open
                    else float("nan"),
                    "setup": plan.setups[slot.setup].name if is_open else "",
                    "bearing_deg": float("nan") if turn is None else turn,
                    "target": target.name,
                    "weight": float(plan.weights[k]),
                    "chance": float(slot.chance[k]),
                    "chance_peak": float(slot.peak[k]),
                    "slot_chance": slot.mean,
                    "slot_chance_low": slot.low,
                    "slot_chance_high": slot.high,
                    "backup_band": question.bands[slot.backup_band].name
                    if backup
                    else "",
                    "backup_setup": plan.setups[slot.backup_setup].name
                    if backup
                    else "",
                    "backup_chance": slot.backup_mean,
                }
            )
    return rows


def activation_details(sheet: Sheet) -> dict[str, Any]:
    """
    Gather what JSON holds besides the rows.

    Parameters
    ----------
    sheet : Sheet
        The sheet.

    Returns
    -------
    details : dict
        Plan, wires, sun, packing list.
    """
    plan = sheet.plan
    return {
        "plan": {
            "chance": plan.score,
            "chance_low": plan.low,
            "chance_high": plan.high,
            "chance_changing_every_hour": plan.best_possible,
            "changes": plan.changes,
            "costs": asdict(plan.costs),
            "enough_h": plan.enough_h,
            "varied": plan.varied,
            "expected_h": {
                target.name: float(hours)
                for target, hours in zip(
                    plan.advice.targets, plan.expected_h, strict=True
                )
            },
            "remedies": [{"what": one.what, "gain": one.gain} for one in plan.remedies],
        },
        "bearing": {
            one.name: {**asdict(one.bearing), "declination_deg": sheet.declination_deg}
            for one in plan.advice.setups
        },
        "wires": [_wire_row(work, one) for work in sheet.works for one in work.bands],
        "keep_clear_m": sheet.keep_clear_m if sheet.works else None,
        "sun": [
            {
                "place": sun.name,
                "lat_deg": sun.lat_deg,
                "lon_deg": sun.lon_deg,
                **{
                    name: _stamp(getattr(sun.events, name))
                    for name in ("civil_dawn", "rise", "set", "civil_dusk")
                },
                "grey_line": [[_stamp(a), _stamp(b)] for a, b in sun.grey],
            }
            for sun in sheet.suns
        ],
        "grey_line_both": [
            {"place": grey.name, "begin": _stamp(grey.begin), "end": _stamp(grey.end)}
            for grey in sheet.greys
        ],
        "packing": [asdict(item) for item in sheet.items],
    }


def _wire_row(work: WireWork, one: BandWork) -> Row:
    """One wire on one band."""
    nan = float("nan")
    return {
        "setup": work.setup.name,
        "band": one.band,
        "frequency_mhz": one.frequency_mhz,
        "cut_m": one.hanging.wire_m,
        "add_mm": one.feed.resonance.add_mm if one.feed.resonance else nan,
        "line_swr": one.feed.line_swr,
        "radio_swr": one.feed.radio_swr,
        "voltage_v": one.feed.voltage_v,
        "current_a": one.feed.current_a,
        "exposure_m": one.exposure.distance_m,
        "mean_power_w": one.mean_w,
    }


def _stamp(time: np.datetime64) -> str | None:
    """Write a moment in full; None where it does not happen."""
    return None if np.isnat(time) else f"{time.astype('datetime64[m]')}Z"
