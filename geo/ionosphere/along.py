"""Profiles of the layers between the stations of paths."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geo.ionosphere.layers import Layers
from geo.ionosphere.profile import Profile, layered_profile
from geo.paths import at_stations, between_stations

_F1_OVER_E = 1.4
"""foF1 over foE, for what lies between a place with an F1 layer and one without."""


def profile_along(layers: Layers, part: ArrayLike) -> Profile:
    """
    Build the profiles at parts of paths.

    Parameters
    ----------
    layers : Layers
        At the stations of P paths, T hours.
    part : array_like
        Shape (n,), parts of the way from my end, 0 to 1.

    Returns
    -------
    profile : Profile
        Places (P, T, n).
    """
    foe, fof2, height, share = (
        between_stations(at_stations(values), part)
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
    fof1 = between_stations(at_stations(filled), part)
    return layered_profile(foe, fof1, fof2, height, None, share)
