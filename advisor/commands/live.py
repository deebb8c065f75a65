"""A page in the user's own browser where wire and question can be changed."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.commands.common import cache_dir, conditions_for
from advisor.commands.emit import check_writable
from advisor.commands.options import APP, question_options
from advisor.commands.provenance import program_provenance
from advisor.commands.question import query_for
from advisor.commands.sheets import answer_page, options_again
from geo.errors import InputError

if TYPE_CHECKING:
    import numpy as np

    from advisor.engine.question import Question
    from advisor.live.workbench import Workbench
    from advisor.station.station import Station

_ASKED_STILL = frozenset(
    {
        "hours",
        "bands",
        "r12",
        "flux",
        "soundings",
        "ionosonde_files",
        "kp",
        "flare",
        "proton_flux",
    }
    | {"long_path", "weights", "zone"}
)
"""Options that hold for everything asked on the page."""


@click.command()
@question_options
@click.option(
    "--write",
    "base",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="NAME",
    help="Where the page may write: NAME.toml, the station, and NAME.html, a sheet.",
)
@click.option("--overwrite", is_flag=True, help="Replace files that exist.")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, help="By default free."
)
@click.option("--open", "is_opened", is_flag=True, help="Open the browser as well.")
def live(base: Path | None, port: int, is_opened: bool, **options: Any) -> None:
    """
    Serve a page to your own browser where you turn the wire and see what changes.

    \b
    Examples:
      skiplobe live                             (the shipped demonstration)
      skiplobe live --station hill.toml --open
      skiplobe live --from KF07jo --to KE --write hill

    Only this machine can reach it, by the address that is printed. It ends with Ctrl-C,
    or when the page is closed.
    """  # noqa: D301
    try:
        import starlette  # noqa: F401
        import uvicorn  # noqa: F401
    except ImportError:
        raise click.ClickException(
            "this needs a small server: pip install 'skiplobe[live]', from a checkout "
            "pip install '.[live]'"
        ) from None
    for path in _files(base):
        check_writable(path)
    query = query_for(options)
    from advisor.answers.ask import question_for
    from advisor.live.server import live_app, serve
    from advisor.live.workbench import Workbench
    from advisor.station.bands import BAND_NAMES

    first, asked = query.question, query.options
    conditions = conditions_for(asked, first.times[0], query.zone, query.station.place)

    def ask(station: Station, targets: Sequence[str], start: np.datetime64) -> Question:
        return question_for(
            station,
            targets,
            start,
            asked["hours"],
            band_names=[band.name for band in first.bands] if asked["bands"] else (),
            r12=asked["r12"],
            flux=asked["flux"],
            long_path=asked["long_path"],
            conditions=conditions,
            weights=asked["weights"],
        )

    bench = Workbench(
        replace(query.filed, time_zone=query.zone),
        first,
        ask,
        asked["targets"] or query.station.to,
        query.zone,
        cache_dir(asked),
        [band.name for band in first.bands] if asked["bands"] else BAND_NAMES,
    )
    about = program_provenance()
    context = click.get_current_context()

    def write(said: Mapping[str, Any], what: str) -> str:
        with context.scope(cleanup=False):
            return _write(bench, said, what, base)

    def told(address: str) -> None:
        click.echo(address)
        if is_opened:
            import webbrowser

            threading.Thread(
                target=webbrowser.open, args=(address,), daemon=True
            ).start()

    serve(
        lambda stop: live_app(
            bench,
            f"{about['program']} {about['version']}",
            base.name if base else "",
            write if base else None,
            stop,
        ),
        told,
        port,
    )


def _files(base: Path | None) -> tuple[Path, ...]:
    """Files that the page may write: the station, then the sheet."""
    if base is None:
        return ()
    if not base.name:
        raise InputError("--write names no file; try --write outing")
    return tuple(base.with_name(f"{base.name}{end}") for end in (".toml", ".html"))


def _write(
    bench: Workbench, said: Mapping[str, Any], what: str, base: Path | None
) -> str:
    """Write the station file, and for a sheet the page of `tonight` too."""
    from advisor.show.formats.wholefile import write_whole
    from advisor.station.written import station_toml, station_values

    assert base is not None
    asked = bench.asked(said)
    values = station_values(asked.station) | {"to": list(said.get("to", ()))}
    station, sheet = _files(base)
    text = "# Written by 'skiplobe live'.\n"
    if asked.station.hills is not None:
        text += "# The skyline is here; take terrain or slopes over from your file.\n"
    text += station_toml(values)
    try:
        write_whole(station, text.encode())
        if what != "sheet":
            return f"written: {station.name}"
        write_whole(sheet, _sheet(asked.question, bench, station, sheet).encode())
    except OSError as error:
        raise InputError(f"cannot write: {error.strerror or error}") from None
    return f"written: {station.name}, {sheet.name}"


def _sheet(question: Question, bench: Workbench, station: Path, sheet: Path) -> str:
    """Make the page that `tonight` makes of the station file written."""
    import shlex

    from advisor.answers.ask import answer

    words = [APP, "tonight", "--station", station.name]
    words += ["--date", f"{question.times[0].astype('datetime64[m]')}Z"]
    words += ["--set-up", question.station.setups[0].name]
    words += options_again(lambda name: name in _ASKED_STILL)
    words += ["--sheet", sheet.name]
    advice = answer(question, bench.cache_dir)
    return answer_page(advice, bench.cache_dir, shlex.join(words), bench.zone)
