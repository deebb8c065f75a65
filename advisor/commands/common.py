"""
What the commands share: the station they work for, its place, times and sky.

Only click and the standard library are imported at the top of any command module;
everything heavy is imported where it is used, so that help and completion stay
quick. The clock, the files and the environment are read here and nowhere below.
"""

from __future__ import annotations

import math
import os
import re
import sys
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.commands.options import APP
from geo.errors import InputError

if TYPE_CHECKING:
    import numpy as np

    from advisor.station.station import Station
    from geo.ionosphere.conditions import Conditions


def processes() -> int:
    """
    Say over how many processes long work is shared out.

    Returns
    -------
    count : int
        Two where there is a core for each and this one can be split: one thread.
    """
    threads = Path("/proc/self/task")
    if not threads.is_dir() or len(os.sched_getaffinity(0)) == 1:
        return 1
    return 2 if len(list(threads.iterdir())) == 1 else 1


def cache_dir(options: Mapping[str, Any]) -> Path | None:
    """
    Find the directory of solved wires: from the environment, else the user's.

    What keeps it from being used is told once, when the command has ended.

    Parameters
    ----------
    options : mapping
        Options of the command; ``no_cache`` is looked at.

    Returns
    -------
    directory : pathlib.Path or None
        None to do without.
    """
    if options.get("no_cache"):
        return None
    context = click.get_current_context(silent=True)
    is_first = context is not None and _CACHE_TOLD not in context.meta
    if context is not None and is_first:
        context.meta[_CACHE_TOLD] = True
        context.call_on_close(_tell_of_cache)
    named = os.environ.get(f"{APP.upper()}_CACHE_DIR")
    if named:
        return Path(named)
    from platformdirs import user_cache_path

    path = _own(user_cache_path)
    if path is None and is_first:
        click.echo(f"{APP}: no home directory, so solved wires are not kept", err=True)
    return path


def _own(find: Callable[[str], Path]) -> Path | None:
    """Find a directory of the user's; None for a user who has no home."""
    try:
        path = find(APP)
    except RuntimeError:
        return None
    # Some versions of platformdirs leave a bare "~", which is nobody's directory.
    return path if path.is_absolute() else None


_CACHE_TOLD = f"{APP}.cache_told"


def _tell_of_cache() -> None:
    """Say what kept the cache from being used, if anything did."""
    from geo.errors import one_line

    files = sys.modules.get("advisor.antenna.solver.cache_files")
    trouble = files.take_trouble() if files else None
    if trouble:
        click.echo(one_line(f"{APP}: {trouble}; the answer is the same"), err=True)


NOWHERE = "0,0"
"""Place of a wire that is looked at by itself, in IARU region 1."""


def station_for(
    options: Mapping[str, Any],
    *,
    has_targets: bool,
    needs_place: bool = True,
    several_sent: bool = False,
) -> tuple[Station, dict[str, str], bool]:
    """
    Put the station together; the demonstration if nothing says where or whither.

    The file is the one named, or else ``station.toml`` in the user's configuration
    directory if there is one. A command that needs no place takes a wire by option
    without one.

    Parameters
    ----------
    options : mapping
        Options of the command.
    has_targets : bool
        Whether targets were named.
    needs_place : bool, optional
        Whether the command is about a place.
    several_sent : bool, optional
        Whether the command answers for several emissions; the station sends the first
        of them, on the bands of any.

    Returns
    -------
    station : Station
        Complete.
    origins : dict of str to str
        Where each value came from.
    is_demo : bool
        Whether it is the demonstration.

    Raises
    ------
    InputError
        If anything given is not possible.
    """
    from dataclasses import replace

    from advisor.station.bands import band_by_name
    from advisor.station.file import demo_station, resolve_station
    from advisor.station.station import OUTING_KEYS

    names = options.get("emissions") or ()
    if len(names) > 1 and not several_sent:
        command = click.get_current_context().info_name
        raise InputError(
            f"{len(names)} times --emission: '{APP} {command}' takes one, "
            f"'{APP} tonight' and '{APP} activation' several"
        )
    file = options.get("station_file") or _own_station_file()
    is_demo = file is None and options.get("place") is None and not has_targets
    if is_demo and not needs_place and options.get("shape") is not None:
        options = {**options, "place": NOWHERE}
        is_demo = False
    source = demo_station() if is_demo else file
    far_end = {
        "kind": options.get("far_kind"),
        "antenna": options.get("far_antenna"),
        "setup": options.get("far_setup"),
        "at_least_one_of": options.get("at_least_one_of"),
        "noise": options.get("far_noise"),
        "power_w": options.get("far_power_w"),
    }
    given: dict[str, Any] = {
        key: options.get(key)
        for key in (
            "place",
            "power_w",
            "noise",
            "noise_trim_db",
            "ground",
            "horizon_deg",
            "iaru_region",
            *OUTING_KEYS,
        )
    }
    if names:
        given["emission"] = names
    given["far_end"] = {k: v for k, v in far_end.items() if v is not None}
    wire = _wire_keys(options)
    if options.get("shape") is not None:
        named = {"name": options["shape"], "shape": options["shape"]}
        given["setups"] = [named | _with_top(wire, options["shape"])]

    def resolved() -> tuple[Station, dict[str, str]]:
        return resolve_station(
            source,
            {k: v for k, v in given.items() if v not in (None, {})},
            lambda path: _option_of(path, options),
        )

    found, origins = resolved()
    region = found.iaru_region
    wanted = [band_by_name(each, region) for each in options.get("bands") or ()]
    sent = (found.emission, *found.also_sent)
    asked = [band.name for band in wanted if any(one.fits(band) for one in sent)]
    if set(asked) - set(found.bands) and origins["bands"].startswith("default"):
        # Nobody said that the station does without: 6 m may be asked about.
        given["bands"] = [*found.bands, *asked]
    if asked and "setups" in given:
        # A wire that the command hangs is cut for what the command asks about.
        given["setups"][0]["bands"] = asked
    if asked and {"bands", "setups"} & given.keys():
        found, origins = resolved()
    setups = _picked(found, options.get("setup_names") or ())
    if options.get("shape") is None:
        for i, setup in enumerate(setups):
            changes = _with_top(wire, setup.shape, several=len(setups) > 1)
            try:
                setups[i] = setup.changed(**changes)
            except InputError as error:
                raise InputError(f"set-up '{setup.name}': {error}") from None
            origins |= {f"setups[{i}].{key}": "option" for key in changes}
    return replace(found, setups=tuple(setups)), origins, is_demo


def warn_of_others_sent(station: Station, this: str) -> None:
    """
    Say that of several emissions of a station only the first is answered for.

    Parameters
    ----------
    station : Station
        Of several emissions.
    this : str
        What is for one, with its verb.
    """
    click.echo(
        f"{APP}: {this} for {station.emission.name}, the first of "
        f"{1 + len(station.also_sent)} emissions; --emission takes another",
        err=True,
    )


_FAR_OPTIONS = {
    "far_end.setup": "--far-set-up",
    "far_end.at_least_one_of": "--at-least-one-of",
}


def _option_of(path: str, options: Mapping[str, Any]) -> str:
    """Name the option that a key path of the station came from."""
    from advisor.station.setup import height_key

    if path == "place":
        return "--from"
    if path.startswith("setups"):
        key = path.partition(".")[2]
        if options.get("height_m") and key == height_key(options["shape"]):
            return "--height-m"
        own = ("", "shape", "name", "length_m", "height_m", "bearing_deg")
        if key not in own:
            return f"--dim {key}"
        path = key if key not in ("", "name") else "shape"
    if path in _FAR_OPTIONS:
        return _FAR_OPTIONS[path]
    return "--" + path.replace("far_end.", "far_").replace("_", "-")


def _wire_keys(options: Mapping[str, Any]) -> dict[str, Any]:
    """Keys of a set-up that were given as options."""
    found = {
        "bearing_deg": _bearing(options.get("bearing_deg")),
        "length_m": options.get("length_m"),
        "height_m": options.get("height_m"),
    }
    found = {key: value for key, value in found.items() if value is not None}
    for text in options.get("dims") or ():
        key, sign, value = text.partition("=")
        key = key.strip()
        if not sign or not key or not value.strip():
            raise InputError(
                f"--dim '{text}' is not KEY=VALUE: write --dim sag_m=0.5, for example"
            )
        if key in ("name", "shape", "bands"):
            raise InputError(f"--dim {key}: give it by --shape, --set-up or --band")
        if key in found:
            raise InputError(f"--dim {key}: it is given twice")
        found[key] = _bearing(value) if key == "bearing_deg" else _value(key, value)
    return found


def _value(key: str, text: str) -> Any:
    """Read the value of a key as a station file would hold it."""
    if key in ("points_m", "coils", "traps", "resistors"):
        text = re.sub(r"\]\s*,\s*\[", ";", text.strip()).strip("[]")
        return [
            [_value("", part) for part in point.split(",")] for point in text.split(";")
        ]
    plain = text.strip()
    if plain.lower() in ("true", "false"):
        return plain.lower() == "true"
    try:
        return float(plain)
    except ValueError:
        return plain


def _with_top(
    wire: dict[str, Any], shape: str, *, several: bool = False
) -> dict[str, Any]:
    """
    Put a height under the name that the shape has for that of its top.

    Among several set-ups those without a top stay as they are.
    """
    from advisor.station.setup import height_key

    if "height_m" not in wire:
        return wire
    key = height_key(shape)
    if key == "height_m":
        return wire
    if not key and several:
        return {each: value for each, value in wire.items() if each != "height_m"}
    if not key:
        raise InputError(
            f"--height-m: a {shape} has no top of its own to set; its length says how "
            "high it reaches, --dim feed_height_m=M how high it is fed"
        )
    if key in wire:
        raise InputError(f"--height-m and --dim {key} say the same of a {shape}")
    return {key if each == "height_m" else each: value for each, value in wire.items()}


def _picked(found: Station, names: tuple[str, ...]) -> list[Any]:
    """Pick set-ups by name, all if none is named; capitals and hyphens are alike."""
    from advisor.station.checks import fold
    from geo.errors import near_matches

    known = {setup.name: setup for setup in found.setups}
    folded = {fold(name): name for name in known}
    # Two set-ups that differ in their capitals only are asked for as they are written.
    names = tuple(
        name if name in known else folded.get(fold(name), name) for name in names
    )
    is_replaced = click.get_current_context().params.get("shape") is not None
    for name in names:
        if name not in known and is_replaced:
            raise InputError(
                "--shape takes the place of the station's set-ups, so --set-up "
                f"'{name}' has nothing to pick: leave one of the two out"
            )
        if name not in known:
            hint = near_matches(name, known)
            raise InputError(
                f"set-up '{name}' is unknown: the station has "
                f"{', '.join(repr(each) for each in known)}"
                + (f"; {hint}" if hint else "")
            )
    return [known[name] for name in names] if names else list(found.setups)


def own_station_path() -> Path | None:
    """
    Say where the user's own station file is looked for.

    Returns
    -------
    path : pathlib.Path or None
        In the user's configuration directory; None without a home.
    """
    from platformdirs import user_config_path

    directory = _own(user_config_path)
    return None if directory is None else directory / "station.toml"


def _own_station_file() -> Path | None:
    """Station file of the user's configuration directory, if there is one."""
    path = own_station_path()
    try:
        return path if path is not None and path.is_file() else None
    except OSError:
        # Somebody else's home: what cannot be seen is not one's own.
        return None


def _bearing(text: str | None) -> float | str | None:
    """Read a bearing option: a number or 'any'."""
    if text is None or text.strip().lower() == "any":
        return text if text is None else "any"
    try:
        return float(text)
    except ValueError:
        from advisor.answers.runs import POINTS_OF_THE_COMPASS

        typed = text.strip().casefold()
        for n, point in enumerate(POINTS_OF_THE_COMPASS):
            if typed in (point, "".join(word[0] for word in point.split("-"))):
                hint = f"; {point} is {22.5 * n:g}"
                break
        else:
            hint = ""
        raise InputError(
            f"bearing '{text}' is neither a number of degrees nor 'any'{hint}"
        ) from None


def start_time(
    text: str | None, option: str = "--date", zone: str | None = None
) -> np.datetime64:
    """
    Read the first hour: a date, a moment, a day in words, or now.

    Parameters
    ----------
    text : str or None
        What was typed.
    option : str, optional
        Where, for the error text.
    zone : str, optional
        IANA zone in which dates and times are meant that name none.

    Returns
    -------
    start : numpy.datetime64
        UTC, to the second.

    Raises
    ------
    InputError
        If it is no moment, or a time of day without its zone.
    """
    from advisor.commands.moments import moment

    return moment("now" if text is None else text, datetime.now(UTC), zone, option)


def conditions_for(
    options: Mapping[str, Any],
    start: np.datetime64,
    zone: str | None = None,
    here: str = "",
) -> Conditions:
    """
    Read what is assumed of the sky.

    Parameters
    ----------
    options : mapping
        Values of `conditions_options`.
    start : numpy.datetime64
        First hour, UTC: when a sounding was made that does not say so.
    zone : str, optional
        As in `start_time`.
    here : str, optional
        Where a sounding was made that does not say so.

    Returns
    -------
    conditions : Conditions
        For the question.

    Raises
    ------
    InputError
        If a value is not understood or out of range.
    """
    from advisor.commands.ionosonde import soundings_of
    from geo.ionosphere.conditions import Conditions, Sounding
    from geo.places import parse_place

    soundings = []
    for text in options.get("soundings") or ():
        figure, _, rest = text.partition("@")
        place, _, when = rest.partition("@")
        # Without a place it is that of the station.
        place = place or here
        try:
            fof2_mhz = float(figure)
        except ValueError:
            fof2_mhz = float("nan")
        if not (math.isfinite(fof2_mhz) and place):
            raise InputError(
                f"sounding '{text}' is not understood: write foF2 in MHz, @ and a "
                "place, such as 6.8@KF07jo or 6.8@-33.3,26.5@2026-12-05T12:00Z"
            )
        moment = start_time(when, "--fof2-now", zone) if when else start
        soundings.append(Sounding(fof2_mhz, parse_place(place), moment))
    files = options.get("ionosonde_files") or ()
    soundings += soundings_of(files, start, options.get("hours") or 1)
    return Conditions(
        soundings=tuple(soundings),
        kp=options.get("kp"),
        flare=options.get("flare"),
        proton_flux=options.get("proton_flux"),
        measured=options.get("measured"),
    )
