"""Which way to run the wire."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands import options as opt
from advisor.commands.common import cache_dir
from advisor.commands.emit import Report, emit
from advisor.commands.options import option
from advisor.commands.question import query_for
from advisor.commands.sheets import answer_options, write_answer_sheet


@click.command()
@opt.question_options
@option(
    "--spot SPOT",
    "Where else on the plot a wire may hang, 'south edge 180deg 40m'; repeatable.",
    "spots",
    multiple=True,
)
@answer_options
def aim(
    spots: tuple[str, ...],
    sheet_file: Path | None,
    brief: bool,
    **options: Any,
) -> None:
    """
    Say which way to run each wire, and what another bearing costs.

    \b
    Examples:
      skiplobe aim                              (the shipped demonstration)
      skiplobe aim --station hill.toml --to KE --to 155
      skiplobe aim --station hill.toml --to KE --spot 'south edge 180deg 40m'
      skiplobe aim --from KF07jo --to ZW --shape dipole --height-m 9 --band "20 m"

    With several targets: the bearing that serves all, what each loses by it, and
    whether two bearings beat one. With --spot, and terrain or slopes in the station
    file: the spots ranked by what the ground around each makes of the wires.
    """  # noqa: D301
    from advisor.station.spots import read_spot, standing_on

    places = [read_spot(text) for text in spots]
    query = query_for(options)
    from advisor.answers import aim as aiming
    from advisor.answers.ask import answer
    from advisor.answers.rows.aim import FORM, aim_details, aim_rows
    from advisor.answers.rows.inputs import question_inputs
    from advisor.answers.spots import rank_spots
    from advisor.show.text.aim import aim_text

    for place in places:
        # What cannot be is told before anything is worked out.
        standing_on(query.question.station, place)
    advice = answer(query.question, cache_dir(options))
    found = aiming.aim(advice, cache_dir(options))
    ranked = rank_spots(advice, found, places, cache_dir(options)) if places else ()
    report = Report(
        FORM,
        question_inputs(query.question),
        lambda: aim_text(found, ranked, brief=brief),
        rows=lambda: aim_rows(found),
        details=lambda: aim_details(found, ranked),
        note=query.note(),
        first=[
            "Where to hang it: ",
            *(f"{each.name}: " for each in found.setups),
            "   wire true",
        ],
    )
    emit(report, query.provenance)
    if sheet_file is not None:
        from advisor.show.page.lead_sections import bearing_sections

        lead = bearing_sections(found, query.question.declination_deg, ranked)
        write_answer_sheet(sheet_file, query, advice, lead)
