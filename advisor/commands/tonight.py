"""The main question: which band tonight."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands.common import (
    cache_dir,
    checked_zone,
    conditions_for,
    conditions_options,
    declination_at,
    one_format,
    output_options,
    provenance,
    solar_options,
    start_time,
    station_for,
    station_options,
    time_options,
    weights_option,
    write,
)
from advisor.commands.sheets import check_sheet, sheet_option, write_answer_sheet
from geo.errors import InputError


@click.command()
@click.option(
    "--to",
    "targets",
    multiple=True,
    metavar="TARGET",
    help="Region, country, locator, LAT,LON or 'within 800 km'; may be repeated.",
)
@weights_option
@station_options
@click.option(
    "--band", "bands", multiple=True, metavar="BAND", help="Only this band; repeatable."
)
@time_options
@solar_options
@conditions_options
@click.option("--long-path", is_flag=True, help="Go the long way round.")
@click.option("--local", "zone", metavar="ZONE", help="Local time of an IANA zone too.")
@sheet_option
@output_options
def tonight(
    targets: tuple[str, ...],
    weights: str,
    bands: tuple[str, ...],
    start: str | None,
    hours: int,
    r12: float | None,
    flux: float | None,
    long_path: bool,
    zone: str | None,
    sheet_file: Path | None,
    as_json: bool,
    as_csv: bool,
    output: Path | None,
    overwrite: bool,
    **words: Any,
) -> None:
    """
    Say which band, which bearing and how sure, hour by hour, and why.

    \b
    Examples:
      skiplobe tonight                          (the shipped demonstration)
      skiplobe tonight --station hill.toml --to 035
      skiplobe tonight --sheet hill.html        (the answer as one page too)
      skiplobe tonight --from KF07jo --to 1,37 --emission FT8 --power-w 5

    A target is a UN M49 region (035, "South-eastern Asia"), an ISO 3166 country (KE,
    Kenya), a grid locator, LAT,LON, or a ring such as "within 800 km".
    """  # noqa: D301
    one_format(as_json, as_csv)
    check_sheet(sheet_file, overwrite)
    station, _, is_demo = station_for(words, has_targets=bool(targets))
    wanted = targets or station.to
    if not wanted:
        raise InputError("no target: name one with --to, or 'to = [...]' in the file")
    local = checked_zone(zone) if zone else station.time_zone
    from advisor.ask import answer, question_for
    from advisor.bands import band_by_name

    first = start_time(start)
    question = question_for(
        station,
        wanted,
        first,
        hours,
        band_names=[band_by_name(name, station.iaru_region).name for name in bands],
        r12=r12,
        flux=flux,
        long_path=long_path,
        conditions=conditions_for(words, first),
        weights=weights,
    )
    advice = answer(question, cache_dir(words))
    declination = declination_at(question.place, question.times)
    from advisor.show import exports
    from advisor.show.text import advice_text

    if as_json:
        text = exports.advice_json(advice, declination, provenance())
    elif as_csv:
        text = exports.rows_csv(exports.advice_rows(advice))
    else:
        text = advice_text(advice, declination, local) + "\n"
        if is_demo:
            text = (
                "Demonstration (no station, no place and no target given): an invented "
                f"operator on {station.name.removeprefix('demo: ')}.\n{text}"
            )
    write(text, output, overwrite)
    if sheet_file is not None:
        write_answer_sheet(
            sheet_file,
            overwrite,
            advice,
            declination,
            cache_dir=cache_dir(words),
            zone=local,
            is_demo=is_demo,
        )
