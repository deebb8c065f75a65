"""A station as the file that says it: values laid out as in a file, and its TOML."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any

from advisor.station.emissions import EMISSION_NAMES, Emission
from advisor.station.station import (
    FAR_END_KEYS,
    OUTING_KEYS,
    OWN_ANTENNA,
    STATION_KEYS,
    TABLE_KEYS,
    TERRAIN_KEYS,
    UNNAMED,
    Station,
)

_OLD = re.compile(r"^[ \t]*\[\s*learned\b[^\n]*\n?(?:(?![ \t]*\[)[^\n]*\n?)*", re.M)
"""A table of what was learned, up to the next one."""


def station_values(station: Station) -> dict[str, Any]:
    """
    Lay a station out as a file holds it.

    Parameters
    ----------
    station : Station
        The station.

    Returns
    -------
    values : dict
        Accepted by `advisor.station.file.resolve_station`, which makes the same
        station of it, but for the ground around it: of that only the skyline is kept.
    """
    values = {
        name: getattr(station, name)
        for name, key in STATION_KEYS.items()
        if name not in ("learned", *TERRAIN_KEYS)
        and not (name in OUTING_KEYS and getattr(station, name) == key.default)
    }
    sent = [_emission(each) for each in (station.emission, *station.also_sent)]
    values["emission"] = sent if len(sent) > 1 else sent[0]
    if station.name == UNNAMED:
        del values["name"]
    far = {name: getattr(station.far_end, name) for name in FAR_END_KEYS}
    if far["antenna"] == OWN_ANTENNA:
        del far["antenna"]
    values["far_end"] = {key: value for key, value in far.items() if value is not None}
    values["setups"] = [setup.as_mapping() for setup in station.setups]
    values["supports"] = tuple(asdict(post) for post in station.supports)
    values["learned"] = learned_values(station) or None
    return {
        key: [list(each) if isinstance(each, tuple) else each for each in value]
        if isinstance(value, tuple)
        else value
        for key, value in values.items()
        if value is not None and value != ()
    }


def learned_values(station: Station) -> dict[str, Any]:
    """
    Lay out what was learned of a station as a file holds it.

    Parameters
    ----------
    station : Station
        The station.

    Returns
    -------
    values : dict
        Of `advisor.station.learned.LEARNED_KEYS`; empty if nothing was.
    """
    learned = station.learned
    levels = {each.name: dict(each.level_db) for each in station.setups}
    values = {
        "noise_db": dict(learned.noise_db),
        "level_db": {name: each for name, each in levels.items() if each},
        "far_end_db": learned.far_end_db,
    }
    known = {key: value for key, value in values.items() if value}
    return {"source": learned.source, **known} if known else {}


def _emission(emission: Emission) -> str | dict[str, Any]:
    """Name an emission, or give the figures of one that is not in the table."""
    if emission.name in EMISSION_NAMES and emission.designator:
        return emission.name
    return {
        "name": emission.name,
        "bandwidth_hz": emission.bandwidth_hz,
        "snr_db": round(emission.snr_db, 9),
        "duty_cycle": emission.duty_cycle,
    }


def with_learned(text: str, learned: Mapping[str, Any]) -> str:
    r"""
    Put what was learned into the text of a station file.

    Parameters
    ----------
    text : str
        The file; all else in it stays as it stands, comments too.
    learned : mapping
        Keys of `advisor.station.learned.LEARNED_KEYS`.

    Returns
    -------
    text : str
        TOML (version 1.0), with one table of them at its end.

    Examples
    --------
    >>> text = "power_w = 5\n[learned]\nfar_end_db = 2"
    >>> print(with_learned(text, {"far_end_db": 1}), end="")
    power_w = 5
    <BLANKLINE>
    [learned]
    far_end_db = 1
    """
    kept = _OLD.sub("", text.replace("\r\n", "\n")).rstrip()
    return f"{kept}\n{station_toml({'learned': learned})}"


def station_toml(values: Mapping[str, Any]) -> str:
    """
    Write the values of a station as a file.

    Parameters
    ----------
    values : mapping
        As `station_values` lays them out.

    Returns
    -------
    text : str
        TOML (version 1.0).

    Examples
    --------
    >>> print(station_toml({"power_w": 10.0, "setups": [{"shape": "dipole"}]}), end="")
    power_w = 10.0
    <BLANKLINE>
    [[setups]]
    shape = "dipole"
    """
    return "".join(f"{line}\n" for line in _lines(values))


def _lines(values: Mapping[str, Any]) -> Iterator[str]:
    """Lines of the file: what stands alone, the tables, the wires and supports."""
    tables = {key: each for key, each in values.items() if isinstance(each, Mapping)}
    for key, value in values.items():
        if key not in tables and key not in TABLE_KEYS:
            yield f"{key} = {_text(value)}"
    for key, table in tables.items():
        yield from ("", f"[{key}]")
        yield from (f"{name} = {_text(value)}" for name, value in table.items())
    for key in ("setups", "supports"):
        for each in values.get(key, ()):
            yield from ("", f"[[{key}]]")
            yield from (f"{name} = {_text(value)}" for name, value in each.items())


def _text(value: Any) -> str:
    """Write a text, number, flag, or a list or table of them."""
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_text, value))}]"
    if isinstance(value, Mapping):
        pairs = (f"{_text(key)} = {_text(each)}" for key, each in value.items())
        return f"{{ {', '.join(pairs)} }}"
    # A text of TOML escapes as one of JSON does, but for what is beyond 16 bits.
    return (
        json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
        if isinstance(value, str)
        else json.dumps(value)
    )
