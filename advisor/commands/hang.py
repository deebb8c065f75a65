"""What to hang between the supports there are."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.commands import options as opt
from advisor.commands.common import cache_dir, processes
from advisor.commands.emit import Report, emit, output_options, write_picture
from advisor.commands.options import APP, figure_option, option, picture_option
from advisor.commands.question import query_for
from advisor.commands.screen import progress_bar
from advisor.commands.sheets import sheet_option, write_answer_sheet

if TYPE_CHECKING:
    from advisor.answers.hanging.found import HangAnswer

MOST_SHAPES = 6
"""Shapes ranked on one screen."""

STOPPED = 130
"""Exit code of what was stopped by Ctrl-C; of a search too, whose best so far
was written."""

_DEMO_POLES_M, _DEMO_APART_M, _DEMO_WIRE_M = (9.0, 9.0), 14.0, 31.0


@click.command()
@option(
    "--support SUPPORT",
    "A tree, pole or edge and where it is, such as 'oak 20deg 12m 9m high'; from you,"
    " true north; '2m up' or '2m down' if its ground is; repeat for each.",
    "supports",
    multiple=True,
)
@figure_option(
    "--pole-m M",
    "Height of a pole that can be put anywhere, metres; repeat for each.",
    "poles",
    multiple=True,
)
@figure_option(
    "--apart-m M",
    "From one such pole to the next, metres; left out, they go where they suit.",
)
@figure_option(
    "--wire-m M",
    "Wire in all, counterpoise and radials too, metres; left out, enough. Repeat it for"
    " pieces.",
    "wires",
    multiple=True,
)
@figure_option(
    "--cord-m M",
    "A piece of cord, metres; repeatable; left out, enough.",
    "cords",
    multiple=True,
)
@option(
    "--free FROM-TO",
    "Azimuths in which the wire may run, such as 300-60; repeatable.",
    "sectors",
    multiple=True,
)
@option(
    "--shape SHAPE",
    "Only this shape; repeatable; all by default.",
    "shapes",
    multiple=True,
)
@option("--no-tuner", "There is no tuner at the radio.")
@opt.targets_option()
@opt.weights_option
@opt.operator_options
@opt.bands_option
@opt.time_options
@opt.sky_options
@opt.long_path_option
@picture_option("--chart FILE", "Every shape that fits, ranked, .svg or .png.")
@picture_option(
    "--sketch FILE", "The ground from above with the best, to scale, .svg or .png."
)
@sheet_option
@opt.more_option
@output_options
def hang(
    supports: tuple[str, ...],
    poles: tuple[float, ...],
    apart_m: float | None,
    wires: tuple[float, ...],
    cords: tuple[float, ...],
    sectors: tuple[str, ...],
    shapes: tuple[str, ...],
    no_tuner: bool,
    chart: Path | None,
    sketch: Path | None,
    sheet_file: Path | None,
    **options: Any,
) -> None:
    """
    Say what to hang between the supports there are, and which way.

    \b
    Examples:
      skiplobe hang                             (the shipped demonstration)
      skiplobe hang --from KF07jo --to KE \
        --support 'oak 20deg 12m 9m high' --support 'pole 150deg 8m 11m high 2m down'
      skiplobe hang --station hill.toml --pole-m 9 --pole-m 9 --apart-m 14 --wire-m 31
      skiplobe hang --from KF07jo --to KE --pole-m 12 --free 300-60 --shape sloper

    Every shape is fitted to supports, wire and space, its dimensions and bearing
    searched for the chance over the hours. Supports that stand somewhere are named with
    --support or as [[supports]] in the station file; one, two or three of them are
    used. A wire that slopes down needs no support at its lower end. With two supports
    or more --free is the line between them, either way along; with one it is seen from
    it. Ctrl-C stops the search, writes the best so
    far and ends with exit code 130.
    """  # noqa: D301
    from advisor.answers.hanging.starts import shapes_to_try
    from advisor.answers.hanging.supports import set_up
    from advisor.antenna.shapes.places import read_post
    from advisor.antenna.shapes.search import AtHand, free_sector
    from geo.errors import InputError

    names = shapes_to_try(shapes)
    query = query_for(
        options,
        # The station's own wires play no part, only its bands.
        wires=lambda owner: (set_up(names[0], {}, owner.bands, not no_tuner),),
    )
    sectors_deg = tuple(free_sector(text) for text in sectors)
    posts = tuple(read_post(text) for text in supports)
    if poles and posts:
        raise InputError(
            "--pole-m and --support are both given: say with --support where the pole "
            "stands"
        )
    if not poles:
        posts = posts or query.question.station.supports
    if apart_m is not None and len(poles) < 2 and not query.is_demo:
        raise InputError("--apart-m goes between poles of --pole-m: give two or more")
    if query.is_demo and not poles and not posts:
        poles = _DEMO_POLES_M
        apart_m = _DEMO_APART_M if apart_m is None else apart_m
        wires = wires or (_DEMO_WIRE_M,)
    held: dict[str, Any] = {
        "wire_m": sum(wires) if wires else None,
        "free_deg": sectors_deg,
        "pieces_m": wires if len(wires) > 1 else (),
        "cords_m": cords,
    }
    at_hand = (
        AtHand.standing(posts, **held) if posts else AtHand(poles, apart_m, **held)
    )
    written = [each for each in (chart, sketch, sheet_file) if each is not None]
    if len({each.absolute() for each in written}) < len(written):
        raise InputError("--chart, --sketch and --sheet are to be different files")
    question = query.question
    from advisor.answers.hanging.search import HangSearch

    search = HangSearch(question, at_hand, names, not no_tuner, cache_dir(options))
    is_stopped = _run(search)
    if is_stopped and not search.has_any:
        click.echo(f"{APP}: stopped before anything was found", err=True)
        click.get_current_context().exit(STOPPED)
    found = search.answer(is_stopped)
    declination = question.declination_deg
    from dataclasses import replace

    from advisor.answers.rows.hang import FORM, hang_details, hang_inputs, hang_rows
    from advisor.show.text.hang import hang_text

    most = None if click.get_current_context().params["more"] else MOST_SHAPES
    report = Report(
        FORM,
        hang_inputs(found),
        lambda: hang_text(found, declination, most=most),
        rows=lambda: hang_rows(found),
        details=lambda: hang_details(found),
        note=query.note(),
        first=("Hang the ", "   shape", "Run it ", "It radiates "),
        own=lambda: replace(found, found=found.found[:1]).within_reach,
    )
    emit(report, query.provenance)
    if sheet_file is not None:
        from advisor.show.page.lead_sections import shapes_sections

        write_answer_sheet(
            sheet_file,
            query,
            found.advice,
            shapes_sections(found),
            also=found.within_reach,
        )
    if chart is not None:
        from advisor.show.charts import ranked

        write_picture(ranked.figure(found), chart, ranked.alt_text(found))
    if sketch is not None:
        _draw_plan(found, sketch)
    if is_stopped:
        click.echo(f"{APP}: stopped; this is the best so far", err=True)
        click.get_current_context().exit(STOPPED)


def _draw_plan(found: HangAnswer, path: Path) -> None:
    """Draw the best on the ground."""
    from advisor.answers.hanging.ground_plan import ground_plan
    from advisor.show.charts import groundplan
    from geo.errors import InputError

    best = found.found[0]
    plan = ground_plan(best, found.at_hand)
    if plan is None:
        raise InputError(f"--sketch: a {best.setup.shape} is one upright on the ground")
    finding = groundplan.alt_text(best)
    write_picture(groundplan.figure(plan, finding), path, finding)


def _run(search: Any) -> bool:
    """Run a search under a progress bar; whether it was stopped by Ctrl-C."""
    try:
        label = "Trying shapes (Ctrl-C for the best so far)"
        with progress_bar(label, search.steps) as bar:
            for steps in search.run(processes()):
                bar.update(steps)
    except KeyboardInterrupt:
        click.echo(err=True)
        return True
    return False
