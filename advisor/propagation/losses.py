"""
What a hop loses: spreading, absorption, ground reflection and the rest, in dB.

`LOSSES` lists every term by name. The sum over the modes, the lines of ``skiplobe why``
and the fields of its JSON are made from that list, so a new term is one entry of it and
its line in ``docs/nomenclature.md``. The formulas come first, the terms behind them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.antenna.ground import (
    complex_permittivity,
    ground_by_name,
    reflection_horizontal,
    reflection_vertical,
)
from advisor.propagation.absorption import d_region
from advisor.propagation.auroral import auroral_loss_db
from geo.ionosphere.flare import fadeout_db
from geo.ionosphere.hops import ray_path_km
from geo.ionosphere.layers import Layers
from geo.land import is_land
from geo.paths import (
    FAR_1000,
    FAR_HALF_HOP,
    MID,
    NEAR_1000,
    NEAR_END,
    NEAR_HALF_HOP,
    Paths,
    at_control,
)
from geo.records import ArrayRecord
from geo.sphere import destination
from geo.sun import month_phase

RESIDUAL_LOSS_DB = 8.72
"""The residual term Lz: everything the named losses leave out, ITU-R P.533-14
section 5.2 (from memory; older editions have 9.9). It was fitted together with the
standard's own charts of absorption. [dB]"""

LAND, SEA = "land", "sea water"
"""Kinds of ground that hops touch down on."""

_REFLECTION_GRID_DEG = 90.0 * np.linspace(0.0, 1.0, 181) ** 2
"""Angles at which reflection losses are worked out, finest at the horizon. [deg]"""

_ABSORBING = (NEAR_1000, MID, FAR_1000, NEAR_HALF_HOP, FAR_HALF_HOP)
"""Control points at which the D region is read."""


def spreading_db(
    frequency_mhz: ArrayLike, ray_path_km: ArrayLike
) -> NDArray[np.float64]:
    """
    Free-space loss between isotropic antennas along the ray.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    ray_path_km : array_like
        Length of the ray over all hops. [km]

    Returns
    -------
    loss_db : numpy.ndarray
        Loss. [dB]

    References
    ----------
    ITU-R P.525-4, equation (4): 32.45 + 20 log f + 20 log d.

    Examples
    --------
    >>> spreading_db(10.0, 1000.0).round(2)
    np.float64(112.45)
    """
    return np.asarray(
        32.45
        + 20.0 * np.log10(np.asarray(frequency_mhz, dtype=float))
        + 20.0 * np.log10(np.asarray(ray_path_km, dtype=float))
    )


def reflection_loss_db(
    frequency_mhz: ArrayLike, takeoff_deg: ArrayLike, ground: str
) -> NDArray[np.float64]:
    r"""
    Loss of one reflection at the ground between two hops.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency, positive. [MHz]
    takeoff_deg : array_like
        Elevation of the ray, 0 to 90. Broadcasts. [deg]
    ground : str
        Kind of ground, a name of `advisor.antenna.ground.ground_names`.

    Returns
    -------
    loss_db : numpy.ndarray
        0 at the horizon, over sea 0.1 to 1.6 above 3 degrees and up to 3 below, over
        land 2 to 4. NaN where an input is out of range. [dB]

    Notes
    -----
    .. math:: L = -10 \log_{10} \tfrac12 \left(|R_v|^2 + |R_h|^2\right)

    with the Fresnel coefficients of both polarisations: the ionosphere leaves the
    wave without a settled one, so that each carries half of the power. Smooth ground
    is assumed; hills and ice are not known of.

    ITU-R P.533 has 2 dB everywhere (from memory). Over 166 paths of 4000 to 9000 km
    all over the world the mean per touch is 2.0 dB here too, 0.4 to 3.5 dB from one
    path to the next (``docs/studies/ground_reflection.md``): the standard's figure is
    the mean that is told apart.

    References
    ----------
    ITU-R P.527-3 for the constants of sea water, ITU-R P.368 for those of land (from
    memory).

    Examples
    --------
    >>> reflection_loss_db([7.1, 14.1], 8.0, "sea water").round(1)
    array([0.4, 0.5])
    >>> reflection_loss_db(14.1, [5.0, 20.0], "land").round(1)
    array([2.6, 3.9])
    """
    eps = complex_permittivity(ground_by_name(ground), frequency_mhz)
    vertical = np.abs(reflection_vertical(takeoff_deg, eps)) ** 2
    horizontal = np.abs(reflection_horizontal(takeoff_deg, eps)) ** 2
    return np.asarray(-10.0 * np.log10(0.5 * (vertical + horizontal)))


@dataclass(frozen=True, eq=False)
class Rays(ArrayRecord):
    """
    The rays of all hop modes over path, hour, band and mode: what a loss depends on.

    Attributes
    ----------
    paths : Paths
        P paths.
    layers : Layers
        Layers at their control points, T hours.
    frequency_mhz : numpy.ndarray
        Shape (B,). [MHz]
    layer : tuple of str
        Layer of each of the M modes: ``E``, ``F1``, ``F2`` or ``Es``.
    hops : numpy.ndarray of int
        Shape (P, M), hops of each mode.
    takeoff_deg : numpy.ndarray
        Shape (P, T, B, M), not negative. [deg]
    height_km : numpy.ndarray
        Shape (P, T, B, M), mirror height. [km]
    """

    paths: Paths
    layers: Layers
    frequency_mhz: NDArray[np.float64]
    layer: tuple[str, ...]
    hops: NDArray[np.int64]
    takeoff_deg: NDArray[np.float64]
    height_km: NDArray[np.float64]


@dataclass(frozen=True)
class Loss:
    """
    One term of the sum of losses.

    Attributes
    ----------
    label : str
        What `skiplobe why` calls its line.
    meaning : str
        What it is, for the schema of the JSON.
    source : str
        Where it comes from.
    function : callable or None
        Gives the loss of every ray, which broadcasts to (P, T, B, M), in dB. None for
        a term that depends on the day and is worked out with the modes themselves.
    """

    label: str
    meaning: str
    source: str
    function: Callable[[Rays], NDArray[np.float64]] | None


def losses_of(
    rays: Rays, **by_day: NDArray[np.float64]
) -> dict[str, NDArray[np.float64]]:
    """
    Work out every term of `LOSSES`.

    Parameters
    ----------
    rays : Rays
        The rays.
    **by_day : numpy.ndarray
        Terms without a function, by name, (P, T, B, M). [dB]

    Returns
    -------
    losses_db : dict of str to numpy.ndarray
        By name in the order of the list, each (P, T, B, M). [dB]
    """
    shape = rays.takeoff_deg.shape
    return {
        name: by_day[name]
        if loss.function is None
        else np.broadcast_to(loss.function(rays), shape)
        for name, loss in LOSSES.items()
    }


def _spreading(rays: Rays) -> NDArray[np.float64]:
    """Spreading along the ray over all hops."""
    hop_km = (rays.paths.distance_km[:, None] / rays.hops)[:, None, None, :]
    path_km = ray_path_km(hop_km, rays.height_km, rays.hops[:, None, None, :])
    return spreading_db(rays.frequency_mhz[:, None], path_km)


def _absorption(rays: Rays) -> NDArray[np.float64]:
    """Absorption in the D region, with what a flare or protons add."""
    paths, layers = rays.paths, rays.layers
    region = d_region(
        float(paths.control_lat_deg[0, NEAR_END]),
        float(paths.control_lon_deg[0, NEAR_END]),
        paths.bearing_deg,
        paths.distance_km,
        layers.times,
        layers.flux_sfu,
    )
    frequency = rays.frequency_mhz[:, None]
    hops = rays.hops[:, None, None, :]
    hop_km = paths.distance_km[:, None, None, None] / hops
    loss = fadeout_db(
        frequency, mean_fadeout_mhz(paths, layers), rays.takeoff_deg, hops
    )
    # Modes of few hops are not carried through the hops of the others.
    for most in np.unique(rays.hops.max(axis=0)):
        there = np.flatnonzero(rays.hops.max(axis=0) == most)
        loss[..., there] += region.loss_db(
            frequency,
            rays.takeoff_deg[..., there],
            [k * hop_km[..., there] for k in range(int(most) + 1)],
            hops[..., there],
        )
    return loss


def mean_fadeout_mhz(paths: Paths, layers: Layers) -> NDArray[np.float64]:
    """
    Frequency that a flare or protons take 1 dB of, as a mean along each path.

    Parameters
    ----------
    paths : Paths
        P paths.
    layers : Layers
        Layers at their control points, T hours.

    Returns
    -------
    fadeout_mhz : numpy.ndarray
        Shape (P, T, 1, 1), such that the losses of the points are averaged; 0 on a
        quiet day. [MHz]
    """
    lost = _mean_absorbing(paths, _absorbing(layers.fadeout_mhz) ** 1.5)
    return np.asarray(lost ** (1.0 / 1.5))


def _absorbing(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values of the layers at the absorption control points, (P, T, 1, 1, 5)."""
    return at_control(values)[..., _ABSORBING]


def _mean_absorbing(paths: Paths, each: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    Mean over the absorption control points, (P, T, 1, 1), of values (..., 5) there.

    The half-hop points count only beyond the longest single hop; up to there they
    fall on the middle and would weigh it three times.
    """
    weights = np.ones((paths.distance_km.size, len(_ABSORBING)))
    weights[:, -2:] = (paths.f2_hops > 1)[:, None]
    weights /= weights.sum(axis=-1, keepdims=True)
    return np.asarray((weights[:, None, None, None, :] * each).sum(axis=-1))


def _land_share(paths: Paths, hops: NDArray[np.int64]) -> NDArray[np.float64]:
    """Share of a mode's touches of the ground that are on land, (P, M)."""
    counts = np.arange(2, max(int(hops.max()), 2) + 1)
    parts = np.concatenate([np.arange(1, n) / n for n in counts])
    lat, lon = destination(
        paths.control_lat_deg[:, NEAR_END, None],
        paths.control_lon_deg[:, NEAR_END, None],
        paths.bearing_deg[:, None],
        paths.distance_km[:, None] * parts,
    )
    starts = np.cumsum(counts - 1) - (counts - 1)
    on_land = np.add.reduceat(is_land(lat, lon).astype(float), starts, axis=1)
    share = np.pad(on_land / (counts - 1), ((0, 0), (2, 0)))
    return np.take_along_axis(share, hops, axis=1)


def _ground_reflection(rays: Rays) -> NDArray[np.float64]:
    """Loss at the ground between hops over land and sea."""
    land, sea = (
        reflection_loss_db(rays.frequency_mhz[:, None], _REFLECTION_GRID_DEG, ground)
        for ground in (LAND, SEA)
    )
    touches = (rays.hops - 1.0)[:, None, :]
    on_land = touches * _land_share(rays.paths, rays.hops)[:, None, :]
    whole = np.empty(rays.takeoff_deg.shape)
    for b in range(rays.frequency_mhz.size):
        angle = rays.takeoff_deg[:, :, b]
        whole[:, :, b] = on_land * np.interp(angle, _REFLECTION_GRID_DEG, land[b])
        whole[:, :, b] += (touches - on_land) * np.interp(
            angle, _REFLECTION_GRID_DEG, sea[b]
        )
    return whole


def _auroral(rays: Rays) -> NDArray[np.float64]:
    """Auroral and other losses, mean over the absorption points."""
    each = auroral_loss_db(
        rays.paths.distance_km[:, None, None, None, None],
        _absorbing(rays.layers.geomagnetic_lat_deg),
        _absorbing(rays.layers.local_hour),
        month_phase(rays.layers.times)[None, :, None, None, None],
    )
    return _mean_absorbing(rays.paths, each)


def _residual(rays: Rays) -> NDArray[np.float64]:
    """Residual term; the loss of sporadic E has it in."""
    return np.where(np.array(rays.layer) == "Es", 0.0, RESIDUAL_LOSS_DB)


ES_REFLECTION = "es_reflection"
"""Name of the one term that depends on the day."""

LOSSES: dict[str, Loss] = {
    "spreading": Loss(
        "spreading",
        "free-space loss over the ray path",
        "ITU-R P.525-4, equation (4)",
        _spreading,
    ),
    "absorption": Loss(
        "absorption",
        "absorption",
        "electron densities of FIRI-2018 (2018)",
        _absorption,
    ),
    "ground_reflection": Loss(
        "ground between hops",
        "loss at reflections on the ground",
        "Fresnel coefficients over land and sea",
        _ground_reflection,
    ),
    "auroral": Loss(
        "auroral and other",
        "auroral loss",
        "ITU-R P.533-14, Table 2 (from memory)",
        _auroral,
    ),
    ES_REFLECTION: Loss(
        "reflection by Es",
        "loss at reflections off sporadic E",
        "ITU-R P.534 and P.533 (from memory)",
        None,
    ),
    "residual": Loss(
        "residual term",
        "residual loss",
        "ITU-R P.533-14, section 5.2 (from memory)",
        _residual,
    ),
}
"""Every loss between isotropic antennas, by the name it has without its unit."""
