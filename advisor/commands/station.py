"""Station files: a starter, and what one says."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import click

from advisor.commands.common import own_station_path, station_for
from advisor.commands.emit import Report, check_writable, emit, output_options, write
from advisor.commands.options import APP, file_option, option, station_options
from advisor.commands.provenance import provenance_of
from geo.errors import InputError, one_line


@click.group()
def station() -> None:
    """Write a station file, or show what one says."""


@station.command("starter")
@file_option("--output FILE", "Write there instead of to the screen.")
@option("--overwrite", "Replace an existing file.")
def station_starter(output: Path | None, **_: Any) -> None:
    """
    Write a commented station file with invented values.

    \b
    Example:
      skiplobe station starter --output hill.toml
    """  # noqa: D301
    from advisor.station.file import starter_toml

    write(starter_toml(), output)


@station.command("new")
@file_option("--output FILE", "Write there instead of to your own station file.")
@option("--overwrite", "Replace an existing file.")
def station_new(output: Path | None, **_: Any) -> None:
    """
    Ask a few questions at the terminal and write your station file.

    \b
    Example:
      skiplobe station new
    """  # noqa: D301
    path = output or own_station_path()
    if path is None:
        raise InputError("there is no place for settings here: name one by --output")
    if output is None:
        with suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True)
    if str(path) != "-":
        # Before anything is asked.
        check_writable(path)
    from advisor.station.file import resolve_station
    from advisor.station.written import station_toml

    try:
        asked = _asked()
    except click.Abort:
        click.echo(f"\n{APP}: no more answers, so no file is written", err=True)
        click.get_current_context().exit(1)
    text = station_toml(asked)
    resolve_station(text, {})
    write(f"# Written by 'skiplobe station new'.\n{text}", path)


def _asked() -> dict[str, Any]:
    """Ask what a station needs, each until it is answered in a way that works."""
    from advisor.antenna.shapes.registry import SHAPES
    from advisor.propagation.noise import environments
    from advisor.station.checks import number, one_of
    from advisor.station.emissions import EMISSION_NAMES
    from advisor.station.file import DEFAULT_SET_UPS
    from advisor.station.setup import height_key
    from advisor.station.station import STATION_KEYS
    from geo.places import parse_place, resolve_target

    check = {name: key.check for name, key in STATION_KEYS.items()}
    shapes = tuple(name for name, spec in SHAPES.items() if not spec.takes_points)
    place = _ask("Where are you (grid locator, or latitude,longitude)", check["place"])
    here = parse_place(place)

    def target(text: str) -> str:
        resolve_target(text, here)
        return text

    watts = _ask("Power, in watts", lambda text: check["power_w"](_figure(text)), "10")
    sent = _ask(
        f"What do you send ({', '.join(EMISSION_NAMES)})",
        lambda text: check["emission"](text).name,
        "CW",
    )
    around = f"Radio noise around you ({', '.join(environments())})"
    noise = _ask(around, check["noise"], "rural")
    usual = DEFAULT_SET_UPS[0]
    known = f"Your wire ({', '.join(shapes)})"
    wire = {"shape": _ask(known, one_of(lambda: shapes), str(usual["shape"]))}
    top, high = height_key(wire["shape"]), number(0.01, 100.0, "m")
    if top:
        up = "How high does its top hang, in metres"
        wire[top] = _ask(up, lambda text: high(_figure(text)), "8")
    to = _ask("Where do you want to reach (KE, Japan, 014, a locator)", target)
    return {
        "place": place,
        "power_w": watts,
        "emission": sent,
        "noise": noise,
        "to": [to],
        "setups": [wire],
    }


def _figure(text: str) -> float:
    """Read a number as people type it."""
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise InputError(f"'{one_line(text)}' is not a number") from None


def _ask(question: str, check: Callable[[Any], Any], usual: str | None = None) -> Any:
    """Ask until the answer is allowed; what is asked is not part of any answer."""

    def checked(text: str) -> Any:
        try:
            return check(text.strip())
        except InputError as error:
            raise click.UsageError(str(error)) from None

    return click.prompt(question, usual, value_proc=checked, err=True)


@station.command("show")
@station_options
@output_options
def station_show(
    **options: Any,
) -> None:
    """
    Show every value of the station and where it comes from.

    \b
    Example:
      skiplobe station show --station hill.toml --power-w 5
    """  # noqa: D301
    found, origins, _ = station_for(options, has_targets=False)
    from advisor.answers.rows.inputs import STATION_FORM, NoInputs, ValueRow
    from advisor.show.text.layout import table
    from advisor.station.described import describe

    lines = describe(found, origins)
    report = Report(
        STATION_FORM,
        NoInputs(),
        lambda: table(["key", "value", "from"], lines, left=frozenset({0, 1, 2})),
        rows=lambda: [ValueRow(*line) for line in lines],
    )
    emit(report, lambda: provenance_of(found, origins))
