"""All the noise that comes in at one end of the paths, source by source."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.propagation.lightning import atmospheric_noise
from advisor.propagation.noise import Noise, combine, galactic_noise, man_made_noise
from geo.ionosphere.layers import Layers
from geo.paths import FAR_END, at_stations
from geo.sun import local_mean_hour, month_phase


def noise_sources(
    frequency_mhz: ArrayLike,
    layers: Layers,
    end: int,
    environment: str,
    trim_db: float = 0.0,
    learned_db: ArrayLike = 0.0,
) -> dict[str, Noise]:
    """
    Noise at one end of every path by its source, and the total.

    Parameters
    ----------
    frequency_mhz : array_like
        Shape (B,). [MHz]
    layers : Layers
        Layers at the stations of P paths, T hours.
    end : int
        `geo.paths.NEAR_END` or `geo.paths.FAR_END`; that is any station of its kind.
    environment : str
        Kind of place, as in `advisor.propagation.noise.man_made_noise`.
    trim_db : float, optional
        Man-made noise over that of such a place. [dB]
    learned_db : array_like, optional
        All noise over what it works out to be, a scalar or shape (B,). [dB]

    Returns
    -------
    sources : dict of str to Noise
        ``man-made``, ``galactic``, ``lightning`` and ``total``, arrays that broadcast
        to (P, T, B); ``learned`` too where something was, which is in the total.
    """

    def there(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return at_stations(values)[..., end, None]

    frequency = np.atleast_1d(np.asarray(frequency_mhz, dtype=float))
    local = man_made_noise(environment, frequency, any_place=end == FAR_END)
    sources = {
        "man-made": Noise(local.factor_db + trim_db, local.upper_db, local.lower_db),
        "galactic": galactic_noise(frequency, there(layers.fof2_mhz)),
        "lightning": atmospheric_noise(
            frequency,
            there(layers.lat_deg),
            there(layers.lon_deg),
            month_phase(layers.times)[None, :, None],
            local_mean_hour(0.0, layers.times)[None, :, None],
            layers.r12[None, :, None],
            there(layers.zenith_deg),
        ),
    }
    man_made, galactic, lightning = sources.values()
    total = combine([man_made, galactic, lightning])
    if np.any(learned_db):
        more, none = np.atleast_1d(np.asarray(learned_db, dtype=float)), np.zeros(1)
        sources["learned"] = Noise(more, none, none)
        total = Noise(total.factor_db + more, total.upper_db, total.lower_db)
    return {**sources, "total": total}


def lightning_share(sources: Mapping[str, Noise]) -> NDArray[np.float64]:
    """
    Tell how much of the median noise is lightning.

    Parameters
    ----------
    sources : mapping of str to Noise
        As of `noise_sources`; what was learned counts for all sources alike.

    Returns
    -------
    share : numpy.ndarray
        0 to 1, of the power.
    """
    over_db = sources["lightning"].factor_db - sources["total"].factor_db
    if "learned" in sources:
        over_db = over_db + sources["learned"].factor_db
    return np.asarray(np.minimum(10.0 ** (0.1 * over_db), 1.0))
