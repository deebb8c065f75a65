r"""
Homing: every ray that lands at a distance, and the skip distance.

Between two critical elevations all rays turn in the same layer and the distance is a
smooth function of the take-off angle; at a critical elevation it is endless on both
sides. So rays are traced on nodes *branch by branch*, close-set towards the endless
ends, with their exact slopes; between two nodes runs a cubic with the right values and
slopes. A ray that lands at a distance is a crossing of one of these cubics, whose own
turning points are crossed on both sides: no ray at the skip edge is lost or counted
twice. What is found is then traced exactly.

The table (`ray_table`) depends on the place, the hour and the frequency only, not on
where the ray is to land: it serves every path over the place.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.cubics import Ends, crossed, crossing, cubic, turning
from geo.ionosphere.focusing import SKIP_BLUR
from geo.ionosphere.profile import Profile
from geo.ionosphere.rays import (
    Array,
    barriers,
    inside,
    trace,
)
from geo.records import ArrayRecord
from geo.sphere import EARTH_RADIUS_KM

BRANCH_NODES = (9, 7, 5, 18)
"""Nodes for the rays turned by E, below the F1 node, above it and by F2."""

_STEEP, _EVEN = 9.0, 2.2
"""Ends of the logistic axis: at an endless end, and at one where nothing happens."""

_ASIDE = 1e-7
"""How far inside the branch its outermost node lies, as a share of its width."""

_ROUNDS, _NEAR_KM = 8, 0.5
"""How often a ray is corrected at most, and from where one correction will do."""

_TURN_ROUNDS = 1
"""How often the turning point of a cubic is corrected by a ray."""

_NARROWEST_RAD = 1e-6
"""A branch that is less wide than this is none."""


class RayTable(ArrayRecord):
    """
    Rays of many profiles and frequencies on nodes of the take-off angle.

    S is the shape to which places and frequencies broadcast, M the number of nodes.

    Attributes
    ----------
    profile : Profile
        With places that broadcast to S.
    frequency_mhz : numpy.ndarray
        Broadcasts to S. [MHz]
    branch : numpy.ndarray of int
        Layer of each node, (M,).
    takeoff_rad, ground_km : numpy.ndarray
        Angle and distance, (S, M); NaN where a branch is empty. [rad], [km]
    step_rad, step_km : numpy.ndarray
        Their change from one node to the next along the axis, (S, M).
    turn, turn_km : numpy.ndarray
        Share of the step after each node at which the distance turns, and the
        distance there, (S, M - 1); NaN where it does not.
    axis : numpy.ndarray
        Of each branch the lower end, the width, the first and the last place on the
        logistic axis, and whether either end is met rather than approached,
        (S, branches, 6).
    """

    profile: Profile
    frequency_mhz: Array
    branch: NDArray[np.int64]
    takeoff_rad: Array
    ground_km: Array
    step_rad: Array
    step_km: Array
    turn: Array
    turn_km: Array
    axis: Array

    @property
    def shape(self) -> tuple[int, ...]:
        """S, the shape of places and frequencies."""
        return self.ground_km.shape[:-1]


class Homed(ArrayRecord):
    """
    Rays that land at the distances asked for, one after another.

    All arrays are of shape (K,), sorted by ``index`` and then by angle.

    Attributes
    ----------
    index : numpy.ndarray of int
        Which profile and frequency, as a flat index into the table's shape.
    branch : numpy.ndarray of int
        Layer that turns the ray: 0 E, 1 and 2 the ledge, 3 F2.
    takeoff_deg : numpy.ndarray
        Take-off angle. [deg]
    ground_km, slope_km_rad, group_km, delay_km, apogee_km : numpy.ndarray
        As in `geo.ionosphere.rays.Rays`.
    blur_km_rad : numpy.ndarray
        Slope that the smeared skip edge leaves at least, 0 where the branch has no
        edge. [km/rad]
    """

    index: NDArray[np.int64]
    branch: NDArray[np.int64]
    takeoff_deg: Array
    ground_km: Array
    slope_km_rad: Array
    group_km: Array
    delay_km: Array
    apogee_km: Array
    blur_km_rad: Array


class Edge(ArrayRecord):
    """
    Nearest rays of one layer, its skip edge.

    All arrays have the shape of the table.

    Attributes
    ----------
    ground_km : numpy.ndarray
        Skip distance: 0 where the layer returns the vertical ray, NaN where it
        returns nothing. [km]
    takeoff_deg : numpy.ndarray
        Angle of the ray that lands there. [deg]
    curvature_km_rad2 : numpy.ndarray
        Second derivative of the distance by the angle, 0 where the edge is the end
        of the branch. [km/rad²]
    """

    ground_km: Array
    takeoff_deg: Array
    curvature_km_rad2: Array

    @property
    def blur_km_rad(self) -> Array:
        """Slope that smearing the edge leaves at least, in km/rad."""
        wide = 2.0 * self.curvature_km_rad2 * SKIP_BLUR * self.ground_km
        return np.sqrt(np.maximum(wide, 0.0))


def ray_table(
    profile: Profile,
    frequency_mhz: ArrayLike,
    nodes: tuple[int, ...] = BRANCH_NODES,
) -> RayTable:
    """
    Trace rays on the nodes of every branch.

    Parameters
    ----------
    profile : Profile
        One or many.
    frequency_mhz : array_like
        Working frequencies, positive; broadcast with the places. [MHz]
    nodes : tuple of int, optional
        How many nodes each layer of the profile gets; 0 leaves its rays out.

    Returns
    -------
    table : RayTable
        For `home` and `skip_edge`.

    Notes
    -----
    The nodes are even steps of x, the place along the branch being the logistic
    function of x. An endless end is approached to 0.0001 of the branch, where rays
    are more than 20 dB down; towards an end that is none, the horizon or the zenith,
    the steps stay wide, unless a layer is just short of turning the ray there.
    """
    frequency = np.asarray(frequency_mhz, dtype=float)
    shape = np.broadcast_shapes(profile.shape, frequency.shape)
    least, saddle = barriers(profile, frequency)
    turned = np.arccos(np.sqrt(np.clip(least, 0.0, 1.0)))
    parts, axes = [], []
    for layer, count in enumerate(nodes):
        low = turned[layer - 1] if layer else np.zeros(shape)
        width = turned[layer] - low
        # How far from being endless the horizon and the zenith are.
        under = np.sqrt(np.maximum(least[layer - 1] - 1.0, 0.0)) if layer else np.inf
        over = np.sqrt(np.maximum(-least[layer], 0.0))
        with np.errstate(divide="ignore", invalid="ignore"):
            first = np.where(
                low > 0.0,
                _STEEP,
                np.clip(np.log(2.0 * width / under), _EVEN, _STEEP),
            )
            last = np.where(
                least[layer] > 0.0,
                _STEEP,
                np.clip(np.log(2.0 * width / over), _EVEN, _STEEP),
            )
        # Where no ray lingers the branches meet, and so do their nodes.
        cut = (low <= 0.0) | ~saddle[layer - 1], (least[layer] <= 0.0) | ~saddle[layer]
        width = np.where(width > _NARROWEST_RAD, width, np.nan)
        axis = np.stack([low, width, -first, last])
        ends = np.stack([np.where(cut[0], 1.0, 0.0), np.where(cut[1], 1.0, 0.0)])
        axes.append(np.concatenate([axis, ends]))
        if count:
            parts.append(_branch(profile, frequency, layer, axes[-1], count))
    takeoff, step_rad, ground, step_km = (
        np.concatenate(part, axis=-1) for part in zip(*parts, strict=True)
    )
    branch = np.repeat(np.arange(len(nodes)), nodes)
    bounds = (ground[..., :-1], ground[..., 1:], step_km[..., :-1], step_km[..., 1:])
    turn = np.where(np.diff(branch) == 0, turning(bounds), np.nan)
    table = RayTable(
        profile=profile,
        frequency_mhz=frequency,
        branch=branch,
        takeoff_rad=takeoff,
        ground_km=ground,
        step_rad=step_rad,
        step_km=step_km,
        turn=turn,
        turn_km=cubic(turn, bounds)[0],
        axis=np.stack([np.moveaxis(each, 0, -1) for each in axes], axis=-2),
    )
    return _settled(table)


def home(table: RayTable, ground_km: ArrayLike) -> Homed:
    """
    Find every ray that lands at a distance.

    Parameters
    ----------
    table : RayTable
        From `ray_table`.
    ground_km : array_like
        Distance, positive; broadcasts with the table's shape and may add axes in
        front of it. [km]

    Returns
    -------
    rays : Homed
        ``index`` is the flat index into the shape to which table and distance
        broadcast.

    Examples
    --------
    >>> from geo.ionosphere.profile import layered_profile
    >>> night = layered_profile(0.5, float("nan"), 4.0, 320.0, 80.0)
    >>> rays = home(ray_table(night, 7.1), 1300.0)
    >>> rays.takeoff_deg.round(2), rays.slope_km_rad.round(0)
    (array([23.32, 28.64]), array([-1368.,  3597.]))
    """
    target = np.asarray(ground_km, dtype=float)
    shape = np.broadcast_shapes(table.shape, target.shape, (1,))
    wanted = np.broadcast_to(target, shape)[..., None]
    inner = np.diff(table.branch) == 0
    above = table.ground_km > wanted
    known = inner & ~np.isnan(table.ground_km[..., :-1] + table.ground_km[..., 1:])
    known = np.broadcast_to(known, (*shape, inner.size))
    cells, late = crossed(
        above[..., :-1], above[..., 1:], table.turn, table.turn_km > wanted, known
    )
    where, node = cells[:-1], cells[-1]

    def taken(array: Array) -> Array:
        full = np.broadcast_to(array, (*shape, array.shape[-1]))
        return np.asarray(full[cells])

    turn = taken(table.turn)
    low, high = np.where(late, turn, 0.0), np.where(late | np.isnan(turn), 1.0, turn)
    goal = np.broadcast_to(target, shape)[where]
    ends = _ends(table, taken)
    rising = cubic(high, ends)[0] > cubic(low, ends)[0]
    share = crossing(low, high, goal, ends, rising)
    index = np.asarray(np.ravel_multi_index(where, shape))
    return _exact(table, shape, where, index, node, share, low, high, goal, rising)


def _ends(table: RayTable, taken: Callable[[Array], Array]) -> Ends:
    """Values and steps at both nodes of the cubics that ``taken`` picks."""
    return (
        taken(table.ground_km),
        taken(table.ground_km[..., 1:]),
        taken(table.step_km),
        taken(table.step_km[..., 1:]),
    )


def _exact(
    table: RayTable,
    shape: tuple[int, ...],
    where: tuple[NDArray[np.intp], ...],
    index: NDArray[np.int64],
    node: NDArray[np.int64],
    share: Array,
    low: Array,
    high: Array,
    goal: Array,
    rising: NDArray[np.bool_],
) -> Homed:
    """Trace what the cubics found and correct it, kept between the same nodes."""
    branch = table.branch[node]
    starts = np.searchsorted(table.branch, np.arange(table.axis.shape[-2]))
    counts = np.bincount(table.branch, minlength=table.axis.shape[-2])
    steps = counts[branch] - 1.0
    axis = np.broadcast_to(table.axis, (*shape, counts.size, 6))[(*where, branch)].T
    profile = gather(table.profile, shape, where)
    frequency = np.broadcast_to(table.frequency_mhz, shape)[where]
    before = node - starts[branch]
    open_ = np.arange(index.size)
    low, high = low.copy(), high.copy()
    for _ in range(_ROUNDS):
        on = axis[:, open_]
        beta, change = _place(on, (before + share)[open_] / steps[open_])
        rays = trace(profile[open_], frequency[open_], np.degrees(beta), paths=False)
        over = rays.ground_km - goal[open_]
        beyond = (over > 0.0) == rising[open_]
        low[open_] = np.where(beyond, low[open_], share[open_])
        high[open_] = np.where(beyond, share[open_], high[open_])
        with np.errstate(divide="ignore", invalid="ignore"):
            better = share[open_] - over * steps[open_] / (rays.slope_km_rad * change)
        inside = (better > low[open_]) & (better < high[open_])
        middle = 0.5 * (low[open_] + high[open_])
        share[open_] = np.where(inside, better, middle)
        open_ = open_[~(np.abs(over) < _NEAR_KM)]
        if not open_.size:
            break
    beta, _ = _place(axis, (before + share) / steps)
    rays = trace(profile, frequency, np.degrees(beta))
    none = np.zeros(table.shape)
    blur = np.stack(
        [
            skip_edge(table, layer).blur_km_rad if count else none
            for layer, count in enumerate(counts)
        ],
        axis=-1,
    )
    blur = np.broadcast_to(blur, (*shape, counts.size))[(*where, branch)]
    return Homed(
        index=np.asarray(index),
        branch=branch,
        takeoff_deg=np.degrees(beta),
        ground_km=rays.ground_km,
        slope_km_rad=rays.slope_km_rad,
        group_km=rays.group_km,
        delay_km=rays.delay_km,
        apogee_km=rays.apogee_km,
        blur_km_rad=np.nan_to_num(blur),
    )


def gather(
    profile: Profile, shape: tuple[int, ...], where: tuple[NDArray[np.intp], ...]
) -> Profile:
    """
    Pick places out of a profile, by an index into a shape it broadcasts to.

    Parameters
    ----------
    profile : Profile
        One or many.
    shape : tuple of int
        What its places broadcast to.
    where : tuple of numpy.ndarray of int
        One index for each axis of ``shape``, (K,).

    Returns
    -------
    profile : Profile
        K places.
    """
    key: Any = (slice(None), *where)

    def part(array: Array) -> Array:
        lift = (1,) * (len(shape) - array.ndim + 1)
        full = array.reshape(array.shape[:1] + lift + array.shape[1:])
        return np.asarray(np.broadcast_to(full, (len(array), *shape))[key])

    return profile.each(part)


def skip_edge(table: RayTable, layer: int) -> Edge:
    """
    Nearest ray that a layer returns.

    Parameters
    ----------
    table : RayTable
        From `ray_table`.
    layer : int
        0 E, 1 and 2 the ledge, 3 F2 or -1 the uppermost.

    Returns
    -------
    edge : Edge
        Off the cubics between the nodes.

    Examples
    --------
    >>> from geo.ionosphere.profile import layered_profile
    >>> night = layered_profile(0.5, float("nan"), 4.0, 320.0, 80.0)
    >>> edge = skip_edge(ray_table(night, [5.3, 7.1]), -1)
    >>> edge.ground_km.round(0), edge.takeoff_deg.round(1)
    (array([ 751., 1255.]), array([42.9, 26.6]))
    """
    layer %= table.axis.shape[-2]
    columns = np.flatnonzero(table.branch == layer)
    start, count = columns[0], columns.size
    nodes, turns = table.ground_km[..., columns], table.turn_km[..., columns[:-1]]
    each = np.concatenate([nodes, turns], axis=-1)
    at = np.argmin(np.where(np.isnan(each), np.inf, each), axis=-1)[..., None]
    found = at >= count
    node = np.where(found, at - count, np.minimum(at, count - 2))

    def taken(array: Array) -> Array:
        return np.take_along_axis(array, start + node, axis=-1)

    share = np.where(found, taken(table.turn), at - node)
    ends = _ends(table, taken)
    axis = np.moveaxis(table.axis[..., layer, :], -1, 0)[..., None]
    beta, change = _place(axis, (node + share) / (count - 1.0))
    bend = cubic(share, ends)[2] / (change / (count - 1.0)) ** 2
    return Edge(
        ground_km=np.take_along_axis(each, at, axis=-1)[..., 0],
        takeoff_deg=np.degrees(beta)[..., 0],
        curvature_km_rad2=np.where(found, bend, np.where(np.isnan(beta), np.nan, 0.0))[
            ..., 0
        ],
    )


def _place(axis: Array, part: ArrayLike) -> tuple[Array, Array]:
    """Angle at a part (0 to 1) of a branch's axis, and its change with the part."""
    low, width, first, last, cut_low, cut_high = axis
    x = first + (last - first) * np.asarray(part)
    here = 1.0 / (1.0 + np.exp(-x))
    # An end that is none is met, not approached.
    start = cut_low / (1.0 + np.exp(-first))
    span = 1.0 - cut_high / (1.0 + np.exp(last)) - start
    share = np.clip((here - start) / span, _ASIDE, 1.0 - _ASIDE)
    change = width * (last - first) * here * (1.0 - here) / span
    return low + width * share, change


def _branch(
    profile: Profile, frequency: Array, layer: int, axis: Array, count: int
) -> tuple[Array, Array, Array, Array]:
    """Angles, distances and their steps on the nodes of one branch."""
    beta, step = _place(axis[..., None], np.linspace(0.0, 1.0, count))
    step /= count - 1
    below = profile.up_to(layer)[..., None]
    sine, cosine = np.sin(beta), np.cos(beta)
    half = inside(below, frequency[..., None], cosine, slope=True)
    bottom = below.edge[0]
    with np.errstate(invalid="ignore"):
        rise = np.sqrt(1.0 - (cosine * bottom) ** 2)
        ground = np.arccos(cosine * bottom) - beta + half.theta
        slope = bottom * sine / rise - 1.0 - sine * half.theta_slope
    scale = 2.0 * EARTH_RADIUS_KM
    return beta, step, scale * ground, scale * slope * step


def _settled(table: RayTable) -> RayTable:
    """Put the turns of the cubics where the rays themselves turn."""
    turn, turn_km = table.turn.copy(), table.turn_km.copy()
    where = np.nonzero(np.isfinite(table.turn))
    node = where[-1]
    shape = table.shape or (1,)
    place = where[:-1] or (np.zeros(node.size, dtype=np.intp),)
    branch = table.branch[node]
    starts = np.searchsorted(table.branch, branch)
    steps = np.bincount(table.branch)[branch] - 1.0
    axis = np.broadcast_to(table.axis, (*shape, *table.axis.shape[-2:]))
    axis = axis[(*place, branch)].T
    profile = gather(table.profile, shape, place)
    frequency = np.broadcast_to(table.frequency_mhz, shape)[place]
    ends = _ends(table, lambda array: array[where])
    share = table.turn[where]
    for _ in range(_TURN_ROUNDS):
        beta, change = _place(axis, (node - starts + share) / steps)
        rays = trace(profile, frequency, np.degrees(beta), paths=False)
        slope = rays.slope_km_rad * change / steps
        bend = cubic(share, ends)[2]
        step = np.clip(-slope / bend, -0.5 * share, 0.5 * (1.0 - share))
        usable = np.isfinite(step)
        ground = rays.ground_km + (slope + 0.5 * bend * step) * step
        share = np.where(usable, share + step, share)
        turn_km[where] = np.where(usable, ground, turn_km[where])
    turn[where] = share
    return replace(table, turn=turn, turn_km=turn_km)
