"""Chances to the whole world over the hours, however the wire may run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.scene import Scene
from advisor.answers.pictures.world import (
    Grid,
    MapTarget,
    land_outline,
    seen_targets,
    turned_chances,
    world_links,
)
from advisor.antenna.pattern import Pattern
from geo.arrays import Bools, Floats, Times
from geo.records import ArrayRecord
from geo.sphere import EARTH_CIRCUMFERENCE_KM, bearing_deg, destination, distance_km
from geo.sun import REFRACTION_AND_RADIUS_DEG, subsolar_point, zenith_deg

_FARTHEST_KM = 0.5 * EARTH_CIRCUMFERENCE_KM

TURN_STEP_DEG = 15.0
"""Between bearings of a wire that is turned. [deg]"""

MOST_HOURS = 8
"""Hours of a question that are worked out: every third of a day."""


COARSE = Grid(
    np.concatenate(
        [
            np.arange(0.0, 1e3, 250.0),
            np.arange(1e3, 4e3, 500.0),
            np.arange(4e3, 1e4, 1e3),
            np.linspace(1e4, _FARTHEST_KM, 6),
        ]
    ),
    np.arange(0.0, 360.0, 24.0),
)
"""For all hours of a page; between them it is drawn in even shades."""

DRAWN = Grid(
    np.concatenate([np.arange(0.0, 4e3, 250.0), np.linspace(4e3, _FARTHEST_KM, 33)]),
    np.arange(0.0, 360.0, 5.0),
)
"""Cells of a small map."""


class WorldTurned(ArrayRecord):
    """
    Chances to everywhere for every bearing of the wire, M hours.

    Attributes
    ----------
    hour, band : tuple of int
        Of each map, places on the axes of the question.
    grid : Grid
        Where it is worked out, R rings and A rays.
    turn_deg : float
        Turn after which everything repeats: 180 or 360. [deg]
    wire_deg : numpy.ndarray
        Shape (G,), rising bearings of the wire from 0; 0 alone where turning changes
        nothing. [deg]
    chance : numpy.ndarray
        Shape (M, G, R, A), chance of a contact.
    """

    hour: tuple[int, ...]
    band: tuple[int, ...]
    grid: Grid
    turn_deg: float
    wire_deg: Floats
    chance: Floats


class Worlds(ArrayRecord):
    """
    Small maps of the world over the hours, the wire as it is advised or hung.

    Attributes
    ----------
    setup, target, label : str
        The set-up, the target whose best band is looked at, and what the station's
        place is called.
    long_path : bool
        Whether places are reached the long way round.
    times : numpy.ndarray of datetime64[s]
        Shape (M,), UTC.
    bands : tuple of str
        Band of each.
    turned : WorldTurned
        What they are drawn from.
    chance : numpy.ndarray
        Shape (M, R, A), on `DRAWN`.
    is_night : numpy.ndarray of bool
        Shape (M, R, A), whether the sun is down there.
    open_share : numpy.ndarray
        Shape (M,), share of the Earth's surface with a chance that counts.
    skip_km : numpy.ndarray
        Shape (M,), where the skip zone towards the target ends; NaN for none. [km]
    skip_deg : float
        Bearing it holds for; NaN where the target lies all round. [deg]
    land_km, land_deg : numpy.ndarray
        Shape (N,), outline of the land, NaN between its parts. [km], [deg]
    targets : tuple of MapTarget
        Where the targets lie.
    """

    setup: str
    target: str
    label: str
    long_path: bool
    times: Times
    bands: tuple[str, ...]
    turned: WorldTurned
    chance: Floats
    is_night: Bools
    open_share: Floats
    skip_km: Floats
    skip_deg: float
    land_km: Floats
    land_deg: Floats
    targets: tuple[MapTarget, ...]


def turns_of(patterns: Mapping[str, Pattern], wire_deg: float | None) -> Floats:
    """
    List bearings that a wire is turned through.

    Parameters
    ----------
    patterns : mapping of str to Pattern
        Its patterns by band.
    wire_deg : float or None
        Bearing it hangs on, which is among them; None where turning changes nothing.
        [deg]

    Returns
    -------
    turns_deg : numpy.ndarray
        Shape (G,), rising from 0, as far as they differ. [deg]
    """
    if wire_deg is None:
        return np.zeros(1)
    whole_deg = turn_of(patterns)
    steps = np.arange(0.0, whole_deg, TURN_STEP_DEG)
    return np.unique(np.append(steps, wire_deg % whole_deg))


def turn_of(patterns: Mapping[str, Pattern]) -> float:
    """
    Tell after what turn of a wire everything repeats.

    Parameters
    ----------
    patterns : mapping of str to Pattern
        Its patterns by band.

    Returns
    -------
    turn_deg : float
        180 or 360. [deg]
    """
    return 180.0 if all(each.is_reversible for each in patterns.values()) else 360.0


def world_turned(scene: Scene) -> WorldTurned:
    """
    Turn the best set-up of an answer, and find the chance to everywhere.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.

    Returns
    -------
    turned : WorldTurned
        At `MOST_HOURS` of its hours in even steps, on the band that is then best to
        the first target.
    """
    question, one = scene.advice.question, scene.advice.setups[0]
    patterns = scene.patterns[one.name]
    turns = turns_of(patterns, one.bearing.wire_deg)
    hours = np.arange(0, question.times.size, -(-question.times.size // MOST_HOURS))
    best = np.where(one.works, one.chance[0], -1.0)[hours].argmax(axis=-1)
    chance = np.empty(
        (hours.size, turns.size, COARSE.ring_km.size, COARSE.azimuth_deg.size)
    )
    for b in np.unique(best):
        mine = np.flatnonzero(best == b)
        band = question.bands[int(b)]
        some = replace(
            question,
            times=question.times[hours[mine]],
            bands=(band,),
            solar=question.solar.at(hours[mine]),
        )
        far = scene.far_patterns[band.name]
        every = COARSE.ring_km.size
        for asked, link in world_links(some, far, scene.cache_dir, COARSE, every):
            found = turned_chances(asked, link, patterns[band.name], turns)
            chance[mine] = np.moveaxis(found, -1, 0).reshape(-1, *chance.shape[1:])
    return WorldTurned(
        hour=tuple(hours.tolist()),
        band=tuple(best.tolist()),
        grid=COARSE,
        turn_deg=turn_of(patterns),
        wire_deg=turns,
        chance=chance,
    )


def between(grid: Grid, chance: Floats, away_km: Floats, azimuth_deg: Floats) -> Floats:
    """
    Interpolate between the places of a grid, linear in distance and bearing.

    Parameters
    ----------
    grid : Grid
        The places.
    chance : numpy.ndarray
        Shape (..., R, A).
    away_km, azimuth_deg : numpy.ndarray
        Shape (...), where; nearer than the first ring it is that of the first, and so
        at the other end. [km], [deg]

    Returns
    -------
    chance : numpy.ndarray
        That of the leading axes, then that of ``where``.
    """
    ring = np.interp(away_km, grid.ring_km, np.arange(grid.ring_km.size))
    ray = np.asarray(azimuth_deg) % 360.0 / (360.0 / grid.azimuth_deg.size)
    low = np.minimum(ring.astype(int), grid.ring_km.size - 2)
    first = ray.astype(int) % grid.azimuth_deg.size
    second = (first + 1) % grid.azimuth_deg.size
    out, turn = ring - low, ray - np.floor(ray)
    near = chance[..., low, first] * (1.0 - turn) + chance[..., low, second] * turn
    far = chance[..., low + 1, first] * (1.0 - turn)
    far = far + chance[..., low + 1, second] * turn
    return np.asarray(near * (1.0 - out) + far * out)


def worlds(scene: Scene, turned: WorldTurned | None = None) -> Worlds:
    """
    Lay out small maps of the world over the hours.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    turned : WorldTurned, optional
        From `world_turned`, if it is at hand.

    Returns
    -------
    record : Worlds
        The wire as it is advised or hung.
    """
    advice = scene.advice
    question, one = advice.question, advice.setups[0]
    turned = world_turned(scene) if turned is None else turned
    wire = one.bearing.wire_deg
    hung = int(np.searchsorted(turned.wire_deg, (wire or 0.0) % turned.turn_deg))
    times = question.times[list(turned.hour)]
    away, towards = np.meshgrid(DRAWN.ring_km, DRAWN.azimuth_deg, indexing="ij")
    place = question.place
    lat, lon = destination(place.lat_deg, place.lon_deg, towards, away)
    sun_lat, sun_lon = (each[:, None, None] for each in subsolar_point(times))
    sun = zenith_deg(lat, lon, sun_lat, sun_lon)
    as_hung = turned.chance[:, hung]
    chance = between(turned.grid, as_hung, away, towards)
    # Share of the sphere within a distance.
    within = 0.5 * (1.0 - np.cos(np.pi * DRAWN.edge_km / _FARTHEST_KM))
    asked = advice.targets[0]
    deg = float("nan") if asked.is_all_round else asked.bearing_deg
    land = land_outline()
    return Worlds(
        setup=one.name,
        target=asked.name,
        label=question.here,
        long_path=question.long_path,
        times=times,
        bands=tuple(question.bands[b].name for b in turned.band),
        turned=turned,
        chance=chance,
        is_night=sun > 90.0 + REFRACTION_AND_RADIUS_DEG,
        open_share=(chance >= OPEN_CHANCE).mean(axis=-1) @ np.diff(within),
        skip_km=_skips_km(turned.grid, as_hung, deg, question.long_path),
        skip_deg=deg,
        land_km=distance_km(place.lat_deg, place.lon_deg, *land),
        land_deg=bearing_deg(place.lat_deg, place.lon_deg, *land),
        targets=seen_targets(advice),
    )


def _skips_km(
    grid: Grid, chance: Floats, towards_deg: float, is_long: bool
) -> NDArray[np.float64]:
    """Find where what is skipped ends, of each map: the first rise to a chance."""
    away = np.arange(0.0, 3001.0, 50.0)
    if np.isnan(towards_deg):
        along = np.stack([between(grid, chance, away, deg) for deg in grid.azimuth_deg])
        along = along.mean(axis=0)
    else:
        along = between(grid, chance, away, np.full(away.size, towards_deg))
    is_open = along >= OPEN_CHANCE
    rises = is_open[:, 1:] & ~is_open[:, :-1]
    found = np.where(rises.any(axis=1), away[1:][rises.argmax(axis=1)], np.nan)
    return np.where(is_long, np.nan, found)
