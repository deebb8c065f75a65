"""
One hop off the layers: its MUF, its skip distance, and how near each ray comes down.

A ray meets the E layer first, and what passes meets F1 and F2; then it comes down at
the end of the hop, or it has gone through. `one_hop_muf_mhz` and `skip_distance_km`
take the layers over one place for all of the hop; `first_hops` reads them where each
ray is, in every direction from a station.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.propagation import muf
from advisor.propagation.absorption import d_region
from geo.ionosphere.flare import fadeout_db
from geo.ionosphere.hops import hop_length_km, sec_incidence
from geo.ionosphere.layers import Layers, Sky, layers_at
from geo.ionosphere.profile import E_PEAK_KM, Profile, layered_profile
from geo.ionosphere.ray_muf import muf_mhz
from geo.ionosphere.rays import trace
from geo.records import ArrayRecord
from geo.sphere import destination

LONGEST_KM = 4000.0
"""Longest hop that is told of. [km]"""

_SKIP_STEP_KM = 10.0

_EDGES_DEG = np.concatenate(
    [np.arange(0.0, 30.0, 1.0), np.arange(30.0, 60.0, 2.0), np.arange(60.0, 91.0, 5.0)]
)[::-1]
"""Take-off angles between the bins, falling. [deg]"""

_TYPICAL_MIRROR_KM = 300.0
"""Mirror height that says how far off a ray is turned. [km]"""

_RARE, _UNDER = 1e-3, 0.999


def nearest_km(
    distance_km: NDArray[np.float64], reached: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """
    Nearest distance that is reached: the skip distance.

    Parameters
    ----------
    distance_km : numpy.ndarray
        Distances. [km]
    reached : numpy.ndarray of bool
        Whether each is. Both broadcast; distances are on the last axis.

    Returns
    -------
    nearest_km : numpy.ndarray
        Without the last axis; NaN where none is reached. [km]

    Examples
    --------
    >>> nearest_km(np.array([0.0, 100.0, 200.0]), np.array([False, True, True]))
    np.float64(100.0)
    """
    return np.asarray(np.fmin.reduce(np.where(reached, distance_km, np.nan), axis=-1))[
        ()
    ]


def _profile_of(layers: Layers) -> Profile:
    """Profiles of the layers, (T, P)."""
    return layered_profile(
        layers.foe_mhz,
        layers.fof1_mhz,
        layers.fof2_mhz,
        layers.hmf2_km,
        None,
        layers.f1_share,
    )


def f2_muf_mhz(layers: Layers, distance_km: ArrayLike) -> NDArray[np.float64]:
    """
    Median MUF of one F2 hop, of the extraordinary wave.

    Parameters
    ----------
    layers : Layers
        Over one place, the middle of the hop; T times.
    distance_km : array_like
        Shape (D,), hop lengths, 0 to 4000. [km]

    Returns
    -------
    muf_mhz : numpy.ndarray
        Shape (T, D). [MHz]
    """
    distance = np.atleast_1d(np.asarray(distance_km, dtype=float))
    ordinary = muf_mhz(_profile_of(layers), distance)
    return np.asarray(ordinary + muf.apart_mhz(layers.gyro_mhz[:1], distance))


def one_hop_muf_mhz(layers: Layers, distance_km: ArrayLike) -> NDArray[np.float64]:
    """
    Median MUF of one hop off any layer.

    Parameters
    ----------
    layers : Layers
        Over one place, the middle of the hop; T times.
    distance_km : array_like
        Shape (D,), hop lengths, 0 to 4000. [km]

    Returns
    -------
    muf_mhz : numpy.ndarray
        Shape (T, D): the highest of E, the ledge and F2. [MHz]
    """
    return _highest_muf_mhz(_profile_of(layers), layers.gyro_mhz[:1], distance_km)


def _highest_muf_mhz(
    profile: Profile, gyro_mhz: NDArray[np.float64], distance_km: ArrayLike
) -> NDArray[np.float64]:
    """MUF of one hop off any layer of profiles (T, 1), (T, D)."""
    distance = np.atleast_1d(np.asarray(distance_km, dtype=float))
    ground, ledge, top = (muf_mhz(profile, distance, layer) for layer in (0, 1, -1))
    top = top + muf.apart_mhz(gyro_mhz, distance)
    return np.fmax(np.fmax(ground, ledge), top)


def skip_distance_km(layers: Layers, frequency_mhz: ArrayLike) -> NDArray[np.float64]:
    """
    Nearest point that a ray off any layer reaches on half of the days or more.

    Parameters
    ----------
    layers : Layers
        Over one place, the middle of the hop; T times.
    frequency_mhz : array_like
        Shape (B,), working frequencies. [MHz]

    Returns
    -------
    skip_km : numpy.ndarray
        Shape (T, B), in steps of 10 km: 0 where the layer returns the frequency
        straight down, NaN where it returns it over no distance. [km]

    Notes
    -----
    Half of the days is where the frequency equals the median MUF. Sporadic E is left
    out: it fills the skip zone on some days.
    """
    profile = _profile_of(layers)[:, :1]
    return profile_skip_km(profile, layers.gyro_mhz[:1], frequency_mhz)


def profile_skip_km(
    profile: Profile, gyro_mhz: NDArray[np.float64], frequency_mhz: ArrayLike
) -> NDArray[np.float64]:
    """
    Nearest point that a ray off any layer of a profile reaches.

    Parameters
    ----------
    profile : Profile
        Places (T, 1).
    gyro_mhz : numpy.ndarray
        Electron gyrofrequency, (1, 1) or (1,). [MHz]
    frequency_mhz : array_like
        Shape (B,), working frequencies. [MHz]

    Returns
    -------
    skip_km : numpy.ndarray
        As `skip_distance_km`. [km]
    """
    tried = np.arange(0.0, LONGEST_KM + 1.0, _SKIP_STEP_KM)
    frequency = np.atleast_1d(np.asarray(frequency_mhz, dtype=float))
    highest = _highest_muf_mhz(profile, gyro_mhz, tried)
    return nearest_km(tried, highest[:, None, :] >= frequency[:, None])


class FirstHops(ArrayRecord):
    """
    What the sky does to the rays of a station on their first hop.

    Arrays are over sector of azimuth, hour, frequency and bin of the take-off angle:
    (S, T, B, J).

    Attributes
    ----------
    layers : Layers
        Around the station, its own place first.
    edge_deg : numpy.ndarray
        Shape (J + 1,), take-off angles between the bins, falling from 90. [deg]
    takeoff_deg : numpy.ndarray
        Shape (J,), middle of each bin. [deg]
    landing_km : numpy.ndarray
        Shape (2, S, T, B, J): where a ray of the bin comes down off the E layer, and
        off what is above it; NaN where it does not. [km]
    share : numpy.ndarray
        Shape (2, S, T, B, J): share of days on which either layer returns it.
    absorption_db : numpy.ndarray
        Shape (2, S, T, B, J), absorption on either way. [dB]
    """

    layers: Layers
    edge_deg: NDArray[np.float64]
    takeoff_deg: NDArray[np.float64]
    landing_km: NDArray[np.float64]
    share: NDArray[np.float64]
    absorption_db: NDArray[np.float64]


def first_hops(
    lat_deg: float,
    lon_deg: float,
    azimuth_deg: NDArray[np.float64],
    frequency_mhz: ArrayLike,
    times: NDArray[np.datetime64],
    r12: NDArray[np.float64],
    sky: Sky = layers_at,
) -> FirstHops:
    """
    Work out what the sky does to every ray from a station.

    Parameters
    ----------
    lat_deg, lon_deg : float
        The station. [deg]
    azimuth_deg : numpy.ndarray
        Shape (S,), directions looked into. [deg]
    frequency_mhz : array_like
        Shape (B,). [MHz]
    times : numpy.ndarray of datetime64[s]
        Shape (T,), UTC.
    r12 : numpy.ndarray
        Shape (T,), twelve-month smoothed sunspot number.
    sky : callable, optional
        Gives the layers.

    Returns
    -------
    hops : FirstHops
        Angles, landings, shares of days, absorption.

    Notes
    -----
    Each ray is traced through the layers where a ray of its angle is turned, on the
    middle one of the days on which it is. How often it is goes by the secant law at
    the peaks of E and F2. Sporadic E is left out.
    """
    edges = _EDGES_DEG
    takeoff = 0.5 * (edges[:-1] + edges[1:])
    away = np.append(0.0, 0.5 * hop_length_km(takeoff, _TYPICAL_MIRROR_KM))
    lat, lon = destination(lat_deg, lon_deg, azimuth_deg[:, None], away)
    layers = sky(lat.ravel(), lon.ravel(), times, r12)
    frequency = np.atleast_1d(np.asarray(frequency_mhz, dtype=float))[:, None]

    def over(values: NDArray[np.float64]) -> NDArray[np.float64]:
        rows = np.atleast_2d(values).reshape(-1, azimuth_deg.size, away.size)
        return rows.transpose(1, 0, 2)[:, :, None, 1:]

    foe, fof1, fof2, height, ledge = (
        over(values)
        for values in (
            layers.foe_mhz,
            layers.fof1_mhz,
            layers.fof2_mhz,
            layers.hmf2_km,
            layers.f1_share,
        )
    )
    top_e = foe * sec_incidence(takeoff, E_PEAK_KM)
    by_e = muf.e_support(frequency, top_e)
    top_f2 = fof2 * sec_incidence(takeoff, height)
    away_km = hop_length_km(takeoff, _TYPICAL_MIRROR_KM)
    top_f2 = top_f2 + muf.apart_mhz(over(layers.gyro_mhz), away_km)
    lower, upper = muf.with_map_error(
        over(layers.fof2_lower_ratio),
        over(layers.fof2_upper_ratio),
        over(layers.unsounded),
    )
    by_f2 = muf.support_probability(frequency, top_f2, lower, upper)
    # On the middle one of the days returned. Only F2 is stronger or weaker then.
    strong_e, strong_f2 = (
        np.maximum(
            muf.ratio_exceeded(0.5 * np.clip(days, _RARE, 1.0), low, high),
            frequency / (_UNDER * top),
        )
        for days, top, low, high in (
            (by_e, top_e, muf.E_LOWER_RATIO, muf.E_UPPER_RATIO),
            (by_f2, top_f2, lower, upper),
        )
    )
    ground = layered_profile(foe, fof1, fof2, height, None, ledge).up_to(0)
    whole = layered_profile(foe, fof1, strong_f2 * fof2, height, None, ledge)
    landing = np.stack(
        [
            trace(ground, frequency / strong_e, takeoff, paths=False).ground_km,
            trace(whole, frequency, takeoff, paths=False).ground_km,
        ]
    )
    region = d_region(
        lat_deg, lon_deg, azimuth_deg, away_km.max(), times, layers.flux_sfu
    )
    sector, hour = (
        np.arange(size).reshape(-1, *(1,) * (3 - axis))
        for axis, size in enumerate((azimuth_deg.size, len(times)))
    )
    none = np.zeros_like(away_km)
    spent = region.loss_db(sector, hour, frequency, takeoff, (none, away_km))
    spent = spent + fadeout_db(frequency, over(layers.fadeout_mhz), takeoff)
    share = np.stack([by_e, (1.0 - by_e) * by_f2])
    return FirstHops(
        layers=layers,
        edge_deg=edges,
        takeoff_deg=takeoff,
        landing_km=landing,
        share=np.where(np.isnan(landing), 0.0, share),
        absorption_db=np.stack([spent, spent]),
    )
