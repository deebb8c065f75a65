"""The sky over a place, and over a path if one is wanted, as a sheet."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from advisor.answers.hours import asked_hours
from advisor.answers.skies.path_sky import SkyPath
from advisor.answers.skies.sky import SkyTable
from advisor.answers.words import place_words
from advisor.show.charts import skyday
from advisor.show.charts.style import hour_of
from advisor.show.page.base_sections import GLOSSARY, inputs_sections
from advisor.show.page.sheet import Heading, Section, Sheet, picture
from advisor.show.text.cells import Column, Table, page_table, plain_rows
from advisor.show.text.layout import local_hours
from advisor.show.text.sky import (
    LAYERS_NOTE,
    MUF_TITLE,
    SKIP_NOTE,
    SKIP_TITLE,
    SUN_NOTE,
    layers_columns,
    muf_columns,
    path_columns,
    path_words,
    skip_columns,
    sun_rows,
    sun_words,
)

_BANDS_A_TABLE = 5


def sky_sheet(
    seen: SkyTable,
    path: SkyPath | None,
    inputs: Mapping[str, Any],
    provenance: Mapping[str, Any],
    command: str,
    zone: str | None = None,
    note: str = "",
) -> Sheet:
    """
    Set out the sky as a page.

    Parameters
    ----------
    seen : SkyTable
        What `advisor.answers.skies.sky.sky_table` found.
    path : SkyPath or None
        What `advisor.answers.skies.path_sky.sky_path` found, if a path is wanted.
    inputs : mapping
        What was understood, as in the JSON.
    provenance : mapping
        Version and checksums of tables.
    command : str
        What makes the same page again.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.
    note : str, optional
        Said on top, such as that it is the demonstration.

    Returns
    -------
    sheet : Sheet
        Ready for `advisor.show.page.sheet.sheet_html`.
    """
    to = f" and on the way to {path.facts.target}" if path else ""
    return Sheet(
        title=f"Sky over {seen.place.label}{to}",
        about=(
            *((note,) if note else ()),
            f"{place_words(seen.place)}, {asked_hours(seen.times, zone)}, "
            f"{seen.solar_basis}. Monthly medians.",
            *seen.assumed,
        ),
        headings=_headings(seen, path),
        sections=(
            *((_path(seen, path, zone),) if path else ()),
            _layers(seen, zone),
            Section(
                "distance",
                "Over distance",
                tables=(
                    _hours(seen, MUF_TITLE, muf_columns(seen), zone),
                    *_skips(seen, zone),
                ),
            ),
            *inputs_sections(inputs, provenance),
            Section("words", "Words", items=GLOSSARY, folded=True),
        ),
        command=command,
        made_by=f"{provenance['program']} {provenance['version']}",
    )


def _headings(seen: SkyTable, path: SkyPath | None) -> tuple[Heading, ...]:
    """Say what comes back, over the path first."""
    here = Heading(
        f"Over {seen.place.label}",
        skyday.layers_alt_text(seen),
        f"Sunrise and sunset: {sun_words(seen.sun)}.",
    )
    if path is None:
        return (here,)
    facts = path.facts
    finding = skyday.path_alt_text(seen, path).removeprefix(f"To {facts.target} ")
    there = Heading(
        f"To {facts.target}",
        f"{finding[0].upper()}{finding[1:]}",
        f"{facts.distance_km:.0f} km, bearing {facts.bearing_deg:03.0f} true.",
    )
    return there, here


def _hours(
    seen: SkyTable,
    caption: str,
    columns: list[Column[int]],
    zone: str | None,
    note: str = "",
) -> Table:
    """Set out columns hour by hour."""
    first = [Column[int]("UTC", lambda t: hour_of(seen.times[t]))]
    if zone:
        here = local_hours(seen.times, zone)
        first.append(Column("local", lambda t: here[t]))
    return page_table(
        caption,
        [*first, *columns],
        range(seen.times.size),
        note=note,
    )


def _skips(seen: SkyTable, zone: str | None) -> list[Table]:
    """Set out skip distances, so many bands a table as fit on a phone."""
    columns = skip_columns(seen)
    starts = range(0, len(columns), _BANDS_A_TABLE)
    return [
        _hours(
            seen,
            SKIP_TITLE if not n else f"{SKIP_TITLE}, higher bands",
            columns[n : n + _BANDS_A_TABLE],
            zone,
            SKIP_NOTE if n == starts[-1] else "",
        )
        for n in starts
    ]


def _layers(seen: SkyTable, zone: str | None) -> Section:
    """Draw the layers over the day; their figures are the picture's data."""
    return Section(
        "layers",
        "The layers",
        pictures=(
            picture(
                "What comes back over the day",
                partial(skyday.layers_figure, seen),
                skyday.layers_alt_text(seen),
                "layers",
                _hours(
                    seen, "Layers, MHz and km", layers_columns(seen), zone, LAYERS_NOTE
                ),
            ),
        ),
    )


def _path(seen: SkyTable, path: SkyPath, zone: str | None) -> Section:
    """Draw what can be used over the path; then the sun along it."""
    where, columns = path_words(path)
    head, rows = sun_rows(path.facts.sun)
    return Section(
        "path",
        f"To {path.facts.target}",
        lines=(where,),
        pictures=(
            picture(
                "What can be used over the day",
                partial(skyday.path_figure, seen, path),
                skyday.path_alt_text(seen, path),
                "path",
                _hours(
                    seen,
                    f"Usable frequencies to {path.facts.target}, MHz",
                    path_columns(path),
                    zone,
                    columns,
                ),
            ),
        ),
        tables=(
            Table(
                "The sun along the path",
                ("place", *head[1:]),
                plain_rows(rows),
                note=SUN_NOTE,
            ),
        ),
    )
