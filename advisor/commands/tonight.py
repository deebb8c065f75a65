"""The main question: which band tonight."""

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
@click.option("--local", "zone", metavar="ZONE", help="Local time of an IANA zone too.")
@sheet_option
@output_options
def tonight(
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
    put = asked(words)
    question = put.question
    from advisor.ask import answer

    advice = answer(question, cache_dir(words))
    declination = declination_at(question.place, question.times)
    from advisor.show import exports
    from advisor.show.text import advice_text

    if as_json:
        text = exports.advice_json(advice, declination, provenance())
    elif as_csv:
        text = exports.rows_csv(exports.advice_rows(advice))
    else:
        text = put.introduced(advice_text(advice, declination, put.zone) + "\n")
    write(text, output, overwrite)
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
