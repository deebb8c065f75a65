"""
Hop modes of every path, hour and band: angle, height, MUF, support and loss.

Axes are always path, hour, band, mode: (P, T, B, M). The first three modes are E
layer modes of one to three hops, the other six F2 modes from the fewest hops a path
allows upwards.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.link import loss, muf
from geo.hops import (
    E_MIRROR_HEIGHT_KM,
    MAX_HOP_E_KM,
    ray_path_km,
    takeoff_angle_deg,
)
from geo.layers import Layers
from geo.mirror import f2_mirror_height_km
from geo.paths import (
    CONTROL_POINTS,
    FAR_1000,
    FAR_HALF_HOP,
    LONGEST_E_PATH_KM,
    MID,
    NEAR_1000,
    NEAR_HALF_HOP,
    Paths,
)

E_MODES, F2_MODES = 3, 6
"""How many modes of each layer are carried, ITU-R P.533-14 section 5.2."""

MODES = E_MODES + F2_MODES

_ALL_HOPS = (NEAR_1000, MID, FAR_1000, NEAR_HALF_HOP, FAR_HALF_HOP)


@dataclass(frozen=True)
class Modes:
    """
    Hop modes over path, hour, band and mode.

    Attributes
    ----------
    frequency_mhz : numpy.ndarray
        Shape (B,). [MHz]
    hops : numpy.ndarray of int
        Shape (P, M), hops of each mode.
    takeoff_deg : numpy.ndarray
        Shape (P, T, B, M), the same at both ends. [deg]
    height_km : numpy.ndarray
        Shape (P, T, B, M), mirror height. [km]
    muf_mhz : numpy.ndarray
        Shape (P, T, B, M), median basic MUF; NaN where there is no mode. [MHz]
    returned : numpy.ndarray
        Shape (P, T, B, M), share of days on which the layer returns the band,
        whatever the horizon.
    screened : numpy.ndarray
        Shape (P, T, B, M), share of days on which the E layer stops the mode short;
        0 for E modes.
    spreading_db, absorption_db, ground_db : numpy.ndarray
        Shape (P, T, B, M), the named losses. [dB]
    clear : numpy.ndarray of bool
        Shape (P, T, B, M), whether the ray leaves above the horizon at my end.
    """

    frequency_mhz: NDArray[np.float64]
    hops: NDArray[np.int64]
    takeoff_deg: NDArray[np.float64]
    height_km: NDArray[np.float64]
    muf_mhz: NDArray[np.float64]
    returned: NDArray[np.float64]
    screened: NDArray[np.float64]
    spreading_db: NDArray[np.float64]
    absorption_db: NDArray[np.float64]
    ground_db: NDArray[np.float64]
    clear: NDArray[np.bool_]

    @property
    def support(self) -> NDArray[np.float64]:
        """Share of days on which a mode reaches me: returned and clear."""
        return np.where(self.clear, self.returned, 0.0)

    @property
    def loss_db(self) -> NDArray[np.float64]:
        """Sum of all losses between isotropic antennas, (P, T, B, M), in dB."""
        return (
            self.spreading_db
            + self.absorption_db
            + self.ground_db
            + loss.RESIDUAL_LOSS_DB
        )


def mode_name(mode: int, hops: int) -> str:
    """
    Name a mode as the trade does: 1E, 2F2.

    Parameters
    ----------
    mode : int
        Place on the mode axis.
    hops : int
        Hops of the mode on its path.

    Returns
    -------
    name : str
        Hop count and layer.

    Examples
    --------
    >>> mode_name(0, 1), mode_name(4, 2)
    ('1E', '2F2')
    """
    return f"{hops}E" if mode < E_MODES else f"{hops}F2"


def _at(values: NDArray[np.float64], paths: int) -> NDArray[np.float64]:
    """Reorder (T, P * 7) layer values to (P, T, 1, 1, 7) for the mode axes."""
    shaped = values.reshape(values.shape[0], paths, CONTROL_POINTS)
    return shaped.transpose(1, 0, 2)[:, :, None, None, :]


def hop_modes(
    paths: Paths,
    layers: Layers,
    frequency_mhz: ArrayLike,
    horizon_deg: ArrayLike = 3.0,
) -> Modes:
    """
    Work out every hop mode of every path, hour and band.

    Parameters
    ----------
    paths : Paths
        P paths.
    layers : Layers
        Layers at the paths' control points, points in the order of
        ``paths.control_lat_deg.ravel()``; T hours.
    frequency_mhz : array_like
        Shape (B,), working frequencies. [MHz]
    horizon_deg : array_like, optional
        Lowest take-off angle that is clear at my end; a scalar or shape (P,). [deg]

    Returns
    -------
    modes : Modes
        Angles, heights, MUFs, probabilities and losses.

    References
    ----------
    ITU-R P.533-14, sections 2 to 5 (from memory): control points of Table 1, the
    lower MUF of two control points, the higher foE for screening, the mean mirror
    height.
    """
    count = paths.distance_km.size
    frequency = np.atleast_1d(np.asarray(frequency_mhz, dtype=float))
    press = frequency[None, None, :, None]
    e_layer = _e_modes(paths, layers, press, count)
    f2_layer = _f2_modes(paths, layers, press, count)
    joined = {
        key: np.concatenate([e_layer[key], f2_layer[key]], axis=-1) for key in e_layer
    }
    hops = np.concatenate(
        [
            np.broadcast_to(np.arange(1, E_MODES + 1), (count, E_MODES)),
            paths.f2_hops[:, None] + np.arange(F2_MODES),
        ],
        axis=-1,
    )
    takeoff = joined["takeoff_deg"]
    horizon = np.broadcast_to(np.asarray(horizon_deg, dtype=float), (count,))
    hop_km = (paths.distance_km[:, None] / hops)[:, None, None, :]
    number = hops[:, None, None, :]
    index, gyro = _absorbing(paths, layers, count)
    return Modes(
        frequency_mhz=frequency,
        hops=hops,
        takeoff_deg=takeoff,
        height_km=joined["height_km"],
        muf_mhz=joined["muf_mhz"],
        returned=joined["returned"],
        screened=joined["screened"],
        spreading_db=loss.spreading_db(
            press, ray_path_km(hop_km, joined["height_km"], number)
        ),
        absorption_db=loss.absorption_db(press, takeoff, number, index, gyro),
        ground_db=np.broadcast_to(loss.ground_reflection_db(number), takeoff.shape),
        clear=takeoff >= horizon[:, None, None, None],
    )


def _absorbing(
    paths: Paths, layers: Layers, count: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean absorption index and gyrofrequency at 100 km over a path's points."""
    # The half-hop points count only beyond the longest single hop; up to there they
    # fall on the middle and would weigh it three times.
    weights = np.ones((count, len(_ALL_HOPS)))
    weights[:, -2:] = (paths.f2_hops > 1)[:, None]
    weights /= weights.sum(axis=-1, keepdims=True)
    share = weights[:, None, None, None, :]
    each = loss.absorption_index(
        _at(layers.zenith_deg, count), layers.r12[None, :, None, None, None]
    )[..., _ALL_HOPS]
    index = (share * each).sum(axis=-1)
    gyro_each = _at(layers.gyro_100km_mhz[None, :], count)[..., _ALL_HOPS]
    return index, np.asarray((share * gyro_each).sum(axis=-1))


def _e_modes(
    paths: Paths, layers: Layers, press: NDArray[np.float64], count: int
) -> dict[str, NDArray[np.float64]]:
    """E modes of one to three hops, (P, T, B, 3)."""
    hop_km = paths.distance_km[:, None] / np.arange(1, E_MODES + 1)
    usable = (hop_km <= MAX_HOP_E_KM) & (
        paths.distance_km[:, None] <= LONGEST_E_PATH_KM
    )
    takeoff = takeoff_angle_deg(hop_km, E_MIRROR_HEIGHT_KM)[:, None, None, :]
    foe = _at(layers.foe_mhz, count)[..., [NEAR_1000, FAR_1000]].min(axis=-1)
    top = np.where(usable[:, None, None, :], muf.e_muf_mhz(takeoff, foe), np.nan)
    support = muf.support_probability(press, top, muf.E_LOWER_RATIO, muf.E_UPPER_RATIO)
    shape = support.shape
    return {
        "takeoff_deg": np.broadcast_to(takeoff, shape),
        "height_km": np.full(shape, E_MIRROR_HEIGHT_KM),
        "muf_mhz": np.broadcast_to(top, shape),
        "returned": support,
        "screened": np.zeros(shape),
    }


def _f2_modes(
    paths: Paths, layers: Layers, press: NDArray[np.float64], count: int
) -> dict[str, NDArray[np.float64]]:
    """F2 modes from the fewest hops upwards, (P, T, B, 6)."""
    hops = paths.f2_hops[:, None] + np.arange(F2_MODES)
    hop_km = (paths.distance_km[:, None] / hops)[:, None, None, :]
    ends = [NEAR_HALF_HOP, FAR_HALF_HOP]
    fof2, foe, m3000 = (
        _at(values, count)
        for values in (layers.fof2_mhz, layers.foe_mhz, layers.m3000f2)
    )
    gyro = _at(layers.gyro_mhz[None, :], count)
    each = muf.f2_muf_mhz(
        hop_km[..., None],
        fof2[..., ends],
        foe[..., ends],
        m3000[..., ends],
        gyro[..., ends],
    )
    lower_end = np.argmin(np.where(np.isnan(each), np.inf, each), axis=-1)[..., None]
    top = np.where(np.isnan(each).any(axis=-1), np.nan, each.min(axis=-1))

    def of_lower(values: NDArray[np.float64]) -> NDArray[np.float64]:
        pair = np.broadcast_to(_at(values, count)[..., ends], each.shape)
        return np.take_along_axis(pair, lower_end, axis=-1)[..., 0]

    heights = [MID, *ends]
    height = f2_mirror_height_km(
        press[..., None],
        hop_km[..., None],
        fof2[..., heights],
        foe[..., heights],
        m3000[..., heights],
        layers.r12[None, :, None, None, None],
    ).mean(axis=-1)
    takeoff = takeoff_angle_deg(hop_km, height)
    support = muf.support_probability(
        press,
        top,
        of_lower(layers.fof2_lower_ratio),
        of_lower(layers.fof2_upper_ratio),
    )
    screening_foe = foe[..., [NEAR_1000, FAR_1000]].max(axis=-1)
    screened = muf.support_probability(
        press,
        muf.screening_mhz(takeoff, screening_foe),
        muf.E_LOWER_RATIO,
        muf.E_UPPER_RATIO,
    )
    shape = np.broadcast_shapes(support.shape, screened.shape)
    return {
        "takeoff_deg": np.broadcast_to(takeoff, shape),
        "height_km": np.broadcast_to(height, shape),
        "muf_mhz": np.broadcast_to(top, shape),
        "returned": np.broadcast_to(support, shape),
        "screened": np.broadcast_to(screened, shape),
    }
