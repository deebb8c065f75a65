"""
Station files: TOML in, a `Station` and the origin of every value out.

An option wins over the file and the file over the default. Every message names
the line or the option and the key path.
"""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from advisor.antenna.shapes.places import Post, checked_posts
from advisor.station.bands import BAND_NAMES, bands_for_region, iaru_region_of
from advisor.station.checks import Where, checked, shown, spoken
from advisor.station.emissions import Emission
from advisor.station.learned import LEARNED_KEYS, Learned
from advisor.station.setup import SetUp, build_set_up, check_set_up
from advisor.station.station import (
    FAR_END_KEYS,
    FAR_END_KINDS,
    OUTING_KEYS,
    OWN_ANTENNA,
    STATION_KEYS,
    SUPPORT_KEYS,
    TERRAIN_KEYS,
    FarEnd,
    Station,
)
from geo.errors import InputError, near_matches, one_line
from geo.tables import table_root

if TYPE_CHECKING:
    from geo.terrain import Terrain

DEFAULT_SET_UPS = ({"shape": "dipole", "height_m": 8.0},)
"""Assumed if no wire is named: common practice, no source."""

LARGEST_BYTES = 64_000
"""Of a station file; a few kilobytes are usual."""

_LEARNED = "learned."

MOST_DOTS = 40
"""In one key: the reader of TOML takes time with their square."""

_PARTS = re.compile(r"[=,{}\[\]#]")
_NAME = r"""(?:[\w-]+|"[^"]*"|'[^']*')"""
_KEY_LINE = re.compile(rf"\s*({_NAME}(?:\s*\.\s*{_NAME})*)\s*=")
_HEADER_LINE = re.compile(rf"\s*(\[\[?)\s*({_NAME}(?:\s*\.\s*{_NAME})*)\s*\]")


@dataclass(frozen=True)
class StationFile:
    """
    What one file, or the options of one command, said about the station.

    Attributes
    ----------
    source : str
        Name of the file, or "option".
    values : mapping of str to object
        Checked values by key path; ``setups`` is a tuple of mappings.
    origins : mapping of str to str
        Where each key path was given: file and line, or "option".
    """

    source: str
    values: Mapping[str, Any]
    origins: Mapping[str, str]


def read_station(source: Path | str) -> StationFile:
    """
    Read a station file and check everything in it.

    Parameters
    ----------
    source : pathlib.Path or str
        The file, or TOML text.

    Returns
    -------
    station_file : StationFile
        What it says; keys it leaves out are left out.

    Raises
    ------
    InputError
        If it cannot be read, is no TOML, has an unknown key or holds a value that
        is not allowed. The text names file, line and key path.

    Examples
    --------
    >>> read_station("power_w = 5").origins
    mappingproxy({'power_w': 'station text line 1'})
    """
    if isinstance(source, Path):
        # It is told as an origin, and a terminal must not act on it.
        name = one_line(source.name)
        try:
            with source.open("rb") as file:
                whole = file.read(LARGEST_BYTES + 1)
            # Any kind of line end, as a text file would be read.
            text = whole.decode("utf-8-sig")
            content = text.replace("\r\n", "\n").replace("\r", "\n")
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
            raise InputError(f"cannot read station file {source}: {reason}") from error
        if len(whole) > LARGEST_BYTES:
            raise InputError(
                f"station file {source} is over {LARGEST_BYTES // 1000} kB: give a "
                "station file, 'skiplobe station starter' writes one to start from"
            )
    else:
        name, content = "station text", source
    for number, line in enumerate(content.split("\n"), 1):
        parts = _PARTS.split(line) if line.count(".") > MOST_DOTS else ()
        if any(part.count(".") > MOST_DOTS for part in parts):
            raise InputError(
                f"{name} line {number}: more than {MOST_DOTS} dots are in one key; "
                "keys of a station file have one at most, as in far_end.power_w"
            )
    try:
        raw = tomllib.loads(content)
    except (ValueError, RecursionError) as error:
        reason = " ".join(str(error).split())[:120]
        raise InputError(
            f"{name}: this is not TOML: {_what_was_meant(content) or reason}"
        ) from error
    lines = _key_lines(content)

    def origin(path: str) -> str:
        line = _line_of(path, lines)
        return name if line is None else f"{name} line {line}"

    def where(path: str) -> str:
        return f"{origin(path)}, {spoken(path)}" if path else name

    return _checked_layer(name, raw, origin, where)


def resolve_station(
    source: Path | str | None,
    overrides: Mapping[str, Any],
    named: Where = spoken,
) -> tuple[Station, dict[str, str]]:
    """
    Put a station together from a file, options and defaults.

    Parameters
    ----------
    source : pathlib.Path, str or None
        Station file or its text; None for no file.
    overrides : mapping of str to object
        Values from options, laid out as in a file: ``far_end`` is a mapping and
        ``setups`` a list of mappings that replaces the file's. None means not
        given.
    named : callable, optional
        Names an option by its key path, for the error text.

    Returns
    -------
    station : Station
        Complete. Without bands it has every band of its region from 160 m to 10 m
        that its emission is used on; without set-ups one dipole 8 m up.
    origins : dict of str to str
        Where each key path came from: a file and line, "option", "default" or
        how it was worked out.

    Raises
    ------
    InputError
        If no place is given, or anything given is not allowed.
    """
    option_layer = _checked_layer("option", overrides, lambda _: "option", named)
    layers = [option_layer] if source is None else [option_layer, read_station(source)]
    values: dict[str, Any] = {}
    origins: dict[str, str] = {}
    for layer in reversed(layers):
        if "setups" in layer.values:
            origins = {
                path: origin
                for path, origin in origins.items()
                if not path.startswith("setups[")
            }
        if layer.values.keys() & {"far_end.antenna", "far_end.setup"}:
            # Either of an option wins over either of the file.
            for key in ("far_end.antenna", "far_end.setup"):
                values.pop(key, None)
                origins.pop(key, None)
        if "horizon_deg" in layer.values:
            # An option for all round wins over the skyline of the file.
            values.pop("horizon", None)
            origins.pop("horizon", None)
        for path in tuple(_learned_no_more(layer.values, values)):
            values.pop(path)
            origins.pop(path)
        if "place" in layer.values and "name" not in layer.values:
            # The name of the file's place is not that of another.
            values.pop("name", None)
            origins.pop("name", None)
        if "place" in layer.values:
            # Nor is the ground around it; a tile may hold both.
            named_so = "," in layer.values["place"]
            for key in TERRAIN_KEYS[1:] if named_so else TERRAIN_KEYS:
                values.pop(key, None)
                origins.pop(key, None)
        values |= layer.values
        origins |= layer.origins
    if "place" not in values:
        raise InputError(
            "no place is given: give it with --from, or as place = in the station"
            " file: a grid locator such as 'KF07jo' or 'lat,lon'"
        )
    if isinstance(source, Path) and "terrain" in values:
        tiles = [str((source.parent / name).absolute()) for name in values["terrain"]]
        values["terrain"] = tuple(tiles)
    hills = _hills(values, lambda key: f"{origins[key]}, {key}")
    if hills is not None and not values.keys() & {"horizon", "horizon_deg"}:
        values["horizon"] = hills.skyline()
        origins["horizon"] = f"from {hills}"
    values = _defaults() | values
    if values["far_end.setup"] is not None:
        if values["far_end.antenna"] is not None:
            raise InputError(
                f"{named('far_end.antenna')}: {shown(values['far_end.antenna'])} and a "
                "set-up are given for the far end: name one of them"
            )
        values["far_end.antenna"] = OWN_ANTENNA
        origins["far_end.antenna"] = "one of your set-ups"
    for name, value in FAR_END_KINDS[values["far_end.kind"]].items():
        if values.get(f"far_end.{name}") is None:
            values[f"far_end.{name}"] = value
            if values["far_end.kind"] != FAR_END_KEYS["kind"].default:
                origins[f"far_end.{name}"] = f"a {values['far_end.kind']} station"
    region = values.get("iaru_region")
    if region is None:
        region = _region_of(values["place"])
        origins["iaru_region"] = "from the place"
    sent = values["emission"]
    sent = (sent,) if isinstance(sent, Emission) else sent
    bands = values.get("bands")
    if bands is None:
        # Of several the narrowest is used on most bands.
        bands = _default_bands(region, min(sent, key=lambda one: one.bandwidth_hz))
        origins["bands"] = f"default: region {region}, 160 m to 10 m"
    bands = tuple(name for name in BAND_NAMES if name in bands)
    levels = values.get("learned.level_db", {})
    setups = tuple(
        replace(made, level_db=tuple(levels.get(made.name, {}).items()))
        for made in (build_set_up(each, bands) for each in values["setups"])
    )
    taught_by = values.get("learned.source", LEARNED_KEYS["source"].default)
    for path in [each for each in values if each.startswith(_LEARNED)]:
        told = f"{origins.pop(path)}, learned from {taught_by}"
        below = levels if path == "learned.level_db" else ()
        origins |= dict.fromkeys([path, *(f"{path}.{name}" for name in below)], told)
    station = Station(
        name=values["name"],
        place=values["place"],
        power_w=values["power_w"],
        emission=sent[0],
        also_sent=sent[1:],
        noise=values["noise"],
        noise_trim_db=values["noise_trim_db"],
        ground=values["ground"],
        horizon_deg=values["horizon_deg"],
        bands=bands,
        iaru_region=region,
        far_end=FarEnd(
            values["far_end.antenna"],
            values["far_end.noise"],
            values["far_end.power_w"],
            values["far_end.kind"],
            values["far_end.setup"],
            values["far_end.at_least_one_of"],
            _hung_there(values["far_end.setup"], setups, named),
        ),
        setups=setups,
        time_zone=values.get("time_zone"),
        to=values.get("to", ()),
        horizon=values.get("horizon", ()),
        terrain=values.get("terrain", ()),
        slopes=values.get("slopes", ()),
        hills=hills,
        supports=values.get("supports", ()),
        **{key: values[key] for key in OUTING_KEYS if key in values},
        learned=Learned(
            taught_by if any(key.startswith(_LEARNED) for key in values) else "",
            tuple(values.get("learned.noise_db", {}).items()),
            values.get("learned.far_end_db", 0.0),
        ),
    )
    return station, origins


def _learned_no_more(
    given: Mapping[str, Any], values: Mapping[str, Any]
) -> Iterator[str]:
    """Key paths of what was learned of something that is now another."""
    of_noise = {"place", "noise", "noise_trim_db"}
    for path, is_other in (
        ("learned.noise_db", bool(given.keys() & of_noise)),
        ("learned.level_db", "setups" in given),
        ("learned.far_end_db", any(key.startswith("far_end.") for key in given)),
    ):
        if is_other and path in values:
            yield path


def _hills(values: Mapping[str, Any], named: Where) -> Terrain | None:
    """Read the ground around a place, if anything is said of it."""
    given = [key for key in TERRAIN_KEYS if key in values]
    if not given:
        return None
    from geo.places import parse_place
    from geo.terrain import read_tile, terrain_around, terrain_of_points

    if len(given) > 1:
        raise InputError(
            f"{named('slopes')}: the ground is given as tiles and as points: give one"
        )
    if "slopes" in given:
        return terrain_of_points(values["slopes"])
    if "," not in values["place"]:
        raise InputError(
            f"{named('terrain')}: {shown(values['place'])} is an area, not a place: "
            "give place as 'lat,lon' to 4 decimals or more, so that the ground under "
            "the wire is found"
        )
    place = parse_place(values["place"])
    try:
        tiles = [read_tile(Path(name)) for name in values["terrain"]]
        return terrain_around(tiles, place.lat_deg, place.lon_deg)
    except InputError as error:
        raise InputError(f"{named('terrain')}: {error}") from error


def _hung_there(
    name: str | None, setups: tuple[SetUp, ...], named: Where
) -> SetUp | None:
    """Find the set-up that is said to hang at the far end too."""
    known = {setup.name: setup for setup in setups}
    if name is None or name in known:
        return known.get(name or "")
    hint = near_matches(name, known)
    raise InputError(
        f"{named('far_end.setup')}: {shown(name)} is unknown: the station has "
        f"{', '.join(map(shown, known))}" + (f"; {hint}" if hint else "")
    )


def starter_toml() -> str:
    """
    Return a station file to start from, every key explained in a comment.

    Returns
    -------
    text : str
        TOML with invented values.
    """
    return (table_root() / "starter_station.toml").read_text(encoding="utf-8")


def demo_station() -> Path:
    """
    Return the station file of the demonstration, an invented scenario.

    Returns
    -------
    path : pathlib.Path
        For `resolve_station`.
    """
    return table_root() / "demo_station.toml"


def _defaults() -> dict[str, Any]:
    """Return the checked defaults by key path."""
    values = {
        name: key.check(key.default)
        for name, key in STATION_KEYS.items()
        if key.default is not None
    }
    values |= {f"far_end.{name}": key.default for name, key in FAR_END_KEYS.items()}
    return values | {"setups": DEFAULT_SET_UPS}


def _checked_layer(
    source: str, raw: Mapping[str, Any], origin: Where, where: Where
) -> StationFile:
    """Check everything a file or the options hold; flatten it to key paths."""
    values = checked(raw, STATION_KEYS, "", where)
    origins = {name: origin(name) for name in values}
    if "far_end" in values:
        far_end = checked(values.pop("far_end"), FAR_END_KEYS, "far_end", where)
        del origins["far_end"]
        for name, value in far_end.items():
            values[f"far_end.{name}"] = value
            origins[f"far_end.{name}"] = origin(f"far_end.{name}")
    if "learned" in values:
        learned = checked(values.pop("learned"), LEARNED_KEYS, "learned", where)
        del origins["learned"]
        for name, value in learned.items():
            values[f"learned.{name}"] = value
            origins[f"learned.{name}"] = origin(f"learned.{name}")
    if "setups" in values:
        del origins["setups"]
        values["setups"] = _checked_set_ups(values["setups"], where)
        for count, set_up in enumerate(values["setups"]):
            paths = (f"setups[{count}].{name}" for name in set_up)
            origins |= {path: origin(path) for path in paths}
    if "supports" in values:
        del origins["supports"]
        values["supports"] = _checked_supports(values["supports"], where)
        for count, given in enumerate(raw["supports"]):
            paths = (f"supports[{count}].{name}" for name in given)
            origins |= {path: origin(path) for path in paths}
    return StationFile(source, MappingProxyType(values), MappingProxyType(origins))


def _checked_supports(raw: Any, where: Where) -> tuple[Post, ...]:
    """Check a list of supports."""
    if not isinstance(raw, list | tuple):
        raise InputError(
            f"{where('supports')}: {shown(raw)} is not allowed: give each support under"
            " its own [[supports]] line"
        )
    posts = []
    for count, each in enumerate(raw):
        path = f"supports[{count}]"
        given = checked(each, SUPPORT_KEYS, path, where)
        if given.get("distance_m") == 0.0:
            given.setdefault("bearing_deg", 0.0)
        for name, key in SUPPORT_KEYS.items():
            if key.required and name not in given:
                raise InputError(f"{where(path)}: {name} is missing: {key.about}")
        posts.append(Post(**given))
    try:
        return checked_posts(posts)
    except InputError as error:
        raise InputError(f"{where('supports')}: {error}") from error


def _checked_set_ups(raw: Any, where: Where) -> tuple[dict[str, Any], ...]:
    """Check a list of set-ups; two of one name could not be told apart."""
    if not isinstance(raw, list | tuple) or not raw:
        raise InputError(
            f"{where('setups')}: {shown(raw)} is not allowed: give at least"
            " one set-up, each under its own [[setups]] line"
        )
    set_ups = tuple(
        check_set_up(each, f"setups[{count}]", where) for count, each in enumerate(raw)
    )
    names = Counter(each.get("name", each["shape"]) for each in set_ups)
    name, times = names.most_common(1)[0]
    if times > 1:
        raise InputError(
            f"{where('setups')}: {times} set-ups are called {shown(name)}:"
            " give each a name of its own"
        )
    return set_ups


def _region_of(place: str) -> int:
    """Return the radio region of a place that has been checked."""
    from geo.places import parse_place

    point = parse_place(place)
    return iaru_region_of(point.lat_deg, point.lon_deg)


def _default_bands(region: int, emission: Emission) -> tuple[str, ...]:
    """Return the bands up to 10 m on which an emission is used."""
    return tuple(
        band.name
        for band in bands_for_region(region)
        if band.high_mhz < 30.0 and emission.fits(band)
    )


def _key_lines(content: str) -> dict[str, int]:
    """
    Find the line of every key path, for messages.

    Keys inside inline tables and lists have no line of their own; text that runs
    over several lines is skipped.
    """
    lines: dict[str, int] = {}
    counts: Counter[str] = Counter()
    table, quote = "", ""
    for count, line in enumerate(content.split("\n"), start=1):
        was_open = quote
        for mark in re.findall(r'"""|\'\'\'', line):
            quote = "" if quote == mark else quote or mark
        if was_open:
            continue
        header, key = _HEADER_LINE.match(line), _KEY_LINE.match(line)
        if header:
            table = _bare(header[2])
            if header[1] == "[[":
                lines.setdefault(table, count)
                counts[table] += 1
                table = f"{table}[{counts[table] - 1}]"
            lines.setdefault(table, count)
        elif key:
            path = f"{table}.{_bare(key[1])}" if table else _bare(key[1])
            lines.setdefault(path, count)
    return lines


def _bare(dotted: str) -> str:
    """Take quotes and blanks out of a dotted key."""
    return ".".join(part.strip("\"'") for part in re.findall(_NAME, dotted))


def _line_of(path: str, lines: Mapping[str, int]) -> int | None:
    """Return the line of a key path, or of the nearest table around it."""
    while path and path not in lines:
        path = path[: max(path.rfind("."), path.rfind("["), 0)]
    return lines.get(path)


_SLIPS = (
    (r"^[^#\"']*=\s*[-+]?\d+,\d", "a decimal comma: write a point, such as 7.5"),
    (
        "[\u2018\u2019\u201c\u201d\u201e\u00ab\u00bb]",
        "curly quotes: write straight ones",
    ),
    (r"^\s*\[setups\]", "a set-up begins with [[setups]], in two brackets"),
    (r"^\s*\w+\s+[^=\s]+\s*$", "a key and its value have = between them"),
    (r"^[^#=]*=\s*[A-Za-z][^\"'#]*$", "a text stands in quotes"),
)
"""What people write that is no TOML, and what it should be."""


def _what_was_meant(content: str) -> str:
    """Say which line has a common slip; empty if none has."""
    for number, line in enumerate(content.splitlines(), start=1):
        for slip, said in _SLIPS:
            if re.search(slip, line) and not re.search(
                r"=\s*(true|false|inf|nan)", line
            ):
                return f"line {number}, {said}"
    return ""
