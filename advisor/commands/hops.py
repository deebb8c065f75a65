"""Take-off angle against distance."""

from __future__ import annotations

from pathlib import Path

import click

from advisor.commands.figures import FIGURE
from advisor.commands.output import check_output, output_options, write
from advisor.commands.provenance import made_from, told


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
def hops(
    heights: tuple[float, ...],
    distances: tuple[float, ...],
    as_json: bool,
    as_csv: bool,
    as_ecsv: bool,
    output: Path | None,
    overwrite: bool,
    with_provenance: bool,
) -> None:
    """
    Show take-off angle against distance for one hop off each layer height.

    \b
    Examples:
      skiplobe hops
      skiplobe hops --height-km 280 --distance-km 450 --distance-km 900
    """  # noqa: D301
    del with_provenance  # seen to by `told`
    check_output()
    from advisor.answers.sky import hop_rows
    from advisor.show.formats import exports
    from advisor.show.formats.ecsv import rows_ecsv
    from advisor.show.text.tonight import hop_text

    rows = hop_rows(heights, distances)
    made = made_from()
    inputs = {"height_km": list(heights), "distance_km": list(distances)}
    if as_json:
        text = exports.to_json(inputs, rows, made)
    elif as_ecsv:
        text = rows_ecsv("hops", rows, inputs, made)
    else:
        text = exports.rows_csv(rows) if as_csv else hop_text(rows) + "\n"
    write(told(text, made), output, overwrite)
