"""Where the power of a wire comes down."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands import options as opt
from advisor.commands.common import cache_dir
from advisor.commands.emit import Report, emit, geojson_option
from advisor.commands.options import option
from advisor.commands.question import query_for
from advisor.commands.sheets import answer_options, write_sheet

_AROUND = "within 2500 km"


@click.command()
@option("--to TARGET", "Look towards this target only; default all round.", "target")
@opt.weights_option
@opt.station_options
@opt.bands_option
@opt.time_options
@opt.sky_options
@geojson_option
@answer_options
def reach(
    target: str | None,
    sheet_file: Path | None,
    brief: bool,
    **options: Any,
) -> None:
    """
    Say whether a wire is for short skip or for far away, band by band and hour by hour.

    \b
    Examples:
      skiplobe reach                            (the wires of the demonstration)
      skiplobe reach --from KF07jo --shape dipole --height-m 5 --band "40 m"
      skiplobe reach --station hill.toml --to KE

    Each ray of the wire is followed through its first hop: how much of the power comes
    down within 800 km, up to 2500 km and beyond, and how much is lost.
    """  # noqa: D301
    options["targets"] = () if target is None else (target,)
    query = query_for(options, around=_AROUND)
    from dataclasses import replace

    from advisor.answers.far_places import reach as reaching
    from advisor.answers.rows.inputs import question_inputs
    from advisor.answers.rows.reach import FORM, reach_rows
    from advisor.show.formats.geojson import reach_features
    from advisor.show.text.reach import reach_details, reach_text

    found = reaching.reach(
        query.question, towards=target is not None, cache_dir=cache_dir(options)
    )
    inputs = question_inputs(query.question)
    if target is None:
        inputs = replace(inputs, targets=(), weights=())
    report = Report(
        FORM,
        inputs,
        lambda: reach_text(found, brief=brief),
        rows=lambda: reach_rows(found),
        details=lambda: reach_details(found),
        features=lambda: reach_features(found),
        note=query.note("no station and no place given"),
        first=(),
    )
    emit(report, query.provenance)
    if sheet_file is not None:
        from functools import partial

        from advisor.show.page.reach import reach_sheet

        first = query.question.times[0]
        write_sheet(sheet_file, first, report, partial(reach_sheet, found))
