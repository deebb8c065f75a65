"""Profiles of the layers between the stations of paths."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.ionosphere.layers import Layers
from geo.ionosphere.profile import Profile, layered_profile
from geo.paths import at_stations, between_stations

_F1_OVER_E = 1.4
"""foF1 over foE, for what lies between a place with an F1 layer and one without."""


def profile_along(
    layers: Layers,
    part: ArrayLike,
    cells: tuple[NDArray[np.intp], ...] | None = None,
    f2_ratio: ArrayLike = 1.0,
) -> Profile:
    """
    Build the profiles at parts of paths.

    Parameters
    ----------
    layers : Layers
        At the stations of P paths, T hours.
    part : array_like
        Shape (n,), parts of the way from my end, 0 to 1.
    cells : tuple of numpy.ndarray of int, optional
        Path and hour of K cells; every path at every hour if left out.
    f2_ratio : array_like, optional
        foF2 of the day over its median: a scalar or one for each place. The other
        layers do not go with it, nor do the heights.

    Returns
    -------
    profile : Profile
        Places (P, T, n), or (K, n).
    """
    every = slice(None) if cells is None else cells[:2]
    foe, fof2, height, share = (
        between_stations(at_stations(values)[every], part)
        for values in (
            layers.foe_mhz,
            layers.fof2_mhz,
            layers.hmf2_km,
            layers.f1_share,
        )
    )
    filled = np.where(
        np.isnan(layers.fof1_mhz), _F1_OVER_E * layers.foe_mhz, layers.fof1_mhz
    )
    fof1 = between_stations(at_stations(filled)[every], part)
    strong = fof2 * np.asarray(f2_ratio, dtype=float)
    return layered_profile(foe, fof1, strong, height, None, share)
