"""The answer of an evening as a sheet: hours, reasons, wire, charts, cautions."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from advisor.answers.advice import Answer, SetUpAdvice
from advisor.answers.bearings import TOLERANCE_DB
from advisor.answers.one_wire.wire import hanging_of
from advisor.answers.outing.plan import Activation
from advisor.answers.pictures.compass import compass as compass_of
from advisor.answers.pictures.daylight import Daylight, daylight_of_targets
from advisor.answers.pictures.keepclear import KeepClear
from advisor.answers.pictures.page import SheetData
from advisor.answers.pictures.ribbon import plan_ribbon, ribbon
from advisor.answers.pictures.scene import Scene, best_moment
from advisor.answers.pictures.setups import setups_by_hour
from advisor.answers.pictures.world_turned import worlds
from advisor.answers.rows.inputs import question_inputs
from advisor.answers.runs import run_words
from advisor.answers.shut import shut_words, uncut_words
from advisor.answers.words import (
    bearing_words,
    headline_parts,
    reasons,
    what_a_chance_is,
)
from advisor.engine.wires import hung_wire
from advisor.show.charts import setups as setups_chart
from advisor.show.charts.style import hour_of
from advisor.show.charts.wire import sketch_figure, sketch_words
from advisor.show.page.base_sections import GLOSSARY, cautions_section, inputs_sections
from advisor.show.page.chart_sections import chart_pictures
from advisor.show.page.lead_sections import BEARINGS, SHAPES, TIMETABLE
from advisor.show.page.plan_sections import WIRES
from advisor.show.page.ribbon import ribbon_view
from advisor.show.page.script_data import live_mapping, places_mapping, world_mapping
from advisor.show.page.sheet import Heading, Section, Sheet, picture
from advisor.show.text.cells import (
    Cell,
    Column,
    Table,
    chance_look,
    page_table,
    plain_rows,
)
from advisor.show.text.hanging import hanging_columns, supports_words
from advisor.show.text.layout import local_hours, minute
from advisor.show.text.tonight import (
    heading_parts,
    hour_columns,
    shut_note,
    target_line,
    wires_note,
)
from advisor.station.cautions import Caution
from advisor.station.setup import EACH_BAND, SetUp
from geo.fields import as_mapping
from geo.sun import CIVIL_TWILIGHT_DEG, REFRACTION_AND_RADIUS_DEG

_NUMBER_AND_METRE = re.compile(r"(\d) m\b")
_LONG_ANSWER = 60


def tonight_sheet(
    scene: Scene,
    data: SheetData,
    declination_deg: float,
    provenance: Mapping[str, Any],
    command: str,
    zone: str | None = None,
    is_demo: bool = False,
    lead: Sequence[Section] = (),
    clear: Sequence[KeepClear] = (),
    also: Sequence[Caution] = (),
    plan: Activation | None = None,
) -> Sheet:
    """
    Set out an answer as a page.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    data : SheetData
        The best set-up turned through every bearing.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]
    provenance : mapping
        Version and checksums of tables.
    command : str
        What makes the same page again.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.
    is_demo : bool, optional
        Whether it is the demonstration.
    lead : sequence of Section, optional
        What else was found; stands before the hours, or behind the cautions where it
        is not for the first printed pages.
    clear : sequence of KeepClear, optional
        How far people have to keep from the wires.
    also : sequence of Caution, optional
        Cautions of these very wires.
    plan : Activation, optional
        The plan whose hours are shown at a glance, in place of the best of each.

    Returns
    -------
    sheet : Sheet
        Ready for `advisor.show.page.sheet.sheet_html`.
    """
    advice = scene.advice
    question = advice.question
    where = question.station.name.removeprefix("demo: ")
    demo = f"Demonstration: an invented operator on {where}."
    around = compass_of(scene)
    suns = daylight_of_targets(advice)
    hours = (
        Section(
            "hours",
            "Hour by hour",
            lines=(_key(advice),),
            tables=tuple(_hours(advice, k, ends, zone) for k, ends in enumerate(suns)),
        ),
        Section(
            "why",
            "Why",
            lines=tuple(
                line for k in range(len(advice.targets)) for line in _why(advice, k)
            ),
        ),
        _build(advice, declination_deg),
    )
    small = worlds(scene)
    charts = chart_pictures(scene, around, small, zone)
    first = [section for section in lead if section.front]
    # A plan has its own timetable and wires, and whoever hangs a wire needs its sizes
    # before the hours: what is not for the first pages stands behind the cautions.
    keys = {section.key for section in first}
    kept = "wire" if SHAPES in keys else "" if WIRES in keys else "hours why wire"
    first += [replace(one, front=True) for one in hours if one.key in kept.split()]
    behind = [one for one in hours if one.key not in kept.split()]
    sections = [
        *first,
        cautions_section(
            clear, f"{question.emission.name} {question.station.power_w:g} W", also
        ),
        *(section for section in lead if not section.front),
        *behind,
        Section("charts", "Charts", pictures=charts),
    ]
    if len(advice.setups) > 1:
        sections.append(_setups(advice, declination_deg))
    days_in_ten_meant = ("days in ten", what_a_chance_is(question))
    sections += [
        *inputs_sections(as_mapping(question_inputs(question)), provenance),
        Section("words", "Words", items=(days_in_ten_meant, *GLOSSARY), folded=True),
    ]
    return Sheet(
        title=f"From {question.here} to {_listed(advice)}",
        about=(*((demo,) if is_demo else ()), *heading_parts(question)),
        headings=_headings(advice, declination_deg, lead, plan),
        sections=tuple(sections),
        command=command,
        made_by=f"{provenance['program']} {provenance['version']}",
        live={
            **live_mapping(advice, data, around, zone),
            **places_mapping(question),
            "world": world_mapping(small.turned),
        },
        ribbon=ribbon_view(ribbon(advice) if plan is None else plan_ribbon(plan)),
    )


def _listed(advice: Answer) -> str:
    """List the targets."""
    *names, last = (target.name for target in advice.targets)
    return f"{', '.join(names)} and {last}" if names else last


def _headings(
    advice: Answer,
    declination_deg: float,
    lead: Sequence[Section],
    plan: Activation | None,
) -> tuple[Heading, ...]:
    """Put what the command was asked for first, then targets, then the wire."""
    ahead = [section.heading for section in lead if section.heading is not None]
    # Beside a plan for all of them, what is best for each alone is called that.
    alone = ", by itself" if any(section.key == TIMETABLE for section in lead) else ""
    targets = [
        replace(one, label=f"{one.label}{alone}")
        for one in (_target_heading(advice, k) for k in range(len(advice.targets)))
    ]
    # The wires to hang are those of the plan, though each alone might take another.
    used = advice.used if plan is None else [advice.setups[s] for s in plan.used]
    wires = [
        _bearing_heading(one, declination_deg) for one in used or advice.setups[:1]
    ]
    if any(section.key == BEARINGS for section in lead):
        return (*wires, *ahead, *targets)
    return (*ahead, *targets, *wires)


def _target_heading(advice: Answer, target: int) -> Heading:
    """Say which band when."""
    seen, question = advice.targets[target], advice.question
    runs, sure, spread, more = (
        _NUMBER_AND_METRE.sub("\\1\N{NO-BREAK SPACE}m", each)
        for each in headline_parts(advice, target)
    )
    where = " ".join(target_line(question, seen, target).split()).partition(": ")[2]
    large = f"{sure}." if sure else runs
    span = f"It may be {spread}. {more}" if spread else more
    if sure and len(runs) <= _LONG_ANSWER:
        return Heading(f"To {seen.name}", f"{runs} {large}", where, span)
    # Many changes of band: what is surest is read first.
    return Heading(f"To {seen.name}", large, f"{runs if sure else ''} {where}", span)


def _bearing_heading(setup: SetUpAdvice, declination_deg: float) -> Heading:
    """Say how to hang the wire."""
    turn = setup.bearing
    if turn.wire_deg is None:
        large = "Turning it changes nothing"
    else:
        verb = "Hang it" if turn.is_free else "It hangs"
        large = f"{verb} {run_words(turn.wire_deg, declination_deg, setup.first_end)}"
    shape = "" if setup.name == setup.shape else f" ({setup.shape})"
    return Heading(f"{setup.name}{shape}", large, _tolerance(setup))


def _tolerance(setup: SetUpAdvice) -> str:
    """Say how far off the wire may be."""
    turn = setup.bearing
    if turn.wire_deg is None:
        return "It radiates alike all round."
    if turn.good_from_deg is None or turn.good_to_deg is None:
        return f"Any other bearing costs under {TOLERANCE_DB:g} dB."
    return (
        f"From {turn.good_from_deg:03.0f} to {turn.good_to_deg:03.0f} true costs under "
        f"{TOLERANCE_DB:g} dB against the best."
    )


def _key(advice: Answer) -> str:
    """Say how to read the table of hours."""
    return (
        f"{what_a_chance_is(advice.question)} '*' is the band to be on"
        f"{wires_note(advice)}. (-3) behind a limit: three days in ten are lost to it. "
        f"{shut_note(advice)}"
    )


def _sun_at(end: Daylight, hour: int) -> str:
    """Name the light at one end in the middle of an hour."""
    elevation = float(np.interp(hour + 0.5, end.hour, end.elevation_deg))
    if elevation > -REFRACTION_AND_RADIUS_DEG:
        return "day"
    return "dusk" if elevation > -CIVIL_TWILIGHT_DEG else "night"


def _sun_words(end: Daylight) -> str:
    """Sunrise and sunset of one end."""
    parts = [f"rises {minute(time)}Z" for time in end.rises]
    parts += [f"sets {minute(time)}Z" for time in end.sets]
    if not parts:
        parts = [f"{end.stays} in all these hours"]
    return f"Sun at {end.label}: {', '.join(parts)}."


def _hours(
    advice: Answer, target: int, ends: tuple[Daylight, ...], zone: str | None
) -> Table:
    """Chance by hour and band, the sun, and what the best band needs and gets."""
    times, seen = advice.question.times, advice.targets[target]

    def light(end: Daylight, t: int) -> Cell:
        name = _sun_at(end, t)
        return Cell(name, look=f"sun {name}")

    columns = [Column[int]("UTC", lambda t: hour_of(times[t]))]
    if zone:
        here = local_hours(times, zone)
        columns.append(Column("local", lambda t: here[t]))
    columns += hour_columns(advice, target)
    columns += [
        Column(name, partial(light, end))
        for name, end in zip(("sun here", "sun there"), ends, strict=False)
    ]
    return page_table(
        f"To {seen.name}: days in ten by hour and band"
        + (f"; local time is {zone}" if zone else ""),
        columns,
        range(times.size),
        key=f"hours-{target}",
        note=" ".join(
            [*shut_words(advice, target), *(_sun_words(end) for end in ends)]
        ),
    )


def _why(advice: Answer, target: int) -> list[str]:
    """Give the reasons, with the target's name where there are several."""
    lines = reasons(advice, target)
    if len(advice.targets) > 1:
        lines[0] = f"{advice.targets[target].name}: {lines[0]}"
    return lines


def _setup_of(advice: Answer, place: int) -> SetUp:
    """Find the set-up behind a place in the ranking."""
    name = advice.setups[place].name
    return next(each for each in advice.question.station.setups if each.name == name)


def _build(advice: Answer, declination_deg: float) -> Section:
    """Dimensions to cut and hang the best set-up by, with a sketch."""
    question, best = advice.question, advice.setups[0]
    setup = _setup_of(advice, 0)
    worked = [band for band in question.bands if band.name in setup.bands]
    # Of wires cut for one band each those stand first that the answer sends to, the
    # one of the greatest chance before all; that is drawn.
    sent = {question.bands[b].name for b in np.unique(advice.best_band) if b >= 0}
    top = question.bands[best_moment(advice).band]
    worked.sort(key=lambda band: (band is not top, band.name not in sent))
    cut = worked if setup.cut == EACH_BAND else worked[:1]
    rows, supports, pictures = [], [], []
    for place, band in enumerate(cut):
        hung = hung_wire(setup, band.planning_mhz)
        hangs = hanging_of(setup, hung, band.planning_mhz)
        rows.append((band.name if setup.cut == EACH_BAND else "all bands", hangs))
        if place == 0:
            supports = [f"Supports: {supports_words(hangs)}."]
            supports.append(f"Drawn: {sketch_words(hung, hangs.supports)}")
            title = f"{setup.name}, {band.name}"
            sizes = [
                [key, f"{value:.2f}", "by default" if by else "given"]
                for (key, value), by in (
                    (each, each[0] in hangs.by_default) for each in hangs.sizes
                )
            ]
            pictures.append(
                picture(
                    "The wire from the side and from above",
                    partial(sketch_figure, hung, title),
                    sketch_words(hung, hangs.supports),
                    "sketch",
                    Table(
                        "Dimensions, in the unit their name ends in",
                        ("dimension", "value", "from"),
                        plain_rows(sizes),
                    ),
                )
            )
    return Section(
        "wire",
        "The wire",
        lines=(bearing_words(best, declination_deg), *supports),
        tables=(
            page_table(
                f"{setup.name} ({setup.shape}): what to cut and where to hang it",
                hanging_columns(setup),
                rows,
                note="Wire is in the metres to cut; heights are above the ground."
                + (
                    " The bands the answer sends to come first."
                    if setup.cut == EACH_BAND
                    else ""
                ),
            ),
        ),
        pictures=tuple(pictures),
    )


def _setups(advice: Answer, declination_deg: float) -> Section:
    """Set-ups beside one another on the first target."""
    hours = setups_by_hour(advice)
    question = advice.question
    by_hour = Table(
        f"Best chance of each set-up to {advice.targets[0].name}, days in ten and band",
        ("UTC", *(one.name for one in hours)),
        tuple(
            (
                Cell(hour_of(time)),
                *(
                    Cell(
                        f"{chance_look(float(one.chance[t])).text} {one.bands[t]}",
                        repr(float(one.chance[t])),
                    )
                    for one in hours
                ),
            )
            for t, time in enumerate(question.times)
        ),
    )
    return Section(
        "setups",
        "Your set-ups side by side",
        lines=tuple(
            f"{place}. {one.name}: {10 * one.score:.1f} in ten over all hours and "
            f"targets on its best band. {_turned(one, declination_deg)}"
            f"{_uncut(advice, place)}"
            for place, one in enumerate(advice.setups, start=1)
        ),
        pictures=(
            picture(
                "Hour by hour",
                partial(setups_chart.by_hour, advice, hours),
                setups_chart.hour_alt_text(advice, hours),
                "setups",
                by_hour,
            ),
        ),
    )


def _uncut(advice: Answer, place: int) -> str:
    """Say which bands the set-up of a rank, counted from 1, is not cut for."""
    words = uncut_words(advice.question, advice.setups[place - 1])
    return f" {words[0].upper()}{words[1:]}." if words else ""


def _turned(setup: SetUpAdvice, declination_deg: float) -> str:
    """Say how a set-up that is not the first hangs."""
    wire = setup.bearing.wire_deg
    if wire is None:
        return ""
    return f"It runs {run_words(wire, declination_deg, setup.first_end)}."
