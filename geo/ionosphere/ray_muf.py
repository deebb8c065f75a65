r"""
Basic MUF of one hop from the rays themselves, and the height of F2 that M(3000) asks.

The basic MUF of a layer over a distance is the highest frequency at which a ray of that
layer still lands there, that is the one whose skip distance is that distance. It is
looked for among the rays of `geo.ionosphere.homing`, so that MUF, skip distance and
take-off angle are of one piece.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.cubics import cubic
from geo.ionosphere.homing import ray_table, skip_edge
from geo.ionosphere.profile import Profile, layered_profile
from geo.ionosphere.rays import Array, barriers
from geo.records import ArrayRecord

M3000_KM = 3000.0
"""Distance of the M factor. [km]"""

_LOWEST, _HIGHEST = 0.8, 1.25
"""How far the height may leave the published one."""

_FEW_NODES = 12

_AT_ONCE = 1500
"""Places whose MUF is tabulated together."""

_TABLE_SHARES = np.array(
    [0.001, 0.004, 0.012, 0.03, 0.06, 0.11, 0.18, 0.27, 0.38, 0.5, 0.62, 0.74, 0.84,
     0.92, 0.97, 0.995]
)  # fmt: skip
_CLOSING_ROUNDS = 12
"""Nodes of `muf_table`: the square of the frequency between the critical one and the
highest that is returned over any distance, which is looked for so many rounds."""

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
    Within 0.3 %. A frequency that a lower layer turns at the same angles does not
    count: where a lower layer hides this one the MUF is the lower for it.

    Examples
    --------
    >>> night = layered_profile(0.5, float("nan"), 4.0, 320.0, 80.0)
    >>> muf_mhz(night, [300.0, 1000.0, 3000.0]).round(1)
    array([ 4.2,  6.2, 11.8])
    """
    return muf_table(profile.up_to(layer % len(profile.tops))).muf_mhz(ground_km)


class MufTable(ArrayRecord):
    """
    MUF of the uppermost layer over any distance, between nodes.

    Attributes
    ----------
    square_mhz : numpy.ndarray
        Frequencies squared, rising from the critical one, (..., N). [MHz²]
    square_km : numpy.ndarray
        Skip distances squared, (..., N); NaN where nothing is returned. [km²]
    """

    square_mhz: Array
    square_km: Array

    def muf_mhz(self, ground_km: ArrayLike) -> Array:
        """
        Read the basic MUF of the ordinary wave.

        Parameters
        ----------
        ground_km : array_like
            Length of the hop; broadcasts with the places. [km]

        Returns
        -------
        muf_mhz : numpy.ndarray
            Held at the highest that is returned over any distance. [MHz]
        """
        goal = np.asarray(ground_km, dtype=float) ** 2
        shape = np.broadcast_shapes(self.square_km.shape[:-1], goal.shape)
        x, y = (
            np.broadcast_to(each, (*shape, each.shape[-1]))
            for each in (self.square_km, self.square_mhz)
        )
        goal = np.broadcast_to(goal, shape)[..., None]
        last = np.isfinite(x).sum(axis=-1, keepdims=True) - 2
        low = np.clip((x <= goal).sum(axis=-1, keepdims=True) - 1, 0, last)

        def at(values: Array, place: NDArray[np.intp]) -> Array:
            return np.take_along_axis(
                values, np.clip(place, 0, values.shape[-1] - 1), axis=-1
            )[..., 0]

        x0, x1, y0, y1 = at(x, low), at(x, low + 1), at(y, low), at(y, low + 1)
        with np.errstate(divide="ignore", invalid="ignore"):
            here = (y1 - y0) / (x1 - x0)
            before = (y0 - at(y, low - 1)) / (x0 - at(x, low - 1))
            after = (at(y, low + 2) - y1) / (at(x, low + 2) - x1)
            share = (goal[..., 0] - x0) / (x1 - x0)
        first, end = low[..., 0] == 0, low[..., 0] >= last[..., 0]
        # Monotone slopes: the harmonic mean of the steps on both sides.
        slope0 = np.where(first, here, 2.0 / (1.0 / before + 1.0 / here))
        slope1 = np.where(end, here, 2.0 / (1.0 / after + 1.0 / here))
        ends = (y0, y1, slope0 * (x1 - x0), slope1 * (x1 - x0))
        inner = cubic(np.minimum(share, 1.0), ends)[0]
        beyond = np.maximum(goal[..., 0] - x1, 0.0) * here
        most = self.square_mhz[..., -1]
        return np.sqrt(np.minimum(np.where(end, inner + beyond, inner), most))


def muf_table(profile: Profile, *, coarse: bool = False) -> MufTable:
    """
    Tabulate skip distances, to read the MUF over any distance.

    Parameters
    ----------
    profile : Profile
        One or many.
    coarse : bool, optional
        Take every other node: within 1 % instead of 0.1 %.

    Returns
    -------
    table : MufTable
        For `MufTable.muf_mhz`.

    Examples
    --------
    >>> night = layered_profile(0.5, float("nan"), 4.0, 320.0, 80.0)
    >>> muf_table(night).muf_mhz([300.0, 1000.0, 3000.0]).round(1)
    array([ 4.2,  6.2, 11.8])
    """
    shape = profile.shape
    row = profile.each(lambda part: part.reshape(len(part), -1))
    count = row.shape[0]
    # Part by part, so that maps of the whole world stay small.
    parts = [
        _tabulated(row[first : first + _AT_ONCE], coarse)
        for first in range(0, max(count, 1), _AT_ONCE)
    ]
    square_mhz, square_km = (np.concatenate(each) for each in zip(*parts, strict=True))
    nodes = square_mhz.shape[-1]
    return MufTable(square_mhz.reshape(*shape, nodes), square_km.reshape(*shape, nodes))


def _tabulated(profile: Profile, coarse: bool) -> tuple[Array, Array]:
    """Squares of frequencies and of skip distances of a row of places."""
    top = profile.tops[-1]
    low = _peak_square(profile, top)
    most = low / (1.0 - profile.edge[top] ** 2)
    # Above some frequency whatever gets through below gets through this layer too.
    under, over = low.copy(), most.copy()
    for _ in range(_CLOSING_ROUNDS):
        middle = 0.5 * (under + over)
        least, _saddle = barriers(profile, np.sqrt(middle))
        flattest = least[-2] if len(least) > 1 else 1.0
        turned = least[-1] < np.minimum(flattest, 1.0)
        under, over = np.where(turned, middle, under), np.where(turned, over, middle)
    low, most = low[..., None], under[..., None]
    shares = _TABLE_SHARES[1::2] if coarse else _TABLE_SHARES
    square = low + shares * (most - low)
    nodes = tuple(_FEW_NODES if i == len(profile.tops) - 1 else 0
                  for i in range(len(profile.tops)))  # fmt: skip
    table = ray_table(profile[..., None], np.sqrt(square), nodes)
    skip = skip_edge(table, -1).ground_km
    nearest = np.where(np.isnan(low), np.nan, 0.0)
    return (
        np.concatenate([low, square], axis=-1),
        np.concatenate([nearest, skip**2], axis=-1),
    )


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
