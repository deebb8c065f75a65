"""
What the commands share: options, the station they work for, times, and writing.

Only click and the standard library are imported at the top of any command module;
everything heavy is imported where it is used, so that help and completion stay
quick. The clock, the files and the environment are read here and nowhere below.
"""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from geo.errors import InputError

if TYPE_CHECKING:
    import numpy as np

    from advisor.conditions import Conditions
    from advisor.station import Station

APP = "skiplobe"

F = TypeVar("F", bound=Callable[..., Any])


def _add(options: list[Callable[[Any], Any]]) -> Callable[[F], F]:
    """Put several options on a command, in reading order."""

    def decorate(command: F) -> F:
        for option in reversed(options):
            command = option(command)
        return command

    return decorate


station_options = _add(
    [
        click.option(
            "--station",
            "station_file",
            type=click.Path(path_type=Path, dir_okay=False),
            help="Station file (TOML); see 'skiplobe station starter'.",
        ),
        click.option(
            "--from",
            "place",
            metavar="PLACE",
            help="Grid locator or LAT,LON in degrees.",
        ),
        click.option("--power-w", type=float, metavar="W", help="Transmitter power."),
        click.option(
            "--emission", metavar="NAME", help="SSB, CW, FT8 and others, by name."
        ),
        click.option(
            "--noise",
            metavar="WHERE",
            help="Noise here: city, residential, rural, quiet rural.",
        ),
        click.option(
            "--noise-trim-db",
            type=float,
            metavar="DB",
            help="Added to the man-made noise here.",
        ),
        click.option(
            "--ground", metavar="KIND", help="Ground under the wire, by name."
        ),
        click.option(
            "--horizon-deg",
            type=float,
            metavar="DEG",
            help="Nothing is counted below this elevation.",
        ),
        click.option(
            "--far-antenna",
            metavar="KIND",
            help="Far end: dipole, isotropic, vertical.",
        ),
        click.option("--far-noise", metavar="WHERE", help="Noise at the far end."),
        click.option(
            "--far-power-w", type=float, metavar="W", help="Power of the far end."
        ),
        click.option(
            "--iaru-region",
            type=int,
            metavar="1|2|3",
            help="Radio region, if not local.",
        ),
        click.option(
            "--set-up",
            "setup_names",
            multiple=True,
            metavar="NAME",
            help="Only this set-up of the station; may be repeated.",
        ),
        click.option(
            "--shape",
            metavar="SHAPE",
            help="One wire by option, instead of the file's.",
        ),
        click.option(
            "--height-m",
            type=float,
            metavar="M",
            help="Its height above ground, metres.",
        ),
        click.option(
            "--bearing-deg",
            metavar="DEG|any",
            help="Way the wire runs from true north; 'any' looks for the best.",
        ),
    ]
)

time_options = _add(
    [
        click.option(
            "--date",
            "start",
            metavar="WHEN",
            help="First hour: 2026-12-05 or 2026-12-05T18:00Z; default now.",
        ),
        click.option(
            "--hours",
            type=int,
            default=24,
            show_default=True,
            help="How many hours, 1 to 72.",
        ),
    ]
)

solar_options = _add(
    [
        click.option(
            "--r12",
            type=float,
            help="12-month smoothed sunspot number, old scale, instead of the table.",
        ),
        click.option(
            "--flux",
            type=float,
            metavar="SFU",
            help="10.7 cm solar flux instead of it.",
        ),
    ]
)

conditions_options = _add(
    [
        click.option(
            "--fof2-now",
            "soundings",
            multiple=True,
            metavar="MHZ@PLACE[@WHEN]",
            help="foF2 as sounded, at the first hour unless WHEN; repeatable.",
        ),
        click.option(
            "--kp",
            type=float,
            metavar="0-9",
            help="Kp index of the past day and a half: what a storm does to foF2.",
        ),
        click.option(
            "--flare",
            metavar="CLASS",
            help="What if a flare of this class (M5, X1) were at its peak.",
        ),
        click.option(
            "--proton-flux",
            type=float,
            metavar="PFU",
            help="What if so many protons above 10 MeV, per cm2 s sr, reached us.",
        ),
    ]
)

weights_option = _add(
    [
        click.option(
            "--weights",
            type=click.Choice(["area", "operators"]),
            default="area",
            show_default=True,
            help="What the points of a region weigh: land, or where operators are.",
        )
    ]
)

output_options = _add(
    [
        click.option("--json", "as_json", is_flag=True, help="One JSON object."),
        click.option("--csv", "as_csv", is_flag=True, help="Comma-separated rows."),
        click.option(
            "--output",
            type=click.Path(path_type=Path, dir_okay=False),
            help="Write there instead of to the screen; whole or not at all.",
        ),
        click.option("--overwrite", is_flag=True, help="Replace an existing file."),
    ]
)


def one_format(as_json: bool, as_csv: bool) -> None:
    """Refuse two formats at once."""
    if as_json and as_csv:
        raise click.UsageError("--json and --csv exclude each other: give one")


def station_for(
    words: Mapping[str, Any], *, has_targets: bool
) -> tuple[Station, dict[str, str], bool]:
    """
    Put the station together; the demonstration if nothing says where or whither.

    The file is the one named, or else ``station.toml`` in the user's configuration
    directory if there is one.
    """
    from dataclasses import replace

    from advisor.stationfile import demo_station, resolve_station

    file = words.get("station_file") or _own_station_file()
    is_demo = file is None and words.get("place") is None and not has_targets
    source = demo_station() if is_demo else file
    far_end = {
        "antenna": words.get("far_antenna"),
        "noise": words.get("far_noise"),
        "power_w": words.get("far_power_w"),
    }
    given: dict[str, Any] = {
        key: words.get(key)
        for key in (
            "place",
            "power_w",
            "emission",
            "noise",
            "noise_trim_db",
            "ground",
            "horizon_deg",
            "iaru_region",
        )
    }
    given["far_end"] = {k: v for k, v in far_end.items() if v is not None}
    bearing = _bearing(words.get("bearing_deg"))
    if words.get("shape") is not None:
        wire = {"name": words["shape"], "shape": words["shape"], "bearing_deg": bearing}
        wire["height_m"] = words.get("height_m")
        given["setups"] = [{k: v for k, v in wire.items() if v is not None}]
    found, origins = resolve_station(
        source, {k: v for k, v in given.items() if v not in (None, {})}
    )
    names = words.get("setup_names") or ()
    setups = tuple(_picked(found, names))
    if words.get("shape") is None:
        changes = {"bearing_deg": bearing, "height_m": words.get("height_m")}
        for key, value in changes.items():
            if value is not None:
                setups = tuple(setup.changed(**{key: value}) for setup in setups)
                origins |= {f"setups[{i}].{key}": "option" for i in range(len(setups))}
    return replace(found, setups=setups), origins, is_demo


def _picked(found: Station, names: tuple[str, ...]) -> list[Any]:
    """Pick set-ups by name, all if none is named."""
    from geo.errors import near_matches

    known = {setup.name: setup for setup in found.setups}
    for name in names:
        if name not in known:
            hint = near_matches(name, known)
            raise InputError(
                f"set-up '{name}' is unknown: the station has "
                f"{', '.join(repr(each) for each in known)}"
                + (f"; {hint}" if hint else "")
            )
    return [known[name] for name in names] if names else list(found.setups)


def _own_station_file() -> Path | None:
    """Station file of the user's configuration directory, if there is one."""
    from platformdirs import user_config_path

    path = user_config_path(APP) / "station.toml"
    return path if path.is_file() else None


def _bearing(text: str | None) -> float | str | None:
    """Read a bearing option: a number or 'any'."""
    if text is None or text.strip().lower() == "any":
        return text if text is None else "any"
    try:
        return float(text)
    except ValueError:
        raise InputError(
            f"bearing '{text}' is neither a number of degrees nor 'any'"
        ) from None


def start_time(text: str | None) -> np.datetime64:
    """Read the first hour: a date, a moment with its zone, or now."""
    import numpy as np

    if text is None:
        moment = datetime.now(UTC)
    else:
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            raise InputError(
                f"'{text}' is no date: write 2026-12-05 or 2026-12-05T18:00Z"
            ) from None
        if moment.tzinfo is None and "T" not in text and " " not in text:
            moment = moment.replace(tzinfo=UTC)
        if moment.tzinfo is None:
            raise InputError(
                f"'{text}' does not say in which zone: add Z for UTC "
                f"({text}Z) or an offset such as +02:00"
            )
    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "s")


def conditions_for(words: Mapping[str, Any], start: np.datetime64) -> Conditions:
    """
    Read what is assumed of the sky.

    Parameters
    ----------
    words : mapping
        Values of `conditions_options`.
    start : numpy.datetime64
        First hour, UTC: when a sounding was made that does not say so.

    Returns
    -------
    conditions : Conditions
        For the question.

    Raises
    ------
    InputError
        If a value is not understood or out of range.
    """
    from advisor.conditions import Conditions, Sounding
    from geo.places import parse_place

    soundings = []
    for text in words.get("soundings") or ():
        figure, _, rest = text.partition("@")
        place, _, when = rest.partition("@")
        try:
            fof2_mhz = float(figure)
        except ValueError:
            fof2_mhz = float("nan")
        if not (math.isfinite(fof2_mhz) and place):
            raise InputError(
                f"sounding '{text}' is not understood: write foF2 in MHz, @ and a "
                "place, such as 6.8@KF07jo or 6.8@-33.3,26.5@2026-12-05T12:00Z"
            )
        moment = start_time(when) if when else start
        soundings.append(Sounding(fof2_mhz, parse_place(place), moment))
    return Conditions(
        soundings=tuple(soundings),
        kp=words.get("kp"),
        flare=words.get("flare"),
        proton_flux=words.get("proton_flux"),
    )


def checked_zone(name: str) -> str:
    """Check the name of a time zone."""
    from zoneinfo import ZoneInfo, available_timezones

    from geo.errors import near_matches

    try:
        ZoneInfo(name)
    except (ValueError, OSError, KeyError):
        hint = near_matches(name, available_timezones())
        raise InputError(
            f"time zone '{name}' is unknown: give an IANA name such as "
            "Africa/Nairobi" + (f"; {hint}" if hint else "")
        ) from None
    return name


def declination_at(place: Any, times: Any) -> float:
    """Magnetic declination at the station on the first day."""
    from geo.magnetic import decimal_year_of, declination_deg

    year = float(decimal_year_of(times[:1])[0])
    return float(declination_deg(place.lat_deg, place.lon_deg, 0.0, year))


def provenance() -> dict[str, Any]:
    """Version and checksum of every table."""
    from importlib.metadata import version

    from geo.tabledata import checksums

    return {"program": APP, "version": version(APP), "tables_sha256": checksums()}


def write(text: str, output: Path | None, overwrite: bool) -> None:
    """Write to the screen or to a file, whole or not at all."""
    if output is None or str(output) == "-":
        sys.stdout.write(text)
        return
    if output.exists() and not overwrite:
        raise InputError(f"'{output}' exists: add --overwrite to replace it")
    partial = output.with_name(f".{output.name}.{os.getpid()}.partial")
    try:
        partial.write_text(text, encoding="utf-8")
        partial.replace(output)
    except OSError as error:
        partial.unlink(missing_ok=True)
        raise click.ClickException(
            f"cannot write '{output}': {error.strerror or error}"
        ) from None
    click.echo(f"written: {output}", err=True)
