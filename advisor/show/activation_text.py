"""The plan of an outing on a page or two, and as rows; nothing is worked out here."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from advisor.activating import Activation, Missed, Slot
from advisor.explain import WHAT_A_CHANCE_IS, angle_range, days_in_ten
from advisor.limits import LIMITS, OPEN_CHANCE
from advisor.packing import Item
from advisor.remedies import holding_back
from advisor.setups import EACH_BAND
from advisor.show.aim_text import ends_words
from advisor.show.exports import Row
from advisor.show.hang_text import remedy_words
from advisor.show.layout import day_lines, paragraph, table
from advisor.show.text import cautions_text, heading, local_hour
from advisor.twilight import GreyBoth, SunAt
from advisor.wirework import BandWork, WireWork

LEAST_DISTANCE_M = 3.0
"""People are kept at least so far away, whatever is worked out. [m]"""


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
        best = max(float(one.chance.max()) for one in plan.advice.setups)
        parts.append(
            paragraph(
                "Nothing opens in these hours on any band with any of these wires: the "
                f"best chance is {days_in_ten(best)}. Ask for other hours."
            )
        )
    else:
        parts += [paragraph(_verdict(plan)), "", _timetable(plan, zone), ""]
        parts += [*_wires(sheet), ""]
        parts.append(paragraph(_shares(plan)))
        parts += [paragraph(_missed_words(plan, each)) for each in plan.missed]
        parts += [paragraph(_fix(plan)), ""]
    parts += [*_sun(sheet, zone), ""]
    if sheet.works:
        parts += ["Wires, feed and distance", "", _feed_table(sheet), ""]
        parts += ["Take along", *_packing(sheet), ""]
    parts += [paragraph(_notes(plan)), "", "Cautions"]
    if sheet.works:
        parts.append(
            paragraph(
                f"  distance shown: {sheet.keep_clear_m:.1f} m from every part of the "
                f"wire and feed, at {question.station.power_w:g} W "
                f"{question.emission.name}, sending all the time.",
                "    ",
            )
        )
    parts.append(cautions_text())
    return "\n".join(parts)


def _letter(place: int) -> str:
    """Name a target shortly."""
    return chr(ord("A") + place) if place < 26 else str(place + 1)


def _targets(plan: Activation) -> list[str]:
    """Say what each letter stands for, and what it counts."""
    lines = []
    several = len(plan.advice.targets) > 1
    for k, target in enumerate(plan.advice.targets):
        far = f"{target.nearest_km:.0f} to {target.farthest_km:.0f} km"
        if target.farthest_km - target.nearest_km < 1.0:
            far = f"{target.farthest_km:.0f} km"
        way = "all round" if target.is_all_round else f"{target.bearing_deg:03.0f} true"
        counts = f", counts {100.0 * plan.weights[k]:.0f} in 100" if several else ""
        lines.append(
            paragraph(f"{_letter(k)} = {target.name}: {far}, {way}{counts}", "    ")
        )
    return lines


def _hours(plan: Activation, slot: Slot) -> str:
    """Write the hours of a slot, to the end of the last one."""
    times = plan.advice.question.times
    end = times[slot.last] + np.timedelta64(1, "h")
    span = f"{_clock(times[slot.first])}-{_clock(end)}"
    # Over more than a day the day of the month goes before.
    return f"{str(times[slot.first])[8:10]}/{span}" if times.size > 24 else span


def _clock(time: np.datetime64) -> str:
    """Write the hour of a moment."""
    return str(time.astype("datetime64[h]"))[-2:]


def _verdict(plan: Activation) -> str:
    """Say the plan in a sentence."""
    question = plan.advice.question
    steps = [
        f"{question.bands[slot.band].name} {_hours(plan, slot)}Z"
        for slot in plan.slots
        if slot.setup >= 0
    ]
    most = 8
    shown = ", ".join(steps[:most]) + (", then as below" if len(steps) > most else "")
    over = (
        f" ({_in_ten(plan.low)} to {_in_ten(plan.high)} over {plan.varied})"
        if plan.varied and plan.high > plan.low
        else ""
    )
    changes = f"{plan.changes} change{'' if plan.changes == 1 else 's'}"
    lost = plan.best_possible - plan.score
    if plan.enough_h is not None:
        shown += f", shared out so that a target counts half after {plan.enough_h:g} h"
    words = (
        f"Plan: {shown}; {changes}. It works {_in_ten(plan.score)} days in ten{over}"
    )
    words += (
        f"; changing every hour would give {_in_ten(plan.best_possible)}."
        if lost >= 0.005
        else "; more changes would gain nothing."
    )
    return words


def _in_ten(chance: float) -> str:
    """Write a mean chance in days in ten."""
    return f"{10.0 * chance + 0.0:.1f}"


def _cell(chance: float) -> str:
    """Write one chance; a dot where it is closed."""
    return "." if chance < OPEN_CHANCE else _in_ten(chance)


def _timetable(plan: Activation, zone: str | None) -> str:
    """One line a slot."""
    question = plan.advice.question
    targets = range(len(plan.advice.targets))
    head = ["UTC", *(["local"] if zone else []), "band", "wire"]
    head += [_letter(k) for k in targets] + ["range", "or else"]
    head += [*(["for"] if len(targets) > 1 else []), "needs", "dBi", "held back by"]
    rows = []
    for slot in plan.slots:
        row = [_hours(plan, slot)]
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
        row += [question.bands[b].name, str(_number(plan, slot.setup))]
        row += [_cell(float(chance)) for chance in slot.chance]
        row += [
            f"{_in_ten(slot.low)}-{_in_ten(slot.high)}",
            _backup(plan, slot),
            *([_letter(main)] if len(targets) > 1 else []),
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


def _number(plan: Activation, setup: int) -> int:
    """Give the wires of the plan numbers: 1 is used most."""
    return plan.used.index(setup) + 1 if setup in plan.used else len(plan.used) + 1


def _backup(plan: Activation, slot: Slot) -> str:
    """Write the backup band, and the wire if it is another."""
    if slot.backup_band < 0:
        return "none"
    band = plan.advice.question.bands[slot.backup_band].name
    other = "" if slot.backup_setup == slot.setup else "*"
    return f"{band}{other} {_in_ten(slot.backup_mean)}"


def _wires(sheet: Sheet) -> list[str]:
    """Say which wire is which and how it runs."""
    plan = sheet.plan
    lines = []
    for s in plan.used:
        turn = plan.advice.setups[s].bearing
        name = f"  {_number(plan, s)} {plan.setups[s].name}"
        if turn.wire_deg is None:
            lines.append(paragraph(f"{name}: radiates alike all round.", "    "))
            continue
        verb = "run it" if turn.is_free else "hangs"
        words = f"{name}: {verb} {ends_words(turn.wire_deg, sheet.declination_deg)}"
        if not turn.is_free and turn.best_deg is not None and turn.loss_db >= 0.05:
            words += (
                f"; {turn.best_deg:03.0f} true would give {turn.loss_db:.1f} dB more"
            )
        lines.append(paragraph(f"{words}.", "    "))
    swapped = sorted(
        {s.backup_setup for s in plan.slots if s.backup_setup not in (-1, s.setup)}
    )
    if swapped:
        names = ", ".join(plan.setups[s].name for s in swapped)
        lines.append(paragraph(f"  * on another wire: {names}.", "    "))
    return lines


def _shares(plan: Activation) -> str:
    """Say what the plan gives each target."""
    total = float(plan.expected_h.sum())
    parts = []
    for k, target in enumerate(plan.advice.targets):
        hours = float(plan.expected_h[k])
        share = (
            f" ({100.0 * hours / total:.0f} %)"
            if total > 0.0 and len(plan.expected_h) > 1
            else ""
        )
        name = target.name if len(plan.expected_h) == 1 else _letter(k)
        parts.append(f"{name} {hours:.1f} h{share}")
    return (
        "Expected hours in which a station picked at random there can be worked: "
        f"{', '.join(parts)}."
    )


def _missed_words(plan: Activation, missed: Missed) -> str:
    """Say why a target is not reached."""
    question = plan.advice.question
    where = (
        f"{question.bands[missed.band].name} at {_clock(question.times[missed.hour])}Z "
        f"on {plan.setups[missed.setup].name}"
    )
    if missed.chance < OPEN_CHANCE:
        return (
            f"{_letter(missed.target)} never opens in these hours; it is nearest on "
            f"{where}, held back by: {missed.limit}."
        )
    return (
        f"{_letter(missed.target)} is not reached by the plan; it does best with "
        f"{days_in_ten(missed.chance)} on {where}. To reach it let it count more with "
        "--priority, or share out with --enough-h 2."
    )


def _fix(plan: Activation) -> str:
    """Say what holds the wire used most back and what would help."""
    first = plan.used[0]
    name, cost = holding_back(plan.advice.setups[first])
    lost = f" ({_in_ten(cost)} in ten lost to it)" if cost > 0.0 else ""
    return f"What holds wire 1 back most: {name}{lost}. {remedy_words(plan.remedies)}"


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
                    _minute,
                    (events.civil_dawn, events.rise, events.set, events.civil_dusk),
                ),
            ]
        )
    lines = [table(head, rows, left=frozenset({0}))]
    if sheet.greys:
        spans = "; ".join(
            f"{_name_of(sheet, grey)} {_minute(grey.begin)}-{_minute(grey.end)}"
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
    return f"middle of {_letter(names.index(end.name))}"


def _offset(sheet: Sheet, zone: str) -> str:
    """Say what local time is at the first hour."""
    first = sheet.plan.advice.question.times[0]
    return f"{local_hour(first, zone)} at {_clock(first)}Z"


def _minute(time: np.datetime64) -> str:
    """Write the time of day of an event; a dash where it does not happen."""
    return "-" if np.isnat(time) else str(time.astype("datetime64[m]"))[-5:]


def _feed_table(sheet: Sheet) -> str:
    """Cut lengths, feed and exposure, one line a wire and band."""
    head = ["wire", "band", "cut m", "each side m", "trim", "SWR feed", "at radio"]
    head += ["feed V", "A", "exposure m"]
    rows = []
    for work, s in zip(sheet.works, sheet.plan.used, strict=False):
        number = str(_number(sheet.plan, s))
        rows += [[number, *_feed_row(work, one)] for one in work.bands]
    return table(head, rows, keys=2)


def _feed_row(work: WireWork, one: BandWork) -> list[str]:
    """Write one band of one wire."""
    feed = one.feed
    halves = work.setup.shape in ("dipole", "inverted V", "sloper", "doublet")
    share = dict(one.hanging.sizes).get("feed_share", 0.5)
    side = f"{0.5 * one.hanging.wire_m:.2f}" if halves and share == 0.5 else "-"
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
        f"{one.exposure.distance_m:.1f}",
    ]


def _swr(value: float) -> str:
    """Write a standing-wave ratio; beyond 20 it is only high."""
    return ">20" if not value <= 20.0 else f"{value:.1f}"


def _packing(sheet: Sheet) -> list[str]:
    """Write the packing list with boxes to tick."""
    return [
        paragraph(f"  [ ] {item.kind}: {item.what}", "      ") for item in sheet.items
    ]


def _notes(plan: Activation) -> str:
    """Explain the figures once."""
    costs = plan.costs
    by_weight = (
        ", and for range and 'or else' over the targets by what they count"
        if len(plan.weights) > 1
        else ""
    )
    return (
        f"{WHAT_A_CHANCE_IS} Here it is a mean over the hours of the slot{by_weight}. "
        "'.' is less than one in twenty, 'or else' the band to try if the first is "
        f"dead. A change of band is counted as {costs.change_min:g} minutes of certain "
        f"contact lost, a change of wire as {costs.swap_min:g}. Voltage and current "
        "are rms at the feedpoint; trim is what to add to the whole wire (+) or cut."
    )


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
            "remedies": [asdict(one) for one in plan.remedies],
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
