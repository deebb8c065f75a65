"""
What becomes of the rays of a wire on their first hop.

Every ray of the pattern is followed through one hop (`advisor.propagation.first_hop`):
it comes down at the end of it, or it has gone through the layers, or the D region has
taken more than can be spared, or the horizon is in the way. What comes down goes on by
further hops; those are not followed here.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from advisor.antenna.pattern import Pattern
from advisor.engine.question import Question
from advisor.propagation.first_hop import FirstHops, first_hops, nearest_km
from geo.records import ArrayRecord

NEAR_KM, FAR_KM = 800.0, 2500.0
"""Where short skip ends and where far begins. [km]"""

LANDINGS = ("near", "mid", "far", "through", "absorbed", "blocked")
"""What becomes of the power: down within `NEAR_KM`, up to `FAR_KM`, beyond; through
the layers, absorbed, below the horizon."""

ABSORBED_DB = 30.0
"""A ray that loses more than this in the D region on one hop is lost. [dB]"""

SERVED = 0.5
"""Share of days on which a distance must be reached to count as served."""

_SECTORS, _SECTOR_SAMPLES = 8, 15
_SECTOR_DEG = 360.0 / _SECTORS


class HopSky(ArrayRecord):
    """
    What the sky does to a ray, whatever the wire.

    Attributes
    ----------
    azimuth_deg : numpy.ndarray
        Shape (S,), middles of the sectors. [deg]
    horizon_deg : numpy.ndarray
        Shape (S,), elevation of the horizon. [deg]
    hops : FirstHops
        What becomes of the rays of S sectors.
    nearest_km : numpy.ndarray
        Shape (T, B): nearest distance reached on half of the days; NaN if none is.
        [km]
    noon : int
        Place of the hour with the sun highest over the station.
    """

    azimuth_deg: NDArray[np.float64]
    horizon_deg: NDArray[np.float64]
    hops: FirstHops
    nearest_km: NDArray[np.float64]
    noon: int


def hop_sky(
    question: Question,
    r12: NDArray[np.float64],
    azimuth_deg: NDArray[np.float64] | None = None,
) -> HopSky:
    """
    Work out what the sky does to every ray.

    Parameters
    ----------
    question : Question
        Place, hours, bands, horizon and what is assumed of the sky; its targets are
        of no effect.
    r12 : numpy.ndarray
        Shape (T,), twelve-month smoothed sunspot number.
    azimuth_deg : numpy.ndarray, optional
        Shape (S,), middles of sectors of 45 degrees; all round if left out. [deg]

    Returns
    -------
    sky : HopSky
        For `landing_shares`.
    """
    azimuth = np.asarray(
        np.arange(_SECTORS) * _SECTOR_DEG if azimuth_deg is None else azimuth_deg
    )
    place = question.place
    hops = first_hops(
        place.lat_deg,
        place.lon_deg,
        azimuth,
        question.frequency_mhz,
        question.times,
        r12,
        question.conditions.over,
    )
    horizon = question.station.horizon_at(azimuth)
    served = (hops.share >= SERVED) & (hops.absorption_db <= ABSORBED_DB)
    served &= hops.takeoff_deg >= horizon[:, None, None, None]
    return HopSky(
        azimuth_deg=azimuth,
        horizon_deg=horizon,
        hops=hops,
        nearest_km=_mean_nearest_km(hops.landing_km, served),
        noon=int(hops.layers.zenith_deg[:, 0].argmin()),
    )


def _mean_nearest_km(
    landing_km: NDArray[np.float64], served: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Mean over the sectors of the nearest distance, if half of them have one."""
    # The steepest bin holds the ray straight up.
    landing_km = np.where(np.arange(landing_km.shape[-1]) == 0, 0.0, landing_km)
    least = np.fmin.reduce(nearest_km(landing_km, served), axis=0)
    known = np.isfinite(least)
    total = np.where(known, least, 0.0).sum(axis=0)
    count = known.sum(axis=0)
    enough = count >= 0.5 * least.shape[0]
    return np.where(enough, total / np.maximum(count, 1), np.nan)


def landing_shares(
    sky: HopSky,
    patterns: Mapping[str, Pattern],
    names: tuple[str, ...],
    wire_deg: float | None,
) -> NDArray[np.float64]:
    """
    Share out the radiated power of one set-up by what becomes of it.

    Parameters
    ----------
    sky : HopSky
        What the sky does.
    patterns : mapping of str to Pattern
        Pattern for each band the set-up works on.
    names : tuple of str
        Names of the bands of the sky, B of them.
    wire_deg : float or None
        Bearing of the wire; None spreads it over all bearings. [deg]

    Returns
    -------
    shares : numpy.ndarray
        Shape (6, T, B) in the order of `LANDINGS`, sums to 1 over the first axis; NaN
        on bands without a pattern.
    """
    hours, bands = sky.nearest_km.shape
    shares = np.full((len(LANDINGS), hours, bands), np.nan)
    for b, name in enumerate(names):
        if name in patterns:
            shares[:, :, b] = _band_shares(sky, patterns[name], b, wire_deg)
    return shares


def _band_shares(
    sky: HopSky, pattern: Pattern, band: int, wire_deg: float | None
) -> NDArray[np.float64]:
    """Shares of the power on one band, (6, T)."""
    above = _power_above(pattern, sky.azimuth_deg, wire_deg)
    total = above[:, 0].sum()
    edges = np.maximum(sky.hops.edge_deg, sky.horizon_deg[:, None])
    power = np.stack(
        [
            np.diff(np.interp(edge, pattern.elevation_deg, sector))
            for edge, sector in zip(edges, above, strict=True)
        ]
    )[:, None]
    share, landing = sky.hops.share[:, :, :, band], sky.hops.landing_km[:, :, :, band]
    returned = power * share
    spent = sky.hops.absorption_db[:, :, :, band] > ABSORBED_DB
    down = np.where(spent, 0.0, returned)

    def over(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(values.sum(axis=(0, -1)))

    ring = np.digitize(np.nan_to_num(landing), (NEAR_KM, FAR_KM))
    came = [over(np.where(ring == place, down, 0.0).sum(axis=0)) for place in range(3)]
    power = np.broadcast_to(power, share.shape[1:])
    through = over(power) - over(returned.sum(axis=0))
    absorbed = over(np.where(spent, returned, 0.0).sum(axis=0))
    blocked = np.full(through.shape, total) - over(power)
    return np.asarray(np.stack([*came, through, absorbed, blocked]) / total)


def _power_above(
    pattern: Pattern, azimuth_deg: NDArray[np.float64], wire_deg: float | None
) -> NDArray[np.float64]:
    """Power sent above each elevation of the pattern's grid, by sector, (S, E)."""
    if wire_deg is None:
        ring = pattern.gain(
            pattern.elevation_deg[:, None], pattern.azimuth_deg[None, :]
        ).mean(axis=-1)
        gain = np.broadcast_to(ring, (azimuth_deg.size, ring.size))
    else:
        within = (np.arange(_SECTOR_SAMPLES) + 0.5) / _SECTOR_SAMPLES - 0.5
        towards = azimuth_deg[:, None, None] + _SECTOR_DEG * within - wire_deg
        gain = pattern.gain(pattern.elevation_deg[:, None], towards).mean(axis=-1)
    elevation = np.radians(pattern.elevation_deg)
    density = gain * np.cos(elevation)
    cells = 0.5 * (density[:, 1:] + density[:, :-1]) * np.diff(elevation)
    above = np.zeros(gain.shape)
    above[:, :-1] = np.cumsum(cells[:, ::-1], axis=-1)[:, ::-1]
    return above
