"""The plan of an outing as text and as rows; nothing is worked out here."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from advisor.answers.plan import Activation
from advisor.answers.wire import BandWork, WireWork, own_cautions
from advisor.show.cells import text_table
from advisor.show.formats.exports import Row
from advisor.show.text.exposure import least_words, method_words, metres_up
from advisor.show.text.layout import day_lines, paragraph
from advisor.show.text.plan_tables import (
    Outing,
    feed_columns,
    grey_words,
    slot_columns,
    sun_columns,
    wires_by_band,
)
from advisor.show.text.plan_words import (
    fix_words,
    missed_words,
    notes_words,
    nothing_words,
    score_words,
    shares_words,
    steps_words,
    swapped_words,
    target_letter,
    target_words,
    wire_number,
    wire_words,
)
from advisor.show.text.tonight import cautions_text, heading


def activation_text(outing: Outing, zone: str | None = None) -> str:
    """
    Write the plan of an outing.

    Parameters
    ----------
    outing : Outing
        What is shown.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    text : str
        Ready to print, lines of 96 characters.
    """
    plan = outing.plan
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
        parts += [*_wires(outing), ""]
        parts.append(paragraph(shares_words(plan)))
        parts += [paragraph(missed_words(plan, each)) for each in plan.missed]
        parts += [paragraph(fix_words(plan)), ""]
    parts += [*_sun(outing, zone), ""]
    if outing.works:
        exposures = [one.exposure for work in outing.works for one in work.bands]
        parts += ["Wires, feed and distance", "", _feed(outing)]
        parts += [paragraph(method_words(exposures)), ""]
        parts += ["Take along", *_packing(outing), ""]
    parts += [paragraph(notes_words(plan)), "", "Cautions"]
    if outing.works:
        parts.append(
            paragraph(
                f"  distance shown: keep everybody {metres_up(outing.keep_clear_m)} m "
                "or more from every part of wire and feed, at "
                f"{question.station.power_w:g} W {question.emission.name}, sending all "
                f"the time. {least_words(each.distance_m for each in exposures)}",
                "    ",
            )
        )
    parts.append(cautions_text(own_cautions(outing.works)))
    return "\n".join(parts)


def _targets(plan: Activation) -> list[str]:
    """Say what each letter stands for, and what it counts."""
    return [
        paragraph(f"{target_letter(k)} = {target_words(plan, k)}", "    ")
        for k in range(len(plan.advice.targets))
    ]


def _timetable(plan: Activation, zone: str | None) -> str:
    """One line a slot."""
    begins = plan.advice.question.times[[slot.first for slot in plan.slots]]
    return text_table(
        slot_columns(plan, zone),
        plan.slots,
        keys=2 if zone else 1,
        above=day_lines(begins),
    )


def _wires(outing: Outing) -> list[str]:
    """Say which wire is which and how it runs."""
    plan = outing.plan
    lines = []
    for s in plan.used:
        name = f"  {wire_number(plan, s)} {plan.setups[s].name}"
        words = wire_words(plan, s, outing.declination_deg)
        lines.append(paragraph(f"{name}: {words}", "    "))
    swapped = swapped_words(plan)
    if swapped:
        lines.append(paragraph(f"  {swapped}", "    "))
    return lines


def _sun(outing: Outing, zone: str | None) -> list[str]:
    """Sun and grey line at both ends."""
    grey = grey_words(outing, zone)
    events = text_table(sun_columns(outing), outing.suns)
    return [events, *([paragraph(grey)] if grey else [])]


def _feed(outing: Outing) -> str:
    """Cut lengths, feed and exposure, one line a wire and band."""
    rows = wires_by_band(outing)
    return text_table(feed_columns(rows), rows, keys=2)


def _packing(outing: Outing) -> list[str]:
    """Write the packing list with boxes to tick."""
    return [
        paragraph(f"  [ ] {item.kind}: {item.what}", "      ") for item in outing.items
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


def activation_details(outing: Outing) -> dict[str, Any]:
    """
    Gather what JSON holds besides the rows.

    Parameters
    ----------
    outing : Outing
        What is shown.

    Returns
    -------
    details : dict
        Plan, wires, sun, packing list.
    """
    plan = outing.plan
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
            one.name: {**asdict(one.bearing), "declination_deg": outing.declination_deg}
            for one in plan.advice.setups
        },
        "wires": [_wire_row(work, one) for work in outing.works for one in work.bands],
        "keep_clear_m": outing.keep_clear_m if outing.works else None,
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
            for sun in outing.suns
        ],
        "grey_line_both": [
            {"place": grey.name, "begin": _stamp(grey.begin), "end": _stamp(grey.end)}
            for grey in outing.greys
        ],
        "packing": [asdict(item) for item in outing.items],
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
