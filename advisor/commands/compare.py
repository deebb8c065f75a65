"""Set-ups side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands.common import cache_dir
from advisor.commands.emit import Report, emit
from advisor.commands.options import question_options
from advisor.commands.question import query_for
from advisor.commands.sheets import answer_options, write_answer_sheet


@click.command()
@question_options
@answer_options
def compare(sheet_file: Path | None, brief: bool, **options: Any) -> None:
    """
    Rank the station's set-ups on one question, and say why the first one wins.

    \b
    Examples:
      skiplobe compare                          (the shipped demonstration)
      skiplobe compare --station hill.toml --to KE --band "20 m"

    Chance and margin by band and hour, and dB over a quarter-wave vertical on the
    ground and over a half-wave dipole of the same height, at the angles that matter.
    """  # noqa: D301
    query = query_for(options)
    from advisor.answers import compare as comparison
    from advisor.answers.ask import answer
    from advisor.answers.rows.compare import FORM, compare_details, compare_rows
    from advisor.answers.rows.inputs import question_inputs
    from advisor.show.text.compare import compare_text

    cache = cache_dir(options)
    found = comparison.compare(answer(query.question, cache), cache)
    report = Report(
        FORM,
        question_inputs(query.question),
        lambda: compare_text(found, brief=brief),
        rows=lambda: compare_rows(found),
        details=lambda: compare_details(found),
        note=query.note(),
        first=(),
        own=lambda: found.cautions,
    )
    emit(report, query.provenance)
    if sheet_file is not None:
        from advisor.show.page.lead_sections import ranking_section

        write_answer_sheet(sheet_file, query, found.advice, [ranking_section(found)])
