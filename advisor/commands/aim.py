"""Which way to run the wire."""

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
def aim(
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
    Say which way to run each wire, and what another bearing costs.

    \b
    Examples:
      skiplobe aim                              (the shipped demonstration)
      skiplobe aim --station hill.toml --to KE --to 155
      skiplobe aim --from KF07jo --to ZW --shape dipole --height-m 9 --band "20 m"

    With several targets: the bearing that serves all, what each loses by it, and
    whether two bearings beat one.
    """  # noqa: D301
    check_output()
    check_sheet(sheet_file, overwrite)
    put = asked(words)
    made = put.made_from()
    question = put.question
    from advisor.answers import aim as aiming

    found = aiming.aim(question, cache_dir(words))
    declination = question.declination_deg
    from advisor.show.formats import exports
    from advisor.show.formats.ecsv import rows_ecsv
    from advisor.show.formats.schemas import columns_of
    from advisor.show.text.aim import aim_bearings, aim_rows, aim_text

    rows = aim_rows(found, declination)
    inputs = exports.question_inputs(question)
    if as_json:
        bearings = aim_bearings(found, declination)
        text = exports.to_json(
            inputs, rows, made, bearing=bearings, varied=found.varied
        )
    elif as_csv:
        text = exports.rows_csv(rows, columns_of("aim"))
    elif as_ecsv:
        text = rows_ecsv("aim", rows, inputs, made)
    else:
        text = put.introduced(aim_text(found, declination, brief=brief) + "\n")
    write(told(text, made), output, overwrite)
    if sheet_file is not None:
        from advisor.answers.ask import answer
        from advisor.show.page.lead_sections import bearing_sections

        write_answer_sheet(
            sheet_file,
            overwrite,
            answer(question, cache_dir(words)),
            declination,
            cache_dir=cache_dir(words),
            zone=put.zone,
            is_demo=put.is_demo,
            lead=bearing_sections(found, declination),
        )
