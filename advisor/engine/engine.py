"""
The engine: one question in, chances over set-up, bearing, path, hour and band out.

The sky is worked out once per solar activity (`link_for` for a question, `link_over`
for any paths, layers and frequencies), the wires once per
set-up and band (a `Pattern`), and the two meet in `contact_chance`, where a wire is
only ever rotated. Every command is a reduction of these arrays.

Axes are always in the order bearing, path, hour, band, mode: (G, P, T, B, M).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.antenna.grazing import grazing_gain
from advisor.antenna.ground import Ground, ground_by_name
from advisor.antenna.hills import Hills, hills_of
from advisor.antenna.pattern import Pattern, gain_in_dbi
from advisor.engine.gains import NO_GAIN_DB, Gains, decibels, far_gains
from advisor.engine.link import Link, either_way, power_through
from advisor.engine.months import month_layers
from advisor.engine.question import Question
from advisor.engine.wires import far_end_sigmas_db
from advisor.propagation.groundpath import ground_loss_db
from advisor.propagation.losses import ES_REFLECTION, FAR_HORIZON_DEG
from advisor.propagation.mode_axis import ES_RANKED, SCATTER, WEAK
from advisor.propagation.modes import hop_modes
from advisor.propagation.noise import KT0_DBW_HZ
from advisor.propagation.noise_sources import lightning_share, noise_sources
from advisor.reliability.chance import FAINT_DB, signal_deciles_db
from geo.ionosphere.layers import Layers
from geo.paths import FAR_END, MID, NEAR_END, Paths, at_stations, paths_to
from geo.sphere import EARTH_CIRCUMFERENCE_KM

MOST_GAIN_DBI = 15.0
"""More than a wire gives; the project's choice. [dBi]"""

BOTH_WAYS_FROM_KM = 9000.0
"""Distance from which the way round the other side of the Earth is looked at too. The
project's choice: nearer the long way is over three times as long. [km]"""

GROUND_RECEIVE_DB = 20.0 * np.log10(2.0)
"""Gain on receiving a ground wave is this much below that on sending, because the
field at the ground is that of wave and mirror image together. [dB]"""


@dataclass(frozen=True)
class End:
    """
    What one end of the link sends with and hears through.

    Attributes
    ----------
    power_w : float
        Power. [W]
    noise : str
        Kind of place, a name of `advisor.propagation.noise`.
    noise_trim_db : float
        Man-made noise over that of such a place. [dB]
    learned_db : array_like
        Of my end all noise, of the far end its gain, over what is worked out; a scalar
        or shape (B,). [dB]
    """

    power_w: float
    noise: str
    noise_trim_db: float = 0.0
    learned_db: ArrayLike = 0.0


def link_for(
    question: Question,
    r12: ArrayLike,
    far_patterns: Mapping[str, Pattern],
    *,
    own_way: bool = False,
    month: int = 0,
    cache_dir: Path | None = None,
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
        Pattern of the far end's antenna for each band name.
    own_way : bool, optional
        As in `link_at`.
    month : int, optional
        As in `advisor.engine.months.month_layers`.
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs.

    Returns
    -------
    link : Link
        Modes, losses and levels without my wire.
    """
    each = [far_patterns[band.name] for band in question.bands]
    return link_at(
        question,
        r12,
        question.frequency_mhz,
        each,
        own_way=own_way,
        month=month,
        cache_dir=cache_dir,
    )


def link_at(
    question: Question,
    r12: ArrayLike,
    frequency_mhz: ArrayLike,
    far_patterns: Sequence[Pattern],
    horizon_deg: ArrayLike | None = None,
    *,
    own_way: bool = False,
    month: int = 0,
    cache_dir: Path | None = None,
) -> Link:
    """
    Work out the sky's half of the question on other frequencies than its bands'.

    Parameters
    ----------
    question : Question
        What is asked; its bands are of no account.
    r12 : array_like
        As in `link_for`.
    frequency_mhz : array_like
        Shape (B,). [MHz]
    far_patterns : sequence of Pattern
        Pattern of the far end's antenna on each frequency.
    horizon_deg : array_like, optional
        Elevation of the horizon at both ends, a scalar or shape (P,); that of the
        station and the usual one there if left out. [deg]
    own_way : bool, optional
        Where all goes the long way round, lay the paths that way too.
    month : int, optional
        As in `advisor.engine.months.month_layers`.
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs.

    Returns
    -------
    link : Link
        Modes, losses and levels without my wire.
    """
    targets = question.targets
    lat = np.concatenate([target.lat_deg for target in targets])
    lon = np.concatenate([target.lon_deg for target in targets])

    def one_way(some: NDArray[np.intp], long_path: bool) -> Link:
        return _one_way(
            question,
            np.broadcast_to(np.asarray(r12, dtype=float), question.times.shape),
            frequency_mhz,
            far_patterns,
            horizon_deg
            if horizon_deg is None
            else np.broadcast_to(np.asarray(horizon_deg, float), lat.shape)[some],
            paths_to(
                question.place.lat_deg,
                question.place.lon_deg,
                lat[some],
                lon[some],
                long_path=long_path,
            ),
            month,
            cache_dir,
        )

    link = one_way(np.arange(lat.size), question.long_path)
    far = np.flatnonzero(link.paths.distance_km > BOTH_WAYS_FROM_KM)
    if question.long_path or not far.size:
        return link
    other = one_way(far, True)
    better = power_through(other) > power_through(link)[far]
    if own_way and better.all() and far.size == lat.size:
        return other
    return either_way(link, other, far, better)


def _one_way(
    question: Question,
    r12: NDArray[np.float64],
    frequency_mhz: ArrayLike,
    far_patterns: Sequence[Pattern],
    horizon_deg: NDArray[np.float64] | None,
    paths: Paths,
    month: int,
    cache_dir: Path | None,
) -> Link:
    """Link over some paths of a question, one way round."""
    station = question.station
    layers = month_layers(question, r12, paths, month)
    link = link_over(
        paths,
        layers,
        frequency_mhz,
        far_patterns,
        here=End(
            station.power_w,
            station.noise,
            station.noise_trim_db,
            station.learned_noise_db(frequency_mhz),
        ),
        there=End(
            station.far_end.power_w,
            station.far_end.noise,
            learned_db=station.learned.far_end_db,
        ),
        far_sigma_db=far_end_sigmas_db(station.far_end, frequency_mhz),
        snr_db_hz=question.emission.snr_db_hz,
        horizon_deg=station.edge_at(paths.bearing_deg)
        if horizon_deg is None
        else horizon_deg,
        far_horizon_deg=FAR_HORIZON_DEG if horizon_deg is None else horizon_deg,
        ground=station.ground,
        cache_dir=cache_dir,
    )
    long = np.broadcast_to(np.array(question.long_path), link.long_way.shape)
    shorter = paths.distance_km[:, None, None] <= 0.5 * EARTH_CIRCUMFERENCE_KM
    heard, bands = question.heard, link.heard_db.shape[-1]
    return replace(
        link,
        long_way=long | ~shorter,
        count=station.far_end.at_least_one_of,
        today=None if heard is None else heard.over(paths, question.times, bands),
    )


def link_over(
    paths: Paths,
    layers: Layers,
    frequency_mhz: ArrayLike,
    far_patterns: Sequence[Pattern],
    *,
    here: End,
    there: End,
    snr_db_hz: float,
    horizon_deg: ArrayLike,
    ground: str,
    far_horizon_deg: ArrayLike = FAR_HORIZON_DEG,
    far_sigma_db: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None,
    cache_dir: Path | None = None,
) -> Link:
    """
    Work out the sky's half of a link over any paths on any frequencies.

    Parameters
    ----------
    paths : Paths
        P paths.
    layers : Layers
        Layers at their stations, T hours.
    frequency_mhz : array_like
        Shape (B,), 1.5 to 60. [MHz]
    far_patterns : sequence of Pattern
        Pattern of the far end's antenna on each frequency. Its bearing is not known,
        so its gain is averaged over azimuth.
    here, there : End
        Both ends. The noise there is that of any place of its kind.
    snr_db_hz : float
        Signal-to-noise density that is needed. [dB Hz]
    horizon_deg : array_like
        Elevation of my horizon, a scalar or shape (P,). [deg]
    ground : str
        Kind of ground at my end, for the ground wave.
    far_horizon_deg : array_like, optional
        Elevation of the horizon there, a scalar or shape (P,). [deg]
    far_sigma_db : tuple of numpy.ndarray, optional
        As in `Link`; one station there if left out. [dB]
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs.

    Returns
    -------
    link : Link
        Modes, losses and levels without my wire.
    """
    frequency = np.atleast_1d(np.asarray(frequency_mhz, dtype=float))
    horizon = np.broadcast_to(
        np.asarray(horizon_deg, dtype=float), paths.distance_km.shape
    )
    modes = hop_modes(
        paths, layers, frequency, horizon, cache_dir, far_horizon_deg=far_horizon_deg
    )
    far = far_gains(modes, far_patterns)
    # What comes in along the ground, where an antenna has no gain, is no way there.
    modes = replace(modes, returned=modes.returned * (far.hop_db > NO_GAIN_DB))
    heard_over = noise_sources(
        frequency, layers, FAR_END, there.noise, there.noise_trim_db
    )
    heard_here = noise_sources(
        *(frequency, layers, NEAR_END),
        *(here.noise, here.noise_trim_db, here.learned_db),
    )
    noise_far, noise_here = heard_over["total"], heard_here["total"]
    need, body = KT0_DBW_HZ + snr_db_hz, modes.hops.shape[:-1]
    nothing = np.zeros(frequency.shape)
    return Link(
        paths=paths,
        layers=layers,
        bearing_deg=np.broadcast_to(paths.bearing_deg[:, None, None], body),
        long_way=np.zeros(body, dtype=bool),
        horizon_deg=horizon,
        modes=modes,
        ground_loss_db=ground_loss_db(paths, frequency, ground, cache_dir),
        far=far.raised_by(nothing + np.asarray(there.learned_db, dtype=float)),
        heard_db=_dbw(here.power_w) - noise_far.factor_db - need,
        hear_db=_dbw(there.power_w) - noise_here.factor_db - need,
        signal_spread_db=_signal_spread(layers),
        far_sigma_db=(nothing, nothing) if far_sigma_db is None else far_sigma_db,
        noise_far=noise_far,
        noise_here=noise_here,
        lightning_share=(lightning_share(heard_over), lightning_share(heard_here)),
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
    sources = noise_sources(
        *(question.frequency_mhz, link.layers, NEAR_END),
        *(station.noise, station.noise_trim_db),
        station.learned_noise_db(question.frequency_mhz),
    )
    noise = sources["total"]
    shares = link.lightning_share[0], lightning_share(sources)
    need = KT0_DBW_HZ + question.emission.snr_db_hz
    level = _dbw(station.far_end.power_w) - noise.factor_db - need
    return replace(link, hear_db=level, noise_here=noise, lightning_share=shares)


def _dbw(power_w: float) -> float:
    """Power in dB over one watt."""
    return float(10.0 * np.log10(power_w))


def _signal_spread(
    layers: Layers,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Signal deciles from the latitude of the path's middle, (P, 1, 1)."""
    return signal_deciles_db(at_stations(layers.geomagnetic_lat_deg)[..., MID, None])


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
        As of `gains_towards`.
    """
    each = [patterns.get(band.name) for band in question.bands]
    station = question.station
    soil = ground_by_name(station.ground)
    ground = station.hills
    hills = (
        None
        if ground is None
        else [None if one is None else hills_of(ground, one, soil) for one in each]
    )
    return gains_towards(
        link, each, soil, bearing_deg, open_only=open_only, hills=hills
    )


def gains_towards(
    link: Link,
    patterns: Sequence[Pattern | None],
    ground: Ground,
    bearing_deg: ArrayLike,
    *,
    open_only: bool = False,
    hills: Sequence[Hills | None] | None = None,
) -> Gains:
    """
    Gain of a wire towards every route, for every bearing it could be hung on.

    Parameters
    ----------
    link : Link
        The sky's half.
    patterns : sequence of (Pattern or None)
        Pattern on each frequency of the link; None where the wire is not used.
    ground : Ground
        Ground under the wire.
    bearing_deg : array_like
        Shape (G,), wire bearings. [deg]
    open_only : bool, optional
        As in `wire_gains`.
    hills : sequence of (Hills or None), optional
        What the ground around makes of each pattern; flat if left out. The ground wave
        does not know of them.

    Returns
    -------
    gains : Gains
        With G as leading axis; `NO_GAIN_DB` on frequencies without a pattern, and
        towards hop modes that were not looked at.
    """
    wires = np.atleast_1d(np.asarray(bearing_deg, dtype=float))
    towards = link.paths.bearing_deg[None, :] - wires[:, None]
    takeoff = np.clip(np.nan_to_num(link.modes.takeoff_deg), 0.0, 90.0)
    flat = (*towards.shape, len(patterns))
    hop = np.full((wires.size, *takeoff.shape), NO_GAIN_DB)
    wanted = _can_carry(link) if open_only else np.ones(takeoff.shape, dtype=bool)
    along = np.full(flat, NO_GAIN_DB)
    efficiency = np.ones(len(patterns))
    for b, pattern in enumerate(patterns):
        if pattern is None:
            continue
        path, hour, mode = np.nonzero(wanted[:, :, b])
        up, bearing = takeoff[path, hour, b, mode], link.bearing_deg[path, hour, b]
        around = bearing - wires[:, None]
        gain = pattern.gain(up, around)
        # What is scattered back comes from all round.
        back = takeoff[:, :, b, SCATTER]
        scattered = pattern.mean_over_azimuth().gain(back, 0.0)
        over = hills[b] if hills else None
        if over is not None:
            gain += over.more(pattern, up, around, bearing)
            scattered += over.more_around(pattern, back)
        hop[:, path, hour, b, mode] = gain_in_dbi(gain)
        hop[..., b, SCATTER] = gain_in_dbi(scattered)
        along[..., b] = decibels(grazing_gain(pattern, ground, towards))
        efficiency[b] = pattern.efficiency
    return Gains(hop, along, decibels(efficiency))


def _can_carry(link: Link) -> NDArray[np.bool_]:
    """Modes (P, T, B, M) that are not too faint even for a strong antenna."""
    modes, far = link.modes, link.far
    slack = np.maximum(link.heard_db, link.hear_db) - far.efficiency_db + MOST_GAIN_DBI
    least = modes.path_loss_db - far.hop_db + FAINT_DB
    loudest = np.where(modes.support > 0.0, -modes.losses_db[ES_REFLECTION], -np.inf)
    es = np.where(modes.clear[..., ES_RANKED, None], -modes.es_reflection_db, -np.inf)
    loudest[..., ES_RANKED] = np.maximum(loudest[..., ES_RANKED], es.max(axis=-1))
    weak = np.where(modes.clear[..., WEAK], -modes.above_db.min(axis=-1), -np.inf)
    loudest[..., WEAK] = np.maximum(loudest[..., WEAK], weak)
    return np.asarray(slack[..., None] + loudest > least)
