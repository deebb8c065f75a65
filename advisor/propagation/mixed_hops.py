"""
Routes that the E layer turns on some hops and F2 on others, as between day and night.

At one elevation each hop is turned by whatever turns it over its own reflection point;
of that elevation the hops are to add up to the distance. Where the ray comes to another
layer, J jumps and K is kept (`geo.ionosphere.action`), so that it has one elevation all
along; what tilts of the same layer do to it is left out, and all layers are those of
the median day.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.propagation.hop_rays import CellRays, Cells, HopSky, middles
from geo.ionosphere.along import profile_along
from geo.ionosphere.focusing import focusing_db
from geo.ionosphere.profile import Profile
from geo.ionosphere.rays import critical_deg, trace

_FLATTEST_DEG, _STEEPEST_DEG = 0.05, 40.0
"""Between which elevations such a ray is sought. [deg]"""

_NODES, _HALVINGS, _NEAR_KM = 16, 7, 60.0
"""At how many elevations the hops are added up, how often the step between two is
halved, and how near to the distance it then is unless it jumps there. [1], [1], [km]"""


def mixed_hops(
    sky: HopSky, cells: Cells, n: int
) -> tuple[NDArray[np.intp], CellRays, NDArray[np.bool_]]:
    """
    Find the low ray of n hops of which E turns some and F2 the others.

    Of several the one is taken whose neighbours land nearest to it.

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
        Which of the cells have such a ray, (L,).
    rays : CellRays
        Arrays (L,).
    by_e : numpy.ndarray of bool
        Whether E turns the hop, (L, n).
    """
    profile = profile_along(sky.layers, middles(n), cells)
    frequency, goal = sky.frequency_mhz[cells[2]], sky.paths.distance_km[cells[0]]
    turned = critical_deg(profile.up_to(0), frequency[:, None])[0]
    low = np.maximum(turned.min(axis=-1), _FLATTEST_DEG)
    wide = np.minimum(turned.max(axis=-1), _STEEPEST_DEG) - low
    some = np.flatnonzero(wide > _FLATTEST_DEG)
    nodes = low[some, None] + wide[some, None] * np.linspace(0.01, 0.99, _NODES)
    total = _length_km(profile[some], frequency[some], nodes)
    over = total - goal[some, None]
    falls = np.where(
        (over[:, :-1] >= 0.0) & (over[:, 1:] < 0.0), -np.diff(over, axis=1), np.inf
    )
    best = falls.argmin(axis=1)
    row = np.flatnonzero(np.isfinite(falls.min(axis=1, initial=np.inf)))
    found, best = some[row], best[row]
    flat, steep = nodes[row, best], nodes[row, best + 1]
    for _ in range(_HALVINGS):
        middle = 0.5 * (flat + steep)
        length = _length_km(profile[found], frequency[found], middle[:, None])[:, 0]
        far = length >= goal[found]
        flat, steep = np.where(far, middle, flat), np.where(far, steep, middle)
    whole = trace(profile[found], frequency[found, None], flat[:, None])
    by_e = whole.piece <= profile.tops[0]
    kept = np.abs(whole.ground_km.sum(axis=-1) - goal[found]) < _NEAR_KM
    kept &= by_e.any(axis=-1) & ~by_e.all(axis=-1)
    kept = np.flatnonzero(kept)
    found, by_e, angle = found[kept], by_e[kept], flat[kept]
    ground, slope, group = (
        values.sum(axis=-1)[kept]
        for values in (whole.ground_km, whole.slope_km_rad, whole.group_km)
    )
    between = np.full(found.size, n - 1.0)
    gathered = focusing_db(frequency[found], angle, ground, group, slope)
    rays = CellRays(
        takeoff_deg=angle,
        landing_deg=angle,
        apogee_km=whole.apogee_km.mean(axis=-1)[kept],
        group_km=group,
        gathered_db=gathered,
        touches=between,
        dips=between,
    )
    return found, rays, by_e


def _length_km(
    profile: Profile, frequency: NDArray[np.float64], takeoff_deg: NDArray[np.float64]
) -> NDArray[np.float64]:
    """All hops together, (K, M); NaN where one of them is lost."""
    rays = trace(
        profile[:, None], frequency[:, None, None], takeoff_deg[..., None], paths=False
    )
    return np.asarray(rays.ground_km.sum(axis=-1))
