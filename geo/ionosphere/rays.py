r"""
Rays through the layers in closed form: where they land, how long they are under way.

A ray leaves the ground at the take-off angle beta and keeps Bouguer's constant
``K = R cos(beta)``. Written in ``sigma = R/r`` a quasi-parabolic piece of the profile
(`geo.ionosphere.profile`) gives a quadratic under the root,

.. math:: Q(\sigma) = \mu^2 - k^2\sigma^2 = q_0 + q_1 t + q_2 t^2,\quad
          k = \cos\beta,\quad t = \sigma_0 - \sigma

and angle at the Earth's centre, group path and phase path are

.. math:: \theta = k\int\frac{d\sigma}{\sqrt Q},\qquad
          P' = \int\frac{dr}{\sqrt Q},\qquad P = \int\frac{\mu^2 dr}{\sqrt Q}

Each integral over a piece is one function ``g`` of one number (see `_g`), whether the
ray turns in the piece or runs through it: nothing jumps, nothing cancels.

The magnetic field is left out of the ray itself, as are collisions. Of the field
remains that a layer has two critical frequencies: an extraordinary wave is traced as an
ordinary one on a lower frequency.

Single layer: Croft and Hoogasian, Radio Science 3, 69 (1968). The forms used here were
derived anew in ``sigma``; tests hold them against an integration of Hamilton's
equations.
"""

from __future__ import annotations

from dataclasses import fields
from functools import partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.profile import Profile
from geo.records import ArrayRecord
from geo.sphere import EARTH_RADIUS_KM

_AT_ONCE = 6_000
"""Rays worked out together, so that what is in between stays in the cache."""

_SERIES_BELOW = 1e-3
"""Below this the functions of one number are taken from their series."""

Array = NDArray[np.float64]


class Rays(ArrayRecord):
    """
    Whole hops, ground to ground, over one profile each.

    All arrays have one shape; NaN where the ray is not turned.

    Attributes
    ----------
    ground_km : numpy.ndarray
        Distance along the ground. [km]
    slope_km_rad : numpy.ndarray
        Its change with the take-off angle; negative for a low ray, positive for a
        high one. [km/rad]
    group_km : numpy.ndarray
        Group path: the light's way in the time the signal takes. [km]
    phase_km : numpy.ndarray
        Phase path, to a metre for layers more than a kilometre thick. [km]
    delay_km : numpy.ndarray
        Group less phase path above the first layer of the profile, which is what
        the F region absorbs by. [km]
    apogee_km : numpy.ndarray
        Greatest height. [km]
    piece : numpy.ndarray of int
        Piece of the profile in which the ray turns; the number of pieces where a
        sheet turns it; -1 where it is not turned.
    """

    ground_km: Array
    slope_km_rad: Array
    group_km: Array
    phase_km: Array
    delay_km: Array
    apogee_km: Array
    piece: NDArray[np.int64]


class Inside(ArrayRecord):
    """
    The half of a hop inside the layers, from the lowest edge up to the apogee.

    Lengths are in Earth radii; fields that were not asked for have size 0.

    Attributes
    ----------
    theta : numpy.ndarray
        Angle at the Earth's centre; NaN where the ray is not turned. [rad]
    theta_slope : numpy.ndarray
        Change of ``theta`` with k. [rad]
    group, phase, delay : numpy.ndarray
        Paths as in `Rays`, half a hop.
    top : numpy.ndarray
        R over the distance of the apogee from the Earth's centre.
    piece : numpy.ndarray of int
        As in `Rays`.
    """

    theta: Array
    theta_slope: Array
    group: Array
    phase: Array
    delay: Array
    top: Array
    piece: NDArray[np.int64]


def trace(
    profile: Profile,
    frequency_mhz: ArrayLike,
    takeoff_deg: ArrayLike,
    sheet_km: ArrayLike | None = None,
    *,
    paths: bool = True,
) -> Rays:
    """
    Trace rays over whole hops.

    Parameters
    ----------
    profile : Profile
        One or many.
    frequency_mhz : array_like
        Working frequency, positive. [MHz]
    takeoff_deg : array_like
        Take-off angle, 0 to 90. Frequency and angle broadcast with the profile's
        places. [deg]
    sheet_km : array_like, optional
        Height of a thin sheet that returns whatever gets up to it, as sporadic E
        does; none by default. Broadcasts. [km]
    paths : bool, optional
        Whether group and phase path, delay and apogee are wanted; of size 0 if not.

    Returns
    -------
    rays : Rays
        NaN where nothing turns the ray or an input is out of range.

    Examples
    --------
    A summer noon on 7.1 MHz: turned by E, by the ledge, by F2, and lost.

    >>> from geo.ionosphere.profile import layered_profile
    >>> noon = layered_profile(3.46, 4.8, 6.1, 270.0, 75.0)
    >>> rays = trace(noon, 7.1, [20.0, 32.0, 57.0, 60.0])
    >>> rays.ground_km.round(1), rays.piece
    (array([542.7, 689.9, 562.7,   nan]), array([ 0,  1,  5, -1]))
    """
    frequency = np.asarray(frequency_mhz, dtype=float)
    takeoff = np.asarray(takeoff_deg, dtype=float)
    usable = (takeoff >= 0.0) & (takeoff <= 90.0)
    beta = np.radians(np.where(usable, takeoff, np.nan))
    if sheet_km is not None:
        profile = below_sheet(profile, sheet_km)
    sine, cosine = np.sin(beta), np.cos(beta)
    half = inside(profile, frequency, cosine, slope=True, paths=paths,
                  sheet=sheet_km is not None)  # fmt: skip
    bottom = profile.edge[0]
    rise = np.sqrt(1.0 - (cosine * bottom) ** 2)
    leg = np.arccos(np.minimum(cosine * bottom, 1.0)) - beta
    straight = rise / bottom - sine
    scale = 2.0 * EARTH_RADIUS_KM
    return Rays(
        ground_km=np.maximum(scale * (leg + half.theta), 0.0),
        slope_km_rad=scale * (bottom * sine / rise - 1.0 - sine * half.theta_slope),
        group_km=scale * (straight + half.group) if paths else half.group,
        phase_km=scale * (straight + half.phase) if paths else half.phase,
        delay_km=scale * half.delay,
        apogee_km=EARTH_RADIUS_KM / half.top - EARTH_RADIUS_KM,
        piece=half.piece,
    )


def drawn(
    profile: Profile, frequency_mhz: float, takeoff_deg: float, points: int = 61
) -> tuple[Array, Array]:
    """
    Shape of one ray over a hop, for a picture.

    Parameters
    ----------
    profile : Profile
        A single one.
    frequency_mhz : float
        Working frequency. [MHz]
    takeoff_deg : float
        Take-off angle. [deg]
    points : int, optional
        How many points, odd; close-set around the apogee.

    Returns
    -------
    along_km, height_km : numpy.ndarray
        Ground distance and height, (points,); NaN where the ray is not turned. [km]

    Examples
    --------
    >>> from geo.ionosphere.profile import layered_profile
    >>> noon = layered_profile(3.46, 4.8, 6.1, 270.0, 75.0)
    >>> along, height = drawn(noon, 7.1, 50.0, 5)
    >>> along.round(0), height.round(0)
    (array([  0., 174., 313., 452., 626.]), array([  0., 178., 237., 178.,   0.]))
    """
    whole = trace(profile, frequency_mhz, takeoff_deg)
    part = np.linspace(0.0, 1.0, points // 2 + 1)[1:-1]
    # What a sheet would return shows where the ray is at its height.
    height = whole.apogee_km * part * (2.0 - part)
    along = 0.5 * trace(profile, frequency_mhz, takeoff_deg, height).ground_km
    up = np.concatenate([[0.0], along, [0.5 * whole.ground_km]])
    rise = np.concatenate([[0.0], height, [whole.apogee_km]])
    return (
        np.concatenate([up, whole.ground_km - up[-2::-1]]),
        np.concatenate([rise, rise[-2::-1]]),
    )


def inside(
    profile: Profile,
    frequency_mhz: ArrayLike,
    cosine: ArrayLike,
    *,
    slope: bool = False,
    paths: bool = False,
    sheet: bool = False,
) -> Inside:
    """
    Trace the part of half a hop that is inside the layers.

    Parameters
    ----------
    profile : Profile
        One or many.
    frequency_mhz : array_like
        Working frequency. [MHz]
    cosine : array_like
        k, Bouguer's constant over the Earth's radius: the cosine of the take-off
        angle; above 1 for a ray that passes over the ground. All broadcast.
    slope, paths : bool, optional
        Whether to work out ``theta_slope`` and the paths.
    sheet : bool, optional
        Whether what leaves the top of the profile is turned there.

    Returns
    -------
    half : Inside
        What was asked for.
    """
    frequency = np.asarray(frequency_mhz, dtype=float)
    k = np.asarray(cosine, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        per_square = np.where(frequency > 0.0, 1.0 / frequency**2, np.nan)
    shape = np.broadcast_shapes(profile.shape, per_square.shape, k.shape)
    size = int(np.prod(shape))
    if len(shape) == 0 or size <= _AT_ONCE:
        return _march(profile, per_square, k, shape, slope, paths, sheet)
    parts = max(1, min(shape[0], -(-size // _AT_ONCE)))
    cuts = np.linspace(0, shape[0], parts + 1).astype(int)
    depth = len(shape)
    done = []
    for a, b in zip(cuts[:-1].tolist(), cuts[1:].tolist(), strict=True):
        some = profile.each(partial(_rows, start=a, stop=b, depth=depth + 1, axis=1))
        few = (_rows(per_square, a, b, depth, 0), _rows(k, a, b, depth, 0))
        done.append(_march(some, *few, (b - a, *shape[1:]), slope, paths, sheet))
    return Inside(
        *(np.concatenate([getattr(d, f.name) for d in done]) for f in fields(Inside))
    )


def critical_deg(profile: Profile, frequency_mhz: ArrayLike) -> Array:
    """
    Steepest take-off angle that each layer, or one below it, turns.

    Parameters
    ----------
    profile : Profile
        One or many.
    frequency_mhz : array_like
        Working frequency; broadcasts with the places. [MHz]

    Returns
    -------
    critical_deg : numpy.ndarray
        One for each of ``profile.tops``, in front of the other axes: E, ledge, foot
        of F2 and F2. They never fall from one layer to the next; two equal ones say
        that the upper layer turns nothing of its own; 90 where a layer turns the
        vertical ray, 0 where nothing turns a ray along the ground. [deg]

    Notes
    -----
    A ray gets through where ``mu r`` stays above K, and the least ``mu r`` lies below
    the peak. In a piece ``(mu r)^2`` is a quadratic in r, so it is known.

    Examples
    --------
    >>> from geo.ionosphere.profile import layered_profile
    >>> noon = layered_profile(3.46, 4.8, 6.1, 270.0, 75.0)
    >>> critical_deg(noon, 7.1).round(2)
    array([27.34, 40.65, 44.66, 57.77])
    """
    least, _ = barriers(profile, frequency_mhz)
    return np.asarray(np.degrees(np.arccos(np.sqrt(np.clip(least, 0.0, 1.0)))))


def barriers(
    profile: Profile, frequency_mhz: ArrayLike
) -> tuple[Array, NDArray[np.bool_]]:
    """
    Least ``(mu r/R)^2`` up to the top of each layer, and whether it is a saddle.

    Parameters
    ----------
    profile : Profile
        One or many.
    frequency_mhz : array_like
        Working frequency; broadcasts with the places. [MHz]

    Returns
    -------
    least : numpy.ndarray
        Layer in front of the other axes. A ray gets through where this is above
        ``cos(takeoff)^2``; above 1 it stops nothing, below 0 it stops everything.
    saddle : numpy.ndarray of bool
        Whether ``mu r`` rises again above it, so that a ray just got through lingers
        there and lands ever further off. Otherwise it falls on into the next layer.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        per_square = 1.0 / np.asarray(frequency_mhz, dtype=float) ** 2
        s0, s1 = profile.edge[:-1], profile.edge[1:]
        y, p, c = profile.value, profile.slope, profile.curve
        room = (1,) * (per_square.ndim - len(profile.shape))
        s0, s1, y, p, c = (
            a.reshape(len(a), *room, *profile.shape) for a in (s0, s1, y, p, c)
        )
        # (mu r)^2 = A rho^2 + B rho + C: least between the ends, or at the top.
        square = 1.0 - (y + (p + c * s0) * s0) * per_square
        linear = (p + 2.0 * c * s0) * per_square
        low, high = 1.0 / s0, 1.0 / s1
        at = np.where(square > 0.0, -linear / (2.0 * square), high)
        at = np.minimum(np.maximum(at, low), high)
        t = s0 - 1.0 / at
        each = (1.0 - (y + (p + c * t) * t) * per_square) * at**2
        # The slope of the density at a peak is zero up to rounding only.
        inner = (at > low) & (high - at > 1e-12)
        least = np.full(each.shape[1:], np.inf)
        saddle = np.zeros(least.shape, dtype=bool)
        found = []
        for i in range(profile.pieces):
            lower = each[i] < least
            saddle = np.where(lower, inner[i], saddle)
            least = np.where(lower, each[i], least)
            if i in profile.tops:
                found.append((np.where(np.isnan(s0[i] + least), np.nan, least), saddle))
    return np.stack([each for each, _ in found]), np.stack([each for _, each in found])


def below_sheet(profile: Profile, height_km: ArrayLike) -> Profile:
    """
    Leave of a profile what lies below a height.

    Parameters
    ----------
    profile : Profile
        One or many.
    height_km : array_like
        Height; broadcasts with the places. [km]

    Returns
    -------
    profile : Profile
        Pieces above the height have no length and no electrons.
    """
    at = EARTH_RADIUS_KM / (EARTH_RADIUS_KM + np.asarray(height_km, dtype=float))
    room = (1,) * (at.ndim - len(profile.shape))
    wide = profile.each(
        lambda part: part.reshape(part.shape[:1] + room + part.shape[1:])
    )
    some = wide.edge[:-1] > at
    return Profile(
        np.maximum(wide.edge, at),
        np.where(some, wide.value, 0.0),
        np.where(some, wide.slope, 0.0),
        np.where(some, wide.curve, 0.0),
        wide.tops,
    )


def _rows(array: Array, start: int, stop: int, depth: int, axis: int) -> Array:
    """Take rows of the first axis of what the array broadcasts to."""
    if array.ndim < depth or array.shape[axis] == 1:
        return array
    return array[(slice(None),) * axis + (slice(start, stop),)]


def _g(x: Array) -> Array:
    """artanh(sqrt x)/sqrt x, which is arctan(sqrt -x)/sqrt -x below 0 and 1 at 0."""
    # At the floor the logarithm still has ten digits.
    root = np.sqrt(np.maximum(np.abs(x), 1e-12))
    under = np.flatnonzero(x < 0.0)
    if not under.size:
        return _log_g(root)
    over = np.flatnonzero(x >= 0.0)
    result = np.full_like(root, np.nan)
    result[over] = _log_g(root[over])
    result[under] = np.arctan(root[under]) / root[under]
    return result


def _log_g(root: Array) -> Array:
    """artanh(z)/z."""
    root = np.minimum(root, 1.0 - 1e-16)
    return 0.5 * np.log((1.0 + root) / (1.0 - root)) / root


def _g_slope(x: Array, g: Array) -> Array:
    """Change of `_g` with x."""
    result: Array = (1.0 / (1.0 - x) - g) / (2.0 * x)
    near = np.flatnonzero(np.abs(x) < _SERIES_BELOW)
    small = x[near]
    result[near] = 1.0 / 3.0 + small * (0.4 + small * (3.0 / 7.0 + small * 4.0 / 9.0))
    return result


def _g_less(x: Array, g: Array) -> Array:
    """(1 - g)/x."""
    result: Array = (1.0 - g) / x
    near = np.flatnonzero(np.abs(x) < _SERIES_BELOW)
    small = x[near]
    result[near] = -1.0 / 3.0 - small * (0.2 + small * (1.0 / 7.0 + small / 9.0))
    return result


@np.errstate(divide="ignore", invalid="ignore")
def _march(
    profile: Profile,
    per_square: Array,
    k: Array,
    shape: tuple[int, ...],
    slope: bool,
    paths: bool,
    sheet: bool,
) -> Inside:
    """
    Go up through the pieces, all of them at once, (pieces, rays).

    Where a ray turns is known from the roots of Q alone; what it runs through up to
    there, and nothing above, is then laid in one row.
    """
    k = np.broadcast_to(k, shape).reshape(-1)
    k2 = k * k

    def rows(array: Array, times: Array | float = 1.0) -> Array:
        room = (1,) * (len(shape) + 1 - array.ndim)
        wide = array.reshape(array.shape[:1] + room + array.shape[1:]) * times
        if wide.shape[1:] != shape:
            wide = np.broadcast_to(wide, (len(array), *shape))
        return wide.reshape(len(array), -1)

    edge = rows(profile.edge)
    p, c = rows(profile.slope, per_square), rows(profile.curve, per_square)
    whole = edge[:-1] - edge[1:]
    q1, q2 = 2.0 * edge[:-1] * k2 - p, -(c + k2)
    gone = (q1 + q2 * whole) * whole
    square = np.empty_like(edge)
    square[0] = 1.0 - k2 * edge[0] ** 2
    for i, less in enumerate(gone):
        square[i + 1] = square[i] + less
    # Rounding must not push Q under the 0 it comes down to.
    np.maximum(square, 0.0, out=square)
    # The turning point itself is asked for, 2 q0/lift: Q may dip below 0 and come back.
    # Where there is none, the root is not a number and nothing is so.
    root = np.sqrt(q1 * q1 - 4.0 * q2 * square[:-1])
    lift = root - q1
    turns = lift >= square[:-1] * (2.0 / whole)
    got_to = np.ones((len(turns) + 1, k.size), dtype=bool)
    for i, here in enumerate(turns):
        got_to[i + 1] = got_to[i] & ~here
    passed = got_to.sum(axis=0) - 1
    # Pieces of no length add nothing.
    at = np.flatnonzero(got_to[:-1] & ~(whole <= 0.0))
    ray = np.broadcast_to(np.arange(k.size), whole.shape).reshape(-1)[at]
    over = at + k.size

    def take(array: Array, where: NDArray[np.int64] = at) -> Array:
        return array.reshape(-1)[where]

    def summed(each: Array) -> Array:
        return np.bincount(ray, each, k.size).astype(float, copy=False)

    s0, s1, q0, q2, t = (
        take(edge),
        take(edge, over),
        take(square),
        take(q2),
        take(whole),
    )
    w0, w1 = np.sqrt(q0), np.sqrt(take(square, over))
    some = np.flatnonzero(turns.reshape(-1)[at])
    last = at[some]
    turn = 2.0 * q0[some] / take(lift, last)
    t[some], w1[some] = turn, 0.0
    both = w0 + w1
    u = t / both
    x = q2 * u * u
    g = _g(x)
    arc = 2.0 * u * g
    theta = summed(arc)
    grade = group = phase = delay = top = np.zeros(0)
    if slope:
        change = 0.5 * (s0 * s0 / w0 + s1 * s1 / w1) / both
        change[some] = 0.5 * (s0[some] / w0[some]) ** 2 - (s0[some] - turn) ** 2 / (
            take(root, last) * turn
        )
        grade = summed(
            2.0 * u * (g * change + _g_slope(x, g) * (2.0 * x * change - u * u))
        )
    if paths:
        s1[some] = s0[some] - turn
        top = edge[-1].copy()
        top[ray[some]] = s1[some]
        r0 = 1.0 / s0
        far = 1.0 / s1 - r0
        v = far / (w0 * r0 + w1 / s1)
        p, c = take(p), take(c)
        a = 1.0 - take(rows(profile.value, per_square)) - (p + c * s0) * s0
        b = p + 2.0 * c * s0
        x = a * v * v
        g = _g(x)
        one = 2.0 * v * g
        # 2 A r0 + B, written so that nothing cancels.
        first = 2.0 * r0 * q0 + take(q1)
        way = r0 * one + far * v + first * v * v * v * _g_less(x, g)
        light = a * way + b * one - c * arc
        group, phase = summed(way), summed(light)
        delay = summed((way - light) * (at >= (profile.tops[0] + 1) * k.size))
    lost = np.isnan(theta)
    if not sheet:
        lost |= got_to[-1]

    def whole_shape(array: Array, wanted: bool) -> Array:
        return np.where(lost, np.nan, array).reshape(shape) if wanted else np.zeros(0)

    return Inside(
        theta=whole_shape(k * theta, True),
        theta_slope=whole_shape(theta + 2.0 * k2 * grade, True) if slope else grade,
        group=whole_shape(group, paths),
        phase=whole_shape(phase, paths),
        delay=whole_shape(delay, paths),
        top=whole_shape(top, paths),
        piece=np.where(lost, -1, passed).reshape(shape),
    )
