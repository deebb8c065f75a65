"""One picture of the answer."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from advisor.commands.common import (
    cache_dir,
    checked_zone,
    conditions_for,
    start_time,
    station_for,
)
from advisor.commands.options import (
    conditions_options,
    solar_options,
    station_options,
    time_options,
)
from advisor.show.charts.gallery import CHARTS
from geo.errors import InputError


def _help() -> str:
    """Help with every chart by name."""
    width = max(len(name) for name in CHARTS)
    names = "\n".join(
        f"  {name:<{width}}  {each.about}" for name, each in CHARTS.items()
    )
    return (
        "Draw one picture of the answer; what it shows is said on the screen.\n\n\b\n"
        f"NAME is one of\n{names}\n\n\b\nExamples:\n"
        "  skiplobe chart bands --output bands.png     (the shipped demonstration)\n"
        "  skiplobe chart lobe --station hill.toml --to 035 --output lobe.svg\n\n"
        "Charts of one hour show the best hour of those asked about; --hours 1 with "
        "--date picks the hour."
    )


@click.command(help=_help())
@click.argument("name", type=click.Choice(list(CHARTS)), metavar="NAME")
@click.option(
    "--to",
    "targets",
    multiple=True,
    metavar="TARGET",
    help="Region, country, locator, LAT,LON or 'within 800 km'; one.",
)
@station_options
@click.option(
    "--band", "bands", multiple=True, metavar="BAND", help="Only this band; repeatable."
)
@time_options
@solar_options
@conditions_options
@click.option("--long-path", is_flag=True, help="Go the long way round.")
@click.option("--local", "zone", metavar="ZONE", help="Local time of an IANA zone too.")
@click.option(
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    help="File to write, .svg or .png; whole or not at all.",
)
@click.option("--overwrite", is_flag=True, help="Replace an existing file.")
def chart(
    name: str,
    targets: tuple[str, ...],
    bands: tuple[str, ...],
    start: str | None,
    hours: int,
    r12: float | None,
    flux: float | None,
    long_path: bool,
    zone: str | None,
    output: Path,
    overwrite: bool,
    **words: Any,
) -> None:
    """Draw one picture of the answer; it says on the screen what the picture shows."""
    station, _, is_demo = station_for(words, has_targets=bool(targets))
    wanted = targets or station.to
    if not wanted:
        raise InputError("no target: name one with --to, or 'to = [...]' in the file")
    if len(wanted) > 1 and not CHARTS[name].shows_all_targets:
        raise InputError(
            f"{len(wanted)} targets ({', '.join(wanted)}): chart '{name}' takes one, "
            "name it with --to"
        )
    local = checked_zone(zone) if zone else station.time_zone
    from advisor.show.charts.files import check_file, save_figure

    check_file(output, overwrite)
    from advisor.ask import answer, question_for
    from advisor.bands import band_by_name
    from advisor.chartdata.scene import scene_for

    first = start_time(start)
    question = question_for(
        station,
        wanted,
        first,
        hours,
        band_names=[band_by_name(each, station.iaru_region).name for each in bands],
        r12=r12,
        flux=flux,
        long_path=long_path,
        conditions=conditions_for(words, first),
    )
    cache = cache_dir(words)
    scene = scene_for(answer(question, cache), cache)
    figure, finding = CHARTS[name].draw(scene, 0, local)
    try:
        save_figure(figure, output, overwrite, finding)
    except OSError as error:
        raise click.ClickException(
            f"cannot write '{output}': {error.strerror or error}"
        ) from None
    if is_demo:
        click.echo("Demonstration (no station, no place and no target given).")
    click.echo(finding)
    click.echo(f"written: {output}", err=True)
