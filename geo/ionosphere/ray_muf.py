r"""
Basic MUF of one hop from the rays themselves, and the height of F2 that M(3000) asks.

The basic MUF of a layer over a distance is the highest frequency at which a ray of that
layer still lands there, that is the one whose skip distance is that distance. It is
looked for among the rays of `geo.ionosphere.homing`, so that MUF, skip distance and
take-off angle are of one piece.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geo.ionosphere.homing import gather, ray_table, skip_edge
from geo.ionosphere.hops import sec_incidence, takeoff_angle_deg
from geo.ionosphere.profile import Profile, layered_profile
from geo.ionosphere.rays import Array
from geo.sphere import EARTH_RADIUS_KM

M3000_KM = 3000.0
"""Distance of the M factor. [km]"""

_LOWEST, _HIGHEST = 0.8, 1.25
"""How far the height may leave the published one."""

_FEW_NODES = 12

_HEIGHT_ROUNDS, _SKIP_PER_HEIGHT = 5, 1.6
"""How many heights are tried, and how the skip distance answers to the height."""

_VIRTUAL = 1.2
"""Virtual height over the true one of the peak, for a first guess."""

_NODES, _ROUNDS, _NEAR = 18, 8, 3e-3
"""Rays for one skip distance, how many frequencies are tried, and how near the square
of the distance must be before the last step."""


def muf_mhz(profile: Profile, ground_km: ArrayLike, layer: int = -1) -> Array:
    """
    Highest frequency that a layer returns over a distance.

    Parameters
    ----------
    profile : Profile
        One or many.
    ground_km : array_like
        Length of the hop; broadcasts with the places. [km]
    layer : int, optional
        Index into ``profile.tops``: the uppermost by default, 0 the E layer.

    Returns
    -------
    muf_mhz : numpy.ndarray
        Basic MUF of the ordinary wave; NaN where the profile is none. [MHz]

    Notes
    -----
    Within 0.1 %. A frequency that a lower layer turns at the same angles does not
    count: where a lower layer hides this one the MUF is the lower for it.

    Examples
    --------
    >>> night = layered_profile(0.5, float("nan"), 4.0, 320.0, 80.0)
    >>> muf_mhz(night, [300.0, 1000.0, 3000.0]).round(1)
    array([ 4.2,  6.2, 11.8])
    """
    layer %= len(profile.tops)
    top = profile.tops[layer]
    distance = np.asarray(ground_km, dtype=float)
    shape = np.broadcast_shapes(profile.shape, distance.shape, (1,))
    goal = np.broadcast_to(distance, shape).ravel()
    each = gather(profile, shape, np.unravel_index(np.arange(goal.size), shape))
    nodes = tuple(_NODES if i == layer else 0 for i in range(len(profile.tops)))
    # Between the critical frequency, which lands at no distance, and what gets through
    # even along the ground.
    low = start = _peak_square(each, top)
    high = low / (1.0 - each.edge[top] ** 2)
    top_km = EARTH_RADIUS_KM / each.edge[top + 1] - EARTH_RADIUS_KM
    angle = np.maximum(takeoff_angle_deg(goal, _VIRTUAL * top_km), 0.0)
    guess = low + 0.75 * low * (sec_incidence(angle, top_km) ** 2 - 1.0)
    square = np.clip(guess, low, 0.9 * high)
    before, off_before, left = low.copy(), -(goal**2), np.arange(goal.size)
    low, high, wanted = low.copy(), high.copy(), goal**2
    for _ in range(_ROUNDS):
        here = square[left]
        edge = skip_edge(ray_table(each[left], np.sqrt(here), nodes), layer)
        off = edge.ground_km**2 - wanted[left]
        # What no angle brings back is too high.
        over = ~(off <= 0.0)
        low[left] = np.where(over, low[left], here)
        high[left] = np.where(over, here, high[left])
        # On a flat Earth the square of the distance grows as that of the frequency.
        with np.errstate(divide="ignore", invalid="ignore"):
            chord = here - off * (here - before[left]) / (off - off_before[left])
            flat = start[left] + (here - start[left]) * wanted[left] / (
                off + wanted[left]
            )
        before[left], off_before[left] = here, off
        step = np.where((chord > low[left]) & (chord < high[left]), chord, flat)
        kept = (step > low[left]) & (step < high[left])
        square[left] = np.where(kept, step, 0.5 * (low[left] + high[left]))
        left = left[~(np.abs(off) < _NEAR * wanted[left]) & np.isfinite(here)]
        if not left.size:
            break
    reach = np.broadcast_shapes(profile.shape, distance.shape)
    return np.asarray(np.sqrt(square).reshape(reach))


def m3000(profile: Profile) -> Array:
    """
    M(3000)F2 of a profile: MUF over 3000 km over foF2.

    Parameters
    ----------
    profile : Profile
        One or many.

    Returns
    -------
    factor : numpy.ndarray
        About 2 to 4.

    Examples
    --------
    >>> m3000(layered_profile(2.6, float("nan"), 9.0, 260.0, 70.0)).round(2)
    np.float64(3.32)
    """
    peak = _peak_square(profile, profile.pieces - 1)
    return np.asarray(muf_mhz(profile, M3000_KM) / np.sqrt(peak))


def _peak_square(profile: Profile, piece: int) -> Array:
    """Square of the plasma frequency at the top of a piece, in MHz²."""
    t = profile.edge[piece] - profile.edge[piece + 1]
    return np.asarray(
        profile.value[piece] + (profile.slope[piece] + profile.curve[piece] * t) * t
    )


def consistent_hmf2_km(
    m3000f2: ArrayLike,
    foe_mhz: ArrayLike,
    fof1_mhz: ArrayLike,
    fof2_mhz: ArrayLike,
    first_km: ArrayLike,
    f1_share: ArrayLike | None = None,
) -> Array:
    """
    Height of the F2 peak with which the rays give the M(3000)F2 of the map.

    Parameters
    ----------
    m3000f2 : array_like
        M(3000)F2.
    foe_mhz, fof1_mhz, fof2_mhz : array_like
        Critical frequencies as for `geo.ionosphere.profile.layered_profile`. [MHz]
    first_km : array_like
        Height by the published formula (`geo.ionosphere.profile.hmf2_km`). [km]
    f1_share : array_like, optional
        As for `layered_profile`. All broadcast.

    Returns
    -------
    height_km : numpy.ndarray
        Within 0.8 to 1.25 times the first height. [km]

    Notes
    -----
    The published height alone gives M(3000) within 2 % in nine cases of ten of the
    maps (2.2 % rms), but up to a quarter too low where a strong F1 layer is nearly as
    dense as F2. Sought is the height at which the skip distance at M foF2 is 3000 km.
    Where F1 hides the F2 ray no height gives the map's M: then it is the lowest
    tried.

    Examples
    --------
    >>> height = consistent_hmf2_km(3.0, 3.0, 4.4, 6.0, 300.0)
    >>> m3000(layered_profile(3.0, 4.4, 6.0, height)).round(2)
    np.float64(3.)
    """
    share = np.isfinite(fof1_mhz) if f1_share is None else f1_share
    parts = np.broadcast_arrays(
        *(
            np.asarray(each, dtype=float)
            for each in (m3000f2, foe_mhz, fof1_mhz, fof2_mhz, first_km, share)
        )
    )
    factor, foe, fof1, fof2, first, share = (part.ravel() for part in parts)
    first = np.where(np.isfinite(factor + foe + fof2), first, np.nan)
    height, slope = first.copy(), _SKIP_PER_HEIGHT / first
    before, off_before = first.copy(), np.full(first.size, np.nan)
    left = np.arange(first.size)
    for _ in range(_HEIGHT_ROUNDS):
        profile = layered_profile(
            foe[left], fof1[left], fof2[left], height[left], None, share[left]
        )
        table = ray_table(profile, (factor * fof2)[left], (0, 0, 0, _FEW_NODES))
        off = skip_edge(table, -1).ground_km / M3000_KM - 1.0
        with np.errstate(divide="ignore", invalid="ignore"):
            found = (off - off_before[left]) / (height - before)[left]
        usual = slope[left]
        slope[left] = np.where(
            (found > 0.3 * usual) & (found < 3.0 * usual), found, usual
        )
        before[left], off_before[left] = height[left], off
        step = np.where(
            np.isnan(off), 0.92 * height[left], height[left] - off / slope[left]
        )
        height[left] = np.clip(step, _LOWEST * first[left], _HIGHEST * first[left])
        # A skip distance 1 % off is M half a per cent off, before this last step.
        left = left[~(np.abs(off) < 0.01) & np.isfinite(first[left])]
        if not left.size:
            break
    return height.reshape(parts[0].shape)
