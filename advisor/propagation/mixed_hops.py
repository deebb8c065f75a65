r"""
Routes that the E layer turns on some hops and F2 on others, as between day and night.

At one elevation each hop is turned by whatever turns it over its own reflection point,
and where a hop is D(x) long there are :math:`\int dx/D(x)` of them: an E hop is half as
long as one off F2, so that a way half in the day has more of them. Where the ray comes
to another layer, J jumps and K is kept (`geo.ionosphere.action`), so that it has one
elevation all along; what tilts of the same layer do to it is left out, and all layers
are those of the median day.

Between two critical elevations of the E layer over the points it is always the same
hops that E turns. The tubes between some elevations there are laid on the ground, each
smeared as the skip edge is, so that such a route comes and goes without a step.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.propagation.hop_rays import CellRays, Cells, HopSky, middles
from geo.ionosphere.along import profile_along
from geo.ionosphere.focusing import SKIP_BLUR, focusing_db
from geo.ionosphere.profile import Profile
from geo.ionosphere.rays import critical_deg, trace

_FLATTEST_DEG, _STEEPEST_DEG, _LEAST_DEG = 0.05, 40.0, 0.2
"""Between which elevations such a ray is sought, and how far two critical ones are
apart at least. [deg]"""

_INSIDE, _NODES = 0.002, 12
"""How near to the ends, as a share, and at how many elevations the hops are traced; the
closer to the ends the closer, for near the upper one a hop off E lingers."""

_GATHERED_DB, _SPREAD_DB = 3.0, 9.0
"""What one layer alone loses by spreading out where no route of E and F2 counts beside
it, and from where on they count in full: rays that come down unhindered lose up to 3
dB, those that linger 5 to 20 and more. The project's choice. [dB]"""


def mixed_hops(
    sky: HopSky, cells: Cells, n: int
) -> tuple[NDArray[np.intp], CellRays, NDArray[np.bool_]]:
    """
    Find the rays of n hops of which E turns some and F2 the others.

    Parameters
    ----------
    sky : HopSky
        What is asked.
    cells : tuple of numpy.ndarray of int
        Path, hour and band of K cells.
    n : int
        How many hops.

    Returns
    -------
    found : numpy.ndarray of int
        Which of the cells have such a ray, (L,); a cell may have several, each with
        other hops turned by E.
    rays : CellRays
        Arrays (L,).
    by_e : numpy.ndarray of bool
        Whether E turns the hop, (L, n).
    """
    profile = profile_along(sky.layers, middles(n), cells)
    frequency, goal = sky.frequency_mhz[cells[2]], sky.paths.distance_km[cells[0]]
    turned = critical_deg(profile, frequency[:, None])
    ground, top = turned[0], turned[-1]
    steps = np.clip(np.sort(ground, axis=-1), _FLATTEST_DEG, _STEEPEST_DEG)
    row, step = np.nonzero(np.diff(steps, axis=-1) > _LEAST_DEG)
    by_e = ground[row] >= steps[row, step + 1, None]
    low = steps[row, step]
    high = np.where(by_e, steps[row, step + 1, None], top[row]).min(axis=-1)
    kept = high - low > _LEAST_DEG
    row, by_e, low, high = row[kept], by_e[kept], low[kept], high[kept]
    wide, low = (1.0 - 2.0 * _INSIDE) * (high - low), low + _INSIDE * (high - low)
    first = _length_km(profile[row], frequency[row], low[:, None])[:, 0]
    blur = 0.5 * SKIP_BLUR * goal[row]
    kept = first > goal[row] - blur
    row, by_e, low, wide, blur = (a[kept] for a in (row, by_e, low, wide, blur))
    share = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, _NODES))
    nodes = low[:, None] + wide[:, None] * share
    length = _length_km(profile[row], frequency[row], nodes)
    at, around = goal[row, None], blur[:, None]
    held = np.clip(length, at - around, at + around)
    span = np.abs(np.diff(length, axis=1))
    part = np.radians(np.diff(nodes, axis=1)) / (2.0 * around)
    density = part * np.abs(np.diff(held, axis=1)) / np.maximum(span, 1e-6)
    density = np.nan_to_num(density)
    total = density.sum(axis=1)
    kept = total > 0.0
    row, by_e, density, total = row[kept], by_e[kept], density[kept], total[kept]
    length, nodes, at = length[kept], nodes[kept], at[kept]
    # The strongest, but no step where two are alike.
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.clip((length[:, :-1] - at) / -np.diff(length, axis=1), 0.0, 1.0)
    each = nodes[:, :-1] + np.nan_to_num(share) * np.diff(nodes, axis=1)
    angle = (density**2 * each).sum(axis=1) / (density**2).sum(axis=1)
    whole = trace(profile[row], frequency[row, None], angle[:, None])
    lies = 1.0 / (whole.ground_km * (1.0 / whole.ground_km).sum(axis=-1)[:, None])
    group = (lies * whole.group_km / whole.ground_km).sum(axis=-1) * goal[row]
    between = np.full(row.size, n - 1.0)
    rays = CellRays(
        takeoff_deg=angle,
        landing_deg=angle,
        apogee_km=(lies * whole.apogee_km).sum(axis=-1),
        group_km=group,
        gathered_db=focusing_db(frequency[row], angle, goal[row], group, 1.0 / total),
        touches=between,
        dips=between,
    )
    return row, rays, by_e


def beside(spread_db: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    Say how much such routes count beside the strongest ray of one layer alone.

    Parameters
    ----------
    spread_db : numpy.ndarray
        What that ray loses by spreading out; infinite where there is none. [dB]

    Returns
    -------
    share : numpy.ndarray
        Of their power, 0 to 1.

    Examples
    --------
    >>> beside(np.array([-6.0, 6.0, 9.0, np.inf]))
    array([0. , 0.5, 1. , 1. ])
    """
    share = (spread_db - _GATHERED_DB) / (_SPREAD_DB - _GATHERED_DB)
    return np.asarray(np.clip(share, 0.0, 1.0))


def _length_km(
    profile: Profile, frequency: NDArray[np.float64], takeoff_deg: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far n hops get, (K, M), of D(x) each; NaN where one of them is lost."""
    rays = trace(
        profile[:, None], frequency[:, None, None], takeoff_deg[..., None], paths=False
    )
    n = rays.ground_km.shape[-1]
    return np.asarray(n * n / (1.0 / rays.ground_km).sum(axis=-1))
