r"""
Rays of several hops that come down at a distance, over layers that change on the way.

What a ray keeps from hop to hop is not its elevation but its action J
(`geo.ionosphere.action`), which falls with K by :math:`dJ/dK = -\theta`. Where a hop of
that action is D(J, x) long, the number of hops on the way is
:math:`\int dx/D(J, x)`. With as many reflection points as hops, each over the middle of
an equal part of the distance L, that says

.. math:: \frac1n \sum_i \frac1{D_i(J)} = \frac{n}{L}

so that where hops are short there are more of them, and no point has to be moved to
where a hop really turns. Sought is the J for which it holds. What a lower layer turns
is asked of each hop at its own K: a ray that leaves steeply through the E layer of the
day may go flat over the night.

That is K at the apogee. Below the layers K stays; up there it changes by
:math:`\partial J/\partial x` of that very place, so that the ray leaves with half of
that less than :math:`K_1` and lands with half more than :math:`K_n`. At a touch between
two hops K is taken for the mean of both; where it passes the Earth's radius, the ray
misses the ground and goes on from layer to layer.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.action import bouguer, elevation_deg, hops
from geo.ionosphere.focusing import SKIP_BLUR, soft_sine
from geo.ionosphere.hops import takeoff_angle_deg
from geo.ionosphere.profile import Profile
from geo.ionosphere.rays import Array, barriers, trace
from geo.records import ArrayRecord
from geo.sphere import EARTH_RADIUS_KM

_FLATTEST_DEG = 0.05
"""Elevation of the flattest ray from the ground. [deg]"""

_OVER = 1.0 + 97.0 / EARTH_RADIUS_KM
"""K of the highest ray that passes over it."""

_EDGE_SHARE = 1.2e-4
"""How near to the ends of its branch a ray is looked at, as a share of it."""

_START_HEIGHT, _START_SHARE = 0.9, 0.1
"""Where the search begins: off a mirror at that share of the height of the peak, and
that share of each branch inside its ends."""

_ROUNDS, _MOST_STEP_DEG, _MOST_TURN = 14, 8.0, 0.01
"""How often the action is corrected, and by how much at most, over the ground in K."""

_NEAR_KM, _LAST_KM, _ALIKE_DEG, _NEARLY_DEG = 0.5, 1.0, 0.03, 2.0
"""How near a hop, the step of the action, and the elevation to that of the common
action may be for the step from there to be the last (what is left goes by the square),
and how near the elevation for there to be a step at all. [km], [km], [deg], [deg]"""

_BREAK = 0.2
"""Sine of the elevation down to which a hop grows with K as its slope says: that breaks
at the horizon."""

_TRUSTED = 0.2
"""By how much of it a hop may change on its way to the common action for its slope to
say on which side of the distance it is; what is missing is to be more than as much of
that change."""

_BEYOND_KM, _FLAT_KM = 10.0, 0.5
"""How far beyond the least action found the search goes on, the most unknown, and how
near to it a ray is the flattest. [km]"""

_D_REGION = 1.0 + 90.0 / EARTH_RADIUS_KM
"""K of a ray that passes over the D region."""

_OUTER = [0, -1]
"""The first and the last hop."""

_BESIDE_DEG = 0.2
"""Step for the bend of the distance near the skip edge. [deg]"""

_INSIDE = 1e-6
"""How far inside the range of a layer K is held where J is read."""


class Chain(ArrayRecord):
    """
    One ray of n hops for each place of an array.

    Attributes
    ----------
    takeoff_deg, landing_deg : numpy.ndarray
        Elevation at both ends, not negative. [deg]
    ground_km : numpy.ndarray
        Where it lands: the distance asked for, or less where even the flattest ray
        falls short of it, or more where the nearest goes beyond. [km]
    slope_km_rad : numpy.ndarray
        Change of the whole distance with the take-off angle. [km/rad]
    group_km : numpy.ndarray
        Group path. [km]
    apogee_km : numpy.ndarray
        Greatest height, mean over the hops. [km]
    touches, dips : numpy.ndarray
        How often the ray touches the ground between its ends, and how often it comes
        down through the D region there, whether it touches or not.
    blur_km_rad : numpy.ndarray
        Least slope that the smeared skip edge leaves. [km/rad]
    """

    takeoff_deg: Array
    landing_deg: Array
    ground_km: Array
    slope_km_rad: Array
    group_km: Array
    apogee_km: Array
    touches: Array
    dips: Array
    blur_km_rad: Array


def side_parts(n: int) -> NDArray[np.float64]:
    """
    Say where the layers beside the first and the last reflection point are read.

    Parameters
    ----------
    n : int
        How many hops.

    Returns
    -------
    part : numpy.ndarray
        Parts of the way a quarter of a hop before and behind either, shape (4,).

    Examples
    --------
    >>> side_parts(5)
    array([0.05, 0.15, 0.85, 0.95])
    """
    return np.array([0.25, 0.75, n - 0.75, n - 0.25]) / n


def chained(
    profile: Profile,
    sides: Profile,
    frequency_mhz: ArrayLike,
    ground_km: ArrayLike,
    layer: int = -1,
) -> Chain:
    """
    Find the low ray that reaches a distance in several hops.

    Parameters
    ----------
    profile : Profile
        The layers over the middles of as many equal parts of the way as there are to
        be hops, (..., n).
    sides : Profile
        Those at `side_parts`, (..., 4).
    frequency_mhz : array_like
        Working frequency at each of them, (..., n); they may differ for the day and
        for the extraordinary wave. [MHz]
    ground_km : array_like
        Whole distance, (...). [km]
    layer : int, optional
        Which layer turns it: index into ``profile.tops``, the uppermost by default.

    Returns
    -------
    chain : Chain
        Shape (...). Where even the nearest ray lands beyond, it is that one; NaN where
        there is no action with which this layer turns all hops.

    Notes
    -----
    Newton's steps in the elevation of the hop next to the horizon, of which the action
    is a smooth function; the other hops follow, each within its own branch. How far
    the action may go is found on the way, and once it is known on both sides no step
    is longer than half of what is between.

    Examples
    --------
    Over the same layer everywhere n hops are n times one hop:

    >>> from geo.ionosphere.profile import layered_profile
    >>> night = layered_profile([0.5, 0.5], float("nan"), 4.0, 320.0, 80.0)
    >>> ray = chained(night, night[[0, 0, 1, 1]], [7.1, 7.1], 2600.0)
    >>> ray.takeoff_deg.round(2), ray.landing_deg.round(2), ray.touches.item()
    (np.float64(23.32), np.float64(23.32), 1.0)
    """
    rows = _rows(profile, sides, frequency_mhz, ground_km, layer)
    every, mhz, goal = rows.profile, rows.mhz, rows.ground_km
    k, there = _search(every, mhz, goal / mhz.shape[-1], _bounds(rows))
    k = np.where(there[:, None], k, np.nan)
    each, own = hops(every, mhz, k, slope=True), elevation_deg(k)
    length = each.ground_km
    mean_km = 1.0 / (1.0 / length).mean(axis=-1, keepdims=True)
    # How many hops each part of the way has.
    share = mean_km / length
    ends = np.clip(k[:, _OUTER] + _half_kick(rows, k[:, _OUTER]), 0.0, 1.0)
    elevation = np.maximum(elevation_deg(ends), 0.0)
    # Of its slope, by the action, so much moves the landing.
    sine = soft_sine(mhz[:, :1], elevation[:, :1]) / soft_sine(mhz, own)
    moves = share * sine * length[:, :1] * length[:, -1:] / length**2
    # At the horizon the ground is not left at once, but as far as waves spread.
    leaves = 0.5 + 0.5 * np.tanh(np.sin(np.radians(own)) / soft_sine(mhz, 0.0))
    slope = each.slope_km_rad + 2.0 * EARTH_RADIUS_KM * ((k <= 1.0) - leaves)
    room = elevation_deg(_branches(every, mhz)[1]) - own
    aside = np.minimum(_BESIDE_DEG, 0.4 * room)
    near = trace(every, mhz, np.maximum(own, 0.0) + aside, paths=False)
    with np.errstate(divide="ignore", invalid="ignore"):
        bend = (near.slope_km_rad - each.slope_km_rad) / np.radians(aside)
    bend = np.where((own > 0.0) & np.isfinite(bend), bend, 0.0).sum(axis=-1)
    blur = np.sqrt(np.maximum(2.0 * bend * SKIP_BLUR * goal, 0.0))
    touch = 0.5 * (k[:, 1:] + k[:, :-1])
    values = (
        elevation[:, 0],
        elevation[:, 1],
        mean_km[:, 0] * mhz.shape[-1],
        (slope * moves).sum(axis=-1),
        (each.group_km * share).sum(axis=-1),
        (each.apogee_km * share).mean(axis=-1),
        (touch <= 1.0).sum(axis=-1).astype(float),
        (touch <= _D_REGION).sum(axis=-1).astype(float),
        blur * moves.mean(axis=-1),
    )
    return Chain(*(part.reshape(rows.shape) for part in values))


class _Rows(ArrayRecord):
    """Chains in a row: shape they came in, layers, frequencies and distances."""

    shape: tuple[int, ...]
    profile: Profile
    sides: Profile
    mhz: Array
    ground_km: Array


def _rows(
    profile: Profile,
    sides: Profile,
    frequency_mhz: ArrayLike,
    ground_km: ArrayLike,
    layer: int,
) -> _Rows:
    """Lay the chains in a row, (rows, n)."""
    layer %= len(profile.tops)
    given = np.asarray(frequency_mhz, dtype=float)
    shape = np.broadcast_shapes(profile.shape, given.shape)

    def flat(some: Profile, count: int) -> Profile:
        return some.up_to(layer).each(
            lambda part: np.broadcast_to(part, (len(part), *shape[:-1], count)).reshape(
                len(part), -1, count
            )
        )

    return _Rows(
        shape[:-1],
        flat(profile, shape[-1]),
        flat(sides, 4),
        np.broadcast_to(given, shape).reshape(-1, shape[-1]),
        np.broadcast_to(np.asarray(ground_km, dtype=float), shape[:-1]).ravel(),
    )


def _bounds(rows: _Rows) -> Array:
    """K of the flattest and steepest ray; the first and last hop reach the ground."""
    flat, steep = _branches(rows.profile, rows.mhz)
    flat[:, _OUTER] = np.minimum(flat[:, _OUTER], 1.0 - _half_kick(rows, 1.0))
    flat = np.where(flat > steep, flat, np.nan)
    return np.stack([flat, steep])


def _branches(profile: Profile, frequency: Array) -> Array:
    """K of the flattest and of the steepest ray of the layer, (2, rows, n + 2)."""
    least, _ = barriers(profile, frequency)
    # K at which each layer ceases to turn the ray, past the horizon too.
    k = np.sqrt(np.clip(least, 0.0, _OVER**2))
    under = k[-2] if len(k) > 1 else np.full(k.shape[1:], _OVER)
    flat, high = elevation_deg(under), elevation_deg(np.minimum(k[-1], 1.0))
    edge = _EDGE_SHARE * (high - flat)
    flat, steep = np.where(high > flat, [flat + edge, high - edge], np.nan)
    return np.stack([bouguer(flat), bouguer(steep)])


def _search(
    profile: Profile, frequency: Array, hop_km: Array, bounds: Array
) -> tuple[Array, NDArray[np.bool_]]:
    """K of all hops, with which they are of one action, and whether there is such."""
    flat, steep = bounds
    up = EARTH_RADIUS_KM * (1.0 / profile.edge[-1].mean(axis=-1) - 1.0)
    guess = takeoff_angle_deg(hop_km, _START_HEIGHT * up)
    most, least_deg = elevation_deg(steep), np.maximum(elevation_deg(flat), 0.0)
    room = _START_SHARE * (most - least_deg)
    first = np.clip(np.nan_to_num(guess)[:, None], least_deg + room, most - room)
    k = bouguer(first)
    there = np.isfinite(flat).all(axis=-1)
    floor, low = np.full((2, len(hop_km)), -np.inf)
    high = np.full(len(hop_km), np.inf)
    some = np.flatnonzero(there)
    for _ in range(_ROUNDS):
        at = k[some]
        each = hops(profile[some], frequency[some], at, slope=True)
        action, length, slope = each.action_km, each.ground_km, each.slope_km_rad
        # All follow the hop next to the horizon.
        lead = np.abs(1.0 - at).argmin(axis=-1)[:, None]
        its, my = (np.take_along_axis(a, lead, axis=-1) for a in (action, length))
        angle = elevation_deg(at)
        grows = -slope / np.maximum(np.abs(np.sin(np.radians(angle))), _BREAK)
        free = at + _turn(action - its, length, grows)
        same = np.clip(free, steep[some], flat[some])
        moved = elevation_deg(same)
        reach = np.maximum(length + slope * np.radians(moved - angle), 0.3 * length)
        mean = 1.0 / (1.0 / reach).mean(axis=-1)
        sine = np.abs(np.sin(np.radians(moved)))
        ahead = np.take_along_axis(sine, lead, axis=-1)
        ratio = ahead * my / (np.maximum(sine, np.maximum(ahead, 1e-6)) * length)
        falls = mean**2 * (slope * ratio / reach**2).mean(axis=-1)
        over = mean - hop_km[some]
        apart = np.abs(moved - angle).max(axis=-1)
        nearly = apart < _NEARLY_DEG
        # Where a ray lingers under a layer the slope there says little of the length.
        told = nearly & (same == free).all(axis=-1)
        change = np.abs(reach - length)
        told &= (change < _TRUSTED * length).all(axis=-1)
        told &= np.abs(over) > _TRUSTED * change.max(axis=-1)
        # Rays high over the ground come down nearer the higher they are, too.
        far = (over >= 0.0) & ((falls <= 0.0) | (at > 1.0).any(axis=-1))
        now = its[:, 0]
        # A hop at the end of its branch bounds the action, too.
        under = np.where(at >= flat[some], action, -np.inf).max(axis=-1)
        above = np.where(at <= steep[some], action, np.inf).min(axis=-1)
        floor[some] = np.maximum(floor[some], under)
        low[some] = np.maximum(low[some], np.where(far & told, now, -np.inf))
        sure = np.where(~far & told, now, above)
        high[some] = np.minimum(high[some], sure)
        lowest, highest = np.maximum(low[some], floor[some]), high[some]
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.where(falls < 0.0, np.degrees(-over / falls), -_MOST_STEP_DEG)
        step = np.nan_to_num(step)
        first = np.take_along_axis(angle, lead, axis=-1)[:, 0]
        later = first + np.clip(step, -_MOST_STEP_DEG, _MOST_STEP_DEG)
        # Over the ground nothing goes evenly with the elevation, but with K.
        even = np.clip(ahead[:, 0] * np.radians(step), -_MOST_TURN, _MOST_TURN)
        turn = np.where(first < 0.0, even, bouguer(first) - bouguer(later))
        wanted = now + my[:, 0] * turn
        closed = (lowest > -np.inf) & (highest < np.inf)
        beyond = np.where(lowest > -np.inf, lowest + _BEYOND_KM, highest - _BEYOND_KM)
        with np.errstate(invalid="ignore"):
            inner = np.where(closed, 0.5 * (lowest + highest), beyond)
        # No step is longer than half of what is left, so that none goes to and fro.
        half = 0.5 * np.maximum(highest - low[some], 0.0)
        wanted = np.clip(wanted, now - half, now + half)
        short = over < 0.0
        wanted = np.where(wanted >= highest, inner, wanted)
        # Whether it is too far from the flattest is to be seen there.
        at_least = np.where(
            (low[some] < lowest) & (short | (now < lowest)), lowest, inner
        )
        wanted = np.where(wanted < lowest, at_least, wanted)
        last = (np.abs(over) < _NEAR_KM) & (np.abs(wanted - now) < _LAST_KM)
        last &= wanted >= lowest
        done = last | (short & told & (now < floor[some] + _FLAT_KM))
        done &= apart < _ALIKE_DEG
        # Of one action they should be before it is changed.
        wanted = np.where(nearly, wanted, now)
        turn = _turn(action - wanted[:, None], length, grows)
        k[some] = np.clip(at + turn, steep[some], flat[some])
        there[some] = lowest < highest + _NEAR_KM
        some = some[~done & there[some]]
        if not some.size:
            break
    return k, there


def _turn(less: Array, length: Array, grows: Array) -> Array:
    """Change of K with which the action is so much less, to the second order."""
    root = np.sqrt(np.maximum(length * length + 2.0 * grows * less, 0.0))
    return np.asarray(2.0 * less / (length + root))


def _half_kick(rows: _Rows, k: ArrayLike) -> Array:
    """Change of K from the outermost apogees to the ends, (rows, 2)."""
    pairs = rows.sides.each(lambda part: part.reshape(*part.shape[:-1], 2, 2))
    mhz = rows.mhz[:, _OUTER, None]
    least, lingers = barriers(pairs, mhz)
    limit = np.sqrt(np.maximum(least, 0.0))
    # J is read where both sides turn it above all that a ray lingers under; elsewhere
    # K is kept.
    low = limit[-1].max(axis=-1) + _INSIDE
    under = np.where(lingers, limit, np.inf)[:-1].min(axis=0, initial=np.inf)
    high = under.min(axis=-1) - _INSIDE
    there = low < high
    held = np.clip(k, np.where(there, low, 0.0), high)
    action = hops(pairs, mhz, held[..., None]).action_km
    beside_km = 0.5 * rows.ground_km[:, None] / rows.mhz.shape[-1]
    change = (action[..., 1] - action[..., 0]) / beside_km
    half = 0.5 * np.where(there, np.nan_to_num(change), 0.0)
    return np.asarray(half * [-1.0, 1.0])
