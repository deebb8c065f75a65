"""Every value of a station as text, with where it came from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from advisor.station.emissions import Emission
from advisor.station.setup import SetUp, default_sizes
from advisor.station.station import (
    FAR_END_KEYS,
    OUTING_KEYS,
    STATION_KEYS,
    TABLE_KEYS,
    TERRAIN_KEYS,
    Station,
)


def describe(
    station: Station, origins: Mapping[str, str]
) -> list[tuple[str, str, str]]:
    """
    List every value of a station with where it came from.

    Parameters
    ----------
    station : Station
        The station.
    origins : mapping of str to str
        Origin of each key path, from `advisor.station.file.resolve_station`.

    Returns
    -------
    rows : list of (str, str, str)
        Key path, value as text, origin.
    """
    values: dict[str, Any] = {
        name: getattr(station, name)
        for name in STATION_KEYS
        if name not in (*TABLE_KEYS, *TERRAIN_KEYS, *OUTING_KEYS)
    }
    values["emission"] = "; ".join(
        _as_text(each) for each in (station.emission, *station.also_sent)
    )
    given = [key for key in (*TERRAIN_KEYS, *OUTING_KEYS) if key in origins]
    values |= {key: getattr(station, key) for key in given}
    values |= {
        f"far_end.{name}": getattr(station.far_end, name) for name in FAR_END_KEYS
    }
    for count, set_up in enumerate(station.setups):
        for name, value in (_left_out(set_up) | set_up.as_mapping()).items():
            values[f"setups[{count}].{name}"] = value
    for count, post in enumerate(station.supports):
        for name, value in asdict(post).items():
            values[f"supports[{count}].{name}"] = value
    values |= _learned_values(station)
    return [
        (path, _as_text(value), origins.get(path, "default"))
        for path, value in values.items()
    ]


def _learned_values(station: Station) -> dict[str, Any]:
    """List what was learned by key path."""
    learned = station.learned
    by_band = {"learned.noise_db": learned.noise_db}
    by_band |= {
        f"learned.level_db.{each.name}": each.level_db for each in station.setups
    }
    values: dict[str, Any] = {
        path: [f"{band} {more_db:+g}" for band, more_db in each]
        for path, each in by_band.items()
        if each
    }
    return values | (
        {"learned.far_end_db": learned.far_end_db} if learned.far_end_db else {}
    )


def _left_out(set_up: SetUp) -> dict[str, Any]:
    """Return what a set-up takes if nothing else was given; lengths over its bands."""
    from advisor.antenna.shapes.registry import SHAPES

    usual = SHAPES[set_up.shape]
    values: dict[str, Any] = {
        name: f"{low:g}" if low == high else f"{low:g} to {high:g}, by band"
        for name, (low, high) in default_sizes(set_up).items()
    }
    return values | {
        "cut": set_up.cut,
        "transformer": usual.transformer,
        "line": usual.line,
        "line_m": set_up.line_m,
        "tuner": str(set_up.tuner).lower(),
        "wire_mm": set_up.wire_mm,
        "insulation_mm": set_up.insulation_mm,
        "metal": set_up.metal,
        "plastic": set_up.plastic,
        "stake_m": set_up.stake_m,
        "choke_at_m": set_up.choke_at_m,
        "line_away_deg": set_up.line_away_deg,
    }


_MOST_SHOWN = 36
"""A longer list is told by its length: a skyline worked out from tiles."""


def _as_text(value: object) -> str:
    """Write a value of a station for people."""
    if value is None or value == ():
        return "-"
    if isinstance(value, Emission):
        need = f"needs {value.snr_in_db():.0f} dB in 2.5 kHz"
        return f"{value.name} ({value.bandwidth_hz:g} Hz, {need})"
    if isinstance(value, tuple | list):
        if len(value) > _MOST_SHOWN:
            return f"{len(value)} points"
        return ", ".join(str(part) for part in value)
    return f"{value:g}" if isinstance(value, float) else str(value)
