"""What other commands find besides chances, as sections of a sheet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from advisor.activating import Activation
from advisor.advice import Advice
from advisor.aiming import Aim, SetUpAim
from advisor.comparison import Comparison
from advisor.explain import hour_name
from advisor.show.aim_text import ends_words
from advisor.show.sheet import Cell, Heading, Section, Table, chance_look, number

BEARINGS = "bearings"
"""Key of the section that says which way wires run."""

_MOST_SLOTS = 4


def bearing_section(aim: Aim, declination_deg: float) -> Section:
    """
    Set out every bearing of every set-up.

    Parameters
    ----------
    aim : Aim
        What `advisor.aiming.aim` found.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]

    Returns
    -------
    section : Section
        One table a set-up that can be turned.
    """
    lines = [
        f"{setup.name}: {_best_words(setup, declination_deg)}" for setup in aim.setups
    ]
    return Section(
        BEARINGS,
        "Every bearing",
        lines=tuple(lines),
        tables=tuple(
            _bearings(aim, setup, declination_deg) for setup in aim.setups if setup.rows
        ),
    )


def _best_words(setup: SetUpAim, declination_deg: float) -> str:
    """Say the best bearing of one set-up and what it is worth."""
    best = setup.bearing.best_deg
    if not setup.is_open:
        return "opens nothing in these hours on any bearing."
    if best is None:
        return "turning it changes nothing."
    return (
        f"best {ends_words(best, declination_deg, has_front=setup.has_front)}, "
        f"{10 * setup.chance:.1f} days in ten as a mean over the hours."
    )


def _bearings(aim: Aim, setup: SetUpAim, declination_deg: float) -> Table:
    """Chance and level by bearing, target by target."""
    several = len(aim.targets) > 1
    head = ["wire true", "by compass"]
    for target in aim.targets:
        head += (
            [f"days in ten, {target.name}", "dB"] if several else ["days in ten", "dB"]
        )
    rows = []
    for row in setup.rows:
        mark = ("*" if row.is_best else "") + ("=" if row.is_given else "")
        cells = [
            Cell(f"{row.wire_deg:03.0f}{mark}"),
            Cell(f"{round(row.wire_deg - declination_deg) % 360:03d}"),
        ]
        for chance, level in zip(row.chance, row.level_db, strict=True):
            shade = chance_look(chance).look
            cells += [Cell(f"{10 * chance:.1f}", repr(chance), shade), number(level)]
        rows.append(tuple(cells))
    return Table(
        f"{setup.name} on every bearing",
        tuple(head),
        tuple(rows),
        note="A chance is that of the best band, as a mean over the hours; dB is the "
        "mean level against the target's own best bearing. '*' the best bearing, '=' "
        "as it hangs.",
    )


def ranking_section(comparison: Comparison) -> Section:
    """
    Set out the ranking of set-ups and what each is worth over two yardsticks.

    Parameters
    ----------
    comparison : Comparison
        What `advisor.comparison.compare` found.

    Returns
    -------
    section : Section
        The ranking, then what puts the first before the others.
    """
    ranged = f"range over {comparison.varied}" if comparison.varied else "range"
    return Section(
        "ranking",
        "Ranking",
        tables=(
            Table(
                "Set-ups, best first: days in ten on the best band, mean of the hours",
                (
                    "place",
                    "set-up",
                    "days in ten",
                    ranged,
                    "above vertical",
                    "above dipole",
                ),
                tuple(
                    (
                        Cell(str(place)),
                        Cell(each.advice.name, look="words"),
                        Cell(
                            f"{10 * each.advice.score:.1f}",
                            repr(each.advice.score),
                            chance_look(each.advice.score).look,
                        ),
                        Cell(f"{10 * each.score_low:.1f}-{10 * each.score_high:.1f}"),
                        number(each.mean_over_vertical_db, 1, "dB"),
                        number(each.mean_over_dipole_db, 1, "dB"),
                    )
                    for place, each in enumerate(comparison.setups, start=1)
                ),
                note="Above vertical and above dipole: gain at the angles the sky asks "
                "for over a quarter-wave vertical on the same ground and a half-wave "
                "dipole as high as the set-up's top.",
            ),
            *((_leads(comparison),) if comparison.leads else ()),
        ),
        heading=_ranking_heading(comparison),
    )


def _ranking_heading(comparison: Comparison) -> Heading | None:
    """Say which set-up comes first, and how sure that is; nothing to say of one."""
    if not comparison.leads:
        return None
    first, lead = comparison.setups[0].advice, comparison.leads[0]
    if not lead.is_clear:
        return Heading(
            "Best of your set-ups",
            f"{first.name} or {lead.name}: too close to tell",
            f"{10 * lead.lead:.1f} days in ten apart as a mean of the hours, "
            f"{10 * lead.lead_low:.1f} to {10 * lead.lead_high:.1f} over what is not "
            "known.",
        )
    return Heading(
        "Best of your set-ups",
        f"{first.name}, before {lead.name}",
        f"{10 * first.score:.1f} days in ten as a mean of the hours, "
        f"{10 * lead.lead:.1f} more than {lead.name}.",
    )


def _leads(comparison: Comparison) -> Table:
    """Set out what puts the first set-up before each other."""
    return Table(
        f"{comparison.setups[0].advice.name} against the others, days in ten",
        ("against", "lead", "range", "sure", "bands", "angles", "efficiency", "feed"),
        tuple(
            (
                Cell(lead.name),
                Cell(f"{10 * lead.lead:.1f}", repr(lead.lead)),
                Cell(f"{10 * lead.lead_low:.1f} to {10 * lead.lead_high:.1f}"),
                Cell("yes" if lead.is_clear else "too close to tell"),
                *(
                    number(10.0 * part)
                    for part in (lead.bands, lead.angle, lead.efficiency, lead.feed)
                ),
            )
            for lead in comparison.leads
        ),
        note="The last four: what the other would gain if it were as good as the first "
        "in that one thing; such parts need not add up.",
    )


def timetable_section(plan: Activation) -> Section:
    """
    Set out the timetable of an outing.

    Parameters
    ----------
    plan : Activation
        What `advisor.activating.plan_activation` found.

    Returns
    -------
    section : Section
        One row a slot.
    """
    question, advice = plan.advice.question, plan.advice
    rows: list[tuple[Cell, ...]] = []
    for slot in plan.slots:
        span = hour_name(question, slot.first)
        if slot.last > slot.first:
            span += f" to {hour_name(question, slot.last)}"
        if slot.setup < 0:
            blank = [Cell("-") for _ in range(len(advice.targets) + 3)]
            rows.append((Cell(span), Cell("nothing opens", look="words"), *blank))
            continue
        turn = advice.setups[slot.setup].bearing.wire_deg
        backup = (
            f"{question.bands[slot.backup_band].name}, "
            f"{plan.setups[slot.backup_setup].name}"
            if slot.backup_band >= 0
            else "-"
        )
        rows.append(
            (
                Cell(span),
                Cell(plan.setups[slot.setup].name, look="words"),
                Cell(question.bands[slot.band].name),
                Cell("any" if turn is None else f"{turn:03.0f} true"),
                *(chance_look(float(each)) for each in slot.chance),
                Cell(backup, look="words"),
            )
        )
    return Section(
        "timetable",
        "Timetable",
        lines=(_expected(plan, advice),),
        tables=(
            Table(
                "Hours, wire and band, days in ten to each target",
                (
                    "UTC",
                    "wire",
                    "band",
                    "bearing",
                    *(target.name for target in advice.targets),
                    "if that fails",
                ),
                tuple(rows),
            ),
        ),
        heading=Heading("The plan", _plan_words(plan), _expected(plan, advice)),
    )


def _plan_words(plan: Activation) -> str:
    """Say the plan in a line: which band when, and the wire where there are several."""
    question = plan.advice.question
    worked = [slot for slot in plan.slots if slot.setup >= 0]
    if not worked:
        return "Nothing opens in these hours"
    several = len({slot.setup for slot in worked}) > 1
    parts = []
    for slot in worked[:_MOST_SLOTS]:
        span = hour_name(question, slot.first)
        if slot.last > slot.first:
            span += f" to {hour_name(question, slot.last)}"
        wire = f" on {plan.setups[slot.setup].name}" if several else ""
        parts.append(f"{question.bands[slot.band].name} {span}{wire}")
    more = len(worked) - len(parts)
    only = "" if several else f"{plan.setups[worked[0].setup].name}: "
    return only + ", ".join(parts) + (f" and {more} more" if more > 0 else "")


def _expected(plan: Activation, advice: Advice) -> str:
    """Say how many hours each target is open for on average."""
    hours = ", ".join(
        f"{target.name} {expected:.1f} h"
        for target, expected in zip(advice.targets, plan.expected_h, strict=True)
    )
    return f"Open on average: {hours}."


def shapes_section(rows: Sequence[Mapping[str, Any]]) -> Section:
    """
    Set out the shapes that fit between the supports, best first.

    Parameters
    ----------
    rows : sequence of mapping
        Rows of `advisor.show.hang_text.hang_rows`.

    Returns
    -------
    section : Section
        Those that fit, then those that do not.
    """
    fits = [row for row in rows if row["fits"]]
    return Section(
        "shapes",
        "What fits",
        tables=(
            Table(
                "Shapes, best first: days in ten on the best band, mean of the hours",
                ("place", "shape", "days in ten", "range", "wire", "dimensions"),
                tuple(
                    (
                        Cell(str(row["rank"])),
                        Cell(row["shape"], look="words"),
                        Cell(
                            f"{10 * row['chance']:.1f}",
                            repr(row["chance"]),
                            chance_look(row["chance"]).look,
                        ),
                        Cell(
                            f"{10 * row['chance_low']:.1f}-"
                            f"{10 * row['chance_high']:.1f}"
                        ),
                        number(row["wire_m"], 2, "m"),
                        Cell(row["dimensions"], look="words"),
                    )
                    for row in fits
                ),
            ),
        ),
        items=tuple(
            (f"{row['shape']} does not fit", row["reason"])
            for row in rows
            if not row["fits"]
        ),
        heading=Heading(
            "What to hang",
            f"{fits[0]['shape']}, {fits[0]['dimensions']}",
            f"{fits[0]['wire_m']:.2f} m of wire; {10 * fits[0]['chance']:.1f} days in "
            f"ten as a mean of the hours; best of {len(fits)} that fit.",
        )
        if fits
        else None,
    )
