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
from advisor.propagation.absorption import crossing_distance_km, d_region
from advisor.propagation.auroral import auroral_loss_db
from geo.ionosphere.flare import fadeout_db
from geo.ionosphere.hops import takeoff_angle_deg
from geo.ionosphere.layers import Layers
from geo.land import land_share
from geo.paths import NEAR_END, STATIONS, Paths, at_stations
from geo.records import ArrayRecord
from geo.sphere import destination
from geo.sun import month_phase

UNFOCUSED_RESIDUAL_DB = 8.72
"""The residual term where focusing is not told apart, ITU-R P.533-14 section 5.2 (from
memory). [dB]"""

RESIDUAL_LOSS_DB = UNFOCUSED_RESIDUAL_DB + 3.3
"""The residual term: everything the named losses leave out. That of the standard was
fitted without focusing, so that the mean gain by focusing is in it with the opposite
sign; that mean, 3.3 dB at 2000 km, is added here because focusing is a term of its own.
[dB]"""

LAND, SEA = "land", "sea water"
"""Kinds of ground that hops touch down on."""

HIDDEN_DB = 20.0
"""A ray that loses more than this at my horizon is hidden by it: a hundredth of its
power is left. The project's choice. [dB]"""

FAR_HORIZON_DEG = 3.0
"""Horizon of a far end of which nothing is known: that of a station here of which
nothing is said (common practice, no source). [deg]"""

_EDGE_KM = 1.0
"""Distance of what makes the horizon: a hill of 50 m for 3 degrees. Nearer, of trees
and houses, the edge is softer, and sharper for far mountains. The project's choice.
[km]"""

_REFLECTION_GRID_DEG = 90.0 * np.linspace(0.0, 1.0, 181) ** 2
"""Angles at which reflection losses are worked out, finest at the horizon. [deg]"""

_USUAL_MIRROR_KM = {"E": 110.0, "Es": 105.0, "F1": 200.0, "F2": 300.0, "E/F2": 200.0}
"""Mirror heights from which the places of the crossings are told; the places of the
rays themselves differ by less than the D region changes over. [km]"""


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


def edge_db(nu: ArrayLike) -> NDArray[np.float64]:
    r"""
    Loss of a ray at the edge of a hill.

    Parameters
    ----------
    nu : array_like
        How far the edge stands into the ray, in its own measure; negative below it.

    Returns
    -------
    loss_db : numpy.ndarray
        6.0 where the ray grazes the edge, 0 where it clears it by 0.78. [dB]

    Notes
    -----
    .. math:: J(\nu) = 6.9 + 20 \log_{10}
              \left(\sqrt{(\nu - 0.1)^2 + 1} + \nu - 0.1\right)

    References
    ----------
    ITU-R P.526-15, section 4.1, equation (31) (from memory).

    Examples
    --------
    >>> edge_db([-1.0, 0.0, 1.0, 2.4]).round(1)
    array([ 0. ,  6. , 13.9, 20.5])
    """
    off = np.asarray(nu, dtype=float) - 0.1
    return np.maximum(6.9 + 20.0 * np.log10(np.hypot(off, 1.0) + off), 0.0)


def horizon_db(
    frequency_mhz: ArrayLike, elevation_deg: ArrayLike, horizon_deg: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Loss of a ray at the horizon of an end.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    elevation_deg : array_like
        Elevation of the ray, 0 to 90; broadcasts. [deg]
    horizon_deg : array_like
        Elevation of the horizon, 0 to 90; broadcasts. [deg]

    Returns
    -------
    loss_db : numpy.ndarray
        Rises with the horizon, falls with the elevation; 0 for a horizon of 0. [dB]

    Notes
    -----
    The horizon is an edge `_EDGE_KM` away, the ray's other end is far beyond:
    :math:`\nu = (\beta_0 - \beta)\sqrt{2d/\lambda}`. Edges below one degree count
    in proportion, so that flat land is no hill (the project's choice).

    References
    ----------
    ITU-R P.526-15, section 4.1, equation (27) (from memory).

    Examples
    --------
    >>> horizon_db(28.5, [0.0, 3.0, 6.0, 9.0], 3.0).round(1)
    array([12. ,  6. ,  0.4,  0. ])
    """
    horizon = np.asarray(horizon_deg, dtype=float)
    wave_km = 0.299792458 / np.asarray(frequency_mhz, dtype=float)
    under = np.radians(horizon - np.asarray(elevation_deg, dtype=float))
    nu = under * np.sqrt(2.0 * _EDGE_KM / wave_km)
    return np.asarray(np.clip(horizon, 0.0, 1.0) * edge_db(nu))


class Rays(ArrayRecord):
    """
    The rays of all hop modes over path, hour, band and mode: what a loss depends on.

    Attributes
    ----------
    paths : Paths
        P paths.
    layers : Layers
        Layers at their stations, T hours.
    frequency_mhz : numpy.ndarray
        Shape (B,). [MHz]
    layer : tuple of str
        Layer of each of the M modes: ``E``, ``F1``, ``F2``, ``E/F2`` or ``Es``.
    hops : numpy.ndarray of int
        Shape (P, T, B, M), hops of each mode.
    takeoff_deg, landing_deg : numpy.ndarray
        Shape (P, T, B, M), not negative. [deg]
    group_km : numpy.ndarray
        Shape (P, T, B, M), group path over all hops; 1 where there is no ray. [km]
    gathered_db : numpy.ndarray
        Shape (P, T, B, M), what neighbouring rays gather, less the shadow beyond the
        flattest one. [dB]
    touches, dips : numpy.ndarray
        Shape (P, T, B, M), how often the ray touches the ground on its way, and how
        often it comes down through the D region, whether it touches or not.
    horizon_deg, far_horizon_deg : numpy.ndarray
        Shape (P,), elevation of the horizon at my end and at the far end, in the
        direction of each path. [deg]
    """

    paths: Paths
    layers: Layers
    frequency_mhz: NDArray[np.float64]
    layer: tuple[str, ...]
    hops: NDArray[np.int64]
    takeoff_deg: NDArray[np.float64]
    landing_deg: NDArray[np.float64]
    group_km: NDArray[np.float64]
    gathered_db: NDArray[np.float64]
    touches: NDArray[np.float64]
    dips: NDArray[np.float64]
    horizon_deg: NDArray[np.float64]
    far_horizon_deg: NDArray[np.float64]

    @property
    def there(self) -> NDArray[np.bool_]:
        """Whether there is such a ray."""
        return np.asarray(self.group_km > 1.0)

    @property
    def typical_deg(self) -> NDArray[np.float64]:
        """Elevation between that of both ends, for what happens on the way."""
        return 0.5 * (self.takeoff_deg + self.landing_deg)


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
        a term that is worked out with the modes themselves.
    """

    label: str
    meaning: str
    source: str
    function: Callable[[Rays], NDArray[np.float64]] | None


def losses_of(
    rays: Rays, **by_mode: NDArray[np.float64]
) -> dict[str, NDArray[np.float64]]:
    """
    Work out every term of `LOSSES`.

    Parameters
    ----------
    rays : Rays
        The rays.
    **by_mode : numpy.ndarray
        Terms without a function, by name, (P, T, B, M). [dB]

    Returns
    -------
    losses_db : dict of str to numpy.ndarray
        By name in the order of the list, each (P, T, B, M). [dB]
    """
    shape = rays.takeoff_deg.shape
    return {
        name: by_mode[name]
        if loss.function is None
        else np.broadcast_to(loss.function(rays), shape)
        for name, loss in LOSSES.items()
    }


def _spreading(rays: Rays) -> NDArray[np.float64]:
    """Spreading along the ray over all hops."""
    return spreading_db(rays.frequency_mhz[:, None], rays.group_km)


def _focusing(rays: Rays) -> NDArray[np.float64]:
    """Take what the tube of rays gathers as a loss."""
    return np.asarray(-rays.gathered_db)


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
    # A ray that passes over the region does not cross it there.
    crossed = (rays.dips + 1.0) / rays.hops
    loss = crossed * fadeout_db(
        rays.frequency_mhz[:, None], mean_fadeout_mhz(rays), rays.typical_deg, rays.hops
    )
    for n in np.unique(rays.hops):
        path, hour, band, mode = np.nonzero((rays.hops == n) & rays.there)
        hop_km = paths.distance_km[path] / n
        loss[path, hour, band, mode] += crossed[path, hour, band, mode] * (
            region.loss_db(
                path,
                hour,
                rays.frequency_mhz[band],
                rays.typical_deg[path, hour, band, mode],
                [k * hop_km for k in range(int(n) + 1)],
            )
        )
    return loss


def mean_fadeout_mhz(rays: Rays) -> NDArray[np.float64]:
    """
    Frequency that a flare or protons take 1 dB of, as a mean over the crossings.

    Parameters
    ----------
    rays : Rays
        The rays.

    Returns
    -------
    fadeout_mhz : numpy.ndarray
        Shape (P, T, B, M), such that the losses of the crossings are averaged; 0 on a
        quiet day. [MHz]
    """
    lost = rays.layers.fadeout_mhz**1.5
    each = at_crossings(rays, lost)
    return np.asarray(each ** (1.0 / 1.5))


def at_crossings(rays: Rays, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    Mean of something over the places at which rays cross the D region.

    Parameters
    ----------
    rays : Rays
        The rays.
    values : numpy.ndarray
        Shape (T, P * 25) or (P * 25,), at the stations.

    Returns
    -------
    mean : numpy.ndarray
        Shape (P, T, B, M).
    """
    along = at_stations(values)
    mean = np.empty(rays.hops.shape)
    for n in np.unique(rays.hops):
        for name, height_km in _USUAL_MIRROR_KM.items():
            modes = [m for m, layer in enumerate(rays.layer) if layer == name]
            some = rays.hops[..., modes] == n
            if not some.any():
                continue
            hop_km = np.maximum(rays.paths.distance_km, 1.0) / n
            # Hops of half the globe and more are of modes that are not there.
            takeoff = takeoff_angle_deg(np.minimum(hop_km, 1e4), height_km)
            takeoff = np.maximum(takeoff, 0.0)
            inset = np.minimum(crossing_distance_km(takeoff) / hop_km, 0.5)[:, None]
            first = np.arange(n)
            part = np.concatenate([first + inset, first + 1.0 - inset], axis=-1) / n
            place = (part * (STATIONS - 1))[:, None, :]
            low = np.minimum(place.astype(np.intp), STATIONS - 2)
            below, over = (
                np.take_along_axis(along, low + step, axis=-1) for step in (0, 1)
            )
            each = (below + (place - low) * (over - below)).mean(axis=-1)
            for m in modes:
                here = rays.hops[..., m] == n
                spread = np.broadcast_to(each[..., None], here.shape)
                mean[..., m][here] = spread[here]
    return mean


def _land_share(paths: Paths, hops: NDArray[np.int64]) -> NDArray[np.float64]:
    """
    Share of a mode's touches of the ground that are on land, (P, T, B, M).

    A flat ray lights some tens of kilometres of ground, so that no coast is sharp.
    """
    counts = np.arange(2, max(int(hops.max()), 2) + 1)
    parts = np.concatenate([np.arange(1, n) / n for n in counts])
    lat, lon = destination(
        paths.control_lat_deg[:, NEAR_END, None],
        paths.control_lon_deg[:, NEAR_END, None],
        paths.bearing_deg[:, None],
        paths.distance_km[:, None] * parts,
    )
    starts = np.cumsum(counts - 1) - (counts - 1)
    on_land = np.add.reduceat(land_share(lat, lon), starts, axis=1)
    share = np.pad(on_land / (counts - 1), ((0, 0), (2, 0)))
    return np.asarray(share[np.arange(len(share))[:, None, None, None], hops])


def _ground_reflection(rays: Rays) -> NDArray[np.float64]:
    """Loss at the ground between hops over land and sea."""
    land, sea = (
        reflection_loss_db(rays.frequency_mhz[:, None], _REFLECTION_GRID_DEG, ground)
        for ground in (LAND, SEA)
    )
    share = _land_share(rays.paths, rays.hops)
    each = np.empty(rays.takeoff_deg.shape)
    for b in range(rays.frequency_mhz.size):
        angle, part = rays.typical_deg[:, :, b], share[:, :, b]
        on_land, at_sea = (
            np.interp(angle, _REFLECTION_GRID_DEG, loss[b]) for loss in (land, sea)
        )
        each[:, :, b] = part * on_land + (1.0 - part) * at_sea
    return rays.touches * each


def _auroral(rays: Rays) -> NDArray[np.float64]:
    """Auroral and other losses, mean over the crossings of the D region."""
    each = auroral_loss_db(
        np.repeat(rays.paths.distance_km, STATIONS),
        rays.layers.geomagnetic_lat_deg,
        rays.layers.local_hour,
        month_phase(rays.layers.times)[:, None],
    )
    return at_crossings(rays, each)


def _horizon(rays: Rays) -> NDArray[np.float64]:
    """Loss at my horizon."""
    up = rays.horizon_deg[:, None, None, None]
    return horizon_db(rays.frequency_mhz[:, None], rays.takeoff_deg, up)


def _far_horizon(rays: Rays) -> NDArray[np.float64]:
    """Loss at the horizon of the far end."""
    up = rays.far_horizon_deg[:, None, None, None]
    return horizon_db(rays.frequency_mhz[:, None], rays.landing_deg, up)


def _residual(rays: Rays) -> NDArray[np.float64]:
    """Residual term; the loss of sporadic E has it in."""
    return np.where(np.array(rays.layer) == "Es", 0.0, RESIDUAL_LOSS_DB)


HORIZON = "horizon"
"""Name of the loss at my horizon, which may be lifted."""

ES_REFLECTION, SCATTERING = "es_reflection", "scattering"
"""Names of the terms that are worked out with the modes."""

LOSSES: dict[str, Loss] = {
    "spreading": Loss(
        "spreading",
        "free-space loss over the ray path",
        "ITU-R P.525-4, equation (4)",
        _spreading,
    ),
    "focusing": Loss(
        "focusing",
        "what the tube of neighbouring rays gathers, a gain where negative",
        "tube of rays, docs/method.md",
        _focusing,
    ),
    "absorption": Loss(
        "absorption",
        "absorption",
        "electron densities of FIRI-2018, docs/method.md",
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
    SCATTERING: Loss(
        "scattering",
        "what of it the ground beyond the skip zone does not scatter back",
        "radar equation, docs/method.md",
        None,
    ),
    HORIZON: Loss(
        "horizon",
        "loss at the edge of my horizon",
        "ITU-R P.526-15, section 4.1 (from memory)",
        _horizon,
    ),
    "far_horizon": Loss(
        "horizon there",
        "loss at the edge of the far end's horizon",
        "ITU-R P.526-15, section 4.1 (from memory)",
        _far_horizon,
    ),
    "residual": Loss(
        "residual term",
        "residual loss and the mean of focusing",
        "ITU-R P.533-14, section 5.2 (from memory)",
        _residual,
    ),
}
"""Every loss between isotropic antennas, by the name it has without its unit."""
