"""The layers over a place."""

from __future__ import annotations

from pathlib import Path

import click

from advisor.commands.common import (
    checked_zone,
    one_format,
    output_options,
    provenance,
    solar_options,
    start_time,
    station_for,
    time_options,
    write,
)


@click.command()
@click.option("--from", "place", metavar="PLACE", help="Grid locator or LAT,LON.")
@click.option(
    "--station",
    "station_file",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Station file, for its place.",
)
@time_options
@solar_options
@click.option("--local", "zone", metavar="ZONE", help="Local time of an IANA zone too.")
@output_options
def sky(
    place: str | None,
    station_file: Path | None,
    start: str | None,
    hours: int,
    r12: float | None,
    flux: float | None,
    zone: str | None,
    as_json: bool,
    as_csv: bool,
    output: Path | None,
    overwrite: bool,
) -> None:
    """
    Show the layers over a place, hour by hour.

    \b
    Example:
      skiplobe sky --from KF07jo --date 2026-12-05
    """  # noqa: D301
    one_format(as_json, as_csv)
    station, _, is_demo = station_for(
        {"place": place, "station_file": station_file}, has_targets=False
    )
    from advisor.almanac import sky_table
    from advisor.ask import hours_from, solar_index
    from advisor.show import exports
    from advisor.show.text import sky_text
    from geo.places import parse_place

    where = parse_place(station.place)
    times = hours_from(start_time(start), hours)
    local = checked_zone(zone) if zone else station.time_zone
    seen = sky_table(where, times, solar_index(times, r12, flux))
    if as_json:
        inputs = {
            "place": where.label,
            "lat_deg": where.lat_deg,
            "lon_deg": where.lon_deg,
        }
        inputs |= {"solar": seen.solar_basis}
        text = exports.to_json(inputs, seen.rows, provenance(), sun=seen.sun)
    elif as_csv:
        text = exports.rows_csv(seen.rows)
    else:
        text = sky_text(seen, local) + "\n"
        if is_demo:
            text = f"Demonstration (no station and no place given).\n{text}"
    write(text, output, overwrite)
