"""Which way to run the wire."""

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
def aim(
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
    put = asked(words)
    question = put.question
    from advisor import aiming

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
        text = put.introduced(aim_text(found, declination) + "\n")
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
            zone=put.zone,
            is_demo=put.is_demo,
            lead=(bearing_section(found, declination),),
        )
