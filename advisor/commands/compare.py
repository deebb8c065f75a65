"""Set-ups side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands.asking import asked, question_options
from advisor.commands.common import cache_dir, declination_at
from advisor.commands.output import one_format, output_options, provenance, write
from advisor.commands.sheets import check_sheet, sheet_option, write_answer_sheet


@click.command()
@question_options
@sheet_option
@output_options
def compare(
    sheet_file: Path | None,
    as_json: bool,
    as_csv: bool,
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
    one_format(as_json, as_csv)
    check_sheet(sheet_file, overwrite)
    put = asked(words)
    question = put.question
    from advisor import comparison

    found = comparison.compare(question, cache_dir(words))
    declination = declination_at(question.place, question.times)
    from advisor.show import exports
    from advisor.show.compare_text import compare_ranking, compare_rows, compare_text

    rows = compare_rows(found)
    if as_json:
        inputs = exports.question_inputs(question)
        text = exports.to_json(inputs, rows, provenance(), **compare_ranking(found))
    elif as_csv:
        text = exports.rows_csv(rows)
    else:
        text = put.introduced(compare_text(found, declination) + "\n")
    write(text, output, overwrite)
    if sheet_file is not None:
        from advisor.show.lead_sections import ranking_section

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
