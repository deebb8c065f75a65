"""
Rays of any number of hops that come down at a distance.

`geo.ionosphere.action.follow` says where the ray of each take-off angle touches the
ground, hop after hop; here the angles between are found for a given distance, all hop
numbers at once. One hop over one profile is better looked for by
`geo.ionosphere.homing`, which knows the critical angles and misses no high ray.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.action import ELEVATIONS_DEG, Landings
from geo.ionosphere.cubics import crossed, crossing, cubic, turning
from geo.ionosphere.focusing import SKIP_BLUR
from geo.ionosphere.rays import Array
from geo.records import ArrayRecord


@dataclass(frozen=True, eq=False)
class Landed(ArrayRecord):
    """
    Rays that come down at a distance after some hops, one after another, (K,).

    Attributes
    ----------
    hops : numpy.ndarray of int
        How many hops.
    index : numpy.ndarray of int
        Flat index into the shape of the paths, hours and bands.
    takeoff_deg, arrival_deg : numpy.ndarray
        Angles at both ends. [deg]
    slope_km_rad : numpy.ndarray
        Change of the whole distance with the take-off angle. [km/rad]
    group_km : numpy.ndarray
        Group path. [km]
    blur_km_rad : numpy.ndarray
        Least slope next to a skip edge, as in `geo.ionosphere.homing.Edge`. [km/rad]
    layers : numpy.ndarray of int
        Layers of the hops, the first in the highest digit of base 10, each one more
        than its index: 14 is E first and F2 then.
    """

    hops: NDArray[np.int64]
    index: NDArray[np.int64]
    takeoff_deg: Array
    arrival_deg: Array
    slope_km_rad: Array
    group_km: Array
    blur_km_rad: Array
    layers: NDArray[np.int64]


def land(
    landings: Landings, ground_km: ArrayLike, start_deg: ArrayLike = ELEVATIONS_DEG
) -> Landed:
    """
    Find the rays that come down at a distance, after any of the hops followed.

    Parameters
    ----------
    landings : Landings
        From `follow`, up to 17 hops.
    ground_km : array_like
        Distance; broadcasts with the paths, hours and bands. [km]
    start_deg : array_like, optional
        The take-off angles that were followed. [deg]

    Returns
    -------
    rays : Landed
        Sorted by hops, then index, then angle.

    Notes
    -----
    Between two angles whose rays meet the same layers all the way runs a cubic, as in
    `geo.ionosphere.homing`, with slopes from the neighbours.
    """
    angles = np.asarray(start_deg, dtype=float)
    wide, ground = np.diff(angles), landings.ground_km
    layers = np.zeros(ground.shape, dtype=np.int64)
    for number, turned in enumerate(landings.layer):
        layers[number] = 10 * layers[number - 1] + turned + 1 if number else turned + 1
    secant = np.diff(ground, axis=-1) / wide
    comes_down = landings.elevation_deg >= 0.0
    known = (layers[..., 1:] == layers[..., :-1]) & np.isfinite(secant)
    known &= comes_down[..., 1:] | comes_down[..., :-1]
    # The slope at a node from the steps on both sides, or from the one there is.
    weight = np.where(known, 1.0 / wide, 0.0)
    drawn = np.where(known, secant / wide, 0.0)
    total, share = (np.zeros(ground.shape) for _ in range(2))
    for part, each in ((total, weight), (share, drawn)):
        part[..., :-1] += each
        part[..., 1:] += each
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = share / total
    ends = (
        ground[..., :-1],
        ground[..., 1:],
        slope[..., :-1] * wide,
        slope[..., 1:] * wide,
    )
    turn = np.where(known, turning(ends), np.nan)
    turn_km, _, bend = cubic(turn, ends)
    goal = np.broadcast_to(np.asarray(ground_km, dtype=float), ground.shape[1:-1])
    above = ground > goal[..., None]
    cells, late = crossed(
        above[..., :-1], above[..., 1:], turn, turn_km > goal[..., None], known
    )
    ends = tuple(each[cells] for each in ends)  # type: ignore[assignment]
    at = turn[cells]
    low, high = np.where(late, at, 0.0), np.where(late | np.isnan(at), 1.0, at)
    wanted = goal[cells[1:-1]]
    rising = cubic(high, ends)[0] > cubic(low, ends)[0]
    u = crossing(low, high, wanted, ends, rising)
    a_radian = 1.0 / np.radians(wide)[cells[-1]]
    blur = _spread_edges(turn_km, bend / np.radians(wide) ** 2, known)[cells]

    def between(values: Array) -> Array:
        return np.asarray(
            (1.0 - u) * values[..., :-1][cells] + u * values[..., 1:][cells]
        )

    arrival = between(landings.elevation_deg)
    down = arrival >= 0.0
    shape = goal.shape or (1,)
    index = np.ravel_multi_index(cells[1:-1] or (np.zeros_like(cells[0]),), shape)
    return Landed(
        hops=(cells[0] + 1)[down],
        index=np.asarray(index)[down],
        takeoff_deg=between(np.broadcast_to(angles, ground.shape))[down],
        arrival_deg=arrival[down],
        slope_km_rad=(cubic(u, ends)[1] * a_radian)[down],
        group_km=between(landings.group_km)[down],
        blur_km_rad=blur[down],
        layers=layers[..., :-1][cells][down],
    )


def _spread_edges(turn_km: Array, bend: Array, known: NDArray[np.bool_]) -> Array:
    """Least slope at the skip edges, carried to all steps of the same layers."""
    edge = np.where((bend > 0.0) & known, 2.0 * bend * SKIP_BLUR * turn_km, 0.0)
    edge = np.asarray(np.sqrt(np.nan_to_num(np.maximum(edge, 0.0))))
    steps = range(1, edge.shape[-1])
    for order in (steps, [-1 - step for step in steps]):
        back = -1 if order is steps else 1
        for j in order:
            joined = known[..., j] & known[..., j + back]
            carried = np.where(joined, edge[..., j + back], 0.0)
            edge[..., j] = np.maximum(edge[..., j], carried)
    return edge
