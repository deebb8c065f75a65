"""
Rays of every mode, found layer by layer.

The ray of a mode is that of the middle one of the days on which it is there, so that a
mode that is there on few days is told as it is on those days. What is below hides a
layer by the rays themselves: near a layer that all but turns it a ray lingers, and its
power is spread out.
"""

from __future__ import annotations

from dataclasses import fields
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.propagation import muf, sporadic_e
from advisor.propagation.above_muf import above_muf_loss_db
from advisor.propagation.ground_scatter import (
    ASIDE_KM,
    BEARINGS,
    FARTHEST_KM,
    distances_km,
    lit_around,
    muf_around,
    scatter_loss_db,
    skip_km,
)
from advisor.propagation.hop_rays import (
    CellRays,
    Cells,
    HopSky,
    middles,
    more_hops,
    mufs_along,
    one_hop,
)
from advisor.propagation.mixed_hops import beside, mixed_hops
from advisor.propagation.mode_axis import (
    E_MODES,
    ES_RANKED,
    F2_LOW,
    F2_LOW_MODES,
    MIXED,
    MIXED_MODES,
    MODES,
    NO_MODE_DB,
    SCATTER,
    SLICES,
    WEAK,
)
from geo.ionosphere.along import profile_along
from geo.ionosphere.chain import chained, side_parts
from geo.ionosphere.focusing import shadow_db
from geo.ionosphere.hops import ray_path_km, takeoff_angle_deg
from geo.ionosphere.layers import Layers
from geo.ionosphere.profile import layered_profile
from geo.ionosphere.ray_muf import MufTable, muf_mhz, muf_table
from geo.ionosphere.rays import barriers, trace
from geo.paths import (
    FAR_QUARTER,
    MID,
    NEAR_QUARTER,
    at_stations,
    between_stations,
)

F2_REACH_KM = 5400.0
"""Hop length beyond which no F2 ray counts: the flattest of the highest layer lands
some 1300 km short of it, and one that lingers just above the E layer near it, its power
spread out. [km]"""

_SLICE_FROM = np.arange(SLICES) / SLICES
"""Rank of the day at which each slice begins, weakest slice first."""

_UNDER_MUF = 0.995
"""How near to the day's MUF the ray of a mode that hardly ever is may be taken."""

_JUST_ABOVE = 1.0 + 1e-9
"""Frequency over the MUF of a day on which it is just too high."""

_RARE = 1e-3
"""Share of days below which there is no middle one to take the ray of."""

_E_REACH_KM = 1900.0
"""Hop beyond which the MUF of the E layer grows no more. [km]"""

_E_SHADOW_KM = 700.0
"""How far beyond that the shadow of an E hop is looked at. [km]"""

_FLATTEST_DEG = 0.05
"""Flattest ray that is traced. [deg]"""

_FREE_SHARE, _FLAT_HOP_KM, _SHADOW_KM = 1.2e-4, 4150.0, 150.0
"""The fewest hops: how free of the layer below the flattest is, as a share of the
angles, the same as in `chained`; how long a hop is that no layer turns on the median
day; and how far beyond the flattest ray its shadow is looked at. [1], [km], [km]"""

_UNSURE = (0.45, 1.25)
"""Between which shares of the distance the reach of hops of one elevation is asked
again for hops of one action: by day E may turn at that elevation what is flat by
night."""

_FOOT = 2
"""Place of the join above the ledge among the layers of a profile."""

_COMING_KM = 500.0
"""Over which distance the mode of most hops comes in, where that of fewest has gone.
The project's choice. [km]"""

_PROBES, _MOST_HOPS, _MOST_MIXED = 7, 12, 8
"""At how many places, an odd number, the MUF is looked for, and beyond how many hops
nothing is heard any more; of those that E turns in part nothing sooner."""

_MANY, _FEW_PROBES = 1500, 3
"""Paths times hours from which the MUF is looked for at fewer places, an odd number."""

_FAR_ABOVE = 3.0
"""Frequency over the median MUF from which a mode is none: 56 dB of loss above it."""

_A_HOP_DB = 3.0
"""What a hop more costs at the ground and in the D region, to say which of several
routes are the strongest. [dB]"""

_VIRTUAL = 1.2
"""Virtual height over that of the peak at the skip edge."""

_BEARING_RAD = 2.0 * np.pi / BEARINGS


class _Table:
    """All that is found, by mode: arrays (P, T, B, M) that are filled bit by bit."""

    def __init__(self, shape: tuple[int, int, int]) -> None:
        whole = (*shape, MODES)
        self.rays = {f.name: np.full(whole, np.nan) for f in fields(CellRays)}
        self.muf_mhz = np.full(whole, np.nan)
        self.returned = np.zeros(whole)
        self.hops = np.ones(whole, dtype=np.int64)
        self.above_db = np.full((*shape, WEAK.size, SLICES), NO_MODE_DB)
        self.scattering_db = np.zeros(whole)

    def arrays(self) -> dict[str, NDArray[Any]]:
        """All of it by name."""
        return {**self.rays, **{k: v for k, v in vars(self).items() if k != "rays"}}

    def put(self, cells: Cells, mode: NDArray[np.intp] | int, rays: CellRays) -> None:
        """Enter one ray for each cell."""
        for name, values in self.rays.items():
            values[(*cells, mode)] = getattr(rays, name)


def rays_of_modes(sky: HopSky) -> dict[str, NDArray[Any]]:
    """
    Search the rays of all modes.

    Parameters
    ----------
    sky : HopSky
        What is asked.

    Returns
    -------
    found : dict of str to numpy.ndarray
        What `_Table` holds, by name.
    """
    table = _Table(sky.shape)
    for modes_of in (_e_modes, _f1_mode, _f2_modes, _es_modes):
        modes_of(sky, table)
    return table.arrays()


def _middle_day(
    frequency_mhz: NDArray[np.float64],
    top_mhz: NDArray[np.float64],
    returned: NDArray[np.float64],
    lower_ratio: ArrayLike,
    upper_ratio: ArrayLike,
) -> NDArray[np.float64]:
    """
    How strong a layer is, its median 1, on the middle one of the days it is there.

    Those are the days on which it returns the band.
    """
    half = 0.5 * np.clip(returned, _RARE, 1.0)
    ratio = muf.ratio_exceeded(half, lower_ratio, upper_ratio)
    return np.maximum(ratio, frequency_mhz / (_UNDER_MUF * top_mhz))


def _e_day(
    frequency_mhz: NDArray[np.float64],
    top_mhz: NDArray[np.float64],
    returned: NDArray[np.float64],
) -> NDArray[np.float64]:
    """
    Frequency that stands to the median E layer as the band does to that of its day.

    All below F2 goes by one ratio, so that the rays are those of this frequency.
    """
    return frequency_mhz / _middle_day(
        frequency_mhz, top_mhz, returned, muf.E_LOWER_RATIO, muf.E_UPPER_RATIO
    )


def _e_modes(sky: HopSky, table: _Table) -> None:
    """E modes of one to three hops."""
    for n in range(1, E_MODES + 1):
        mode, parts = n - 1, middles(n)
        hop_km = sky.paths.distance_km[:, None, None] / n
        foe = between_stations(at_stations(sky.layers.foe_mhz), parts)
        secant = np.interp(np.minimum(hop_km, _E_REACH_KM), *_e_secants())
        top = (foe * secant).min(axis=-1)[..., None]
        returned = muf.e_support(sky.frequency_mhz, top)
        # Two shadows and more: nothing is left of such a hop.
        returned = np.where(hop_km <= _E_REACH_KM + _E_SHADOW_KM, returned, 0.0)
        table.hops[..., mode] = n
        table.muf_mhz[..., mode], table.returned[..., mode] = top, returned
        cells = np.nonzero(returned > 0.0)
        used = _e_day(sky.frequency_mhz, top, returned)[cells]
        if n == 1:
            table.put(cells, mode, one_hop(sky, cells, used, 0)[0])
        else:
            table.put(cells, mode, more_hops(sky, n, cells, used[:, None], 0))


@lru_cache(maxsize=1)
def _e_secants() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Hop lengths, and MUF over foE there: the same for every E layer."""
    length = np.maximum(np.linspace(0.0, _E_REACH_KM, 39), 1.0)
    layer = layered_profile(1.0, float("nan"), 10.0, 300.0)
    return length, muf_mhz(layer, length, 0)


def _f1_mode(sky: HopSky, table: _Table) -> None:
    """One hop off the ledge between E and F2."""
    profile, mode = profile_along(sky.layers, middles(1)), E_MODES
    distance = sky.paths.distance_km[:, None]
    near = np.nonzero(np.broadcast_to(distance <= F2_REACH_KM, profile.shape[:2]))
    top = np.full(sky.shape[:2], np.nan)
    top[near] = muf_mhz(profile[..., 0][near], sky.paths.distance_km[near[0]], 1)
    top = top[..., None]
    returned = muf.e_support(sky.frequency_mhz, top)
    table.muf_mhz[..., mode], table.returned[..., mode] = top, returned
    cells = np.nonzero(returned > 0.0)
    used = _e_day(sky.frequency_mhz, top, returned)[cells]
    table.put(cells, mode, one_hop(sky, cells, used, 1)[0])


def _f2_modes(sky: HopSky, table: _Table) -> None:
    """F2 modes from the fewest hops upwards, and the high ray of one hop."""
    fewest, beyond_km = _fewest_hops(sky)
    # Whole maps are told in less detail.
    many = sky.shape[0] * sky.shape[1] > _MANY
    probes = _FEW_PROBES if many else _PROBES
    mufs = muf_table(profile_along(sky.layers, middles(probes)), coarse=many)
    table.hops[..., F2_LOW] = np.minimum(fewest, _MOST_HOPS)[..., None]
    table.hops[..., F2_LOW] += np.arange(F2_LOW_MODES)
    come = np.clip(beyond_km / _COMING_KM, 1e-6, 1.0)
    # Of very many hops none is heard.
    fewest = np.where(fewest > _MOST_HOPS, -F2_LOW_MODES, fewest)
    for n in range(1, int(fewest.max()) + F2_LOW_MODES):
        cells = np.nonzero((fewest <= n) & (n < fewest + F2_LOW_MODES))
        if cells[0].size:
            _f2_hops(sky, table, mufs, n, cells, F2_LOW.start + n - fewest[cells])
    gathered = table.rays["gathered_db"][..., F2_LOW]
    # The most hops come in as the fewest go.
    gathered[..., -1] += 10.0 * np.log10(come)
    # Longer hops than are counted fade out like others.
    distance = sky.paths.distance_km[:, None, None, None]
    beyond = distance - table.hops[..., F2_LOW] * F2_REACH_KM
    gathered -= shadow_db(sky.frequency_mhz[:, None], beyond)
    _mixed_modes(sky, table, mufs)
    _scatter(sky, table, mufs)


def _scatter(sky: HopSky, table: _Table, mufs: MufTable) -> None:
    """
    Ground beyond the skip zone, by the layers all round the middle of the path.

    On each slice of days the ground is lit from that day's skip distances on, wherever
    both ends light it. The angle is that of the median one of these days.
    """
    near = np.flatnonzero(sky.paths.distance_km < FARTHEST_KM)
    table.hops[..., SCATTER] = 2
    if not near.size:
        return
    distance = sky.paths.distance_km[near, None, None, None]
    away = distances_km()
    half = mufs.square_mhz.shape[2] // 2
    middle = MufTable(
        mufs.square_mhz[near, :, half, None], mufs.square_km[near, :, half, None]
    )
    ordinary = middle.muf_mhz(away)
    gyro, height, lower, upper, unsounded = (
        at_stations(values)[near][..., MID]
        for values in (
            sky.layers.gyro_mhz,
            sky.layers.hmf2_km,
            sky.layers.fof2_lower_ratio,
            sky.layers.fof2_upper_ratio,
            sky.layers.unsounded,
        )
    )
    known = ordinary + muf.apart_mhz(gyro[..., None], away)
    deciles = muf.with_map_error(lower, upper, unsounded)
    exceeded = 1.0 - (np.arange(SLICES) + 0.5) / SLICES
    ratio = muf.ratio_exceeded(exceeded, *(d[..., None] for d in deciles))
    wanted = sky.frequency_mhz[:, None] / ratio[:, :, None, :]
    # What the path itself returns needs no ground.
    shut = ~(skip_km(known[:, :, None, None, :], wanted) <= distance)
    up = _VIRTUAL * height[:, :, None, None]
    lit, far_lit, most = np.zeros(shut.shape), np.zeros(shut.shape), known
    bearings, around = muf_around(sky.paths, sky.layers, near)
    for aside, stronger in zip(bearings, np.moveaxis(around, -1, 0), strict=True):
        # Over the middle of hops to there, between the path's middle and that place.
        out = np.minimum(0.5 * away / ASIDE_KM, 1.0)
        there = known * (1.0 + (stronger[..., None] - 1.0) * out)
        skip = np.where(shut, skip_km(there[:, :, None, None, :], wanted), np.nan)
        each = lit_around(skip, distance, aside) * _BEARING_RAD
        each *= np.nan_to_num(skip / ray_path_km(skip, up)) ** 4
        lit, far_lit = lit + each, far_lit + each * np.nan_to_num(skip)
        most = np.maximum(most, there)
    # Lit are the days from one rank on to that from which on the band is open.
    days = lit > 0.0
    median = np.minimum(days.argmax(axis=-1) + days.sum(axis=-1) // 2, SLICES - 1)
    usual_lit, usual = (
        np.take_along_axis(each, median[..., None], axis=-1)[..., 0]
        for each in (lit, far_lit)
    )
    seen = usual_lit > 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        usual = usual / usual_lit
        more = 10.0 * np.log10(usual_lit[..., None] / lit)
    angle = takeoff_angle_deg(usual, up[..., 0])
    path = ray_path_km(usual, up[..., 0])
    place, hour, band = np.nonzero(seen)
    where = (near[place], hour, band)
    table.above_db[(*where, WEAK.size - 1)] = np.minimum(more, NO_MODE_DB)[seen]
    table.scattering_db[(*where, SCATTER)] = scatter_loss_db(usual_lit, path)[seen]
    table.muf_mhz[(*where, SCATTER)] = np.broadcast_to(
        most.max(axis=-1)[..., None], seen.shape
    )[seen]
    rays = {
        "takeoff_deg": angle,
        "landing_deg": angle,
        "apogee_km": np.broadcast_to(height[..., None], seen.shape),
        "group_km": 2.0 * path,
        "gathered_db": np.zeros(seen.shape),
        # What the ground takes is in the scattering.
        "touches": np.zeros(seen.shape),
        "dips": np.ones(seen.shape),
    }
    for name, values in rays.items():
        table.rays[name][(*where, SCATTER)] = values[seen]


def _fewest_hops(sky: HopSky) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """
    Fewest F2 hops of each cell, (P, T, B), 1 or more; over `_MOST_HOPS` for none.

    With them how far beyond the reach of one hop less the place is, in km.

    By day the E layer turns what is flat and the hops get short. Asked of every number
    of hops is how far the flattest reach that is free of what is below at each of its
    own reflection points: so a mode comes and goes where it is faint.
    """
    count = np.full(sky.shape, _MOST_HOPS + 1)
    beyond_km = np.full(sky.shape, np.inf)
    distance = sky.paths.distance_km[:, None, None]
    for n in range(1, _MOST_HOPS + 1):
        far_km = n * F2_REACH_KM + _SHADOW_KM + _COMING_KM
        cells = np.nonzero((count > n) & (distance <= far_km))
        if not cells[0].size:
            continue
        points = np.concatenate([middles(n), side_parts(n)])
        whole = profile_along(sky.layers, points)[cells[:2]]
        profile, sides = whole[..., :n], whole[..., n:]
        frequency = sky.frequency_mhz[cells[2], None]
        least, lingers = barriers(profile, frequency)
        turned = np.degrees(np.arccos(np.sqrt(np.clip(least, 0.0, 1.0))))
        low, high = turned[_FOOT], turned[-1]
        if n == 1:
            # Of one hop what is turned above the ledge belongs to F2, unless rays
            # linger on their way through.
            low = np.where(lingers[_FOOT], low, turned[_FOOT - 1])
        free = np.maximum(low + _FREE_SHARE * (high - low), _FLATTEST_DEG)
        free = free.max(axis=-1, keepdims=True)
        length = trace(profile, frequency, free, paths=False).ground_km
        # What goes through on the median day is turned flat on a better one.
        length = np.where(np.isnan(length), _FLAT_HOP_KM, length)
        reach = np.minimum(length, F2_REACH_KM).sum(axis=-1)
        asked = sky.paths.distance_km[cells[0]]
        if n > 1:
            share = reach / asked
            at = np.flatnonzero((share > _UNSURE[0]) & (share < _UNSURE[1]))
            own = chained(profile[at], sides[at], frequency[at], asked[at]).ground_km
            reach[at] = np.where(np.isnan(own), reach[at], own)
        short_km = asked - reach - _SHADOW_KM
        there = short_km <= 0.0
        count[tuple(axis[there] for axis in cells)] = n
        beyond_km[tuple(axis[~there] for axis in cells)] = short_km[~there]
    return count, beyond_km


def _days(sky: HopSky, mufs: MufTable, n: int) -> tuple[NDArray[np.float64], ...]:
    """F2 MUF of both waves at n reflection points, and its deciles, (P, T, n)."""
    layers, parts = sky.layers, middles(n)
    hop_km = sky.paths.distance_km[:, None, None] / n
    ordinary = mufs_along(mufs, hop_km, n)
    gyro, lower, upper, unsounded = (
        between_stations(at_stations(values), parts)
        for values in (
            layers.gyro_mhz,
            layers.fof2_lower_ratio,
            layers.fof2_upper_ratio,
            layers.unsounded,
        )
    )
    # The extraordinary wave opens the band; the two part less the flatter they run.
    top = ordinary + muf.apart_mhz(gyro, hop_km)
    return ordinary, top, *muf.with_map_error(lower, upper, unsounded)


def _mixed_modes(sky: HopSky, table: _Table, mufs: MufTable) -> None:
    """
    Strongest of the routes of which E turns some hops and F2 the others.

    E is taken to turn its hops on all days. They give way to one layer alone of as many
    hops or fewer, as far as its power is not spread out.
    """
    alone = np.r_[:E_MODES, F2_LOW]
    spread_db = -table.rays["gathered_db"][..., alone]
    share = np.maximum(table.returned[..., :E_MODES], 1e-9)
    spread_db[..., :E_MODES] -= 10.0 * np.log10(share)
    distance = sky.paths.distance_km[:, None, None]
    parts: list[tuple[NDArray[Any], ...]] = []
    for n in range(2, _MOST_MIXED + 1):
        least = np.where(table.hops[..., alone] <= n, spread_db, np.inf)
        kept = beside(np.fmin.reduce(least, axis=-1, initial=np.inf))
        cells = np.nonzero((kept > 0.0) & (distance <= n * F2_REACH_KM))
        if not cells[0].size:
            continue
        found, rays, by_e = mixed_hops(sky, cells, n)
        where = tuple(axis[found] for axis in cells)
        _, top, lower, upper = (values[where[:2]] for values in _days(sky, mufs, n))
        frequency = sky.frequency_mhz[where[2]][:, None]
        days = muf.support_probability(frequency, top, lower, upper)
        hop_km = sky.paths.distance_km[where[0], None] / n
        returned = muf.joint_share(np.where(by_e, 1.0, days), hop_km)
        fades = 10.0 * np.log10(kept[where])
        values = [getattr(rays, name) for name in table.rays]
        values[list(table.rays).index("gathered_db")] = rays.gathered_db + fades
        highest = np.where(by_e, np.inf, top).min(axis=-1)
        parts.append((*where, np.full(found.size, n), highest, returned, *values))
    if not parts:
        return
    path, hour, band, hops, highest, returned, *values = map(
        np.concatenate, zip(*parts, strict=True)
    )
    rays = CellRays(*values)
    with np.errstate(divide="ignore"):
        strength = rays.gathered_db - 20.0 * np.log10(rays.group_km)
        strength += 10.0 * np.log10(returned) - _A_HOP_DB * hops
    order = np.lexsort((-strength, band, hour, path))
    cell = np.ravel_multi_index((path, hour, band), sky.shape)[order]
    rank = np.arange(order.size) - np.searchsorted(cell, cell)
    order, rank = order[rank < MIXED_MODES], rank[rank < MIXED_MODES]
    where = (path[order], hour[order], band[order])
    mode = MIXED + rank
    table.put(where, mode, CellRays(*(each[order] for each in values)))
    table.hops[(*where, mode)] = hops[order]
    table.muf_mhz[(*where, mode)] = highest[order]
    table.returned[(*where, mode)] = returned[order]


def _f2_hops(
    sky: HopSky,
    table: _Table,
    mufs: MufTable,
    n: int,
    cells: Cells,
    mode: NDArray[np.intp],
) -> None:
    """F2 mode of n hops in some cells, and for one hop its high ray."""
    ordinary, top, lower, upper = _days(sky, mufs, n)
    hop_km = sky.paths.distance_km[:, None, None] / n
    weakest = np.argmin(np.where(np.isnan(top), np.inf, top), axis=-1)[..., None]
    at = cells[:2]
    frequency = sky.frequency_mhz[cells[2]]
    each = muf.support_probability(frequency[:, None], top[at], lower[at], upper[at])
    returned = muf.joint_share(each, hop_km[cells[0], 0])
    least, low, high = (
        np.take_along_axis(values, weakest, axis=-1)[..., 0][at]
        for values in (top, lower, upper)
    )
    where = (*cells, mode)
    table.muf_mhz[where] = least
    table.returned[where] = returned
    failing = np.take_along_axis(1.0 - each, weakest[at], axis=-1)[:, 0]
    above = (*cells, mode - F2_LOW.start)
    table.above_db[above] = _above_db(
        frequency / least, 1.0 - returned, failing, low, high
    )
    # Far above the MUF not even what is scattered counts.
    kept = np.flatnonzero(frequency < _FAR_ABOVE * least)
    cells = (cells[0][kept], cells[1][kept], cells[2][kept])
    # Only F2 is stronger or weaker on that day; what is below hides it as ever.
    ratio = _middle_day(*(a[kept] for a in (frequency, least, returned, low, high)))
    by_hop = frequency[kept, None] * (ordinary / top)[cells[:2]]
    if n > 1:
        far = more_hops(sky, n, cells, by_hop, 3, ratio[:, None])
        table.put(cells, mode[kept], far)
        return
    low_ray, high_ray = one_hop(sky, cells, by_hop[:, 0], 3, ratio)
    table.put(cells, mode[kept], low_ray)
    table.put(cells, F2_LOW.stop, high_ray)
    there = (*cells, F2_LOW.stop)
    table.muf_mhz[there], table.returned[there] = least[kept], returned[kept]


def _above_db(
    over: NDArray[np.float64],
    gone: NDArray[np.float64],
    failing: NDArray[np.float64],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
) -> NDArray[np.float64]:
    """
    Loss above the MUF in each slice of days, (K, V), all else (K,).

    Of a slice it is that of the middle of those days on which the mode is not there, so
    that nothing steps where a slice is passed. The days without the mode, ``gone``,
    are taken for as weak as those, ``failing``, on which its weakest hop fails.
    """
    end = np.minimum(_SLICE_FROM + 1.0 / SLICES, gone[:, None])
    with np.errstate(divide="ignore", invalid="ignore"):
        rank = 0.5 * (_SLICE_FROM + end) * (failing / gone)[:, None]
        strong = muf.ratio_exceeded(1.0 - rank, low[:, None], high[:, None])
        ratio = over[:, None] / strong
    weak = above_muf_loss_db(np.maximum(ratio, _JUST_ABOVE))
    return np.where(gone[:, None] > _SLICE_FROM, weak, NO_MODE_DB)


def es_deciles_mhz(
    layers: Layers,
) -> list[tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]]:
    """
    Take the deciles of foEs that hold for all hops of each sporadic-E mode.

    Parameters
    ----------
    layers : Layers
        As of `HopSky`.

    Returns
    -------
    deciles : list of (lower, median, upper)
        One for each mode, shape (P, T, 1). [MHz]
    """
    points = []
    for places in ([MID], [NEAR_QUARTER, FAR_QUARTER]):
        lower, median, upper = (
            at_stations(values)[..., places].min(axis=-1)[..., None]
            for values in (
                layers.foes_lower_mhz,
                layers.foes_mhz,
                layers.foes_upper_mhz,
            )
        )
        points.append((lower, median, upper))
    return points


def _es_modes(sky: HopSky, table: _Table) -> None:
    """Sporadic-E modes of one and two hops; the patches of two are independent."""
    height = sporadic_e.ES_MIRROR_HEIGHT_KM
    for n, (lower, median, upper) in enumerate(es_deciles_mhz(sky.layers)):
        mode = ES_RANKED.start + n
        hop_km = sky.paths.distance_km / (n + 1.0)
        flat = sporadic_e.es_takeoff_deg(hop_km)
        # Too long a hop has no angle there: keep the geometry for what is blocked.
        angle = np.where(np.isnan(flat), takeoff_angle_deg(hop_km, height), flat)
        level = sporadic_e.needed_foes_mhz(sky.frequency_mhz, flat[:, None, None])
        share = sporadic_e.share_above(level, lower, median, upper) ** (n + 1)
        table.hops[..., mode] = n + 1
        table.muf_mhz[..., mode] = sky.frequency_mhz / level * median
        table.returned[..., mode] = np.nan_to_num(share, nan=0.0)
        fixed = {
            "takeoff_deg": angle,
            "landing_deg": angle,
            "apogee_km": np.full(angle.shape, height),
            "group_km": ray_path_km(hop_km, height, n + 1),
            "gathered_db": np.zeros(angle.shape),
            "touches": np.full(angle.shape, float(n)),
            "dips": np.full(angle.shape, float(n)),
        }
        for name, values in fixed.items():
            table.rays[name][..., mode] = values[:, None, None]
