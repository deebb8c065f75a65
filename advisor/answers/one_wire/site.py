"""What the ground around a station makes of a wire, by bearing and angle."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from advisor.answers.one_wire.wire import WireWork
from advisor.antenna.ground import ground_by_name
from advisor.antenna.hills import Hills, hills_of
from advisor.antenna.pattern import Pattern
from advisor.engine.wires import solve_at
from advisor.station.station import Station
from geo.arrays import Floats
from geo.errors import InputError
from geo.fields import record
from geo.terrain import BEARINGS_DEG, Terrain

TABLED_BEARINGS = slice(0, None, 6)
"""Every 30 degrees stands in tables."""

TABLED_DEG = (3.0, 5.0, 8.0, 12.0, 20.0, 30.0)
"""Angles of the tables. [deg]"""

TABLED_M = (100.0, 300.0, 1000.0, 3000.0)
"""Distances at which tables tell the ground. [m]"""

GRID_DEG = np.arange(1.0, 40.5, 1.0)
"""Angles of the pictures. [deg]"""

_LEAST_GAIN = 1e-4


@record
class SiteBearing:
    """
    One band and bearing over the ground around.

    Attributes
    ----------
    band : str
        Name of the band.
    bearing_deg : float
        From true north. [deg]
    takeoff_deg : tuple of float
        Take-off angles. [deg]
    gain_dbi : tuple of float
        Gain at each over this ground, for power into the wire; of a wire that is free
        to turn, turned to send most there. Told down to -40. [dBi]
    over_flat_db : tuple of float
        What of it is due to the hills. [dB]
    """

    band: str
    bearing_deg: float
    takeoff_deg: tuple[float, ...]
    gain_dbi: tuple[float, ...]
    over_flat_db: tuple[float, ...]


@record
class SiteProfile:
    """
    The ground on one bearing.

    Attributes
    ----------
    bearing_deg : float
        From true north. [deg]
    skyline_deg : float
        Elevation of the horizon. [deg]
    distance_m : tuple of float
        Distances. [m]
    height_m : tuple of float
        Height at each over the ground at the station. [m]
    """

    bearing_deg: float
    skyline_deg: float
    distance_m: tuple[float, ...]
    height_m: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class SiteWork:
    """
    A set-up over the ground around the station.

    Attributes
    ----------
    name : str
        The set-up.
    is_free : bool
        Whether it may be turned, and is, for each bearing.
    ground : Terrain
        The ground.
    bearings : tuple of SiteBearing
        Bands lowest first, each on every thirtieth degree.
    profiles : tuple of SiteProfile
        On the same bearings.
    grids : dict of str to numpy.ndarray
        By band, gain by bearing of `BEARINGS_DEG` and angle of `GRID_DEG`. [dBi]
    """

    name: str
    is_free: bool
    ground: Terrain
    bearings: tuple[SiteBearing, ...]
    profiles: tuple[SiteProfile, ...]
    grids: dict[str, Floats]


def site_work(
    station: Station, work: WireWork, cache_dir: Path | None = None
) -> SiteWork:
    """
    Put a set-up on the ground around the station.

    Parameters
    ----------
    station : Station
        With the ground around its place.
    work : WireWork
        The set-up on its bands.
    cache_dir : pathlib.Path, optional
        Where solved wires and hills are kept between runs.

    Returns
    -------
    site : SiteWork
        Gain by band, bearing and angle, and the ground itself.

    Raises
    ------
    geo.errors.InputError
        If nothing is known of the ground.
    """
    ground = station.hills
    if ground is None:
        raise InputError("nothing is known of the ground")
    soil, setup = ground_by_name(station.ground), work.setup
    bearings: list[SiteBearing] = []
    grids: dict[str, Floats] = {}
    shown = BEARINGS_DEG[TABLED_BEARINGS]
    for band in work.bands:
        fed = solve_at(setup, band.frequency_mhz, soil, cache_dir).pattern
        pattern = replace(band.pattern, centre=fed.centre)
        hills = hills_of(ground, pattern, soil, cache_dir)
        grids[band.band], _ = _gains_dbi(
            hills, pattern, BEARINGS_DEG, GRID_DEG, setup.bearing_deg
        )
        hilly, flat = _gains_dbi(
            hills, pattern, shown, np.array(TABLED_DEG), setup.bearing_deg
        )
        bearings += [
            SiteBearing(
                band.band,
                float(bearing),
                TABLED_DEG,
                tuple(row.tolist()),
                tuple((row - level).tolist()),
            )
            for bearing, row, level in zip(shown, hilly, flat, strict=True)
        ]
    skyline = dict(ground.skyline())
    profiles = tuple(
        SiteProfile(
            float(bearing),
            skyline[float(bearing)],
            TABLED_M,
            tuple(np.interp(TABLED_M, ground.distance_m, height).tolist()),
        )
        for bearing, height in zip(shown, ground.height_m[TABLED_BEARINGS], strict=True)
    )
    return SiteWork(
        setup.name, setup.is_free_to_turn, ground, tuple(bearings), profiles, grids
    )


def _gains_dbi(
    hills: Hills,
    pattern: Pattern,
    bearing_deg: Floats,
    takeoff_deg: Floats,
    wire_deg: float | None,
) -> tuple[Floats, Floats]:
    """Gain over hills and flat ground, (bearings, angles); the best turn if free."""
    off = pattern.azimuth_deg if wire_deg is None else bearing_deg - wire_deg
    azimuth = off[None, :, None] if wire_deg is None else off[:, None, None]
    bearing = bearing_deg[:, None, None]
    flat = pattern.gain(takeoff_deg, azimuth)
    hilly = flat + hills.more(pattern, takeoff_deg, azimuth, bearing)
    flat = np.broadcast_to(flat, hilly.shape)
    return _dbi(hilly), _dbi(flat)


def _dbi(gain: Floats) -> Floats:
    """Most of any turn, in dBi."""
    return np.asarray(10.0 * np.log10(np.maximum(gain.max(axis=1), _LEAST_GAIN)))
