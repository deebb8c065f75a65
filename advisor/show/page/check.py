"""A log held against what is told, as a sheet."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from advisor.answers.verification.check import Checked
from advisor.show.charts import reliability
from advisor.show.page.base_sections import inputs_sections
from advisor.show.page.sheet import Heading, Section, Sheet, picture
from advisor.show.text.cells import page_table
from advisor.show.text.check import (
    CONTACTS_ALONE,
    DIAGRAM,
    LEARNED,
    LEARNED_NOTE,
    LIMITS,
    NOTHING,
    NOTHING_LEARNED,
    SURPRISES,
    about_words,
    broken_words,
    key_words,
    limits_words,
    named_scores,
    part_columns,
    parts_of,
    score_columns,
    surprise_words,
    verdict,
)


def check_sheet(
    found: Checked,
    inputs: Mapping[str, Any],
    provenance: Mapping[str, Any],
    command: str,
    *,
    has_learned: bool = False,
    note: str = "",
) -> Sheet:
    """
    Set out a log against what is told as a page: words, diagram, parts, surprises.

    Parameters
    ----------
    found : Checked
        What `advisor.answers.verification.check.check` found.
    inputs : mapping
        What was understood, as in the JSON.
    provenance : mapping
        Version and checksums of tables.
    command : str
        What makes the same page again.
    has_learned : bool, optional
        Whether what the levels teach is wanted.
    note : str, optional
        Said on top, such as that it is the demonstration.

    Returns
    -------
    sheet : Sheet
        Ready for `advisor.show.page.sheet.sheet_html`.
    """
    told, limits = list(verdict(found)), tuple(limits_words(found.inputs))
    return Sheet(
        title=f"Is it true? {', '.join(found.inputs.files)} against what is told",
        about=(*((note,) if note else ()), about_words(found.inputs)),
        headings=tuple(
            Heading(about, finding.removeprefix(f"{about}: "), _sentence(rest))
            for about, finding, rest in told
            if about
        )
        or (Heading("The files", NOTHING, ""),),
        sections=(
            *_diagram(
                found, [f"{much}{rest}" for about, much, rest in told if not about]
            ),
            *_parts(found),
            *(learned_sections(found) if has_learned else ()),
            *_surprises(found),
            *((Section("limits", LIMITS, limits),) if limits else ()),
            *_broken(found),
            *inputs_sections(inputs, provenance),
        ),
        command=command,
        made_by=f"{provenance['program']} {provenance['version']}",
    )


def _sentence(rest: str) -> str:
    """Make a sentence of the second piece of one."""
    rest = rest.lstrip(" :;")
    if rest.startswith("("):
        rest = rest[1:].replace(")", "", 1)
    return f"{rest[:1].upper()}{rest[1:]}"


def _diagram(found: Checked, off: list[str]) -> tuple[Section, ...]:
    """Draw what came against what was told, with the scores and where it is off."""
    details = found.details
    if details.score is None:
        return ()
    return (
        Section(
            "diagram",
            "Told and came",
            lines=tuple(off),
            pictures=(
                picture(
                    "What came against what was told",
                    partial(reliability.figure, found),
                    reliability.alt_text(found),
                    "diagram",
                    page_table(
                        "What came, by tenths of what was told",
                        DIAGRAM,
                        [each for each in details.diagram if each.count],
                    ),
                ),
            ),
            tables=(
                page_table(
                    "Brier score, its parts and the skill over what is usual",
                    score_columns(),
                    named_scores(details),
                ),
            ),
        ),
    )


def _parts(found: Checked) -> tuple[Section, ...]:
    """Set out bands, hours, distances and ways, levels among them."""
    whole = found.rows[0]
    tables = tuple(
        page_table(_sentence(title), part_columns(title, whole), those)
        for title, those in parts_of(found.rows)
    )
    if not tables:
        return ()
    words = key_words(whole)
    return (Section("parts", "Part by part", (_sentence(words),), tables=tables),)


def learned_sections(found: Checked) -> tuple[Section, ...]:
    """
    Set out what the levels teach of the station.

    Parameters
    ----------
    found : Checked
        The answer.

    Returns
    -------
    sections : tuple of Section
        One.
    """
    proposed = found.details.corrections
    if not proposed:
        return (Section("learned", "What it teaches", (NOTHING_LEARNED,)),)
    table = page_table("Corrections of the station", LEARNED, proposed)
    alone = () if found.inputs.spots else (CONTACTS_ALONE,)
    words = (LEARNED_NOTE, *alone)
    return (Section("learned", "What it teaches", words, tables=(table,)),)


def _surprises(found: Checked) -> tuple[Section, ...]:
    """Name the surprises, each with the command that lays it open."""
    parts = [
        (came, title, [each for each in found.details.surprises if each.came == came])
        for came, title in SURPRISES
    ]
    return tuple(
        Section(
            "came" if came else "did-not-come",
            title,
            items=tuple((surprise_words(each), each.why) for each in worst),
        )
        for came, title, worst in parts
        if worst
    )


def _broken(found: Checked) -> tuple[Section, ...]:
    """Name the first broken rows."""
    if not found.details.broken_rows:
        return ()
    return (
        Section("broken", "Rows left out", tuple(broken_words(found)), folded=True),
    )
