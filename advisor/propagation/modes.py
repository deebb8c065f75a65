"""
Hop modes of every path, hour and band: angle, height, MUF, support and loss.

Axes are always path, hour, band, mode: (P, T, B, M). In this order the modes are
three of the E layer (one to three hops), one of F1, six of F2 (from the fewest hops a
path allows upwards) and two of sporadic E. F1 and F2 modes go by the F2 layer's rank
of the day and may be screened by the E layer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.propagation import muf, sporadic_e
from advisor.propagation.f1 import f1_muf_mhz
from advisor.propagation.losses import ES_REFLECTION, Rays, losses_of
from geo.ionosphere.hops import (
    E_MIRROR_HEIGHT_KM,
    MAX_HOP_E_KM,
    f2_mirror_height_km,
    takeoff_angle_deg,
)
from geo.ionosphere.layers import Layers
from geo.paths import (
    FAR_1000,
    FAR_HALF_HOP,
    FAR_QUARTER,
    LONGEST_E_PATH_KM,
    MID,
    NEAR_1000,
    NEAR_HALF_HOP,
    NEAR_QUARTER,
    Paths,
    at_control,
)
from geo.records import ArrayRecord

E_MODES, F1_MODES, F2_MODES, ES_MODES = 3, 1, 6, 2
"""How many modes of each layer are carried; E and F2 as in ITU-R P.533-14 section
5.2."""

MODES = E_MODES + F1_MODES + F2_MODES + ES_MODES
E_RANKED = slice(0, E_MODES)
F2_RANKED = slice(E_MODES, E_MODES + F1_MODES + F2_MODES)
ES_RANKED = slice(F2_RANKED.stop, MODES)

_ES_GONE_DB = 80.0
"""A reflection loss beyond this is no reflection; the project's choice. [dB]"""

F1_MIRROR_HEIGHT_KM = 200.0
"""Mirror height of the F1 mode (handbook range 150 to 220, from memory). [km]"""

NO_MODE_DB = 400.0
"""Loss that stands for a mode that cannot be. [dB]"""

_LAYER_NAMES = ("E",) * E_MODES + ("F1",) + ("F2",) * F2_MODES + ("Es",) * ES_MODES


@dataclass(frozen=True, eq=False)
class Modes(ArrayRecord):
    """
    Hop modes over path, hour, band and mode.

    All arrays without another shape are (P, T, B, M).

    Attributes
    ----------
    frequency_mhz : numpy.ndarray
        Shape (B,). [MHz]
    hops : numpy.ndarray of int
        Shape (P, M), hops of each mode.
    takeoff_deg : numpy.ndarray
        The same at both ends. [deg]
    height_km : numpy.ndarray
        Mirror height. [km]
    muf_mhz : numpy.ndarray
        Median basic MUF; NaN where there is no mode. [MHz]
    returned : numpy.ndarray
        Share of days on which the layer returns the band, whatever the horizon.
    screened : numpy.ndarray
        Share of days on which the E layer stops the mode short; 0 but for F2.
    losses_db : mapping of str to numpy.ndarray
        The terms of `advisor.propagation.losses.LOSSES` by name. That of the
        reflection by sporadic E is the one on the middle one of the days on which it
        returns the band, 0 for other layers. [dB]
    es_share : numpy.ndarray
        Shape (P, T, B, W), share of days in each slice of sporadic E, strongest
        first; sums to 1.
    es_reflection_db : numpy.ndarray
        Shape (P, T, B, 2, W), reflection loss of the sporadic-E modes in each slice
        of days. [dB]
    clear : numpy.ndarray of bool
        Whether the ray leaves above the horizon at my end.
    """

    frequency_mhz: NDArray[np.float64]
    hops: NDArray[np.int64]
    takeoff_deg: NDArray[np.float64]
    height_km: NDArray[np.float64]
    muf_mhz: NDArray[np.float64]
    returned: NDArray[np.float64]
    screened: NDArray[np.float64]
    losses_db: Mapping[str, NDArray[np.float64]]
    es_share: NDArray[np.float64]
    es_reflection_db: NDArray[np.float64]
    clear: NDArray[np.bool_]

    @property
    def support(self) -> NDArray[np.float64]:
        """Share of days on which a mode reaches me: returned and clear."""
        return np.where(self.clear, self.returned, 0.0)

    @property
    def often(self) -> NDArray[np.float64]:
        """Share of days on which a mode reaches me and is not stopped short."""
        return self.support * (1.0 - self.screened)

    @property
    def path_loss_db(self) -> NDArray[np.float64]:
        """Losses between isotropic antennas but for the reflection, in dB."""
        terms = self.losses_db.items()
        fixed = [loss_db for name, loss_db in terms if name != ES_REFLECTION]
        return reduce(np.add, fixed)

    @property
    def loss_db(self) -> NDArray[np.float64]:
        """Sum of all losses between isotropic antennas, (P, T, B, M), in dB."""
        return self.path_loss_db + self.losses_db[ES_REFLECTION]

    def without(self, loss: str) -> Modes:
        """
        Return the modes as they were if one loss were none.

        Parameters
        ----------
        loss : str
            Name of the term.

        Returns
        -------
        modes : Modes
            With that term 0.
        """
        none = np.zeros_like(self.losses_db[loss])
        return replace(self, losses_db={**self.losses_db, loss: none})


@dataclass(frozen=True, eq=False)
class _Layer(ArrayRecord):
    """The modes of one layer, arrays that broadcast to (P, T, B, modes)."""

    hops: NDArray[np.int64]
    takeoff_deg: NDArray[np.float64]
    height_km: NDArray[np.float64]
    muf_mhz: NDArray[np.float64]
    returned: NDArray[np.float64]
    screened: NDArray[np.float64]


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
    >>> mode_name(0, 1), mode_name(5, 2), mode_name(10, 1)
    ('1E', '2F2', '1Es')
    """
    return f"{hops}{_LAYER_NAMES[mode]}"


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

    Notes
    -----
    A ray that leaves below the horizon has no gain and no mode; its angle is kept
    negative so that the reason can be told.

    References
    ----------
    ITU-R P.533-14, sections 2 to 5 (from memory): control points of Table 1, the
    lower MUF of two control points, the higher foE for screening, the mean mirror
    height. Sporadic E by ITU-R P.534, F1 by ITU-R P.1240 (both from memory).
    """
    count = paths.distance_km.size
    frequency = np.atleast_1d(np.asarray(frequency_mhz, dtype=float))
    working = frequency[None, None, :, None]
    each = [
        of_layer(paths, layers, working)
        for of_layer in (_e_modes, _f1_mode, _f2_modes, _es_modes)
    ]
    body = (count, layers.r12.size, frequency.size)

    def joined(name: str) -> NDArray[np.float64]:
        parts = [getattr(layer, name) for layer in each]
        return np.concatenate(
            [np.broadcast_to(part, (*body, part.shape[-1])) for part in parts], axis=-1
        )

    hops = np.concatenate([layer.hops for layer in each], axis=-1)
    takeoff, height = joined("takeoff_deg"), joined("height_km")
    returned = joined("returned")
    # One ray is not returned twice: sporadic E counts on days when the regular E
    # layer does not return the band.
    rest = 1.0 - returned[..., :ES_MODES]
    es_share, es_exceeded = sporadic_e.slices_of_days(returned[..., ES_RANKED])
    returned[..., ES_RANKED] *= rest
    horizon = np.broadcast_to(np.asarray(horizon_deg, dtype=float), (count,))
    typical, slices = _es_reflection(
        paths, layers, working, returned[..., ES_RANKED], es_exceeded
    )
    with np.errstate(divide="ignore"):
        slices = slices - 10.0 * np.log10(rest[..., None])
    reflection = np.zeros(takeoff.shape)
    reflection[..., ES_RANKED] = typical
    upward = np.maximum(takeoff, 0.0)
    rays = Rays(paths, layers, frequency, _LAYER_NAMES, hops, upward, height)
    return Modes(
        frequency_mhz=frequency,
        hops=hops,
        takeoff_deg=takeoff,
        height_km=height,
        muf_mhz=joined("muf_mhz"),
        returned=returned,
        screened=joined("screened"),
        losses_db=losses_of(rays, **{ES_REFLECTION: reflection}),
        es_share=es_share,
        es_reflection_db=slices,
        clear=takeoff >= horizon[:, None, None, None],
    )


def _e_modes(
    paths: Paths, layers: Layers, frequency_mhz: NDArray[np.float64]
) -> _Layer:
    """E modes of one to three hops."""
    count = paths.distance_km.size
    hops = np.broadcast_to(np.arange(1, E_MODES + 1), (count, E_MODES))
    hop_km = paths.distance_km[:, None] / hops
    usable = (hop_km <= MAX_HOP_E_KM) & (
        paths.distance_km[:, None] <= LONGEST_E_PATH_KM
    )
    takeoff = takeoff_angle_deg(hop_km, E_MIRROR_HEIGHT_KM)[:, None, None, :]
    foe = at_control(layers.foe_mhz)[..., [NEAR_1000, FAR_1000]].min(axis=-1)
    top = np.where(usable[:, None, None, :], muf.e_muf_mhz(takeoff, foe), np.nan)
    returned = muf.e_support(frequency_mhz, top)
    height = np.full((1, 1, 1, E_MODES), E_MIRROR_HEIGHT_KM)
    return _Layer(hops, takeoff, height, top, returned, np.zeros(height.shape))


def _f1_mode(
    paths: Paths, layers: Layers, frequency_mhz: NDArray[np.float64]
) -> _Layer:
    """One F1 hop, 2000 to 3400 km, where it reaches a higher frequency than F2."""
    count = paths.distance_km.size
    distance = paths.distance_km[:, None, None, None]
    fof2, foe, m3000 = (
        at_control(values)[..., MID]
        for values in (layers.fof2_mhz, layers.foe_mhz, layers.m3000f2)
    )
    gyro = at_control(layers.gyro_mhz)[..., MID]
    f2_top = muf.f2_muf_mhz(distance, fof2, foe, m3000, gyro)
    top = f1_muf_mhz(
        distance,
        at_control(layers.fof1_mhz)[..., MID],
        layers.r12[None, :, None, None],
    )
    top = np.where(top > f2_top, top, np.nan)
    returned = muf.e_support(frequency_mhz, top)
    takeoff = takeoff_angle_deg(distance, F1_MIRROR_HEIGHT_KM)
    return _Layer(
        np.ones((count, F1_MODES), dtype=np.int64),
        takeoff,
        np.full((1, 1, 1, 1), F1_MIRROR_HEIGHT_KM),
        top,
        returned,
        _screened(layers, frequency_mhz, takeoff),
    )


def _screened(
    layers: Layers,
    frequency_mhz: NDArray[np.float64],
    takeoff_deg: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Share of days on which the E layer stops a higher ray short, (P, T, B, M)."""
    foe = at_control(layers.foe_mhz)[..., [NEAR_1000, FAR_1000]].max(axis=-1)
    return muf.screened_share(frequency_mhz, takeoff_deg, foe)


def _f2_modes(
    paths: Paths, layers: Layers, frequency_mhz: NDArray[np.float64]
) -> _Layer:
    """F2 modes from the fewest hops upwards."""
    hops = paths.f2_hops[:, None] + np.arange(F2_MODES)
    hop_km = (paths.distance_km[:, None] / hops)[:, None, None, :]
    ends = [NEAR_HALF_HOP, FAR_HALF_HOP]
    fof2, foe, m3000 = (
        at_control(values)
        for values in (layers.fof2_mhz, layers.foe_mhz, layers.m3000f2)
    )
    gyro = at_control(layers.gyro_mhz)
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
        pair = np.broadcast_to(at_control(values)[..., ends], each.shape)
        return np.take_along_axis(pair, lower_end, axis=-1)[..., 0]

    heights = [MID, *ends]
    height = f2_mirror_height_km(
        frequency_mhz[..., None],
        hop_km[..., None],
        fof2[..., heights],
        foe[..., heights],
        m3000[..., heights],
        layers.r12[None, :, None, None, None],
    ).mean(axis=-1)
    takeoff = takeoff_angle_deg(hop_km, height)
    returned = muf.f2_support(
        frequency_mhz,
        top,
        of_lower(layers.fof2_lower_ratio),
        of_lower(layers.fof2_upper_ratio),
        of_lower(layers.unsounded),
    )
    screened = _screened(layers, frequency_mhz, takeoff)
    return _Layer(hops, takeoff, height, top, returned, screened)


def _es_points(
    layers: Layers,
) -> list[tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]]:
    """Deciles of foEs that hold for all hops of each sporadic-E mode, (P, T, 1)."""
    points = []
    for places in ([MID], [NEAR_QUARTER, FAR_QUARTER]):
        lower, median, upper = (
            at_control(values)[:, :, 0, :, places].min(axis=0)
            for values in (
                layers.foes_lower_mhz,
                layers.foes_mhz,
                layers.foes_upper_mhz,
            )
        )
        points.append((lower, median, upper))
    return points


def _es_modes(
    paths: Paths, layers: Layers, frequency_mhz: NDArray[np.float64]
) -> _Layer:
    """Sporadic-E modes of one and two hops; the patches of two are independent."""
    count = paths.distance_km.size
    hops = np.broadcast_to(np.arange(1, ES_MODES + 1), (count, ES_MODES))
    hop_km = paths.distance_km[:, None] / hops
    flat = sporadic_e.es_takeoff_deg(hop_km)[:, None, None, :]
    # Too long a hop has no angle there: keep the geometry for what is blocked.
    takeoff = np.where(
        np.isnan(flat),
        takeoff_angle_deg(hop_km, sporadic_e.ES_MIRROR_HEIGHT_KM)[:, None, None, :],
        flat,
    )
    tops, shares = [], []
    for n, (lower, median, upper) in enumerate(_es_points(layers)):
        level = sporadic_e.needed_foes_mhz(frequency_mhz, flat[..., n : n + 1])[..., 0]
        share = sporadic_e.share_above(level, lower, median, upper) ** (n + 1)
        shares.append(np.nan_to_num(share, nan=0.0))
        secant = frequency_mhz[..., 0] / level
        tops.append(np.broadcast_to(secant * median, share.shape))
    height = np.full((1, 1, 1, ES_MODES), sporadic_e.ES_MIRROR_HEIGHT_KM)
    return _Layer(
        hops,
        takeoff,
        height,
        np.stack(tops, axis=-1),
        np.stack(shares, axis=-1),
        np.zeros(height.shape),
    )


def _es_reflection(
    paths: Paths,
    layers: Layers,
    frequency_mhz: NDArray[np.float64],
    returned: NDArray[np.float64],
    exceeded: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """
    Reflection loss of sporadic E: typical (P, T, B, 2), by slice (P, T, B, 2, W).

    Two hops need two good patches: a slice that is exceeded on a share s of days has
    both patches at a level that each exceeds on the square root of s.
    """
    typical = np.full(returned.shape, NO_MODE_DB)
    slices = np.full((*returned.shape, exceeded.shape[-1]), NO_MODE_DB)
    for n, deciles in enumerate(_es_points(layers)):
        near = np.flatnonzero(paths.distance_km <= (n + 1) * sporadic_e.MAX_HOP_ES_KM)
        hop_km = paths.distance_km[near, None, None] / (n + 1)
        law = [value[near] for value in deciles]
        half = np.maximum(0.5 * returned[near, ..., n], 1e-12) ** (1.0 / (n + 1))
        level = sporadic_e.foes_exceeded_mhz(half, *law)
        lost = sporadic_e.es_loss_db(hop_km, frequency_mhz[..., 0], level, n + 1)
        typical[near, ..., n] = np.nan_to_num(lost, nan=NO_MODE_DB)
        each = sporadic_e.foes_exceeded_mhz(
            exceeded[near] ** (1.0 / (n + 1)), *(value[..., None] for value in law)
        )
        lost = sporadic_e.es_loss_db(hop_km[..., None], frequency_mhz, each, n + 1)
        slices[near, ..., n, :] = np.where(lost <= _ES_GONE_DB, lost, NO_MODE_DB)
    return typical, slices
