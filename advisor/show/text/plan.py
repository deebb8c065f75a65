"""The plan of an outing as text; nothing is worked out here."""

from __future__ import annotations

from advisor.answers.one_wire.wire import own_cautions
from advisor.answers.outing.plan import Activation
from advisor.answers.rows.activation import Outing
from advisor.show.text.cells import text_table
from advisor.show.text.exposure import least_words, method_words, metres_up
from advisor.show.text.layout import day_lines, paragraph
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
from advisor.show.text.tonight import cautions_text, heading
from advisor.station.cautions import Caution


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
    sun = "\n".join(_sun(outing, zone))
    sent = ", ".join(each.name for each in question.station.also_sent)
    sent = f"{question.emission.name} ({sent} too)" if sent else ""
    blocks = ["\n".join([heading(question, sent=sent), *_targets(plan)])]
    if not plan.used:
        blocks.append(f"{paragraph(nothing_words(plan))}\n{sun}")
    else:
        told = [shares_words(plan), *outing_words(outing)]
        told += [*(missed_words(plan, each) for each in plan.missed), fix_words(plan)]
        blocks += [
            paragraph(f"Plan: {steps_words(plan)}; {score_words(plan)}"),
            _timetable(plan, zone),
            "\n".join(_wires(outing)),
            "\n".join(map(paragraph, told)),
            sun,
        ]
    own = own_cautions(outing.works)
    if outing.works:
        exposures = [one.exposure for work in outing.works for one in work.bands]
        far = (
            f"keep everybody {metres_up(outing.keep_clear_m)} m or more from every "
            f"part of wire and feed, at {question.station.power_w:g} W "
            f"{question.emission.name}, sending all the time. "
            f"{least_words(each.distance_m for each in exposures)}"
        )
        own = (Caution("distance shown", far), *own)
        blocks += [
            "Wires, feed and distance",
            f"{_feed(outing)}\n{paragraph(method_words(exposures))}",
            "\n".join(["Take along", *_packing(outing)]),
        ]
    return "\n\n".join([*blocks, paragraph(notes_words(plan)), cautions_text(own)])


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
    grey = sun_words(outing, zone)
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
