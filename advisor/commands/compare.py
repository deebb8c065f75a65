"""Set-ups side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands.asking import asked
from advisor.commands.common import cache_dir
from advisor.commands.options import brief_option, question_options
from advisor.commands.output import check_output, output_options, write
from advisor.commands.provenance import told
from advisor.commands.sheets import check_sheet, sheet_option, write_answer_sheet


@click.command()
@question_options
@sheet_option
@brief_option
@output_options
def compare(
    sheet_file: Path | None,
    brief: bool,
    as_json: bool,
    as_csv: bool,
    as_ecsv: bool,
    output: Path | None,
    overwrite: bool,
    **words: Any,
) -> None:
    """
    Rank the station's set-ups on one question, and say why the first one wins.

    \b
    Examples:
      skiplobe compare                          (the shipped demonstration)
      skiplobe compare --station hill.toml --to KE --band "20 m"

    Chance and margin by band and hour, and dB over a quarter-wave vertical on the
    ground and over a half-wave dipole of the same height, at the angles that matter.
    """  # noqa: D301
    check_output()
    check_sheet(sheet_file, overwrite)
    put = asked(words)
    made = put.made_from()
    question = put.question
    from advisor.answers import compare as comparison

    found = comparison.compare(question, cache_dir(words))
    declination = question.declination_deg
    from advisor.show.formats import exports
    from advisor.show.formats.ecsv import rows_ecsv
    from advisor.show.text.compare import compare_ranking, compare_rows, compare_text

    rows = compare_rows(found)
    inputs = exports.question_inputs(question)
    if as_json:
        text = exports.to_json(inputs, rows, made, **compare_ranking(found))
    elif as_csv:
        text = exports.rows_csv(rows)
    elif as_ecsv:
        text = rows_ecsv("compare", rows, inputs, made)
    else:
        text = put.introduced(compare_text(found, declination, brief=brief) + "\n")
    write(told(text, made), output, overwrite)
    if sheet_file is not None:
        from advisor.show.page.lead_sections import ranking_section

        write_answer_sheet(
            sheet_file,
            overwrite,
            found.advice,
            declination,
            cache_dir=cache_dir(words),
            zone=put.zone,
            is_demo=put.is_demo,
            lead=(ranking_section(found),),
        )
