"""Where the power of each set-up comes down, as a sheet."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import partial
from typing import Any

import numpy as np

from advisor.answers.far_places.reach import Reach, SetUpReach
from advisor.show.charts import landings
from advisor.show.charts.style import hour_of
from advisor.show.page.base_sections import (
    GLOSSARY,
    brief_cautions_section,
    inputs_sections,
)
from advisor.show.page.sheet import Heading, Section, Sheet, picture
from advisor.show.text.cells import Column, page_table
from advisor.show.text.reach import (
    NEAREST,
    asked_words,
    hung_words,
    nearest_columns,
    notes_words,
    sentence,
    shares_columns,
)

_METRES = re.compile(r"(?<=\d) m\b")


def reach_sheet(
    reach: Reach,
    inputs: Mapping[str, Any],
    provenance: Mapping[str, Any],
    command: str,
    note: str = "",
) -> Sheet:
    """
    Set out where the power comes down as a page.

    Parameters
    ----------
    reach : Reach
        What `advisor.answers.far_places.reach.reach` found.
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
    asked, *assumed = asked_words(reach)
    hours, nearest = range(reach.question.times.size), nearest_columns(reach)
    return Sheet(
        title=f"Short skip or far away, from {reach.question.here}",
        about=(*((note,) if note else ()), f"{asked}.", *assumed),
        headings=tuple(_heading(reach, setup) for setup in reach.setups),
        sections=(
            *(_section(reach, setup, n) for n, setup in enumerate(reach.setups, 1)),
            Section(
                "skip",
                "Skip zone",
                lines=(NEAREST,),
                tables=(
                    page_table(
                        "Nearest distance served, km",
                        [_utc(reach), *nearest],
                        hours,
                    ),
                ),
            ),
            brief_cautions_section(),
            Section("figures", "Figures", lines=(notes_words(reach),), folded=True),
            *inputs_sections(inputs, provenance),
            Section("words", "Words", items=GLOSSARY, folded=True),
        ),
        command=command,
        made_by=f"{provenance['program']} {provenance['version']}",
    )


def _utc(reach: Reach) -> Column[int]:
    """Name an hour at the beginning of its row."""
    return Column("UTC", lambda t: hour_of(reach.question.times[t]))


def _heading(reach: Reach, setup: SetUpReach) -> Heading:
    """Say what kind of wire it is on each band."""
    hung = hung_words(reach, setup).removeprefix(setup.name).strip(" ,()")
    if not setup.works.any():
        return Heading(setup.name, "Not cut for any of these bands", "")
    told = landings.verdict_words(reach, setup)
    hour = hour_of(reach.question.times[reach.noon])
    return Heading(
        setup.name,
        _METRES.sub("\N{NO-BREAK SPACE}m", told),
        f"At {hour}, with the sun highest{'; ' if hung else ''}{hung}.",
    )


def _section(reach: Reach, setup: SetUpReach, place: int) -> Section:
    """Set out one set-up: sentences, picture, shares by hour."""
    if not setup.works.any():
        return Section(
            f"set-up-{place}", setup.name, lines=(f"{hung_words(reach, setup)}",)
        )
    columns = shares_columns(reach, setup)
    return Section(
        f"set-up-{place}",
        setup.name,
        lines=tuple(
            sentence(reach, setup, b) for b in np.flatnonzero(setup.works).tolist()
        ),
        pictures=(
            picture(
                f"{setup.name} hour by hour",
                partial(landings.figure, reach, setup),
                landings.alt_text(reach, setup),
                f"landings-{place}",
                page_table(
                    f"{setup.name}: power that comes down near/mid/far, per cent",
                    [_utc(reach), *columns],
                    range(reach.question.times.size),
                ),
            ),
        ),
    )
