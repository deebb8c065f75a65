"""The layers over a place."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands import options as opt
from advisor.commands.common import conditions_for, start_time, station_for
from advisor.commands.emit import Report, emit, output_options
from advisor.commands.options import figure_option, option
from advisor.commands.provenance import provenance_of
from advisor.commands.sheets import sheet_option, write_sheet
from advisor.commands.todays_sky import check_fetch, todays_solar, with_today


@click.command()
@opt.place_options
@figure_option("--power-w W", "Power, for the LUF of --to.")
@option(
    "--emission NAME", "What is sent, for the LUF of --to.", "emissions", multiple=True
)
@option(
    "--to TARGET",
    "Also MUF, LUF and the sun over the path to there, by hour.",
    "target",
)
@option(
    "--distance", "Also MUF over distance and skip distance by band.", "by_distance"
)
@opt.time_options
@opt.sky_options
@sheet_option
@output_options
def sky(
    target: str | None, by_distance: bool, sheet_file: Path | None, **options: Any
) -> None:
    """
    Show the layers over a place, hour by hour.

    \b
    Examples:
      skiplobe sky --from KF07jo --date 2026-12-05
      skiplobe sky --from KF07jo --distance
      skiplobe sky --from KF07jo --to KE --power-w 5

    --json and --csv hold MUF over distance and skip distances in any case.
    """  # noqa: D301
    station, origins, is_demo = station_for(options, has_targets=target is not None)
    from advisor.answers.ask import hours_from, question_for, solar_index
    from advisor.answers.rows.inputs import conditions_inputs
    from advisor.answers.rows.sky import SKY_FORM, SkyDetails, SkyInputs, SkyRow
    from advisor.answers.skies.path_sky import sky_path
    from advisor.answers.skies.sky import sky_table
    from advisor.show.text.sky import sky_text
    from advisor.station.bands import bands_for_region
    from advisor.station.station import time_zone
    from geo.fields import LEFT_OUT
    from geo.places import parse_place

    where = parse_place(station.place)
    hours, zone = options["hours"], options["zone"]
    local = time_zone(zone) if zone else station.time_zone
    first = start_time(options["start"], zone=local)
    check_fetch(options, first)
    times = hours_from(first, hours)
    options, today = with_today(options, first, station.place)
    bands = [
        band
        for band in bands_for_region(station.iaru_region)
        if band.name in station.bands
    ]
    index = {name: options[name] for name in ("r12", "flux")}
    solar = solar_index(times, **index)
    if today:
        solar = todays_solar(solar, times, today)
    sky_now = conditions_for(options, first, local, station.place)
    sky_now.check_against_map(times, solar.r12)
    seen = sky_table(where, times, solar, bands, sky_now)
    path = None
    if target is not None:
        question = question_for(
            station, [target], first, hours, conditions=sky_now, **index
        )
        path = sky_path(question)

    inputs = SkyInputs(
        place=where.label,
        lat_deg=where.lat_deg,
        lon_deg=where.lon_deg,
        solar=seen.solar_basis,
        bands=seen.bands,
        conditions=conditions_inputs(sky_now),
        assumed=seen.assumed,
    )
    report = Report(
        SKY_FORM,
        inputs,
        lambda: sky_text(seen, local, by_distance=by_distance, path=path),
        rows=lambda: [
            SkyRow(**vars(row), **(vars(path.rows[t]) if path else {}))
            for t, row in enumerate(seen.rows)
        ],
        details=lambda: SkyDetails(seen.sun, path.facts if path else LEFT_OUT),
        note="Demonstration (no station and no place given)." if is_demo else "",
    )
    emit(report, lambda: provenance_of(station, origins))
    if sheet_file is not None:
        from functools import partial

        from advisor.show.page.sky import sky_sheet

        make = partial(sky_sheet, seen, path, zone=local)
        write_sheet(sheet_file, first, report, make)
