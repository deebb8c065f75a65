"""
Hop modes of every path, hour and band: rays, MUF, share of days and losses.

Axes are always path, hour, band, mode: (P, T, B, M), the last as in
`advisor.propagation.mode_axis`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from functools import cached_property, partial, reduce
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.propagation import sporadic_e
from advisor.propagation.hop_rays import HopSky
from advisor.propagation.kept import kept
from advisor.propagation.losses import (
    ES_REFLECTION,
    FAR_HORIZON_DEG,
    HIDDEN_DB,
    HORIZON,
    SCATTERING,
    Rays,
    losses_of,
)
from advisor.propagation.mode_axis import (
    ES_MODES,
    ES_RANKED,
    LAYER_NAMES,
    NO_MODE_DB,
    WEAK,
)
from advisor.propagation.mode_search import es_deciles_mhz, rays_of_modes
from geo.ionosphere.layers import Layers
from geo.paths import Paths
from geo.records import ArrayRecord

_DEEP_SHADOW_DB = 40.0
"""A ray that gathers so much less than plain spreading leaves is none: some 150 km and
more beyond where the flattest one lands. The project's choice. [dB]"""

_ES_GONE_DB = 80.0
"""A reflection loss beyond this is no reflection; the project's choice. [dB]"""


class Modes(ArrayRecord):
    """
    Hop modes over path, hour, band and mode.

    All arrays without another shape are (P, T, B, M).

    Attributes
    ----------
    frequency_mhz : numpy.ndarray
        Shape (B,). [MHz]
    hops : numpy.ndarray of int
        Hops of each mode.
    takeoff_deg, landing_deg : numpy.ndarray
        Elevation at my end and at the far end; NaN where there is no such ray. [deg]
    height_km : numpy.ndarray
        Greatest height, a mean over the hops. [km]
    muf_mhz : numpy.ndarray
        Median basic MUF of the weakest hop, of the extraordinary wave for F2; NaN
        where there is no mode. [MHz]
    returned : numpy.ndarray
        Share of days on which all hops are returned, whatever the horizon.
    above_db : numpy.ndarray
        Shape (P, T, B, L, V): what the L modes of `WEAK` lose beyond their other
        losses in each slice of days, weakest first, on which the band is above their
        MUF, for ground scatter about 0; `NO_MODE_DB` in slices in which it is not. [dB]
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
        Whether the ray leaves the ground and loses less than `HIDDEN_DB` at my horizon.
    """

    frequency_mhz: NDArray[np.float64]
    hops: NDArray[np.int64]
    takeoff_deg: NDArray[np.float64]
    landing_deg: NDArray[np.float64]
    height_km: NDArray[np.float64]
    muf_mhz: NDArray[np.float64]
    returned: NDArray[np.float64]
    above_db: NDArray[np.float64]
    losses_db: Mapping[str, NDArray[np.float64]]
    es_share: NDArray[np.float64]
    es_reflection_db: NDArray[np.float64]
    clear: NDArray[np.bool_]

    @property
    def support(self) -> NDArray[np.float64]:
        """Share of days on which a mode reaches me: returned and clear."""
        return np.where(self.clear, self.returned, 0.0)

    @cached_property
    def mean_power(self) -> NDArray[np.float64]:
        """Power that comes through, a mean over all days; days above the MUF too."""
        through = 10.0 ** (-0.1 * self.loss_db)
        power = self.support * through
        weak = (10.0 ** (-0.1 * self.above_db)).mean(axis=-1)
        power[..., WEAK] += np.where(self.clear, through, 0.0)[..., WEAK] * weak
        power.flags.writeable = False
        return power

    @cached_property
    def path_loss_db(self) -> NDArray[np.float64]:
        """Losses between isotropic antennas but for the reflection, in dB."""
        terms = self.losses_db.items()
        fixed = [loss_db for name, loss_db in terms if name != ES_REFLECTION]
        summed = reduce(np.add, fixed)
        summed.flags.writeable = False
        return summed

    @property
    def loss_db(self) -> NDArray[np.float64]:
        """Sum of all losses between isotropic antennas, (P, T, B, M), in dB."""
        return self.path_loss_db + self.losses_db[ES_REFLECTION]

    def summed(self) -> Modes:
        """
        Return the modes with one sum in place of the terms, a fifth of the memory.

        Returns
        -------
        modes : Modes
            Alike in every level; what each loss is made of is not kept.
        """
        reflection = self.losses_db[ES_REFLECTION]
        kept = {"sum": self.path_loss_db, ES_REFLECTION: reflection}
        return replace(self, losses_db=kept)

    def unscattered(self) -> Modes:
        """
        Return the modes as they were if nothing scattered.

        Returns
        -------
        modes : Modes
            Without the weak signal above the MUF.
        """
        none = np.full(self.above_db.shape, NO_MODE_DB)
        return replace(self, above_db=none)

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


def hop_modes(
    paths: Paths,
    layers: Layers,
    frequency_mhz: ArrayLike,
    horizon_deg: ArrayLike = 3.0,
    cache_dir: Path | None = None,
    *,
    far_horizon_deg: ArrayLike = FAR_HORIZON_DEG,
) -> Modes:
    """
    Work out every hop mode of every path, hour and band.

    Parameters
    ----------
    paths : Paths
        P paths.
    layers : Layers
        Layers at the paths' stations, points in the order of
        ``paths.control_lat_deg.ravel()``; T hours.
    frequency_mhz : array_like
        Shape (B,), working frequencies. [MHz]
    horizon_deg : array_like, optional
        Elevation of the horizon at my end; a scalar or shape (P,). [deg]
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs; as long as the program runs they are anyway.
    far_horizon_deg : array_like, optional
        That at the far end. [deg]

    Returns
    -------
    modes : Modes
        Angles, heights, MUFs, probabilities and losses.

    References
    ----------
    Rays: `geo.ionosphere.homing` for one hop, `geo.ionosphere.chain` for more.
    Sporadic E by ITU-R P.534 (from memory).
    """
    frequency = np.atleast_1d(np.asarray(frequency_mhz, dtype=float))
    sky = HopSky(paths, layers, frequency)
    asked = [getattr(each, f.name) for each in (paths, layers) for f in fields(each)]
    found = kept("rays", [*asked, frequency], partial(rays_of_modes, sky), cache_dir)
    returned = found["returned"].copy()
    # One ray is not returned twice: sporadic E counts on days when the regular E
    # layer does not return the band.
    rest = 1.0 - returned[..., :ES_MODES]
    es_share, es_exceeded = sporadic_e.slices_of_days(returned[..., ES_RANKED])
    returned[..., ES_RANKED] *= rest
    horizon, far_horizon = (
        np.broadcast_to(np.asarray(end_deg, dtype=float), sky.shape[:1])
        for end_deg in (horizon_deg, far_horizon_deg)
    )
    typical, slices = _es_reflection(
        paths, layers, frequency[:, None], returned[..., ES_RANKED], es_exceeded
    )
    with np.errstate(divide="ignore"):
        slices = slices - 10.0 * np.log10(rest[..., None])
    reflection = np.zeros(returned.shape)
    reflection[..., ES_RANKED] = typical
    gone = np.isnan(found["group_km"])
    none = gone | (found["gathered_db"] < -_DEEP_SHADOW_DB)
    rays = Rays(
        paths=paths,
        layers=layers,
        frequency_mhz=frequency,
        layer=LAYER_NAMES,
        hops=found["hops"],
        takeoff_deg=np.nan_to_num(np.maximum(found["takeoff_deg"], 0.0)),
        landing_deg=np.nan_to_num(np.maximum(found["landing_deg"], 0.0)),
        group_km=np.where(gone, 1.0, found["group_km"]),
        gathered_db=np.where(gone, -NO_MODE_DB, found["gathered_db"]),
        touches=np.where(gone, 0.0, found["touches"]),
        dips=np.where(gone, 0.0, found["dips"]),
        horizon_deg=horizon,
        far_horizon_deg=far_horizon,
    )
    losses = losses_of(
        rays, **{ES_REFLECTION: reflection, SCATTERING: found["scattering_db"]}
    )
    return Modes(
        frequency_mhz=frequency,
        hops=found["hops"],
        takeoff_deg=found["takeoff_deg"],
        landing_deg=found["landing_deg"],
        height_km=found["apogee_km"],
        muf_mhz=np.where(none, np.nan, found["muf_mhz"]),
        returned=np.where(none, 0.0, returned),
        above_db=found["above_db"],
        losses_db=losses,
        es_share=es_share,
        es_reflection_db=slices,
        clear=(found["takeoff_deg"] >= 0.0) & (losses[HORIZON] < HIDDEN_DB),
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
    for n, deciles in enumerate(es_deciles_mhz(layers)):
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
