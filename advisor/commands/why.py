"""Why one figure is what it is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from advisor.commands.common import cache_dir, station_for
from advisor.commands.emit import (
    Report,
    emit,
    may_replace,
    output_options,
    write_picture,
)
from advisor.commands.options import (
    brief_option,
    conditions_options,
    file_option,
    heard_options,
    long_path_option,
    more_option,
    option,
    solar_options,
    station_options,
    targets_option,
    weights_option,
    zone_option,
)
from advisor.commands.provenance import program_provenance
from advisor.commands.question import query_for
from advisor.commands.sheets import sheet_option, write_sheet
from geo.errors import InputError

if TYPE_CHECKING:
    from pathlib import Path

    from advisor.station.setup import SetUp
    from advisor.station.station import Station


@click.command()
@targets_option("one.")
@weights_option
@station_options
@option(
    "--band BAND", "The band; default the best at that hour.", "bands", multiple=True
)
@click.option(
    "--at",
    "--date",
    "start",
    metavar="WHEN",
    help="The hour: 2026-12-05T18:00Z; default now.",
)
@zone_option
@solar_options
@conditions_options
@heard_options
@long_path_option
@file_option(
    "--chart FILE", "The sum from the sender to the ear as a picture, .svg or .png."
)
@sheet_option
@brief_option
@more_option
@output_options
def why(
    bands: tuple[str, ...],
    chart: Path | None,
    sheet_file: Path | None,
    brief: bool,
    more: bool,
    **options: Any,
) -> None:
    """
    Lay one figure of 'tonight' open: every number on the way to it.

    \b
    Examples:
      skiplobe why                              (the shipped demonstration)
      skiplobe why --station hill.toml --to KE --band "20 m" --at 2026-12-05T18:00Z

    One target, one band, one hour, one set-up (the best, or that of --set-up). The
    figure is that of 'skiplobe tonight' for the same band and --hours 1.
    """  # noqa: D301
    picked = tuple(options["setup_names"])
    if len(bands) > 1:
        raise InputError(f"{len(bands)} bands ({', '.join(bands)}): 'why' takes one")

    def with_the_others(station: Station) -> tuple[SetUp, ...]:
        return _with_the_others(station, options) if picked else station.setups

    if chart is not None:
        from advisor.show.charts.files import check_file

        check_file(chart, may_replace())
    options |= {"bands": bands, "hours": 1}
    query = query_for(options, one_for="'why'", wires=with_the_others)
    from dataclasses import replace
    from functools import partial

    from advisor.answers.why import best_band_name, explain_chance

    question = query.question
    if picked:
        # As the station spells them.
        picked = tuple(each.name for each in query.filed.setups)
    if not bands:
        name = best_band_name(question, picked)
        chosen = tuple(band for band in question.bands if band.name == name)
        question = replace(question, bands=chosen)
    query = replace(query, question=question)
    found = explain_chance(question, picked, cache_dir(options))
    from advisor.answers.rows.why import FORM, WhyDetails, why_inputs, why_rows
    from advisor.show.text.one_screen import fit_screen
    from advisor.show.text.why import why_text

    inputs = why_inputs(question, found)
    report = Report(
        FORM,
        inputs,
        lambda: query.introduced(
            fit_screen(
                why_text(found, question, band_chosen=not bands, brief=brief),
                ("mode ", "What would change it"),
                whole=brief or more,
            )
        ),
        rows=lambda: why_rows(found),
        details=lambda: WhyDetails(found),
    )
    emit(report, query.provenance)
    if sheet_file is not None:
        from advisor.show.page.why import why_sheet
        from geo.fields import as_mapping

        write_sheet(
            sheet_file,
            question.times[0],
            partial(
                why_sheet,
                found,
                question,
                as_mapping(inputs),
                program_provenance(),
                note=query.introduced("").rstrip(),
            ),
        )
    if chart is not None:
        from advisor.show.charts import way_sum

        write_picture(way_sum.figure(found), chart, way_sum.alt_text(found))


def _with_the_others(picked: Station, options: dict[str, Any]) -> tuple[SetUp, ...]:
    """Set-ups picked and the station's others, as they hang."""
    as_filed: dict[str, Any] = dict.fromkeys(("bearing_deg", "length_m", "height_m"))
    as_filed |= {"setup_names": (), "dims": ()}
    whole, _, _ = station_for(
        {**options, **as_filed}, has_targets=bool(options["targets"])
    )
    names = {setup.name for setup in picked.setups}
    others = tuple(setup for setup in whole.setups if setup.name not in names)
    return picked.setups + others
