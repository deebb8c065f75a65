"""One picture of the answer."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.commands import options as opt
from advisor.commands.common import cache_dir
from advisor.commands.emit import check_writable, write, write_picture
from advisor.commands.options import file_option, option
from advisor.commands.provenance import with_provenance
from advisor.commands.question import query_for
from advisor.show.charts.gallery import CHARTS

if TYPE_CHECKING:
    from advisor.answers.pictures.scene import Scene


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
        "  skiplobe chart fan --station hill.toml --to 035 --output fan.svg\n\n"
        "The map comes as GeoJSON too, for map programs, if FILE ends in .geojson. "
        "Charts of one hour show the best hour of those asked about; --hours 1 with "
        "--date picks the hour."
    )


@click.command(help=_help())
@click.argument("name", type=opt.Choice(list(CHARTS)), metavar="NAME")
@opt.targets_option("one.")
@opt.station_options
@opt.bands_option
@opt.time_options
@opt.sky_options
@opt.long_path_option
@file_option(
    "--output FILE",
    "File to write, .svg, .png or, for map, .geojson; whole or not at all.",
    required=True,
)
@option("--overwrite", "Replace an existing file.")
@opt.provenance_option
def chart(
    name: str,
    output: Path,
    overwrite: bool,
    **options: Any,
) -> None:
    """Draw one picture of the answer; it says on the screen what the picture shows."""
    takes_one = None if CHARTS[name].shows_all_targets else f"chart '{name}'"
    query = query_for(options, one_for=takes_one)
    from advisor.show.charts.files import check_file

    as_data = name == "map" and output.suffix.lower() == ".geojson"
    if as_data:
        check_writable(output)
    else:
        check_file(output, overwrite)
    from advisor.answers.ask import answer
    from advisor.answers.pictures.scene import Scene
    from advisor.answers.shut import check_is_cut

    cache = cache_dir(options)
    advice = answer(query.question, cache)
    check_is_cut(advice)
    scene = Scene(advice, cache)
    if as_data:
        text, finding = _map_data(scene, query.provenance())
        write(text, output)
    else:
        figure, finding = CHARTS[name].draw(scene, 0, query.zone)
        write_picture(figure, output, finding)
    if query.is_demo:
        click.echo("Demonstration (no station, no place and no target given).")
    click.echo(with_provenance(finding + "\n", query.provenance), nl=False)


def _map_data(scene: Scene, provenance: dict[str, Any]) -> tuple[str, str]:
    """Write the map as GeoJSON, and say what it shows."""
    from advisor.answers.pictures.points import point_chances
    from advisor.answers.pictures.scene import best_moment
    from advisor.answers.pictures.world import world_map
    from advisor.answers.rows.inputs import question_inputs
    from advisor.show.charts import worldmap
    from advisor.show.formats.geojson import collection, map_features

    record = world_map(scene)
    question = scene.advice.question
    points = point_chances(scene, moment=best_moment(scene.advice))
    features = map_features(question.place, record, points)
    text = collection(features, question_inputs(question), provenance)
    return text, worldmap.alt_text(record)
