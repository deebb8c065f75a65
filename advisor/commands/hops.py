"""Take-off angle against distance."""

from __future__ import annotations

import click

from advisor.commands.emit import Report, emit, output_options
from advisor.commands.figures import FIGURE
from advisor.commands.provenance import provenance_of


@click.command()
@click.option(
    "--height-km",
    "heights",
    type=FIGURE,
    multiple=True,
    metavar="KM",
    help="Mirror height; may be repeated. Default: E and several F2 heights.",
)
@click.option(
    "--distance-km",
    "distances",
    type=FIGURE,
    multiple=True,
    metavar="KM",
    help="Hop length; may be repeated.",
)
@output_options
def hops(heights: tuple[float, ...], distances: tuple[float, ...]) -> None:
    """
    Show take-off angle against distance for one hop off each layer height.

    \b
    Examples:
      skiplobe hops
      skiplobe hops --height-km 280 --distance-km 450 --distance-km 900
    """  # noqa: D301
    from advisor.answers.rows.sky import HOPS_FORM, HopInputs
    from advisor.answers.sky import hop_rows
    from advisor.show.text.sky import hop_text

    rows = hop_rows(heights, distances)
    report = Report(
        HOPS_FORM, HopInputs(heights, distances), lambda: hop_text(rows), lambda: rows
    )
    emit(report, provenance_of)
