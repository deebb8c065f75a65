"""One figure laid open as a sheet: words first, then the sum as a picture."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from advisor.answers.why_facts import Why
from advisor.answers.words import days_in_ten, what_a_chance_is
from advisor.engine.question import Question
from advisor.show.charts import way_sum as sum_chart
from advisor.show.page.base_sections import (
    GLOSSARY,
    brief_cautions_section,
    inputs_sections,
)
from advisor.show.page.sheet import Heading, Picture, Section, Sheet, picture
from advisor.show.text.cells import Cell, Table, page_table
from advisor.show.text.way_sum import (
    NOISE_TITLE,
    noise_rows,
    sum_columns,
    sum_names,
    sum_words,
    way_notes,
)
from advisor.show.text.why import (
    DIRECTIONS,
    NO_MODE,
    asked_words,
    change_columns,
    changes_title,
    layers_words,
    limit_words,
    mode_columns,
    mode_notes,
    opening_words,
    path_words,
    place_columns,
    result_words,
    sure_words,
    wire_words,
)


def why_sheet(
    why: Why,
    question: Question,
    inputs: Mapping[str, Any],
    provenance: Mapping[str, Any],
    command: str,
    note: str = "",
) -> Sheet:
    """
    Set out one figure as a page.

    Parameters
    ----------
    why : Why
        What `advisor.answers.why.explain_chance` found.
    question : Question
        What was asked.
    inputs : mapping
        What was understood, as in the JSON.
    provenance : mapping
        Version and checksums of tables.
    command : str
        What makes the same page again.
    note : str, optional
        Said on top, such as that it is the demonstration.

    Returns
    -------
    sheet : Sheet
        Ready for `advisor.show.page.sheet.sheet_html`.
    """
    asked = asked_words(why, question)
    meant = ("days in ten", what_a_chance_is(question))
    sure, _, spread = sure_words(why.whole).partition("; ")
    changes, _, now = changes_title(why).removesuffix(")").partition(" (")
    return Sheet(
        title=f"{why.band} to {why.target} at {why.utc}",
        about=(
            *((note,) if note else ()),
            f"{asked[0].upper()}{asked[1:]}.",
            *question.assumed,
        ),
        headings=(
            Heading(
                f"{why.band} to {why.target}",
                f"{days_in_ten(why.whole.chance)}. {limit_words(why.whole)}."
                f"{opening_words(why)}",
                f"{sure}.",
                f"It may be {spread}." if spread else "",
            ),
            _wire_heading(why),
        ),
        sections=(
            _sum(why),
            _noise(why),
            Section(
                "changes",
                changes,
                tables=(
                    page_table(
                        f"One thing changed at a time, {now}",
                        change_columns(),
                        why.changes,
                    ),
                ),
                stays=True,
            ),
            _path(why),
            brief_cautions_section(),
            *inputs_sections(inputs, provenance),
            Section("words", "Words", items=(meant, *GLOSSARY), folded=True),
        ),
        command=command,
        made_by=f"{provenance['program']} {provenance['version']}",
    )


def _wire_heading(why: Why) -> Heading:
    """Say how the wire hangs and where it is strongest."""
    words = wire_words(why).replace("; --bearing-deg for another", "")
    hung, _, strongest = words.partition(": ")[2].rpartition("; ")
    return Heading(
        why.setup,
        f"{hung[0].upper()}{hung[1:]}",
        f"{strongest[0].upper()}{strongest[1:]}",
    )


def _sum(why: Why) -> Section:
    """Say the sum and draw it."""
    words = tuple(each for each in [sum_words(why)] if each)
    return Section(
        "sum",
        "From the sender to the ear",
        lines=(
            f"In the worse direction: {DIRECTIONS[why.direction]}.",
            *words,
            *way_notes(why),
            result_words(why),
        ),
        pictures=(_picture(why),) if why.budgets else (),
    )


def _noise(why: Why) -> Section:
    """Set out the noise that the sum ends in."""
    head, rows = noise_rows(why)
    return Section(
        "noise",
        "The noise there",
        tables=(
            Table(
                NOISE_TITLE,
                ("source", *head[1:]),
                tuple(
                    (*(Cell(each) for each in figures), Cell(source, look="words"))
                    for *figures, source in rows
                ),
            ),
        ),
    )


def _picture(why: Why) -> Picture:
    """Draw the sum of the first way; its data are those of all ways."""
    return picture(
        "What is gained and lost on the way",
        partial(sum_chart.figure, why),
        sum_chart.alt_text(why),
        "sum",
        page_table(
            "Sums of the ways with most chance, dB",
            sum_columns(why),
            sum_names(why),
            key="sums",
        ),
    )


def _path(why: Why) -> Section:
    """Tell the way there and every hop on it."""
    modes = page_table("Hops", mode_columns(), why.modes, note=mode_notes(why))
    places = page_table("Places along the path", place_columns(), why.control_points)
    return Section(
        "path",
        "The path and its hops",
        lines=(
            *path_words(why),
            layers_words(why),
            *(() if why.modes else (NO_MODE,)),
        ),
        tables=(modes, places) if why.modes else (places,),
    )
