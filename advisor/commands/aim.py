"""Which way to run the wire."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands.common import (
    cache_dir,
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
    help="Region, country, locator, LAT,LON or ring; may be repeated.",
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
@sheet_option
@output_options
def aim(
    targets: tuple[str, ...],
    weights: str,
    bands: tuple[str, ...],
    start: str | None,
    hours: int,
    r12: float | None,
    flux: float | None,
    long_path: bool,
    sheet_file: Path | None,
    as_json: bool,
    as_csv: bool,
    output: Path | None,
    overwrite: bool,
    **words: Any,
) -> None:
    """
    Say which way to run each wire, and what another bearing costs.

    \b
    Examples:
      skiplobe aim                              (the shipped demonstration)
      skiplobe aim --station hill.toml --to KE --to 155
      skiplobe aim --from KF07jo --to ZW --shape dipole --height-m 9 --band "20 m"

    With several targets: the bearing that serves all, what each loses by it, and
    whether two bearings beat one.
    """  # noqa: D301
    one_format(as_json, as_csv)
    check_sheet(sheet_file, overwrite)
    station, _, is_demo = station_for(words, has_targets=bool(targets))
    wanted = targets or station.to
    if not wanted:
        raise InputError("no target: name one with --to, or 'to = [...]' in the file")
    from advisor import aiming
    from advisor.ask import question_for
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
    found = aiming.aim(question, cache_dir(words))
    declination = declination_at(question.place, question.times)
    from advisor.show import exports
    from advisor.show.aim_text import aim_bearings, aim_rows, aim_text

    rows = aim_rows(found, declination)
    if as_json:
        inputs = exports.question_inputs(question)
        bearings = aim_bearings(found, declination)
        text = exports.to_json(
            inputs, rows, provenance(), bearing=bearings, varied=found.varied
        )
    elif as_csv:
        text = exports.rows_csv(rows)
    else:
        text = aim_text(found, declination) + "\n"
        if is_demo:
            text = (
                "Demonstration (no station, no place and no target given): an invented "
                f"operator on {station.name.removeprefix('demo: ')}.\n{text}"
            )
    write(text, output, overwrite)
    if sheet_file is not None:
        from advisor.ask import answer
        from advisor.show.lead_sections import bearing_section

        write_answer_sheet(
            sheet_file,
            overwrite,
            answer(question, cache_dir(words)),
            declination,
            cache_dir=cache_dir(words),
            zone=station.time_zone,
            is_demo=is_demo,
            lead=(bearing_section(found, declination),),
        )
