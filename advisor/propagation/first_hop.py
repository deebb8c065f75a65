"""
One hop off the E or the F2 layer: how near it comes down, and on how many days.

A ray meets the E layer first, and what passes meets the F2 layer, each at its own
point of reflection; then it comes down at the end of the hop, or it has gone through.
`one_hop_muf_mhz` and `skip_distance_km` take the layers over one place for all of the
hop; `first_hops` reads them where each ray is, in every direction from a station.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.propagation import muf
from advisor.propagation.absorption import d_region
from geo.ionosphere.flare import fadeout_db
from geo.ionosphere.hops import (
    E_MIRROR_HEIGHT_KM,
    MAX_HOP_E_KM,
    MAX_HOP_F2_KM,
    f2_mirror_height_km,
    hop_length_km,
    takeoff_angle_deg,
)
from geo.ionosphere.layers import Layers, Sky, layers_at
from geo.records import ArrayRecord
from geo.sphere import destination

_SKIP_STEP_KM = 10.0

_NODE_KM = 200.0
_HOP_EDGES_KM = np.concatenate(
    [
        np.arange(0.0, 1000.0, 50.0),
        np.arange(1000.0, MAX_HOP_F2_KM, 100.0),
        np.arange(MAX_HOP_F2_KM, 6401.0, 200.0),
    ]
)
_NODES_KM = np.arange(0.0, 0.5 * _HOP_EDGES_KM[-1] + 1.0, _NODE_KM)


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


def one_hop_muf_mhz(layers: Layers, distance_km: ArrayLike) -> NDArray[np.float64]:
    """
    Median MUF of one hop off the E or the F2 layer, whichever is higher.

    Parameters
    ----------
    layers : Layers
        Over one place, the middle of the hop; T times.
    distance_km : array_like
        Shape (D,), hop lengths, not negative. [km]

    Returns
    -------
    muf_mhz : numpy.ndarray
        Shape (T, D); NaN where the hop is too long for both layers. [MHz]

    References
    ----------
    ITU-R P.533-14, sections 3.3 and 3.5.1 (from memory).
    """
    distance = np.atleast_1d(np.asarray(distance_km, dtype=float))
    by_f2 = muf.f2_muf_mhz(
        distance,
        layers.fof2_mhz[:, :1],
        layers.foe_mhz[:, :1],
        layers.m3000f2[:, :1],
        layers.gyro_mhz[:1],
    )
    takeoff = takeoff_angle_deg(distance, E_MIRROR_HEIGHT_KM)
    by_e = muf.e_muf_mhz(np.maximum(takeoff, 0.0), layers.foe_mhz[:, :1])
    by_e = np.where(distance <= MAX_HOP_E_KM, by_e, np.nan)
    return np.asarray(np.fmax(by_e, by_f2))


def skip_distance_km(layers: Layers, frequency_mhz: ArrayLike) -> NDArray[np.float64]:
    """
    Shortest hop that the E or F2 layer returns on half of the days or more.

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
        straight down, NaN where it returns it over no distance up to 4000 km. [km]

    Notes
    -----
    Half of the days is where the frequency equals the median MUF. Sporadic E is left
    out: it fills the skip zone on some days.

    References
    ----------
    ITU-R P.533-14, sections 3.3, 3.5.1 and 3.6 (from memory).
    """
    tried = np.arange(0.0, MAX_HOP_F2_KM + 1.0, _SKIP_STEP_KM)
    frequency = np.atleast_1d(np.asarray(frequency_mhz, dtype=float))
    returned = one_hop_muf_mhz(layers, tried)[:, None, :] >= frequency[:, None]
    return nearest_km(tried, returned)


@dataclass(frozen=True, eq=False)
class FirstHops(ArrayRecord):
    """
    What the sky does to the rays of a station on their first hop.

    Arrays are over sector of azimuth, hour, frequency and bin of hop length:
    (S, T, B, J).

    Attributes
    ----------
    layers : Layers
        Around the station, its own place first.
    edge_deg : numpy.ndarray
        Shape (S, T, B, J + 1), take-off angles between the bins, falling from 90. [deg]
    takeoff_deg : numpy.ndarray
        Middle of each bin. [deg]
    landing_km, landing_from_km : numpy.ndarray
        Shape (2, S, T, B, J): where a ray of the bin comes down off the E and the F2
        layer, and the least of the bin. [km]
    share : numpy.ndarray
        Shape (2, S, T, B, J): share of days on which either layer returns it.
    absorption_db : numpy.ndarray
        Shape (2, S, T, B, J), absorption on either way. [dB]
    """

    layers: Layers
    edge_deg: NDArray[np.float64]
    takeoff_deg: NDArray[np.float64]
    landing_km: NDArray[np.float64]
    landing_from_km: NDArray[np.float64]
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
    Heights, MUFs, the day-to-day spread, screening and absorption are those of
    `advisor.propagation.modes` at the middle of the hop. Three things are simpler: one
    point of reflection for every hop length; what the E layer stops comes down off the
    E layer; a ray flatter than the longest hop of the standard has that hop's MUF and
    mirror height. The F1 layer and sporadic E are left out.
    """
    lat, lon = destination(lat_deg, lon_deg, azimuth_deg[:, None], _NODES_KM)
    layers = sky(lat.ravel(), lon.ravel(), times, r12)
    frequency = np.atleast_1d(np.asarray(frequency_mhz, dtype=float))[:, None]
    edges = _HOP_EDGES_KM
    fof2, foe, m3000 = (
        _along(values, 0.5 * edges)
        for values in (layers.fof2_mhz, layers.foe_mhz, layers.m3000f2)
    )
    height = f2_mirror_height_km(
        frequency,
        np.minimum(edges, MAX_HOP_F2_KM),
        fof2,
        foe,
        m3000,
        r12[None, :, None, None],
    )
    # Far above the critical frequency, where nothing returns, the formula for the
    # height runs below the E layer.
    edge = takeoff_angle_deg(edges, np.maximum(height, E_MIRROR_HEIGHT_KM))
    # Where the height jumps a longer hop may leave steeper: such rays belong to the
    # shorter one.
    edge = np.maximum(np.minimum.accumulate(edge, axis=-1), 0.0)
    takeoff = 0.5 * (edge[..., :-1] + edge[..., 1:])
    e_hop = hop_length_km(takeoff, E_MIRROR_HEIGHT_KM)
    f2_hop = np.broadcast_to(0.5 * (edges[:-1] + edges[1:]), e_hop.shape)
    by_e = muf.screened_share(frequency, takeoff, _along(layers.foe_mhz, 0.5 * e_hop))
    by_f2 = _f2_share(layers, frequency, f2_hop[:1, :1, :1])
    one = np.ones(1, dtype=np.int64)
    region = d_region(
        lat_deg,
        lon_deg,
        azimuth_deg,
        edges[-1],
        times,
        layers.flux_sfu,
    )
    return FirstHops(
        layers=layers,
        edge_deg=edge,
        takeoff_deg=takeoff,
        landing_km=np.stack([e_hop, f2_hop]),
        landing_from_km=np.stack(
            [
                hop_length_km(edge[..., :-1], E_MIRROR_HEIGHT_KM),
                np.broadcast_to(edges[:-1], e_hop.shape),
            ]
        ),
        share=np.stack([by_e, (1.0 - by_e) * by_f2]),
        absorption_db=np.stack(
            [
                region.loss_db(frequency, takeoff, (np.zeros_like(hop), hop), one)
                + fadeout_db(frequency, _along(layers.fadeout_mhz, 0.5 * hop), takeoff)
                for hop in (e_hop, f2_hop)
            ]
        ),
    )


def _along(
    values: NDArray[np.float64], away_km: NDArray[np.float64]
) -> NDArray[np.float64]:
    """
    Read values of the layers at distances along each sector, (S, T, B, J).

    ``values`` is (T, S * R) or (S * R,); ``away_km`` broadcasts to (S, T, B, J).
    """
    sectors = values.shape[-1] // _NODES_KM.size
    rows = np.atleast_2d(values).reshape(-1, sectors, _NODES_KM.size)
    along = rows.transpose(1, 0, 2)[:, :, None, :]
    place = away_km / _NODE_KM
    first = np.minimum(place.astype(np.intp), _NODES_KM.size - 2)
    shape = np.broadcast_shapes((*along.shape[:3], 1), first.shape)
    first, place = np.broadcast_to(first, shape), np.broadcast_to(place, shape)
    along = np.broadcast_to(along, (*shape[:3], _NODES_KM.size))
    low = np.take_along_axis(along, first, axis=-1)
    high = np.take_along_axis(along, first + 1, axis=-1)
    return np.asarray(low + (place - first) * (high - low))


def _f2_share(
    layers: Layers, frequency_mhz: NDArray[np.float64], hop_km: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Share of days on which the F2 layer returns a hop, (S, T, B, J)."""
    fof2, foe, m3000, gyro, lower, upper, unsounded = (
        _along(values, 0.5 * hop_km)
        for values in (
            layers.fof2_mhz,
            layers.foe_mhz,
            layers.m3000f2,
            layers.gyro_mhz,
            layers.fof2_lower_ratio,
            layers.fof2_upper_ratio,
            layers.unsounded,
        )
    )
    ratio = fof2 / foe
    longest = muf.longest_f2_hop_km(muf.m_factor(m3000, ratio), ratio)
    top = muf.f2_muf_mhz(np.minimum(hop_km, longest), fof2, foe, m3000, gyro)
    return muf.f2_support(frequency_mhz, top, lower, upper, unsounded)
