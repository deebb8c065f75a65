"""Why one figure is what it is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from advisor.commands import options as opt
from advisor.commands.common import cache_dir, station_for
from advisor.commands.emit import Report, emit, write_picture
from advisor.commands.options import option, picture_option
from advisor.commands.question import query_for
from advisor.commands.sheets import answer_options, write_sheet
from geo.errors import InputError

if TYPE_CHECKING:
    from pathlib import Path

    from advisor.station.setup import SetUp
    from advisor.station.station import Station


@click.command()
@opt.targets_option("one.")
@opt.weights_option
@opt.station_options
@option(
    "--band BAND", "The band; default the best at that hour.", "bands", multiple=True
)
@opt.hour_option("The hour")
@opt.zone_option
@opt.sky_options
@opt.heard_options
@opt.long_path_option
@picture_option(
    "--chart FILE", "The sum from the sender to the ear as a picture, .svg or .png."
)
@answer_options
def why(
    bands: tuple[str, ...],
    chart: Path | None,
    sheet_file: Path | None,
    brief: bool,
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
    from advisor.show.text.why import why_text

    report = Report(
        FORM,
        why_inputs(question, found),
        lambda: why_text(found, question, band_chosen=not bands, brief=brief),
        rows=lambda: why_rows(found),
        details=lambda: WhyDetails(found),
        note=query.note(),
        first=("mode ", "What would change it"),
    )
    emit(report, query.provenance)
    if sheet_file is not None:
        from advisor.show.page.why import why_sheet

        first = question.times[0]
        write_sheet(sheet_file, first, report, partial(why_sheet, found, question))
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
