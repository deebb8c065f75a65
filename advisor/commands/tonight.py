"""The main question: which band tonight."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands.asking import asked
from advisor.commands.common import cache_dir
from advisor.commands.options import brief_option, question_options, zone_option
from advisor.commands.output import check_output, geojson_option, output_options, write
from advisor.commands.provenance import told
from advisor.commands.sheets import check_sheet, sheet_option, write_answer_sheet


@click.command()
@question_options
@zone_option
@sheet_option
@geojson_option
@brief_option
@output_options
def tonight(
    sheet_file: Path | None,
    brief: bool,
    as_json: bool,
    as_csv: bool,
    as_ecsv: bool,
    as_geojson: bool,
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
    check_output()
    check_sheet(sheet_file, overwrite)
    put = asked(words)
    made = put.made_from()
    question = put.question
    from advisor.answers.ask import answer

    advice = answer(question, cache_dir(words))
    declination = question.declination_deg
    from advisor.show.formats import exports
    from advisor.show.text.tonight import advice_text

    if as_json:
        text = exports.advice_json(advice, declination, made)
    elif as_csv:
        text = exports.rows_csv(exports.advice_rows(advice))
    elif as_ecsv:
        from advisor.show.formats.ecsv import rows_ecsv

        inputs = exports.question_inputs(question)
        text = rows_ecsv("tonight", exports.advice_rows(advice), inputs, made)
    elif as_geojson:
        from advisor.answers.pictures.points import point_chances
        from advisor.answers.pictures.scene import scene_for
        from advisor.show.formats.geojson import collection, tonight_features

        points = point_chances(scene_for(advice, cache_dir(words)))
        features = tonight_features(
            question.place, points, long_path=question.long_path
        )
        text = collection(features, exports.question_inputs(question), made)
    else:
        text = put.introduced(
            advice_text(advice, declination, put.zone, brief=brief) + "\n"
        )
    write(told(text, made), output, overwrite)
    if sheet_file is not None:
        write_answer_sheet(
            sheet_file,
            overwrite,
            advice,
            declination,
            cache_dir=cache_dir(words),
            zone=put.zone,
            is_demo=put.is_demo,
        )
