"""
Chances to the whole world from one station, on rings and rays around it.

Rings and rays are the natural grid: the map of a station shows distance and bearing
true, and the rings can be close together where the skip zone is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.scene import Moment, Scene, best_moment, narrowed
from advisor.antenna.pattern import Pattern
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.propagation.first_hop import nearest_km
from geo.arrays import Floats, Times
from geo.places import Target
from geo.records import ArrayRecord
from geo.sphere import EARTH_CIRCUMFERENCE_KM, bearing_deg, destination, distance_km
from geo.sun import REFRACTION_AND_RADIUS_DEG, subsolar_point
from geo.tables import read_arrays

STEP_DEG = 10.0
"""Usual spacing of the rays; the far rings lie half as far apart. [deg]"""

NEAR_KM = 3000.0
"""Out to here the rings lie close together, so that the skip zone shows. [km]"""

NEAR_STEP_KM = 125.0
"""Spacing of the near rings. [km]"""

_FARTHEST_KM = 0.5 * EARTH_CIRCUMFERENCE_KM
_KM_PER_DEG = EARTH_CIRCUMFERENCE_KM / 360.0
_CELLS_AT_ONCE = 8_000
"""Places times hours worked out together, so that memory stays small."""

_CUT_LON_DEG = 179.99


class Grid(ArrayRecord):
    """
    Places around a station, one in the middle of each cell.

    Attributes
    ----------
    edge_km : numpy.ndarray
        Shape (R + 1,), edges of the rings. [km]
    azimuth_deg : numpy.ndarray
        Shape (A,), bearings in even steps from north. [deg]
    """

    edge_km: Floats
    azimuth_deg: Floats

    @property
    def ring_km(self) -> Floats:
        """Distance of the places in km, (R,)."""
        return np.asarray(0.5 * (self.edge_km[1:] + self.edge_km[:-1]))


FINE = Grid(
    np.concatenate([np.arange(0.0, 3e3, 250.0), np.linspace(3e3, _FARTHEST_KM, 18)]),
    np.arange(0.0, 360.0, 15.0),
)
"""Close together where the skip zone is; for one hour."""

_RINGS = 5
"""Rings worked out together: between them one can leave off."""

_AT_ONCE = 4
"""Bearings of the wire worked out together: fast, and still small in memory."""


class WorldChances(ArrayRecord):
    """
    Chance of a contact on rings and rays around a station.

    Attributes
    ----------
    times : numpy.ndarray of datetime64[s]
        Shape (T,), UTC.
    band : str
        Band name.
    range_edge_km : numpy.ndarray
        Shape (R + 1,), edges of the rings. [km]
    azimuth_edge_deg : numpy.ndarray
        Shape (A + 1,), edges of the sectors. [deg]
    chance : numpy.ndarray
        Shape (T, R, A), 0 to 1, at the middle of each cell.
    """

    times: Times
    band: str
    range_edge_km: Floats
    azimuth_edge_deg: Floats
    chance: Floats


class WorldMap(ArrayRecord):
    """
    The world around a station at one hour on one band.

    Lines are given as distance and bearing, with NaN between their parts.

    Attributes
    ----------
    setup, label : str
        The set-up and what the station's place is called.
    long_path : bool
        Whether places are reached the long way round.
    utc : numpy.datetime64
        The hour.
    chances : WorldChances
        One hour of chances.
    land_km, land_deg : numpy.ndarray
        Shape (N,), outline of the land. [km], [deg]
    greyline_km, greyline_deg : numpy.ndarray
        Shape (N,), line of sunrise and sunset. [km], [deg]
    sun_km, sun_deg : float
        Place under the sun. [km], [deg]
    targets : tuple of MapTarget
        Where the targets lie.
    skip_from_km, skip_km : float
        Where the gap between what is near and what the hops reach begins and ends;
        NaN where it is not wider than one ring, nothing opens beyond it within
        `NEAR_KM`, or the long way is asked about. [km]
    skip_deg : float
        Bearing it holds for, that of the target; NaN where the target lies all
        round and the mean over all bearings is meant. [deg]
    """

    setup: str
    label: str
    long_path: bool
    utc: np.datetime64
    chances: WorldChances
    land_km: Floats
    land_deg: Floats
    greyline_km: Floats
    greyline_deg: Floats
    sun_km: float
    sun_deg: float
    targets: tuple[MapTarget, ...]
    skip_from_km: float
    skip_km: float
    skip_deg: float


class MapTarget(ArrayRecord):
    """
    A target on the map.

    Attributes
    ----------
    name : str
        Its name.
    bearing_deg : float
        Mean bearing of the way taken at my end. [deg]
    is_all_round : bool
        Whether it lies about the station.
    point_km, point_deg : numpy.ndarray
        Shape (N,), its sample points. [km], [deg]
    """

    name: str
    bearing_deg: float
    is_all_round: bool
    point_km: Floats
    point_deg: Floats


def range_edges_km(step_deg: float) -> Floats:
    """
    Edges of the rings: close together near the station, then wider.

    Parameters
    ----------
    step_deg : float
        Spacing of the rays; far rings are half that apart along the ground. [deg]

    Returns
    -------
    edges_km : numpy.ndarray
        From 0 to half the Earth's circumference. [km]

    Examples
    --------
    >>> range_edges_km(10.0)[[0, 1, 24, 25, -1]].round(0)
    array([    0.,   125.,  3000.,  3548., 20015.])
    """
    near = np.arange(0.0, NEAR_KM, NEAR_STEP_KM)
    far_rings = round((_FARTHEST_KM - NEAR_KM) / (0.5 * step_deg * _KM_PER_DEG))
    return np.concatenate([near, np.linspace(NEAR_KM, _FARTHEST_KM, far_rings + 1)])


def world_chances(
    question: Question,
    pattern: Pattern,
    far_pattern: Pattern,
    wire_deg: float | None,
    step_deg: float = STEP_DEG,
    cache_dir: Path | None = None,
) -> WorldChances:
    """
    Work out the chance to everywhere on one band.

    Parameters
    ----------
    question : Question
        With one band; its targets do not matter, but whether the long way is asked
        about does: then the chance is that of reaching a place by it.
    pattern, far_pattern : Pattern
        My set-up's and the far end's on that band.
    wire_deg : float or None
        Way the wire runs. [deg]
    step_deg : float, optional
        Spacing of the rays. [deg]
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs.

    Returns
    -------
    chances : WorldChances
        For all hours of the question.
    """
    edges = range_edges_km(step_deg)
    turns = np.linspace(0.0, 360.0, round(360.0 / step_deg) + 1)
    grid = Grid(edges, 0.5 * (turns[1:] + turns[:-1]))
    hours = question.times.size
    rings = max(1, _CELLS_AT_ONCE // (hours * grid.azimuth_deg.size))
    wire = np.array([wire_deg or 0.0])
    each = [
        turned_chances(asked, link, pattern, wire)[0]
        for asked, link in world_links(question, far_pattern, cache_dir, grid, rings)
    ]
    chance = np.concatenate(each).T
    return WorldChances(
        times=question.times,
        band=question.bands[0].name,
        range_edge_km=edges,
        azimuth_edge_deg=turns,
        chance=chance.reshape(hours, grid.ring_km.size, grid.azimuth_deg.size),
    )


def world_links(
    question: Question,
    far_pattern: Pattern,
    cache_dir: Path | None = None,
    grid: Grid = FINE,
    rings: int = _RINGS,
) -> Iterator[tuple[Question, Link]]:
    """
    Work out the sky to every place of a grid, some rings at a time.

    Parameters
    ----------
    question : Question
        Of one band; its targets do not matter.
    far_pattern : Pattern
        The far end's on that band.
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs.
    grid : Grid, optional
        The places.
    rings : int, optional
        How many rings at a time.

    Yields
    ------
    question : Question
        The same about some of the places, the innermost rings first.
    link : Link
        The sky's half of it.
    """
    place = question.place
    for first in range(0, grid.ring_km.size, rings):
        away_km, towards_deg = (
            each.ravel()
            for each in np.meshgrid(
                grid.ring_km[first : first + rings], grid.azimuth_deg, indexing="ij"
            )
        )
        lat, lon = destination(place.lat_deg, place.lon_deg, towards_deg, away_km)
        weight = np.full(lat.size, 1.0 / lat.size)
        some = replace(
            question, targets=(Target("world", "point", lat, lon, weight, ""),)
        )
        far = {question.bands[0].name: far_pattern}
        yield some, link_for(some, question.solar.r12, far, cache_dir=cache_dir)


def turned_chances(
    question: Question, link: Link, pattern: Pattern, turns_deg: Floats
) -> Floats:
    """
    Turn the wire and find the chance at every place.

    Parameters
    ----------
    question, link
        From `world_links`.
    pattern : Pattern
        My set-up's on that band.
    turns_deg : numpy.ndarray
        Shape (G,), bearings of the wire. [deg]

    Returns
    -------
    chance : numpy.ndarray
        Shape (G, N, T): places, hours.
    """
    each = []
    for first in range(0, turns_deg.size, _AT_ONCE):
        some = turns_deg[first : first + _AT_ONCE]
        gains = wire_gains(question, link, {question.bands[0].name: pattern}, some)
        each.append(contact_chance(link, gains).both[..., 0])
    return np.concatenate(each)


def world_map(
    scene: Scene,
    target: int = 0,
    setup: int = 0,
    moment: Moment | None = None,
) -> WorldMap:
    """
    Lay out the world around the station at one hour on one band.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    target, setup : int, optional
        Which target sets the hour and the band, which set-up in order of rank.
    moment : Moment, optional
        Hour and band looked at; that of the greatest chance if not given.

    Returns
    -------
    record : WorldMap
        Chances, land, sun and targets by distance and bearing.
    """
    advice = scene.advice
    one = advice.setups[setup]
    at = moment or best_moment(advice, target, setup)
    question = narrowed(advice.question, target, at.hour, at.band)
    band = question.bands[0].name
    chances = world_chances(
        question,
        scene.patterns[one.name][band],
        scene.far_patterns[band],
        one.bearing.wire_deg,
        cache_dir=scene.cache_dir,
    )
    place = question.place

    def seen(lat: Floats, lon: Floats) -> tuple[Floats, Floats]:
        return (
            distance_km(place.lat_deg, place.lon_deg, lat, lon),
            bearing_deg(place.lat_deg, place.lon_deg, lat, lon),
        )

    sun_lat, sun_lon = subsolar_point(question.times)
    round_the_sun = np.linspace(0.0, 360.0, 361)
    lit_km = (90.0 + REFRACTION_AND_RADIUS_DEG) * _KM_PER_DEG
    grey = seen(*destination(sun_lat[0], sun_lon[0], round_the_sun, lit_km))
    sun = seen(sun_lat, sun_lon)
    land = seen(*land_outline())
    targets = seen_targets(advice)
    asked = targets[target]
    towards = float("nan") if asked.is_all_round else asked.bearing_deg
    nowhere = (float("nan"), float("nan"))
    gap = nowhere if question.long_path else _skip_zone_km(chances, towards)
    return WorldMap(
        setup=one.name,
        label=question.here,
        long_path=question.long_path,
        utc=question.times[0],
        chances=chances,
        land_km=land[0],
        land_deg=land[1],
        greyline_km=grey[0],
        greyline_deg=grey[1],
        sun_km=float(sun[0][0]),
        sun_deg=float(sun[1][0]),
        targets=targets,
        skip_from_km=gap[0],
        skip_km=gap[1],
        skip_deg=towards,
    )


def seen_targets(advice: Answer) -> tuple[MapTarget, ...]:
    """
    Place the targets of an answer by distance and bearing.

    Parameters
    ----------
    advice : Answer
        The answer.

    Returns
    -------
    targets : tuple of MapTarget
        In its order.
    """
    here = advice.question.place
    return tuple(
        MapTarget(
            named.name,
            named.bearing_deg,
            named.is_all_round,
            distance_km(here.lat_deg, here.lon_deg, points.lat_deg, points.lon_deg),
            bearing_deg(here.lat_deg, here.lon_deg, points.lat_deg, points.lon_deg),
        )
        for points, named in zip(advice.question.targets, advice.targets, strict=True)
    )


def land_outline() -> tuple[Floats, Floats]:
    """
    Outline the land, without the cuts at the edge of a flat map.

    Returns
    -------
    lat_deg, lon_deg : numpy.ndarray
        Shape (N,), NaN between two pieces. [deg]
    """
    lon, lat = read_arrays("land_110m")["xy"].astype(float).T
    cut = np.abs(lon) >= _CUT_LON_DEG
    return np.where(cut, np.nan, lat), np.where(cut, np.nan, lon)


def _skip_zone_km(chances: WorldChances, towards_deg: float) -> tuple[float, float]:
    """Find the gap, of more than one ring, between what is near and what hops reach."""
    if np.isnan(towards_deg):
        along = chances.chance[0].mean(axis=1)
    else:
        sector = np.searchsorted(chances.azimuth_edge_deg, towards_deg, "right") - 1
        along = chances.chance[0, :, min(int(sector), chances.chance.shape[2] - 1)]
    edges = chances.range_edge_km
    # Further out a gap is one between hops, or the end of what can be reached.
    near = edges[1:] <= NEAR_KM
    ring_km, is_open = edges[:-1][near], along[near] >= OPEN_CHANCE
    begin = float(nearest_km(ring_km, ~is_open))
    end = float(nearest_km(ring_km, is_open & (ring_km > begin)))
    if not end - begin > 1.5 * NEAR_STEP_KM:
        return float("nan"), float("nan")
    return begin, end
