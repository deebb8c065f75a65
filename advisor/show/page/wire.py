"""What wires do as a sheet: verdicts, feed, gain, how to hang them; no sky in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from advisor.answers.pictures.keepclear import KeepClear
from advisor.answers.pictures.swr import SwrCurve
from advisor.answers.wire import WireWork, own_cautions
from advisor.show.charts import swr, wire
from advisor.show.page.base_sections import (
    cautions_section,
    inputs_sections,
    metres_up,
)
from advisor.show.page.sheet import (
    Cell,
    Heading,
    Picture,
    Section,
    Sheet,
    Table,
    number,
    picture,
    plain_rows,
)
from advisor.show.text.exposure import FORMULA_MARK, method_words
from advisor.show.text.wire import supports_words, verdict_words
from advisor.station.setup import EACH_BAND


def wire_sheet(
    works: Sequence[WireWork],
    inputs: Mapping[str, Any],
    provenance: Mapping[str, Any],
    command: str,
    note: str = "",
) -> Sheet:
    """
    Set out what one or more set-ups do as a page.

    Parameters
    ----------
    works : sequence of WireWork
        What `advisor.answers.wire.wire_work` found.
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
        + f", top {hangs.top_m:.1f} m up; supports: {supports_words(hangs.supports)}."
    )


def _section(work: WireWork, place: int) -> Section:
    """Set out one set-up."""
    refused = tuple(f"{band} is not hung: {why}" for band, why in work.refused)
    return Section(
        f"wire-{place}",
        work.setup.name,
        lines=refused,
        tables=(_sky(work), _feed(work), _hanging(work)),
        pictures=tuple(_pictures(work, place)),
    )


def _sky(work: WireWork) -> Table:
    """Set out what each band is good for, and where its power goes."""
    return Table(
        f"{work.setup.name}: what each band is good for",
        (
            "band", "good for", "0-800 km %", "to 2500 %", "beyond %", "at 10 deg dBi",
            "above vertical dB", "to sky %",
        ),
        tuple(
            (
                Cell(band.band),
                Cell(
                    verdict_words(band.sky.verdict, band.sky.reaches_far), "", "words"
                ),
                *(number(100.0 * share, 0) for share in band.sky.zones),
                number(band.sky.low.gain_dbi),
                number(band.sky.low.over_vertical_db),
                number(
                    100.0 * band.sky.efficiency * 10.0 ** (-band.feed.loss_db / 10.0), 0
                ),
            )
            for band in work.bands
        ),
        note="Shares of the radiated power by where one hop lands; 'to sky' is what is "
        "left of the radio's power.",
    )  # fmt: skip


def _feed(work: WireWork) -> Table:
    """Set out what the radio sees and what is lost on the way."""
    return Table(
        f"{work.setup.name}: what the radio sees",
        (
            "band", "wire ohm", "SWR", "transformer", "feed loss dB", "feedpoint V",
            "feedpoint A", "keep clear",
        ),
        tuple(
            (
                Cell(band.band),
                Cell(
                    f"{band.feed.wire_ohm.real:.0f} "
                    f"{'-' if band.feed.wire_ohm.imag < 0 else '+'} "
                    f"j{abs(band.feed.wire_ohm.imag):.0f}"
                ),
                number(band.feed.radio_swr),
                Cell(band.feed.transformer),
                number(band.feed.loss_db),
                number(band.feed.voltage_v, 0),
                number(band.feed.current_a, 2),
                metres_up(
                    band.exposure.distance_m,
                    "" if band.exposure.solved else f" {FORMULA_MARK}",
                ),
            )
            for band in work.bands
        ),
        note=f"At {work.power_w:g} W, on the planning frequency. Keep clear: "
        "follow your local rules. "
        f"{method_words(band.exposure for band in work.bands)}",
    )  # fmt: skip


def _hanging(work: WireWork) -> Table:
    """Set out what to cut, and how high it hangs."""
    return Table(
        f"{work.setup.name}: what to cut and where to hang it",
        ("cut for", "wire", "fed against", "top", "lowest", "feed", "span"),
        tuple(
            (
                Cell(band.band if work.setup.cut == EACH_BAND else "all bands"),
                number(band.hanging.wire_m, 2, "m"),
                Cell(
                    f"{band.hanging.below_n} x {band.hanging.below_m:.2f} m"
                    if band.hanging.below_n
                    else "-"
                ),
                number(band.hanging.top_m, 1, "m"),
                number(band.hanging.lowest_m, 1, "m"),
                number(band.hanging.feed_m, 1, "m"),
                number(band.hanging.span_m, 1, "m"),
            )
            for band in (work.bands if work.setup.cut == EACH_BAND else work.bands[:1])
        ),
    )


def _pictures(work: WireWork, place: int) -> list[Picture]:
    """Sketch, gain and SWR of one set-up."""
    found = []
    first = work.bands[0]
    if first.hung is not None:
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
            _gains(work),
        )
    )
    curves = wire.swr_curves(work)
    if curves:
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


def _gains(work: WireWork) -> Table:
    """Gain at each angle told, in the best direction there."""
    angles = [each.takeoff_deg for each in work.bands[0].sky.angles]
    return Table(
        f"{work.setup.name}: gain in the best direction of each take-off angle, dBi",
        ("band", *(f"{angle:g} deg" for angle in angles)),
        tuple(
            (Cell(band.band), *(number(each.gain_dbi) for each in band.sky.angles))
            for band in work.bands
        ),
    )


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
