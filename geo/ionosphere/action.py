r"""
Hops over layers that change along the path: what a ray keeps is its action.

Over one hop the action is

.. math:: J = P - K\theta = 2\int\sqrt{\mu^2 - K^2/r^2}\;dr

from the ground (or, for a ray that passes over it, from the lowest point) to the
apogee; P is the phase path. It falls with K by :math:`dJ/dK = -\theta`. In a layer
that changes slowly along the path J stays and K, hence the elevation, does not:

* within a hop, K changes by :math:`dK = \partial J/\partial\theta` at constant K, half
  of it before and half behind the apogee (`tilted_hop`);
* from hop to hop, K is such that J is the same at the next reflection point
  (`follow`). Where that asks for K beyond the Earth's radius, the ray misses the
  ground and goes on from layer to layer until the layer is lower or denser again.

Where a ray comes to a place at which another layer turns it (E here, F2 there), J
jumps and K is kept. Bends out of the great circle are left out.

Adiabatic invariance is textbook mechanics; the rule for the ends of a tilted hop was
derived here and is held against an integration of the ray equations in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.homing import gather
from geo.ionosphere.profile import Profile
from geo.ionosphere.rays import Array, barriers, inside
from geo.records import ArrayRecord
from geo.sphere import EARTH_RADIUS_KM

ELEVATIONS_DEG = np.concatenate(
    [
        [-10.0, -7.0, -4.0, -2.0],
        np.linspace(0.0, 20.0, 17),
        np.linspace(22.0, 40.0, 10),
        [44.0, 49.0, 55.0, 62.0, 70.0, 80.0],
    ]
)
"""Axis of `HopTable`. [deg]"""


HELD_KM = 2500.0
"""How far beyond the last station its layers count, so that the rays on either side of
one that lands there are known. [km]"""


@dataclass(frozen=True, eq=False)
class Hops(ArrayRecord):
    """
    Whole hops by Bouguer's constant, the profile the same all along.

    Attributes
    ----------
    action_km : numpy.ndarray
        J; NaN where nothing turns the ray. [km]
    ground_km : numpy.ndarray
        Distance from one touch of the ground to the next, or from one lowest point to
        the next. [km]
    group_km : numpy.ndarray
        Group path. [km]
    inside_rad : numpy.ndarray
        Angle at the Earth's centre within the layers. [rad]
    piece : numpy.ndarray of int
        Piece of the profile that turns the ray; -1 for none.
    """

    action_km: Array
    ground_km: Array
    group_km: Array
    inside_rad: Array
    piece: NDArray[np.int64]


def bouguer(elevation_deg: ArrayLike) -> Array:
    """
    Bouguer's constant over the Earth's radius, carried on smoothly past the horizon.

    Parameters
    ----------
    elevation_deg : array_like
        Take-off angle; negative for a ray that passes over the ground. [deg]

    Returns
    -------
    k : numpy.ndarray
        The cosine, or 2 less the cosine below 0: -10 passes 97 km up.

    Examples
    --------
    >>> bouguer([60.0, 0.0, -10.0]).round(4)
    array([0.5   , 1.    , 1.0152])
    """
    angle = np.asarray(elevation_deg, dtype=float)
    cosine = np.cos(np.radians(angle))
    return np.asarray(np.where(angle < 0.0, 2.0 - cosine, cosine))


def elevation_deg(k: ArrayLike) -> Array:
    """
    Elevation for a Bouguer constant, the inverse of `bouguer`.

    Parameters
    ----------
    k : array_like
        Over the Earth's radius, 0 to 2.

    Returns
    -------
    elevation_deg : numpy.ndarray
        Negative for a ray that misses the ground. [deg]
    """
    ratio = np.asarray(k, dtype=float)
    angle = np.degrees(np.arccos(np.clip(1.0 - np.abs(1.0 - ratio), -1.0, 1.0)))
    return np.asarray(np.where(ratio > 1.0, -angle, angle))


def free_leg(k: Array, bottom: Array) -> tuple[Array, Array]:
    """
    Straight part of a ray from the ground, or its lowest point, up to the layers.

    Parameters
    ----------
    k : numpy.ndarray
        `bouguer` of the elevation.
    bottom : numpy.ndarray
        Earth's radius over that of the lowest edge; broadcasts.

    Returns
    -------
    angle : numpy.ndarray
        At the Earth's centre. [rad]
    length : numpy.ndarray
        In Earth radii.
    """
    down = np.arccos(np.minimum(k, 1.0))
    angle = np.arccos(np.minimum(k * bottom, 1.0)) - down
    far = np.sqrt(np.maximum(1.0 / bottom**2 - k * k, 0.0))
    return angle, far - np.sin(down)


def hops(profile: Profile, frequency_mhz: ArrayLike, k: ArrayLike) -> Hops:
    """
    Trace hops by Bouguer's constant.

    Parameters
    ----------
    profile : Profile
        One or many.
    frequency_mhz : array_like
        Working frequency. [MHz]
    k : array_like
        `bouguer` of the elevation; all broadcast.

    Returns
    -------
    hops : Hops
        NaN where nothing turns the ray.

    Examples
    --------
    >>> from geo.ionosphere.profile import single_layer
    >>> layer = single_layer(7.0, 290.0, 80.0)
    >>> hop = hops(layer, 10.1, bouguer([20.0, -3.0]))
    >>> hop.ground_km.round(0), hop.action_km.round(0)
    (array([1152., 3241.]), array([169.,  68.]))
    """
    ratio = np.asarray(k, dtype=float)
    half = inside(profile, frequency_mhz, ratio, paths=True)
    angle, length = free_leg(ratio, profile.edge[0])
    scale = 2.0 * EARTH_RADIUS_KM
    theta = angle + half.theta
    return Hops(
        action_km=scale * (length + half.phase - ratio * theta),
        ground_km=scale * theta,
        group_km=scale * (length + half.group),
        inside_rad=2.0 * half.theta,
        piece=half.piece,
    )


def tilted_hop(
    before: Profile,
    behind: Profile,
    apart_km: ArrayLike,
    frequency_mhz: ArrayLike,
    takeoff_deg: ArrayLike,
) -> tuple[Array, Array, Array]:
    """
    Trace one hop through a layer that changes along it.

    Parameters
    ----------
    before, behind : Profile
        The layers half of ``apart_km`` before and behind the reflection point, along
        the way of the ray. Their mean stands for the layer at the point.
    apart_km : array_like
        Distance between the two, some 100 to 500. [km]
    frequency_mhz : array_like
        Working frequency. [MHz]
    takeoff_deg : array_like
        Take-off angle. All broadcast. [deg]

    Returns
    -------
    ground_km : numpy.ndarray
        Length of the hop; NaN where the ray is not turned or misses the ground. [km]
    arrival_deg : numpy.ndarray
        Angle at which it comes down. [deg]
    apogee_km : numpy.ndarray
        Distance of the point under the apogee, where the layers should be taken: half
        the length only if both ends are alike. [km]

    Notes
    -----
    Against an integration over gradients of an ordinary day (0.5 to 1 MHz and 10 to
    20 km a 1000 km): distance within 2 km, angle within 0.05 deg; 2.5 MHz a 1000 km
    at sunrise 1 km and 0.1 deg. Neglecting the tilt costs 1 to 3 % of the distance
    above 20 deg and up to 15 % at 3 to 8 deg.
    """
    first = bouguer(takeoff_deg)
    angle = np.asarray(apart_km, dtype=float) / EARTH_RADIUS_KM
    change: Array = np.zeros(np.shape(first))
    for _ in range(3):
        middle = first + 0.5 * change
        one, other = (hops(each, frequency_mhz, middle) for each in (before, behind))
        change = (other.action_km - one.action_km) / (angle * EARTH_RADIUS_KM)
    last = first + change
    bottom = 0.5 * (before.edge[0] + behind.edge[0])
    theta = 0.25 * (one.inside_rad + other.inside_rad)
    up = EARTH_RADIUS_KM * (free_leg(first, bottom)[0] + theta)
    down = EARTH_RADIUS_KM * (free_leg(last, bottom)[0] + theta)
    lands = last <= 1.0
    return (
        np.where(lands, up + down, np.nan),
        np.where(lands, elevation_deg(last), np.nan),
        np.asarray(up),
    )


@dataclass(frozen=True, eq=False)
class HopTable(ArrayRecord):
    """
    Hops on the elevations of `ELEVATIONS_DEG` at stations along paths.

    Depends on the layers and the frequency only, not on the direction: a table over
    the globe serves every path that reads its stations from it.

    Attributes
    ----------
    station_km : numpy.ndarray
        Even steps along the path from 0, (N,). [km]
    action_km, ground_km : numpy.ndarray
        As in `Hops`, (..., N, M). [km]
    layer : numpy.ndarray of int
        Layer that turns the ray, an index into ``Profile.tops``; -1 for none.
    """

    station_km: Array
    action_km: Array
    ground_km: Array
    layer: NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Landings(ArrayRecord):
    """
    Where rays come down, hop after hop; shape (hops, ..., M).

    Attributes
    ----------
    ground_km : numpy.ndarray
        Distance from the start of the end of each hop. [km]
    group_km : numpy.ndarray
        Group path up to there, by `straight_km`. [km]
    elevation_deg : numpy.ndarray
        Elevation of the hop that ends there; negative where it misses the ground.
        [deg]
    layer : numpy.ndarray of int
        Layer that turns the hop.
    """

    ground_km: Array
    group_km: Array
    elevation_deg: Array
    layer: NDArray[np.int64]


def hop_table(
    profile: Profile, frequency_mhz: ArrayLike, station_km: ArrayLike
) -> HopTable:
    """
    Trace the hops at every station.

    Parameters
    ----------
    profile : Profile
        Layers of the stations, (..., N).
    frequency_mhz : array_like
        Working frequencies; broadcast with the places, the stations last. [MHz]
    station_km : array_like
        Even steps from 0, (N,). [km]

    Returns
    -------
    table : HopTable
        For `follow`.
    """
    frequency = np.asarray(frequency_mhz, dtype=float)[..., None]
    k = bouguer(ELEVATIONS_DEG)
    # What even the flattest ray gets through is left out.
    shape = np.broadcast_shapes(profile.shape, frequency.shape[:-1])
    least, _ = barriers(profile, frequency[..., 0])
    rows = np.nonzero(np.broadcast_to(least[-1] < k[0] ** 2, shape))
    some = gather(profile, shape, rows)
    theta, layer = np.full((*shape, k.size), np.nan), np.full((*shape, k.size), -1)
    half = inside(some[..., None], np.broadcast_to(frequency, (*shape, 1))[rows], k)
    theta[rows] = half.theta + free_leg(k, some.edge[0][..., None])[0]
    turned = np.searchsorted(profile.tops, half.piece)
    layer[rows] = np.where(half.piece < 0, -1, turned)
    # J by dJ = -theta dK from the first ray of each layer on, which is traced.
    fresh = np.ones(layer.shape, dtype=bool)
    fresh[..., 1:] = layer[..., 1:] != layer[..., :-1]
    first = np.nonzero(fresh & (layer >= 0))
    where = first[:-1]
    exact = hops(
        gather(profile, layer.shape[:-1], where),
        np.broadcast_to(frequency[..., 0], layer.shape[:-1])[where],
        k[first[-1]],
    ).action_km
    mean = 0.5 * (theta[..., 1:] + theta[..., :-1])
    gain = np.where(fresh[..., 1:], 0.0, -2.0 * EARTH_RADIUS_KM * mean * np.diff(k))
    total = np.zeros(layer.shape)
    np.cumsum(np.nan_to_num(gain), axis=-1, out=total[..., 1:])
    offset = np.zeros(layer.shape)
    offset[first] = exact - total[first]
    begin = np.maximum.accumulate(np.where(fresh, np.arange(k.size), 0), axis=-1)
    action = total + np.take_along_axis(offset, begin, axis=-1)
    return HopTable(
        station_km=np.asarray(station_km, dtype=float),
        action_km=np.where(layer < 0, np.nan, action),
        ground_km=2.0 * EARTH_RADIUS_KM * theta,
        layer=layer,
    )


def straight_km(ground_km: ArrayLike, k: ArrayLike) -> Array:
    """
    Length of the straight rays that leave like a hop and meet over its middle.

    Parameters
    ----------
    ground_km : array_like
        Length of the hop. [km]
    k : array_like
        `bouguer` of the elevation.

    Returns
    -------
    length_km : numpy.ndarray
        The group path within 1.5 %, exactly for a mirror (the theorem of Breit and
        Tuve holds over a flat Earth only). [km]

    Examples
    --------
    >>> straight_km(1665.04, bouguer(15.0)).round(0)
    np.float64(1797.)
    """
    ratio = np.asarray(k, dtype=float)
    half = np.asarray(ground_km, dtype=float) / (2.0 * EARTH_RADIUS_KM)
    up = np.arccos(np.minimum(ratio, 1.0))
    radius = 2.0 * EARTH_RADIUS_KM * np.maximum(ratio, 1.0)
    return np.asarray(radius * np.sin(half) / np.cos(up + half))


def follow(
    table: HopTable, count: int, start_deg: ArrayLike = ELEVATIONS_DEG
) -> Landings:
    """
    Follow the ray of every elevation over a number of hops.

    Parameters
    ----------
    table : HopTable
        From `hop_table`.
    count : int
        How many hops.
    start_deg : array_like, optional
        Take-off angles, (M,). [deg]

    Returns
    -------
    landings : Landings
        NaN once a ray is not turned, or is more than `HELD_KM` past the stations.

    Notes
    -----
    The reflection point lies half a hop ahead and is found in two steps. There J is
    what it was at the start; where another layer turns the ray, K is kept.
    """
    angles = np.atleast_1d(np.asarray(start_deg, dtype=float))
    lead = table.action_km.shape[:-2]
    paths = int(np.prod(lead))
    path = np.repeat(np.arange(paths), angles.size)
    angle = np.tile(angles, paths)
    place, group, which = (
        np.zeros(angle.size),
        np.zeros(angle.size),
        np.arange(angle.size),
    )
    action, step, layer = _at(table, path, angle, place)
    k = bouguer(angle)
    ground, way, leaving = (np.full((count, angle.size), np.nan) for _ in range(3))
    layers = np.full((count, angle.size), -1)
    for number in range(count):
        # Rays that were lost are not carried on.
        left = np.flatnonzero(np.isfinite(step))
        path, which, layer = path[left], which[left], layer[left]
        k, action, step = k[left], action[left], step[left]
        place, group = place[left], group[left]
        angle = elevation_deg(k)
        point = place + 0.5 * _at(table, path, angle, place + 0.5 * step)[1]
        here, step, turned = _at(table, path, angle, point)
        kept = turned == layer
        with np.errstate(invalid="ignore"):
            k = k + np.where(kept, (here - action) / step, 0.0)
        action = np.where(kept, action, here)
        angle = elevation_deg(k)
        step = _at(table, path, angle, point)[1]
        group = group + straight_km(step, k)
        place, layer = place + step, turned
        ground[number, which], way[number, which] = place, group
        leaving[number, which], layers[number, which] = angle, turned
    shape = (count, *lead, angles.size)
    return Landings(
        ground_km=ground.reshape(shape),
        group_km=way.reshape(shape),
        elevation_deg=leaving.reshape(shape),
        layer=layers.reshape(shape),
    )


def _at(
    table: HopTable, path: NDArray[np.intp], angle: Array, point: Array
) -> tuple[Array, Array, NDArray[np.int64]]:
    """
    Read action, length and layer of hops between the nodes of the table.

    Not across a change of layer along the elevations: there the nearer node counts.
    """
    stations, nodes = table.action_km.shape[-2:]
    length = table.station_km[1] - table.station_km[0]
    along = np.minimum(point / length, stations - 1.0)
    usable = (along >= 0.0) & (point <= table.station_km[-1] + HELD_KM)
    usable &= (angle >= ELEVATIONS_DEG[0]) & (angle <= ELEVATIONS_DEG[-1])
    along, held = np.where(usable, along, 0.0), np.where(usable, angle, 0.0)
    i = np.minimum(along.astype(np.intp), stations - 2)
    u = np.where(usable, along - i, np.nan)
    j = np.searchsorted(ELEVATIONS_DEG, held, side="right") - 1
    j = np.minimum(j, nodes - 2)
    v = (held - ELEVATIONS_DEG[j]) / np.diff(ELEVATIONS_DEG)[j]
    layers = table.layer.reshape(-1)
    mixed = [np.zeros(u.shape), np.zeros(u.shape)]
    first = (path * stations + i) * nodes + j
    for low, share in ((first, 1.0 - u), (first + nodes, u)):
        same = layers[low] == layers[low + 1]
        part = np.where(same, v, np.round(v))
        for total, values in zip(
            mixed, (table.action_km, table.ground_km), strict=True
        ):
            one, other = values.reshape(-1)[low], values.reshape(-1)[low + 1]
            between = one + part * (other - one)
            near = np.where(part == 0.0, one, np.where(part == 1.0, other, between))
            total += share * near
    nearest = first + nodes * (u > 0.5) + (v > 0.5)
    return mixed[0], mixed[1], layers[nearest]
