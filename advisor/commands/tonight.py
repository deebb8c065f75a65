"""The main question: which band tonight."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from advisor.commands import options as opt
from advisor.commands.common import cache_dir, warn_of_others_sent
from advisor.commands.emit import Report, emit, geojson_option, output_options
from advisor.commands.options import option
from advisor.commands.question import query_for
from advisor.commands.sheets import sheet_option, write_answer_sheet


@click.command()
@opt.question_options
@option("--listen", "Say too which beacon to listen for, when, and what it would mean.")
@sheet_option
@geojson_option
@opt.brief_option
@opt.more_option
@output_options
def tonight(
    sheet_file: Path | None,
    listen: bool,
    brief: bool,
    **options: Any,
) -> None:
    """
    Say which band, which bearing and how sure, hour by hour, and why.

    \b
    Examples:
      skiplobe tonight                          (the shipped demonstration)
      skiplobe tonight --station hill.toml --to 035
      skiplobe tonight --emission CW --emission SSB     (each on its best band)
      skiplobe tonight --sheet hill.html        (the answer as one page too)
      skiplobe tonight --station hill.toml --to KE --listen
      skiplobe tonight --from KF07jo --to 1,37 --emission FT8 --power-w 5

    A target is a UN M49 region (035, "South-eastern Asia"), an ISO 3166 country (KE,
    Kenya), a grid locator, LAT,LON, or a ring such as "within 800 km".
    """  # noqa: D301
    query = query_for(options, several_sent=True)
    question, params = query.question, click.get_current_context().params
    from advisor.answers.ask import answers
    from advisor.answers.rows.inputs import Form, question_inputs
    from advisor.answers.rows.tonight import (
        FORM,
        BeaconRow,
        advice_details,
        advice_rows,
    )

    sent = (question.emission, *question.station.also_sent)
    inputs = question_inputs(question)
    if len(sent) > 1:
        if sheet_file is not None or params["as_geojson"]:
            warn_of_others_sent(question.station, "the page or map is")
        inputs = replace(inputs, emissions=sent)
    told = answers(question, sent, cache_dir(options))
    advice = told[0]
    beacons = None
    if listen:
        from advisor.answers.listen import beacon_rows

        beacons = tuple(beacon_rows(advice, cache_dir(options)))

    def text() -> str:
        from advisor.show.text.one_screen import screen_text
        from advisor.show.text.tonight import advice_text

        about = question.declination_deg, query.zone
        if brief or params["more"]:
            each = [advice_text(one, *about, brief=brief) for one in told]
        else:
            each = [screen_text(told, *about)]
        if beacons is not None:
            from advisor.show.text.listen import listen_text

            each.append(listen_text(beacons))
        return "\n\n".join(each)

    def features() -> list[dict[str, Any]]:
        from advisor.answers.pictures.points import point_chances
        from advisor.answers.pictures.scene import Scene
        from advisor.show.formats.geojson import tonight_features

        points = point_chances(Scene(advice, cache_dir(options)))
        return tonight_features(question.place, points, long_path=question.long_path)

    # A table holds one kind of row: that which was asked for besides.
    of_beacons = beacons is not None and (params["as_csv"] or params["as_ecsv"])
    report = Report(
        Form(FORM.name, FORM.inputs, BeaconRow) if of_beacons else FORM,
        inputs,
        text,
        rows=lambda: (beacons or ()) if of_beacons else advice_rows(*told),
        details=lambda: advice_details(*told, beacons=beacons),
        features=features,
        note=query.note(),
    )
    emit(report, query.provenance)
    if sheet_file is not None:
        from advisor.show.page.lead_sections import beacons_section

        lead = () if beacons is None else (beacons_section(beacons),)
        write_answer_sheet(sheet_file, query, advice, lead)
