"""
Rays of one hop and of several for many cells of path, hour and band at once.

What the modes of a layer are made of: for each cell the low ray, and for one hop the
high one, with the angles at both ends, the group path and what neighbouring rays
gather.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.action import bouguer, elevation_deg, hops
from geo.ionosphere.along import profile_along
from geo.ionosphere.chain import chained, side_parts
from geo.ionosphere.focusing import focusing_db, shadow_db, soft_sine
from geo.ionosphere.homing import RayTable, home, ray_table, skip_edge
from geo.ionosphere.layers import Layers
from geo.ionosphere.ray_muf import MufTable
from geo.ionosphere.rays import barriers, trace
from geo.paths import Paths
from geo.records import ArrayRecord
from geo.sphere import EARTH_RADIUS_KM

_NODES = {0: (9, 0, 0, 0), 1: (0, 9, 0, 0), 3: (0, 0, 5, 18)}
"""Nodes of `ray_table` for the rays of each layer; the lower half of the join above the
F1 node belongs to F2."""

_TILT_ROUNDS, _NEAR_KM, _ALIKE_DEG, _INSIDE_DEG = 4, 5.0, 0.15, 0.02
"""How often the ends of a tilted hop are corrected, how near to the distance will do,
from what half difference of the ends on they are, and how far inside its branch a ray
is kept. [1], [km], [deg], [deg]"""

Cells = tuple[NDArray[np.intp], ...]
"""Path, hour and band of K cells."""


class HopSky(ArrayRecord):
    """
    What is asked: cells are (path, hour, band).

    Attributes
    ----------
    paths : Paths
        P paths.
    layers : Layers
        At their stations, T hours.
    frequency_mhz : numpy.ndarray
        Shape (B,). [MHz]
    """

    paths: Paths
    layers: Layers
    frequency_mhz: NDArray[np.float64]

    @property
    def shape(self) -> tuple[int, int, int]:
        """P, T, B."""
        return (
            self.paths.distance_km.size,
            self.layers.r12.size,
            self.frequency_mhz.size,
        )


class CellRays(ArrayRecord):
    """
    One ray each of K cells, arrays (K,); NaN where there is none.

    Attributes
    ----------
    takeoff_deg, landing_deg : numpy.ndarray
        Elevation at both ends. [deg]
    apogee_km : numpy.ndarray
        Greatest height, a mean over the hops. [km]
    group_km : numpy.ndarray
        Group path. [km]
    gathered_db : numpy.ndarray
        What neighbouring rays gather, less the shadow beyond the flattest. [dB]
    touches, dips : numpy.ndarray
        How often the ray touches the ground on its way, and how often it comes down
        through the D region.
    """

    takeoff_deg: NDArray[np.float64]
    landing_deg: NDArray[np.float64]
    apogee_km: NDArray[np.float64]
    group_km: NDArray[np.float64]
    gathered_db: NDArray[np.float64]
    touches: NDArray[np.float64]
    dips: NDArray[np.float64]


def one_hop(
    sky: HopSky,
    cells: Cells,
    used_mhz: NDArray[np.float64],
    layer: int,
    f2_ratio: ArrayLike = 1.0,
) -> tuple[CellRays, CellRays]:
    """
    Find low and high ray of a layer over one hop.

    Of several low rays the strongest gives the angles, and all of them the power.

    Parameters
    ----------
    sky : HopSky
        What is asked.
    cells : tuple of numpy.ndarray of int
        Path, hour and band of K cells.
    used_mhz : numpy.ndarray
        Frequency for the ray of each, (K,). [MHz]
    layer : int
        Which layer turns it: 0 E, 1 the ledge, 3 F2.
    f2_ratio : array_like, optional
        foF2 of the day over its median, a scalar or shape (K,).

    Returns
    -------
    low, high : CellRays
        Both rays.
    """
    ratio = np.broadcast_to(f2_ratio, used_mhz.shape)[:, None]
    middle = profile_along(sky.layers, middles(1), cells, ratio)[:, 0]
    table = ray_table(middle, used_mhz, _NODES[layer])
    goal, frequency = sky.paths.distance_km[cells[0]], sky.frequency_mhz[cells[2]]
    rays = home(table, goal)
    gain = focusing_db(
        frequency[rays.index],
        rays.takeoff_deg,
        rays.ground_km,
        rays.group_km,
        rays.slope_km_rad,
        rays.blur_km_rad,
    )
    both = []
    for kind in (rays.slope_km_rad <= 0.0, rays.slope_km_rad > 0.0):
        power = np.bincount(rays.index[kind], 10.0 ** (0.1 * gain[kind]), used_mhz.size)
        order = np.flatnonzero(kind)[np.argsort(gain[kind], kind="stable")]
        best = np.full(used_mhz.size, -1)
        best[rays.index[order]] = order
        takeoff, group, apogee = (
            np.where(best >= 0, np.append(values, np.nan)[best], np.nan)
            for values in (rays.takeoff_deg, rays.group_km, rays.apogee_km)
        )
        with np.errstate(divide="ignore"):
            both.append([takeoff, group, apogee, 10.0 * np.log10(power)])
    level = _fill_ends(both[0], table, layer, goal, frequency)
    found = []
    blur = np.nan_to_num(skip_edge(table, layer).blur_km_rad)
    for (takeoff, group, apogee, gathered), rising in zip(
        both, (-1.0, 1.0), strict=True
    ):
        start, end, short = _tilted(
            sky, cells, used_mhz, takeoff, ratio, layer, blur, rising
        )
        if rising < 0.0:
            # What level layers leave short is in the shadow already, which deepens
            # over the width of its boundary (ITU-R P.526, from memory).
            more_km = np.maximum(short - level, 0.0)
            width_km = EARTH_RADIUS_KM * soft_sine(frequency, 0.0)
            more_km = more_km**2 / (more_km + width_km)
            gathered = gathered - shadow_db(frequency, more_km)
        found.append(
            CellRays(start, end, apogee, group, gathered, *np.zeros((2, used_mhz.size)))
        )
    return found[0], found[1]


def _fill_ends(
    low: list[NDArray[np.float64]],
    table: RayTable,
    layer: int,
    goal_km: NDArray[np.float64],
    frequency_mhz: NDArray[np.float64],
) -> NDArray[np.float64]:
    """
    Where no ray lands: that of the skip edge, or the flattest and its shadow.

    How far this one lands short is returned, in km.
    """
    level = np.zeros(goal_km.size)
    none = np.flatnonzero(np.isnan(low[0]) & np.isfinite(table.axis[:, layer, 1]))
    if not none.size:
        return level
    wanted, frequency = goal_km[none], frequency_mhz[none]
    edge = skip_edge(table, layer)
    # The flattest that `home` looks at, so that what it finds goes on without a step.
    flat = np.degrees(table.takeoff_rad[none, np.argmax(table.branch == layer)])
    short = wanted < edge.ground_km[none]
    angle = np.where(short, edge.takeoff_deg[none], flat)
    ray = trace(table.profile[none], table.frequency_mhz[none], angle)
    gain = focusing_db(
        frequency,
        angle,
        ray.ground_km,
        ray.group_km,
        np.where(short, 0.0, ray.slope_km_rad),
        edge.blur_km_rad[none],
    )
    level[none] = np.where(short, 0.0, np.nan_to_num(wanted - ray.ground_km))
    gain = gain - shadow_db(frequency, level[none])
    for values, new in zip(
        low, (angle, ray.group_km, ray.apogee_km, gain), strict=True
    ):
        values[none] = new
    return level


def _tilted(
    sky: HopSky,
    cells: Cells,
    used_mhz: NDArray[np.float64],
    takeoff_deg: NDArray[np.float64],
    f2_ratio: NDArray[np.float64],
    layer: int,
    blur_km_rad: NDArray[np.float64],
    rising: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """
    Angles at both ends of a hop over a tilted layer, such that it lands there.

    With them how far it lands short, in km, where its flatter end is as flat as can be.

    Half a hop is run at either K, and the flatter half gains more than the steeper
    loses: the K between them is the one with which both add up to the distance. Sought
    is the angle of the flatter end, with which the distance goes evenly down to the
    horizon; with a steeper angle it is ``rising`` (1) or falling (-1).
    """
    angles, short_km = np.stack([takeoff_deg] * 2, axis=-1), np.zeros(used_mhz.size)
    some = np.flatnonzero(np.isfinite(takeoff_deg))
    sides = profile_along(sky.layers, [0.25, 0.75], cells, f2_ratio)
    goal = sky.paths.distance_km[cells[0]]
    least, lingers = barriers(sides, used_mhz[:, None])
    turned = np.degrees(np.arccos(np.sqrt(np.clip(least, 0.0, 1.0))))
    # J is read where both sides turn it above all that a ray lingers under; elsewhere
    # K is kept.
    under = np.where(lingers, turned, 0.0)[:layer]
    low = under.max(axis=0, initial=0.0) + _INSIDE_DEG
    lowest = low.max(axis=-1)
    highest = turned[layer].min(axis=-1) - _INSIDE_DEG
    there = lowest < highest
    most = bouguer(np.where(there[:, None], low, 0.0))
    both_turn = bouguer(np.maximum(np.stack([highest, lowest], axis=-1), 0.0))
    k = bouguer(takeoff_deg)
    for _ in range(_TILT_ROUNDS):
        at, mhz = sides[some], used_mhz[some, None]
        held = np.clip(k[some, None], both_turn[some, :1], both_turn[some, 1:])
        action = hops(at, mhz, held).action_km
        change = (action[:, 1] - action[:, 0]) / np.maximum(0.5 * goal[some], 1.0)
        change = np.where(there[some], np.nan_to_num(change), 0.0)
        wide, end = np.abs(change), (change > 0.0).astype(np.intp)
        flat = np.minimum(k[some] + 0.5 * wide, most[some, end])
        steep = np.clip(flat - wide, 0.0, most[some, 1 - end])
        both = elevation_deg(np.stack([flat, steep], axis=-1))
        own = np.take_along_axis(both, np.stack([end, 1 - end], axis=-1), axis=-1)
        angles[some] = own
        rays = trace(at, mhz, own, paths=False)
        over = 0.5 * rays.ground_km.sum(axis=-1) - goal[some]
        short_km[some] = np.where(flat == most[some, end], -over, 0.0)
        sine = np.sin(np.radians(own))
        lean = np.sin(np.radians(both[:, :1])) / np.maximum(sine, 1e-9)
        slope = 0.5 * (rays.slope_km_rad * np.minimum(lean, 1.0)).sum(axis=-1)
        slope = rising * np.maximum(rising * slope, np.maximum(blur_km_rad[some], 1.0))
        # The tilt itself says how far off the angle may be.
        room = 0.5 * (both[:, 1] - both[:, 0])
        step = np.clip(np.nan_to_num(np.degrees(-over / slope)), -room, room)
        wanted = np.maximum(both[:, 0] + step, 0.0)
        k[some] = bouguer(wanted) - 0.5 * wide
        some = some[(room > _ALIKE_DEG) & (np.abs(over) > _NEAR_KM)]
        if not some.size:
            break
    return angles[:, 0], angles[:, 1], np.nan_to_num(short_km)


def more_hops(
    sky: HopSky,
    n: int,
    cells: Cells,
    used_mhz: NDArray[np.float64],
    layer: int,
    f2_ratio: ArrayLike = 1.0,
) -> CellRays:
    """
    Find the low ray of several hops.

    Parameters
    ----------
    sky : HopSky
        What is asked.
    n : int
        How many hops.
    cells : tuple of numpy.ndarray of int
        Path, hour and band of K cells.
    used_mhz : numpy.ndarray
        Frequency at each reflection point, (K, n) or (K, 1). [MHz]
    layer : int
        Which layer turns it: 0 E, 3 F2.
    f2_ratio : array_like, optional
        foF2 of the day over its median, a scalar or shape (K, 1).

    Returns
    -------
    rays : CellRays
        The low ray of each.
    """
    goal, frequency = sky.paths.distance_km[cells[0]], sky.frequency_mhz[cells[2]]
    points = np.concatenate([middles(n), side_parts(n)])
    profile = profile_along(sky.layers, points, cells, f2_ratio)
    ray = chained(profile[..., :n], profile[..., n:], used_mhz, goal, layer)
    # Sideways a ray spreads by the K it has on its way, not by that at one end.
    ends = bouguer(ray.takeoff_deg) + bouguer(ray.landing_deg)
    gathered = focusing_db(
        frequency,
        elevation_deg(0.5 * ends),
        ray.ground_km,
        ray.group_km,
        ray.slope_km_rad,
        ray.blur_km_rad,
        ray.landing_deg,
    ) - shadow_db(frequency, goal - ray.ground_km)
    return CellRays(
        ray.takeoff_deg,
        ray.landing_deg,
        ray.apogee_km,
        ray.group_km,
        gathered,
        ray.touches,
        ray.dips,
    )


def middles(n: int) -> NDArray[np.float64]:
    """
    Say at which parts of the way the reflection points lie.

    Parameters
    ----------
    n : int
        How many hops.

    Returns
    -------
    part : numpy.ndarray
        Shape (n,).

    Examples
    --------
    >>> middles(2)
    array([0.25, 0.75])
    """
    return (np.arange(n) + 0.5) / n


def mufs_along(
    table: MufTable, hop_km: NDArray[np.float64], n: int
) -> NDArray[np.float64]:
    """
    Read the MUF of the ordinary wave at reflection points.

    Parameters
    ----------
    table : MufTable
        At even parts of the paths, (P, T, probes).
    hop_km : numpy.ndarray
        Length of the hops, (P, 1, 1). [km]
    n : int
        How many reflection points.

    Returns
    -------
    muf_mhz : numpy.ndarray
        Shape (P, T, n), straight between the places of the table. [MHz]
    """
    known = table.muf_mhz(hop_km)
    probes = known.shape[-1]
    place = np.clip(middles(n) * probes - 0.5, 0.0, probes - 1.0)
    low = np.minimum(place.astype(np.intp), probes - 2)
    return np.asarray(
        known[..., low] + (place - low) * (known[..., low + 1] - known[..., low])
    )
