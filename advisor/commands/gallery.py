"""Every picture of the documentation, from the demonstration at a fixed hour."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.commands.common import cache_dir
from advisor.commands.options import no_cache_option, option

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.figure import Figure

START, R12 = "2026-12-05T00:00", 60.0
"""First hour, UTC, and sunspot number of the pictures, so that they stay the same."""

KIND = ".svg"
"""Ending of the pictures: lines stay sharp and text stays text."""


@click.command()
@option(
    "--output DIR",
    "Directory to write to; made if it is not there.",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("pictures"),
    show_default=True,
)
@option("--overwrite", "Replace existing pictures.")
@no_cache_option
def gallery(output: Path, overwrite: bool, **options: Any) -> None:
    """
    Build every picture of the documentation from the shipped demonstration.

    \b
    Examples:
      skiplobe gallery --output pictures
      skiplobe gallery --output docs/pictures --overwrite    (in a checkout)

    24 hours from 2026-12-05 at R12 60: the same version gives the same bytes. What
    each picture shows is said on the screen. All are written, or none.
    """  # noqa: D301
    from advisor.show.charts.files import check_files, save_files, svg_bytes
    from advisor.show.charts.gallery import CHARTS

    names = [f"{name}{KIND}" for name in (*CHARTS, "sum", "wire")]
    check_files(output, names, overwrite)
    drawn = {
        name: (svg_bytes(figure, finding), finding)
        for name, figure, finding in pictures(cache_dir(options))
    }
    try:
        save_files(output, {n: data for n, (data, _) in drawn.items()}, overwrite)
    except OSError as error:
        raise click.ClickException(
            f"cannot write to '{output}': {error.strerror or error}"
        ) from None
    for name, (_, finding) in drawn.items():
        click.echo(f"{name}: {finding}")
    click.echo(f"written: {len(drawn)} pictures to {output}", err=True)


def pictures(cache: Path | None) -> Iterator[tuple[str, Figure, str]]:
    """
    Draw every picture of the documentation.

    Parameters
    ----------
    cache : pathlib.Path or None
        Directory of solved wires; None to do without.

    Yields
    ------
    name : str
        File name.
    figure : matplotlib.figure.Figure
        The picture.
    finding : str
        The sentence that states its finding.
    """
    import numpy as np

    from advisor.answers.ask import answer, question_for
    from advisor.answers.one_wire.wire import wire_work
    from advisor.answers.pictures.scene import Scene, best_moment, narrowed, setup_of
    from advisor.answers.why import explain_chance
    from advisor.show.charts import way_sum, wire
    from advisor.show.charts.gallery import CHARTS
    from advisor.station.file import demo_station, resolve_station

    station, _ = resolve_station(demo_station(), {})
    question = question_for(station, station.to, np.datetime64(START, "s"), r12=R12)
    scene = Scene(answer(question, cache), cache)
    for name, chart in CHARTS.items():
        figure, finding = chart.draw(scene, 0, station.time_zone)
        yield f"{name}{KIND}", figure, finding
    best = best_moment(scene.advice)
    asked = narrowed(scene.advice.question, 0, best.hour, best.band)
    why = explain_chance(asked, (), cache)
    yield f"sum{KIND}", way_sum.figure(why), way_sum.alt_text(why)
    work = wire_work(station, setup_of(scene.advice), [], quick=True, cache_dir=cache)
    yield f"wire{KIND}", wire.figure(work), wire.alt_text(work)
