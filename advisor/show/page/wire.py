"""What wires do as a sheet: verdicts, feed, gain, how to hang them; no sky in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import groupby
from typing import Any

from advisor.answers.one_wire.site import SiteWork
from advisor.answers.one_wire.wire import WireWork, own_cautions
from advisor.answers.pictures.keepclear import KeepClear
from advisor.answers.pictures.swr import SwrCurve
from advisor.show.charts import site, swr, wire
from advisor.show.page.base_sections import (
    cautions_section,
    inputs_sections,
)
from advisor.show.page.sheet import Heading, Picture, Section, Sheet, picture
from advisor.show.text.cells import Cell, Table, number, page_table, plain_rows
from advisor.show.text.exposure import method_words
from advisor.show.text.hanging import hanging_columns, hangings, supports_words
from advisor.show.text.site import gain_columns as gain_columns_by_bearing
from advisor.show.text.site import ground_columns, site_words
from advisor.show.text.wire import (
    feed_columns,
    gain_columns,
    line_columns,
    lines_of,
    verdict_columns,
)
from advisor.station.setup import EACH_BAND


def wire_sheet(
    works: Sequence[WireWork],
    inputs: Mapping[str, Any],
    provenance: Mapping[str, Any],
    command: str,
    note: str = "",
    sites: Sequence[SiteWork] = (),
) -> Sheet:
    """
    Set out what one or more set-ups do as a page.

    Parameters
    ----------
    works : sequence of WireWork
        What `advisor.answers.one_wire.wire.wire_work` found.
    inputs : mapping
        What was understood, as in the JSON.
    provenance : mapping
        Version and checksums of tables.
    command : str
        What makes the same page again.
    note : str, optional
        Said on top, such as that it is the demonstration.
    sites : sequence of SiteWork, optional
        The same over the ground around, if asked for.

    Returns
    -------
    sheet : Sheet
        Ready for `advisor.show.page.sheet.sheet_html`.
    """
    first = works[0]
    return Sheet(
        title=", ".join(work.setup.name for work in works),
        about=(
            *((note,) if note else ()),
            f"{first.emission.name} {first.power_w:g} W over {first.ground} ground.",
        ),
        headings=tuple(
            Heading(
                f"{work.setup.name} ({work.setup.shape})",
                wire.alt_text(work).partition(": ")[2],
                _hung_words(work),
            )
            for work in works
        ),
        sections=(
            *(_section(work, place) for place, work in enumerate(works, start=1)),
            *(_over_ground(each, place) for place, each in enumerate(sites, start=1)),
            # Nothing of a wire's page is left for later pages: no break.
            replace(
                cautions_section(
                    [
                        KeepClear(
                            work.setup.name, band.band, band.mean_w, band.exposure
                        )
                        for work in works
                        for band in work.bands
                    ],
                    f"{first.emission.name} {first.power_w:g} W",
                    own_cautions(works),
                ),
                front=False,
            ),
            *inputs_sections(inputs, provenance),
        ),
        command=command,
        made_by=f"{provenance['program']} {provenance['version']}",
    )


def _hung_words(work: WireWork) -> str:
    """Say what it takes to hang a set-up."""
    hangs = work.bands[0].hanging
    return (
        f"{hangs.wire_m:.2f} m of wire"
        + (f" on {work.bands[0].band}" if work.setup.cut == EACH_BAND else "")
        + f", top {hangs.top_m:.1f} m up; supports: {supports_words(hangs)}."
    )


def _section(work: WireWork, place: int) -> Section:
    """Set out one set-up."""
    refused = tuple(f"{band} is not hung: {why}" for band, why in work.refused)
    return Section(
        f"wire-{place}",
        work.setup.name,
        lines=refused,
        tables=_tables(work),
        pictures=tuple(_pictures(work, place)),
    )


def _over_ground(seen: SiteWork, place: int) -> Section:
    """Set out one set-up over the ground around."""
    tables = [
        page_table(
            f"{seen.name} on {band}: dBi by true bearing and angle, in brackets what "
            "the hills give, dB",
            gain_columns_by_bearing(seen),
            tuple(rows),
        )
        for band, rows in groupby(seen.bearings, lambda each: each.band)
    ]
    ground = page_table("Ground over yours, m", ground_columns(), seen.profiles)
    return Section(
        f"site-{place}",
        f"{seen.name} over the ground around",
        lines=(f"{seen.name} {site_words(seen)}",),
        tables=tuple(tables),
        pictures=(
            picture(
                f"{seen.name} over the ground around",
                partial(site.figure, seen),
                site.alt_text(seen),
                f"site-picture-{place}",
                ground,
            ),
        ),
    )


def _tables(work: WireWork) -> tuple[Table, ...]:
    """Set out what each band is good for, what the radio sees, what to cut."""
    name = work.setup.name
    note, rows = lines_of(work)
    title = f"{name}: on the outside of the line"
    line = (page_table(title, line_columns(), rows, note=f"{note}."),) if rows else ()
    return (
        page_table(
            f"{name}: what each band is good for",
            verdict_columns(),
            work.bands,
            note="Shares of the radiated power by where one hop lands; 'to sky' is "
            "what is left of the radio's power.",
        ),
        page_table(
            f"{name}: what the radio sees",
            feed_columns(),
            work.bands,
            note=f"At {work.power_w:g} W, on the planning frequency. Keep clear: "
            "follow your local rules. "
            f"{method_words(band.exposure for band in work.bands)}",
        ),
        *line,
        page_table(
            f"{name}: what to cut and where to hang it",
            hanging_columns(work.setup),
            hangings(work),
        ),
    )


def _pictures(work: WireWork, place: int) -> list[Picture]:
    """Sketch, gain and SWR of one set-up."""
    found = []
    first = work.bands[0]
    words = wire.sketch_words(first.hung, first.hanging.supports)
    sizes = [[key, f"{value:.2f}"] for key, value in first.hanging.sizes]
    found.append(
        picture(
            f"{work.setup.name} from the side and from above",
            partial(wire.sketch_figure, first.hung, work.setup.name),
            words,
            f"sketch-{place}",
            Table(
                f"{work.setup.name} on {first.band}: dimensions, in the unit their "
                "name ends in",
                ("dimension", "value"),
                plain_rows(sizes),
            ),
        )
    )
    found.append(
        picture(
            f"{work.setup.name}: gain",
            partial(wire.figure, work),
            wire.alt_text(work),
            f"gain-{place}",
            page_table(
                f"{work.setup.name}: gain in the best direction of each take-off "
                "angle, dBi",
                gain_columns(work),
                work.bands,
            ),
        )
    )
    curves = wire.swr_curves(work)
    found.append(
        picture(
            f"{work.setup.name}: SWR over each band",
            partial(swr.figure, work.setup.name, curves),
            swr.alt_text(work.setup.name, curves),
            f"swr-{place}",
            _swr(work.setup.name, curves),
        )
    )
    return found


def _swr(name: str, curves: Sequence[SwrCurve]) -> Table:
    """SWR at low end, best and high end of each band."""
    return Table(
        f"{name}: SWR at the radio",
        ("band", "low end", "best", "at MHz", "high end"),
        tuple(
            (
                Cell(curve.band),
                number(float(curve.swr[0])),
                number(float(curve.swr.min())),
                number(float(curve.frequency_mhz[curve.swr.argmin()]), 3),
                number(float(curve.swr[-1])),
            )
            for curve in curves
        ),
    )
