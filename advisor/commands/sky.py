"""The layers over a place."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.commands.common import (
    checked_zone,
    conditions_for,
    start_time,
    station_for,
)
from advisor.commands.figures import FIGURE
from advisor.commands.indices import check_fetch, fetched_solar, with_indices
from advisor.commands.options import (
    conditions_options,
    solar_options,
    time_options,
    zone_option,
)
from advisor.commands.output import check_output, output_options, write
from advisor.commands.provenance import made_from, told

if TYPE_CHECKING:
    from advisor.answers.path_sky import SkyPath


@click.command()
@click.option("--from", "place", metavar="PLACE", help="Grid locator or LAT,LON.")
@click.option(
    "--station",
    "station_file",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Station file, for its place.",
)
@click.option("--power-w", type=FIGURE, metavar="W", help="Power, for the LUF of --to.")
@click.option("--emission", metavar="NAME", help="What is sent, for the LUF of --to.")
@click.option(
    "--to",
    "target",
    metavar="TARGET",
    help="Also MUF, LUF and the sun over the path to there, by hour.",
)
@click.option(
    "--distance",
    "by_distance",
    is_flag=True,
    help="Also MUF over distance and skip distance by band.",
)
@time_options
@solar_options
@conditions_options
@zone_option
@output_options
def sky(
    place: str | None,
    station_file: Path | None,
    power_w: float | None,
    emission: str | None,
    target: str | None,
    by_distance: bool,
    start: str | None,
    hours: int,
    r12: float | None,
    flux: float | None,
    zone: str | None,
    as_json: bool,
    as_csv: bool,
    as_ecsv: bool,
    output: Path | None,
    overwrite: bool,
    **words: Any,
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
    check_output()
    station, origins, is_demo = station_for(
        {
            "place": place,
            "station_file": station_file,
            "power_w": power_w,
            "emission": emission,
        },
        has_targets=target is not None,
    )
    from advisor.answers.ask import hours_from, question_for, solar_index
    from advisor.answers.path_sky import sky_path
    from advisor.answers.sky import sky_table
    from advisor.show.formats import exports
    from advisor.show.formats.ecsv import rows_ecsv
    from advisor.show.text.tonight import sky_text
    from advisor.station.bands import bands_for_region
    from geo.places import parse_place

    where = parse_place(station.place)
    first = start_time(start)
    words |= {"r12": r12, "flux": flux, "hours": hours}
    check_fetch(words, first)
    times = hours_from(first, hours)
    words, source = with_indices(words)
    local = checked_zone(zone) if zone else station.time_zone
    bands = [
        band
        for band in bands_for_region(station.iaru_region)
        if band.name in station.bands
    ]
    solar = solar_index(times, words["r12"], words["flux"])
    if source:
        solar = fetched_solar(solar, words, source)
    sky_now = conditions_for(words, first)
    sky_now.check_against_map(times, solar.r12)
    seen = sky_table(where, times, solar, bands, sky_now)
    path = None
    if target is not None:
        question = question_for(
            station,
            [target],
            first,
            hours,
            r12=words["r12"],
            flux=words["flux"],
            conditions=sky_now,
        )
        path = sky_path(question)
    rows = [
        {**row, **(path.rows[t] if path is not None else {})}
        for t, row in enumerate(seen.rows)
    ]
    made = made_from(station, origins)
    inputs = {
        "place": where.label,
        "lat_deg": where.lat_deg,
        "lon_deg": where.lon_deg,
    }
    inputs |= {"solar": seen.solar_basis, "bands": list(seen.bands)}
    inputs |= {"conditions": sky_now.as_mapping(), "assumed": seen.assumed}
    if as_json:
        more = {} if path is None else {"path": _path_facts(path)}
        text = exports.to_json(inputs, rows, made, sun=seen.sun, **more)
    elif as_csv:
        text = exports.rows_csv(rows)
    elif as_ecsv:
        text = rows_ecsv("sky", rows, inputs, made)
    else:
        text = sky_text(seen, local, by_distance=by_distance, path=path) + "\n"
        if is_demo:
            text = f"Demonstration (no station and no place given).\n{text}"
    write(told(text, made), output, overwrite)


def _path_facts(path: SkyPath) -> dict[str, Any]:
    """Tell what is known of a path besides its rows."""
    from dataclasses import asdict

    return {key: value for key, value in asdict(path).items() if key != "rows"}
