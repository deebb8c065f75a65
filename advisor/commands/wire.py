"""What a set-up does, band by band: dimensions, feed, sky."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.commands import options as opt
from advisor.commands.common import NOWHERE, cache_dir, station_for
from advisor.commands.emit import Report, emit, output_options, write_picture
from advisor.commands.options import APP, figure_option, option, picture_option
from advisor.commands.provenance import provenance_of
from advisor.commands.question import demo_line
from advisor.commands.sheets import sheet_option, write_sheet
from geo.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from advisor.answers.one_wire.site import SiteWork
    from advisor.answers.one_wire.wire import WireWork

_PATIENCE_S = 1.0


@click.command()
@opt.station_options
@opt.bands_option
@figure_option(
    "--takeoff-deg DEG",
    "Angle at which the gain is told; repeatable; default 5 10 15 20 30 45 60 90.",
    "takeoffs",
    multiple=True,
)
@option("--quick", "Exposure by a far-field formula and no other kinds of ground.")
@option(
    "--site", "Gain by bearing and angle over the ground of the file, too.", "on_site"
)
@picture_option(
    "--chart FILE", "Gain over elevation and round the compass, .svg or .png."
)
@picture_option(
    "--site-chart FILE", "That of --site and the ground below, .svg or .png."
)
@picture_option("--swr-chart FILE", "SWR over each band, .svg or .png.")
@picture_option("--sketch FILE", "The wire from the side and from above, .svg or .png.")
@sheet_option
@opt.more_option
@output_options
def wire(
    bands: tuple[str, ...],
    takeoffs: tuple[float, ...],
    quick: bool,
    on_site: bool,
    chart: Path | None,
    site_chart: Path | None,
    swr_chart: Path | None,
    sketch: Path | None,
    sheet_file: Path | None,
    **options: Any,
) -> None:
    """
    Say how to hang a wire, what the radio sees, and where it radiates.

    \b
    Examples:
      skiplobe wire                             (the shipped demonstration)
      skiplobe wire --shape "bottom-fed half-square" --length-m 24 --band 40m
      skiplobe wire --shape dipole --height-m 8 --dim line=RG-213 --dim line_m=25
      skiplobe wire --station hill.toml --set-up "end-fed on a pole" --chart wire.svg
      skiplobe wire --station hill.toml --site --band 20m --site-chart site.svg

    Needs no place. Without --band it shows every band the set-up is used on, each
    with its verdict: short skip, mid range, DX, or split between them.
    """  # noqa: D301
    station, origins, is_demo = station_for(
        {**options, "bands": bands}, has_targets=False, needs_place=False
    )
    pictures = {
        "--chart": chart,
        "--swr-chart": swr_chart,
        "--sketch": sketch,
        "--site-chart": site_chart,
    }
    on_site = on_site or site_chart is not None
    if on_site and station.hills is None:
        raise InputError(
            "--site: nothing is known of the ground: give terrain or slopes in the "
            "station file"
        )
    wanted = {name: path for name, path in pictures.items() if path is not None}
    if wanted and len(station.setups) > 1:
        raise InputError(
            f"{len(station.setups)} set-ups and {', '.join(wanted)} shows one: name it "
            "with --set-up"
        )
    from advisor.answers.one_wire.sky import TAKEOFFS_DEG
    from advisor.answers.one_wire.wire import own_cautions, wire_work
    from advisor.station.bands import band_by_name

    names = [band_by_name(each, station.iaru_region).name for each in bands]
    progress = _progress()
    works = [
        wire_work(
            station,
            setup,
            _used_on(setup, names, alone=len(station.setups) == 1),
            takeoffs_deg=sorted(set(takeoffs)) or TAKEOFFS_DEG,
            quick=quick,
            cache_dir=cache_dir(options),
            progress=progress,
        )
        for setup in station.setups
        if len(station.setups) == 1 or not names or set(names) & set(setup.bands)
    ]
    if not works:
        raise InputError(f"no set-up is used on {', '.join(names)}")
    sites = []
    if on_site:
        from advisor.answers.one_wire.site import site_work

        sites = [site_work(station, each, cache_dir(options)) for each in works]
    from advisor.answers.rows.wire import FORM, wire_details, wire_inputs, wire_rows
    from advisor.show.text.wire import whole_text

    note = ""
    if is_demo:
        note = demo_line(station, "no station and no shape given")
    elif station.place == NOWHERE:
        note = f"No place given: bands of IARU region {station.iaru_region}."
    report = Report(
        FORM,
        wire_inputs(station),
        lambda: whole_text(works, sites),
        rows=lambda: wire_rows(works),
        details=lambda: wire_details(works, sites),
        note=note,
        first=[
            *(f"{each.name} over the ground around" for each in sites),
            *(f"{each.bearings[0].band}, dBi (of it" for each in sites),
            *("---", "What a band", "On the outside", "Nothing is counted"),
            *("How it hangs", "Feed:", "Resonance"),
        ],
        own=lambda: own_cautions(works),
    )
    emit(report, lambda: provenance_of(station, origins))
    if sheet_file is not None:
        from functools import partial

        from advisor.show.page.wire import wire_sheet

        write_sheet(sheet_file, None, report, partial(wire_sheet, works, sites=sites))
    for name, path in wanted.items():
        drawn = sites[0] if name == "--site-chart" else works[0]
        figure, finding = _PICTURES[name](drawn)
        write_picture(figure, path, finding)


def _used_on(setup: Any, names: list[str], *, alone: bool) -> list[str]:
    """Bands asked for; of several set-ups, those that this one is used on."""
    return [name for name in names if alone or name in setup.bands]


def _progress() -> Callable[[str], None]:
    """Tell what is being worked out once it takes longer than a second."""
    start = time.monotonic()

    def tell(step: str) -> None:
        if time.monotonic() - start > _PATIENCE_S:
            click.echo(f"{APP} wire: {step} ...", err=True)

    return tell


def _gain_picture(work: WireWork) -> tuple[Figure, str]:
    """Gain over elevation and round the compass."""
    from advisor.show.charts import wire as wire_charts

    return wire_charts.figure(work), wire_charts.alt_text(work)


def _swr_picture(work: WireWork) -> tuple[Figure, str]:
    """SWR over each band."""
    from advisor.show.charts import swr
    from advisor.show.charts.wire import swr_curves

    curves = swr_curves(work)
    return swr.figure(work.setup.name, curves), swr.alt_text(work.setup.name, curves)


def _sketch_picture(work: WireWork) -> tuple[Figure, str]:
    """Draw the wire on the lowest band shown."""
    from advisor.show.charts.wire import sketch_figure, sketch_words
    from advisor.station.setup import EACH_BAND

    first = work.bands[0]
    cut = f", cut for {first.band}" if work.setup.cut == EACH_BAND else ""
    words = sketch_words(first.hung, first.hanging.supports)
    return sketch_figure(first.hung, f"{work.setup.name}{cut}"), words


def _site_picture(site: SiteWork) -> tuple[Figure, str]:
    """Draw gain by bearing and angle over the ground."""
    from advisor.show.charts import site as site_chart

    return site_chart.figure(site), site_chart.alt_text(site)


_PICTURES: dict[str, Callable[[Any], tuple[Any, str]]] = {
    "--chart": _gain_picture,
    "--swr-chart": _swr_picture,
    "--sketch": _sketch_picture,
    "--site-chart": _site_picture,
}
