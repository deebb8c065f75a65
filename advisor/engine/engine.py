"""
The engine: one question in, chances over set-up, bearing, path, hour and band out.

The sky is worked out once per solar activity (`link_for`), the wires once per
set-up and band (a `Pattern`), and the two meet in `contact_chance`, where a wire is
only ever rotated. Every command is a reduction of these arrays.

Axes are always in the order bearing, path, hour, band, mode: (G, P, T, B, M).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.antenna.grazing import grazing_gain
from advisor.antenna.ground import ground_by_name
from advisor.antenna.pattern import Pattern
from advisor.engine.question import Question
from advisor.engine.wires import FAR_END_GROUND
from advisor.propagation.groundpath import ground_loss_db
from advisor.propagation.lightning import atmospheric_noise
from advisor.propagation.longpath import GAIN_TAKEOFF_DEG
from advisor.propagation.longpath_band import LongpathBand, longpath_band
from advisor.propagation.losses import ES_REFLECTION
from advisor.propagation.modes import (
    E_RANKED,
    ES_RANKED,
    F2_RANKED,
    Modes,
    hop_modes,
)
from advisor.propagation.noise import (
    KT0_DBW_HZ,
    Noise,
    combine,
    galactic_noise,
    man_made_noise,
)
from advisor.reliability.chance import (
    FAINT_DB,
    Ends,
    both_ways_weight,
    chance,
    median_margin_db,
    signal_deciles_db,
)
from advisor.reliability.day_states import NO_SIGNAL_DB, Routes
from geo.ionosphere.layers import Layers
from geo.paths import CONTROL_POINTS, FAR_END, MID, NEAR_END, Paths, paths_to
from geo.sun import month_phase

MOST_GAIN_DBI = 15.0
"""More than a wire gives; the project's choice. [dBi]"""

NO_GAIN_DB = -300.0
"""Stands for a band a set-up does not work on: no contact, but finite. [dB]"""

STEEP_DB_PER_DEG = 2.0
"""What a long path loses for each degree that my horizon is above all angles of the
method. Steeper rays take more hops, by geometry a quarter of one a degree in 10 000 km;
each is taken at 8 dB, 2 in the bounce and 6 in the D layer (ours, no source). [dB]"""

GROUND_RECEIVE_DB = 20.0 * np.log10(2.0)
"""Gain on receiving a ground wave is this much below that on sending, because the
field at the ground is that of wave and mirror image together. [dB]"""


@dataclass(frozen=True)
class Gains:
    """
    Gain of one end's antenna towards every route the signal can take.

    Leading axes G are bearings tried; the far end has none.

    Attributes
    ----------
    hop_db : numpy.ndarray
        Shape (..., P, T, B, M): towards the hop modes. [dBi]
    longpath_db : numpy.ndarray
        Shape (..., P, B): greatest gain at the low angles of long paths. [dBi]
    ground_db : numpy.ndarray
        Shape (..., P, B): along the ground, see `grazing_gain`. [dBi]
    efficiency_db : numpy.ndarray
        Shape (B,): radiation efficiency. Receiving, external noise is lost in a
        lossy antenna just as the signal is, so it is divided out. [dB]
    """

    hop_db: NDArray[np.float64]
    longpath_db: NDArray[np.float64]
    ground_db: NDArray[np.float64]
    efficiency_db: NDArray[np.float64]

    def raised_by(self, more_db: NDArray[np.float64]) -> Gains:
        """
        Return the gains with something added on every band.

        Parameters
        ----------
        more_db : numpy.ndarray
            Shape (B,). [dB]

        Returns
        -------
        gains : Gains
            The same, raised.
        """
        return Gains(
            self.hop_db + more_db[:, None],
            self.longpath_db + more_db,
            self.ground_db + more_db,
            self.efficiency_db,
        )


@dataclass(frozen=True)
class Link:
    """
    All of the link that does not depend on my wire.

    Attributes
    ----------
    paths : Paths
        P paths: the sample points of all targets, one target after the other.
    layers : Layers
        Layers at the control points.
    modes : Modes
        Hop modes over (P, T, B, M).
    longpath : LongpathBand
        The long-path band.
    ground_loss_db : numpy.ndarray
        Shape (P, B): loss of the ground wave; infinite out of its reach. [dB]
    far : Gains
        The far end's antenna.
    heard_db, hear_db : numpy.ndarray
        Shape (P, T, B): power over noise and need at the far end and here, before
        gains and losses. [dB]
    signal_spread_db : tuple of numpy.ndarray
        Upper and lower decile of the signal, (P, 1, 1). [dB]
    noise_far, noise_here : Noise
        Noise at both ends, (P, T, B).
    """

    paths: Paths
    layers: Layers
    modes: Modes
    longpath: LongpathBand
    ground_loss_db: NDArray[np.float64]
    far: Gains
    heard_db: NDArray[np.float64]
    hear_db: NDArray[np.float64]
    signal_spread_db: tuple[NDArray[np.float64], NDArray[np.float64]]
    noise_far: Noise
    noise_here: Noise


@dataclass(frozen=True)
class Contact:
    """
    Chances of one set-up, (G, P, T, B).

    Attributes
    ----------
    heard : numpy.ndarray
        Chance that the far end copies me.
    hear : numpy.ndarray
        Chance that I copy the far end.
    both : numpy.ndarray
        Chance of a contact: both at once.
    """

    heard: NDArray[np.float64]
    hear: NDArray[np.float64]
    both: NDArray[np.float64]


def link_for(
    question: Question, r12: ArrayLike, far_patterns: Mapping[str, Pattern]
) -> Link:
    """
    Work out the sky's half of the question for one solar activity.

    Parameters
    ----------
    question : Question
        What is asked.
    r12 : array_like
        Twelve-month smoothed sunspot number, scalar or shape (T,).
    far_patterns : mapping of str to Pattern
        Pattern of the far end's antenna for each band name. Its bearing is not
        known, so its gain is averaged over azimuth.

    Returns
    -------
    link : Link
        Modes, losses and levels without my wire.
    """
    station = question.station
    targets = question.targets
    paths = paths_to(
        question.place.lat_deg,
        question.place.lon_deg,
        np.concatenate([target.lat_deg for target in targets]),
        np.concatenate([target.lon_deg for target in targets]),
        long_path=question.long_path,
    )
    index = np.broadcast_to(np.asarray(r12, dtype=float), question.times.shape)
    layers = question.conditions.over(
        paths.control_lat_deg.ravel(),
        paths.control_lon_deg.ravel(),
        question.times,
        index,
    )
    horizon = station.horizon_at(paths.bearing_deg)
    modes = hop_modes(paths, layers, question.frequency_mhz, horizon)
    noise_far = _noise_at(question, layers, FAR_END, station.far_end.noise, 0.0)
    noise_here = _noise_at(
        question, layers, NEAR_END, station.noise, station.noise_trim_db
    )
    need = KT0_DBW_HZ + question.emission.snr_db_hz
    return Link(
        paths=paths,
        layers=layers,
        modes=modes,
        longpath=longpath_band(paths, layers, question.conditions.over),
        ground_loss_db=ground_loss_db(paths, question.frequency_mhz, station.ground),
        far=_far_gains(question, paths, modes, far_patterns),
        heard_db=_dbw(station.power_w) - noise_far.factor_db - need,
        hear_db=_dbw(station.far_end.power_w) - noise_here.factor_db - need,
        signal_spread_db=_signal_spread(layers),
        noise_far=noise_far,
        noise_here=noise_here,
    )


def with_own_noise(question: Question, link: Link) -> Link:
    """
    Take the noise at my end anew from the question, under the same sky.

    Parameters
    ----------
    question : Question
        Holds the noise environment and its trim.
    link : Link
        The sky's half of the same question but for that.

    Returns
    -------
    link : Link
        With that noise.
    """
    station = question.station
    noise = _noise_at(
        question, link.layers, NEAR_END, station.noise, station.noise_trim_db
    )
    need = KT0_DBW_HZ + question.emission.snr_db_hz
    level = _dbw(station.far_end.power_w) - noise.factor_db - need
    return replace(link, hear_db=level, noise_here=noise)


def _dbw(power_w: float) -> float:
    """Power in dB over one watt."""
    return float(10.0 * np.log10(power_w))


def _decibels(ratio: NDArray[np.float64]) -> NDArray[np.float64]:
    """Ratio in dB, floored where there is nothing."""
    return np.asarray(10.0 * np.log10(np.maximum(ratio, 10.0 ** (NO_GAIN_DB / 10.0))))


def _noise_at(
    question: Question, layers: Layers, end: int, environment: str, trim_db: float
) -> Noise:
    """Noise at one end of every path, (P, T, B): man-made, galactic, lightning."""

    def there(values: NDArray[np.float64]) -> NDArray[np.float64]:
        shaped = values.reshape(values.shape[0], -1, CONTROL_POINTS)
        return shaped[:, :, end].T[:, :, None]

    frequency = question.frequency_mhz
    # The far end is any station of its kind; mine is where it is.
    local = man_made_noise(environment, frequency, any_place=end == FAR_END)
    trimmed = Noise(local.factor_db + trim_db, local.upper_db, local.lower_db)
    lightning = atmospheric_noise(
        frequency,
        there(layers.lat_deg[None, :]),
        there(layers.lon_deg[None, :]),
        month_phase(question.times)[None, :, None],
        there(layers.local_hour),
        there(layers.zenith_deg),
    )
    galactic = galactic_noise(frequency, there(layers.fof2_mhz))
    return combine([trimmed, galactic, lightning])


def _signal_spread(
    layers: Layers,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Signal deciles from the latitude of the path's middle, (P, 1, 1)."""
    middle = layers.geomagnetic_lat_deg.reshape(-1, CONTROL_POINTS)[:, MID]
    upper, lower = signal_deciles_db(middle)
    return upper[:, None, None], lower[:, None, None]


def _ratio_spread(
    link: Link, noise: Noise
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Deciles of signal over noise: the noise's other side counts (P.533 sec. 10)."""
    upper, lower = link.signal_spread_db
    return np.hypot(upper, noise.lower_db), np.hypot(lower, noise.upper_db)


def _low_angles_deg(horizon_deg: ArrayLike) -> NDArray[np.float64]:
    """
    Elevations at which the long-path method takes an antenna's greatest gain.

    From the horizon, (...), upwards, (..., A), of those the method knows; the highest
    alone where the horizon is above it.
    """
    lowest, highest = GAIN_TAKEOFF_DEG
    first = np.maximum(np.asarray(horizon_deg, dtype=float), lowest)[..., None]
    return np.asarray(np.minimum(first + np.arange(highest - lowest + 1.0), highest))


def steep_loss_db(question: Question, link: Link) -> NDArray[np.float64]:
    """
    Loss of long paths because my horizon is above all angles of their method.

    Parameters
    ----------
    question : Question
        Holds the horizon.
    link : Link
        The sky's half.

    Returns
    -------
    loss_db : numpy.ndarray
        Shape (P,); 0 up to a horizon of 8 degrees. [dB]
    """
    horizon = question.station.horizon_at(link.paths.bearing_deg)
    return np.asarray(STEEP_DB_PER_DEG * np.maximum(horizon - GAIN_TAKEOFF_DEG[1], 0.0))


def _far_gains(
    question: Question,
    paths: Paths,
    modes: Modes,
    far_patterns: Mapping[str, Pattern],
) -> Gains:
    """Far end's gains, averaged over azimuth because its bearing is not known."""
    hop, longpath, ground, efficiency = [], [], [], []
    soil = ground_by_name(FAR_END_GROUND)
    for b, band in enumerate(question.bands):
        pattern = far_patterns[band.name]
        ring = (pattern.vertical + pattern.horizontal).mean(axis=-1)
        takeoff = np.clip(modes.takeoff_deg[:, :, b], 0.0, 90.0)
        hop.append(np.interp(takeoff, pattern.elevation_deg, ring))
        low = _low_angles_deg(0.0)
        longpath.append(np.interp(low, pattern.elevation_deg, ring).max())
        ground.append(grazing_gain(pattern, soil, pattern.azimuth_deg).mean())
        efficiency.append(pattern.efficiency)
    each = (paths.distance_km.size, len(question.bands))
    return Gains(
        _decibels(np.stack(hop, axis=2)),
        np.broadcast_to(_decibels(np.array(longpath)), each),
        np.broadcast_to(_decibels(np.array(ground)), each),
        _decibels(np.array(efficiency)),
    )


def wire_gains(
    question: Question,
    link: Link,
    patterns: Mapping[str, Pattern],
    bearing_deg: ArrayLike,
    *,
    open_only: bool = False,
) -> Gains:
    """
    Gain of my wire towards every route, for every bearing it could be hung on.

    Parameters
    ----------
    question : Question
        Holds bands, ground and horizon.
    link : Link
        The sky's half.
    patterns : mapping of str to Pattern
        Pattern for each band the set-up works on.
    bearing_deg : array_like
        Shape (G,), wire bearings. [deg]
    open_only : bool, optional
        Look only towards hop modes that can carry a contact with `MOST_GAIN_DBI`, which
        on many bearings saves most of the work.

    Returns
    -------
    gains : Gains
        With G as leading axis; `NO_GAIN_DB` on bands without a pattern, and towards
        hop modes that were not looked at.
    """
    wires = np.atleast_1d(np.asarray(bearing_deg, dtype=float))
    towards = link.paths.bearing_deg[None, :] - wires[:, None]
    takeoff = np.clip(link.modes.takeoff_deg, 0.0, 90.0)
    flat = (*towards.shape, len(question.bands))
    hop = np.full((wires.size, *takeoff.shape), NO_GAIN_DB)
    wanted = _can_carry(link) if open_only else np.ones(takeoff.shape, dtype=bool)
    longpath, ground = np.full(flat, NO_GAIN_DB), np.full(flat, NO_GAIN_DB)
    efficiency = np.ones(len(question.bands))
    soil = ground_by_name(question.station.ground)
    low = _low_angles_deg(question.station.horizon_at(link.paths.bearing_deg))
    steep_db = steep_loss_db(question, link)
    for b, band in enumerate(question.bands):
        pattern = patterns.get(band.name)
        if pattern is None:
            continue
        path, hour, mode = np.nonzero(wanted[:, :, b])
        hop[:, path, hour, b, mode] = pattern.gain_dbi(
            takeoff[path, hour, b, mode], towards[:, path]
        )
        reached = pattern.gain_dbi(low, towards[..., None]).max(axis=-1)
        longpath[..., b] = np.maximum(reached - steep_db, NO_GAIN_DB)
        ground[..., b] = _decibels(grazing_gain(pattern, soil, towards))
        efficiency[b] = pattern.efficiency
    return Gains(hop, longpath, ground, _decibels(efficiency))


def _can_carry(link: Link) -> NDArray[np.bool_]:
    """Modes (P, T, B, M) that are not too faint even for a strong antenna."""
    modes, far = link.modes, link.far
    slack = np.maximum(link.heard_db, link.hear_db) - far.efficiency_db + MOST_GAIN_DBI
    least = modes.path_loss_db - far.hop_db + FAINT_DB
    loudest = np.where(modes.support > 0.0, -modes.losses_db[ES_REFLECTION], -np.inf)
    es = np.where(modes.clear[..., ES_RANKED, None], -modes.es_reflection_db, -np.inf)
    loudest[..., ES_RANKED] = np.maximum(loudest[..., ES_RANKED], es.max(axis=-1))
    far_off = (link.longpath.weight > 0.0)[:, None, None, None]
    return (slack[..., None] + loudest > least) | (far_off & (modes.support > 0.0))


def contact_chance(link: Link, own: Gains) -> Contact:
    """
    Let lobe meet hop: chance in both directions.

    Parameters
    ----------
    link : Link
        The sky's half.
    own : Gains
        My wire's gains, G bearings.

    Returns
    -------
    contact : Contact
        Chances (G, P, T, B).
    """
    found = chance(_routes(link, own), _ends(link, own))
    return Contact(*found.reshape(3, -1, *link.heard_db.shape))


def contact_margin_db(link: Link, own: Gains) -> NDArray[np.float64]:
    """
    Margin in the worse direction on the middle one of the days with any route at all.

    Parameters
    ----------
    link : Link
        The sky's half.
    own : Gains
        My wire's gains at one bearing.

    Returns
    -------
    margin_db : numpy.ndarray
        Shape (P, T, B); NaN where no day has a route. [dB]
    """
    found = median_margin_db(_routes(link, own), _ends(link, own))
    return found.reshape(link.heard_db.shape)


def _ends(link: Link, own: Gains) -> Ends:
    """Say what the two ends make of a margin, cells of (P, T, B) in a row."""
    body = link.heard_db.shape

    def flat(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.broadcast_to(values, body).ravel()

    heard = link.heard_db - link.far.efficiency_db
    hear = link.hear_db - own.efficiency_db
    signal = 0.5 * (link.signal_spread_db[0] + link.signal_spread_db[1])
    noises = (
        0.5 * (noise.upper_db + noise.lower_db)
        for noise in (link.noise_far, link.noise_here)
    )
    spreads = [
        tuple(flat(side) for side in _ratio_spread(link, noise))
        for noise in (link.noise_far, link.noise_here)
    ]
    return Ends(
        heard_spread_db=(spreads[0][0], spreads[0][1]),
        hear_spread_db=(spreads[1][0], spreads[1][1]),
        hear_offset_db=flat(hear - heard),
        both_ways_weight=flat(both_ways_weight(signal, *noises)),
    )


def _routes(link: Link, own: Gains) -> Routes:
    """Routes with the margins at the far end, cells of (P, T, B) in a row."""
    modes, far = link.modes, link.far
    body = link.heard_db.shape
    level = link.heard_db - far.efficiency_db
    hop = level[..., None] + far.hop_db - modes.path_loss_db
    es = np.where(
        modes.clear[..., ES_RANKED, None],
        hop[..., ES_RANKED, None] - modes.es_reflection_db,
        NO_SIGNAL_DB,
    )
    low = level + (far.longpath_db)[:, None, :]
    along = level + (far.ground_db - link.ground_loss_db)[:, None, :]

    def flat(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return values.reshape(-1, *values.shape[3:])

    def turned(gain_db: NDArray[np.float64]) -> NDArray[np.float64]:
        every = np.broadcast_to(gain_db[:, :, None, :], (len(gain_db), *body))
        return every.reshape(len(gain_db), -1)

    support = flat(modes.support)
    return Routes(
        e_support=support[:, E_RANKED],
        f2_support=support[:, F2_RANKED],
        f2_screened=flat(modes.screened)[:, F2_RANKED],
        e_margin_db=flat(hop)[:, E_RANKED],
        f2_margin_db=flat(hop)[:, F2_RANKED],
        es_share=flat(modes.es_share),
        es_margin_db=flat(es),
        ground_margin_db=flat(along) - GROUND_RECEIVE_DB,
        longpath_margin_db=flat(
            low[..., None] - link.longpath.loss_db(modes.frequency_mhz)
        ),
        longpath_weight=flat(
            np.broadcast_to(link.longpath.weight[:, None, None], body)
        ),
        hop_gain_db=own.hop_db.reshape(len(own.hop_db), -1, own.hop_db.shape[-1]),
        ground_gain_db=turned(own.ground_db),
        longpath_gain_db=turned(own.longpath_db),
    )
