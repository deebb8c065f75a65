"""
What becomes of the rays of a wire on their first hop.

Every ray of the pattern is followed through one hop. It meets the E layer first, and
what passes meets the F2 layer, each at its own point of reflection along the ray's
azimuth; then it comes down at the end of the hop, or it has gone through, or the D
region has taken more than can be spared. What comes down goes on by further hops;
those are not followed here.

Arrays are over sector of azimuth, hour, band and bin of hop length: (S, T, B, J).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.antenna.pattern import Pattern
from advisor.engine.question import Question
from advisor.propagation import losses, muf
from geo.ionosphere.flare import fadeout_db
from geo.ionosphere.hops import (
    E_MIRROR_HEIGHT_KM,
    MAX_HOP_F2_KM,
    f2_mirror_height_km,
    hop_length_km,
    takeoff_angle_deg,
)
from geo.ionosphere.layers import Layers
from geo.sphere import destination

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
_NODE_KM = 200.0
_HOP_EDGES_KM = np.concatenate(
    [
        np.arange(0.0, 1000.0, 50.0),
        np.arange(1000.0, MAX_HOP_F2_KM, 100.0),
        np.arange(MAX_HOP_F2_KM, 6401.0, 200.0),
    ]
)
_NODES_KM = np.arange(0.0, 0.5 * _HOP_EDGES_KM[-1] + 1.0, _NODE_KM)


@dataclass(frozen=True)
class HopSky:
    """
    What the sky does to a ray, whatever the wire.

    Attributes
    ----------
    azimuth_deg : numpy.ndarray
        Shape (S,), middles of the sectors. [deg]
    horizon_deg : numpy.ndarray
        Shape (S,), elevation of the horizon. [deg]
    edge_deg : numpy.ndarray
        Shape (S, T, B, J + 1), take-off angles between the bins, falling from 90. [deg]
    landing_km : numpy.ndarray
        Shape (2, S, T, B, J): where a ray of the bin comes down off the E and the F2
        layer. [km]
    share : numpy.ndarray
        Shape (2, S, T, B, J): share of days on which either layer returns it.
    absorption_db : numpy.ndarray
        Shape (2, S, T, B, J), absorption on either way. [dB]
    nearest_km : numpy.ndarray
        Shape (T, B): nearest distance reached on half of the days; NaN if none is.
        [km]
    noon : int
        Place of the hour with the sun highest over the station.
    """

    azimuth_deg: NDArray[np.float64]
    horizon_deg: NDArray[np.float64]
    edge_deg: NDArray[np.float64]
    landing_km: NDArray[np.float64]
    share: NDArray[np.float64]
    absorption_db: NDArray[np.float64]
    nearest_km: NDArray[np.float64]
    noon: int


class _Around:
    """Layers around the station: values read at a distance along each sector."""

    def __init__(
        self,
        question: Question,
        azimuth_deg: NDArray[np.float64],
        r12: NDArray[np.float64],
    ) -> None:
        lat, lon = destination(
            question.place.lat_deg,
            question.place.lon_deg,
            azimuth_deg[:, None],
            _NODES_KM,
        )
        self.layers: Layers = question.conditions.over(
            lat.ravel(), lon.ravel(), question.times, r12
        )
        self._sectors = azimuth_deg.size

    def at(
        self, values: NDArray[np.float64], away_km: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """
        Read values of the layers at distances along each sector.

        ``values`` is (T, S * R) or (S * R,); ``away_km`` broadcasts to (S, T, B, J).
        """
        rows = np.atleast_2d(values).reshape(-1, self._sectors, _NODES_KM.size)
        along = rows.transpose(1, 0, 2)[:, :, None, :]
        place = away_km / _NODE_KM
        first = np.minimum(place.astype(np.intp), _NODES_KM.size - 2)
        shape = np.broadcast_shapes((*along.shape[:3], 1), first.shape)
        first, place = np.broadcast_to(first, shape), np.broadcast_to(place, shape)
        along = np.broadcast_to(along, (*shape[:3], _NODES_KM.size))
        low = np.take_along_axis(along, first, axis=-1)
        high = np.take_along_axis(along, first + 1, axis=-1)
        return np.asarray(low + (place - first) * (high - low))


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

    Notes
    -----
    Heights, MUFs, the day-to-day spread, screening and absorption are those of
    `advisor.propagation.modes` at the middle of the hop. Three things are simpler: one
    point of reflection for every hop length; what the E layer stops comes down off the
    E layer; a ray flatter than the longest hop of the standard has that hop's MUF and
    mirror height. The F1 layer and sporadic E are left out.
    """
    azimuth = np.asarray(
        np.arange(_SECTORS) * _SECTOR_DEG if azimuth_deg is None else azimuth_deg
    )
    around = _Around(question, azimuth, r12)
    layers, at = around.layers, around.at
    press = question.frequency_mhz[None, None, :, None]
    horizon = question.station.horizon_at(azimuth)

    edges = _HOP_EDGES_KM
    height = f2_mirror_height_km(
        press,
        np.minimum(edges, MAX_HOP_F2_KM),
        at(layers.fof2_mhz, 0.5 * edges[None, None, None]),
        at(layers.foe_mhz, 0.5 * edges[None, None, None]),
        at(layers.m3000f2, 0.5 * edges[None, None, None]),
        r12[None, :, None, None],
    )
    # Far above the critical frequency, where nothing returns, the formula for the
    # height runs below the E layer.
    edge = takeoff_angle_deg(edges, np.maximum(height, E_MIRROR_HEIGHT_KM))
    # Where the height jumps a longer hop may leave steeper: such rays belong to the
    # shorter one.
    edge = np.maximum(np.minimum.accumulate(edge, axis=-1), 0.0)
    takeoff = 0.5 * (edge[..., :-1] + edge[..., 1:])
    middle = (0.5 * (edges[:-1] + edges[1:]))[None, None, None]
    f2 = _f2_share(around, press, middle)
    e_hop = hop_length_km(takeoff, E_MIRROR_HEIGHT_KM)
    e = _e_share(around, press, takeoff, 0.5 * e_hop)
    landing = np.stack([e_hop, np.broadcast_to(middle, e_hop.shape)])
    absorption = np.stack(
        [_absorption_db(around, press, takeoff, 0.5 * hop, r12) for hop in landing]
    )
    share = np.stack([e, (1.0 - e) * f2])
    near_end = np.stack(
        [
            hop_length_km(edge[..., :-1], E_MIRROR_HEIGHT_KM),
            np.broadcast_to(edges[:-1], e_hop.shape),
        ]
    )
    clear = takeoff >= horizon[:, None, None, None]
    good = (share >= SERVED) & (absorption <= ABSORBED_DB) & clear
    return HopSky(
        azimuth_deg=azimuth,
        horizon_deg=horizon,
        edge_deg=edge,
        landing_km=landing,
        share=share,
        absorption_db=absorption,
        nearest_km=_nearest_km(np.where(good, near_end, np.nan)),
        noon=int(layers.zenith_deg[:, 0].argmin()),
    )


def _nearest_km(served_km: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean over the sectors of the nearest distance, if half of them have one."""
    least = np.fmin.reduce(np.fmin.reduce(served_km, axis=-1), axis=0)
    known = np.isfinite(least)
    total = np.where(known, least, 0.0).sum(axis=0)
    count = known.sum(axis=0)
    enough = count >= 0.5 * least.shape[0]
    return np.where(enough, total / np.maximum(count, 1), np.nan)


def _f2_share(
    around: _Around, press: NDArray[np.float64], hop_km: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Share of days on which the F2 layer returns a hop, (S, T, B, J)."""
    layers, half = around.layers, 0.5 * hop_km
    fof2, foe, m3000 = (
        around.at(values, half)
        for values in (layers.fof2_mhz, layers.foe_mhz, layers.m3000f2)
    )
    ratio = fof2 / foe
    longest = muf.longest_f2_hop_km(muf.m_factor(m3000, ratio), ratio)
    top = muf.f2_muf_mhz(
        np.minimum(hop_km, longest),
        fof2,
        foe,
        m3000,
        around.at(layers.gyro_mhz, half),
    )
    spread = muf.with_map_error(
        around.at(layers.fof2_lower_ratio, half),
        around.at(layers.fof2_upper_ratio, half),
        around.at(layers.unsounded, half),
    )
    return muf.support_probability(press, top, *spread)


def _e_share(
    around: _Around,
    press: NDArray[np.float64],
    takeoff_deg: NDArray[np.float64],
    away_km: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Share of days on which the E layer stops a ray, (S, T, B, J)."""
    foe = around.at(around.layers.foe_mhz, away_km)
    return muf.support_probability(
        press,
        muf.screening_mhz(takeoff_deg, foe),
        muf.E_LOWER_RATIO,
        muf.E_UPPER_RATIO,
    )


def _absorption_db(
    around: _Around,
    press: NDArray[np.float64],
    takeoff_deg: NDArray[np.float64],
    away_km: NDArray[np.float64],
    r12: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Absorption of one hop, the D region read under its middle, (S, T, B, J)."""
    layers = around.layers
    index = losses.absorption_index(layers.zenith_deg, r12[:, None])
    return np.asarray(
        losses.absorption_db(
            press,
            takeoff_deg,
            1,
            around.at(index, away_km),
            around.at(layers.gyro_100km_mhz, away_km),
        )
        + fadeout_db(press, around.at(layers.fadeout_mhz, away_km), takeoff_deg)
    )


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
    horizon = sky.horizon_deg[:, None, None]
    edges = np.maximum(sky.edge_deg[:, :, band], horizon)
    power = np.stack(
        [
            np.diff(np.interp(edge, pattern.elevation_deg, sector), axis=-1)
            for edge, sector in zip(edges, above, strict=True)
        ]
    )
    share, landing = sky.share[:, :, :, band], sky.landing_km[:, :, :, band]
    returned = power * share
    spent = sky.absorption_db[:, :, :, band] > ABSORBED_DB
    down = np.where(spent, 0.0, returned)

    def over(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(values.sum(axis=(0, -1)))

    ring = np.digitize(landing, (NEAR_KM, FAR_KM))
    came = [over(np.where(ring == place, down, 0.0).sum(axis=0)) for place in range(3)]
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
