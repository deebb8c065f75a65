"""The plan of an outing."""

from __future__ import annotations

import functools
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.commands import options as opt
from advisor.commands.common import cache_dir, warn_of_others_sent
from advisor.commands.emit import Report, check_writable, emit, output_options, write
from advisor.commands.options import figure_option, file_option
from advisor.commands.question import query_for
from advisor.commands.screen import progress_bar
from advisor.commands.sheets import sheet_option, write_answer_sheet

if TYPE_CHECKING:
    from advisor.answers.outing.plan import Activation
    from advisor.answers.rows.activation import Outing
    from advisor.station.station import Station


@click.command()
@opt.targets_option("repeatable, first counts most.")
@figure_option(
    "--priority N",
    "What each --to counts, in their order; default 1, 1/2, 1/3 and so on.",
    "priorities",
    multiple=True,
)
@opt.weights_option
@opt.station_options
@opt.bands_option
@opt.time_options
@figure_option(
    "--change-min MIN",
    "Minutes a change of band is taken to cost.",
    default=3.0,
    show_default=True,
)
@figure_option(
    "--swap-min MIN",
    "Minutes a change of wire is taken to cost.",
    default=20.0,
    show_default=True,
)
@figure_option(
    "--enough-h H",
    "Share out: a target counts half after so many expected hours of contact.",
)
@figure_option(
    "--battery-ah AH", "What the battery gives; told is whether it lasts the plan."
)
@figure_option("--receive-a A", "Current of the radio while it receives.")
@figure_option("--send-a A", "Its current at full power; else from the power.")
@figure_option("--walk-min MIN", "Way back from the site: told is when to turn back.")
@opt.sky_options
@opt.heard_options
@opt.long_path_option
@file_option(
    "--calendar FILE", "Write the slots as a calendar too (iCalendar, RFC 5545), .ics."
)
@sheet_option
@opt.more_option
@output_options
def activation(
    priorities: tuple[float, ...],
    change_min: float,
    swap_min: float,
    enough_h: float | None,
    calendar: Path | None,
    sheet_file: Path | None,
    **options: Any,
) -> None:
    """
    Plan an outing: bands by the hour, bearings, sun, feed, packing list, safety.

    \b
    Examples:
      skiplobe activation                       (the shipped demonstration)
      skiplobe activation --station hill.toml --to KE --to 035 --hours 6
      skiplobe activation --station hill.toml --to KE --to 035 --priority 3 \\
          --priority 1 --date 2026-12-05T14:00Z --calendar hill.ics

    Every set-up of the station may be used. A timetable with few changes is chosen;
    what a change costs is in --change-min and --swap-min. By default the plan goes
    where most can be worked, which may be one target all day; --enough-h 2 shares it
    out. Of several emissions the plan is made for the first, and says what the others
    would do in it. Needs no network.
    """  # noqa: D301
    if calendar is not None:
        check_writable(calendar)
    query = query_for(options, several_sent=True)
    from advisor.answers.ask import sent_as

    station = query.station
    question = sent_as(query.question, station.emission)
    from advisor.answers.outing.plan import plan_activation
    from advisor.answers.outing.timetable import Costs, weights_of

    counts = weights_of(len(question.targets), priorities)
    costs = Costs(change_min, swap_min)
    cache = cache_dir(options)
    with progress_bar("Wires of the station", len(station.setups)) as bar:
        plan = plan_activation(
            question,
            counts,
            costs,
            cache,
            on_wire=lambda: bar.update(1),
            enough_h=enough_h,
        )
    declination = question.declination_deg
    from advisor.answers.one_wire.wire import own_cautions
    from advisor.answers.rows.activation import (
        FORM,
        activation_details,
        activation_rows,
    )
    from advisor.answers.rows.inputs import question_inputs
    from advisor.show.text.plan import activation_text

    @functools.cache
    def worked() -> Outing:
        """Work out wires, sun and packing list, once and only where they are shown."""
        return _sheet(plan, station, declination, cache)

    report = Report(
        FORM,
        question_inputs(plan.advice.question),
        lambda: activation_text(worked(), query.zone),
        rows=lambda: activation_rows(plan),
        details=lambda: activation_details(worked()),
        note=query.note(),
        first=(),
        own=lambda: own_cautions(worked().works),
    )
    if calendar is not None:
        from advisor.show.formats.icalendar import calendar_text

        write(calendar_text(plan, query.provenance()["version"]), calendar)
    emit(report, query.provenance)
    if sheet_file is not None:
        from advisor.show.page.plan_sections import plan_sections

        if station.also_sent:
            warn_of_others_sent(station, "the page is")
        write_answer_sheet(
            sheet_file,
            query,
            plan.advice,
            plan_sections(worked(), query.zone),
            bands={plan.setups[s].name: plan.bands_with(s) for s in plan.used},
            also=own_cautions(worked().works),
            plan=plan,
        )


def _sheet(
    plan: Activation, station: Station, declination_deg: float, cache: Path | None
) -> Outing:
    """Work out the wires, the sun and the packing list of a plan."""
    from advisor.answers.one_wire.wire import wire_work
    from advisor.answers.outing.packing import packing_list
    from advisor.answers.outing.twilight import grey_at_both, sun_at_ends
    from advisor.answers.rows.activation import Outing

    works = []
    with progress_bar("Wires of the plan", len(plan.used)) as bar:
        for s in plan.used:
            names = plan.bands_with(s)
            works.append(wire_work(station, plan.setups[s], names, cache_dir=cache))
            bar.update(1)
    suns = sun_at_ends(plan.advice.question)
    return Outing(
        plan=plan,
        works=tuple(works),
        suns=suns,
        greys=grey_at_both(suns),
        items=packing_list(works, declination_deg) if works else (),
        declination_deg=declination_deg,
    )
