"""
The engine: one question in, chances over set-up, bearing, path, hour and band out.

The sky is worked out once per solar activity (`link_for`), the wires once per
set-up and band (a `Pattern`), and the two meet in `contact_chance`, where a wire is
only ever rotated. Every command is a reduction of these arrays.

Axes are always in the order bearing, path, hour, band, mode: (G, P, T, B, M).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.antenna.pattern import Pattern
from advisor.link.chance import chance, signal_deciles_db
from advisor.link.modes import Modes, hop_modes
from advisor.link.noise import (
    KT0_DBW_HZ,
    Noise,
    combine,
    galactic_noise,
    man_made_noise,
)
from advisor.question import Question
from geo.layers import Layers, layers_at
from geo.paths import CONTROL_POINTS, FAR_END, MID, NEAR_END, Paths, paths_to

NO_GAIN_DB = -300.0
"""Stands for a band a set-up does not work on: no contact, but finite. [dB]"""


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
    heard_db : numpy.ndarray
        Shape (P, T, B, M): margin at the far end, from an isotropic wire here. [dB]
    hear_db : numpy.ndarray
        Shape (P, T, B, M): margin here, received by a lossless isotropic wire. [dB]
    heard_spread_db, hear_spread_db : tuple of numpy.ndarray
        Upper and lower decile of the signal-to-noise ratio, shapes (P, T, B). [dB]
    noise_far, noise_here : Noise
        Noise at both ends, (P, T, B).
    """

    paths: Paths
    layers: Layers
    modes: Modes
    heard_db: NDArray[np.float64]
    hear_db: NDArray[np.float64]
    heard_spread_db: tuple[NDArray[np.float64], NDArray[np.float64]]
    hear_spread_db: tuple[NDArray[np.float64], NDArray[np.float64]]
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
    """

    heard: NDArray[np.float64]
    hear: NDArray[np.float64]

    @property
    def both(self) -> NDArray[np.float64]:
        """
        Chance of a contact: the worse of the two directions.

        Both directions share the same layers, hour and fading, so the better one
        works on nearly every day on which the worse one does.
        """
        return np.minimum(self.heard, self.hear)


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
        Modes, losses and margins without my wire.
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
    layers = layers_at(
        paths.control_lat_deg.ravel(),
        paths.control_lon_deg.ravel(),
        question.times,
        index,
    )
    modes = hop_modes(paths, layers, question.frequency_mhz, station.horizon_deg)
    noise_far = _noise_at(question, paths, layers, FAR_END, station.far_end.noise, 0.0)
    noise_here = _noise_at(
        question, paths, layers, NEAR_END, station.noise, station.noise_trim_db
    )
    far_gain = np.stack(
        [
            _azimuth_mean_db(far_patterns[band.name], modes.takeoff_deg[:, :, b])
            for b, band in enumerate(question.bands)
        ],
        axis=2,
    )
    far_loss = np.array(
        [10.0 * np.log10(far_patterns[b.name].efficiency) for b in question.bands]
    )
    carried = far_gain - modes.loss_db - KT0_DBW_HZ - question.emission.snr_db_hz
    # External noise is lost in a lossy receiving antenna just as the signal is, so
    # the receiving end counts with its directivity: gain over efficiency.
    heard = (
        carried
        + _dbw(station.power_w)
        - far_loss[:, None]
        - noise_far.factor_db[..., None]
    )
    hear = carried + _dbw(station.far_end.power_w) - noise_here.factor_db[..., None]
    spread = _signal_spread(layers, paths)
    return Link(
        paths=paths,
        layers=layers,
        modes=modes,
        heard_db=heard,
        hear_db=hear,
        heard_spread_db=_ratio_spread(spread, noise_far),
        hear_spread_db=_ratio_spread(spread, noise_here),
        noise_far=noise_far,
        noise_here=noise_here,
    )


def _dbw(power_w: float) -> float:
    """Power in dB over one watt."""
    return float(10.0 * np.log10(power_w))


def _noise_at(
    question: Question,
    paths: Paths,
    layers: Layers,
    end: int,
    environment: str,
    trim_db: float,
) -> Noise:
    """Noise at one end of every path, (P, T, B)."""
    count = paths.distance_km.size
    fof2 = layers.fof2_mhz.reshape(-1, count, CONTROL_POINTS)[:, :, end].T
    frequency = question.frequency_mhz
    local = man_made_noise(environment, frequency)
    trimmed = Noise(local.factor_db + trim_db, local.upper_db, local.lower_db)
    return combine([trimmed, galactic_noise(frequency, fof2[:, :, None])])


def _azimuth_mean_db(
    pattern: Pattern, takeoff_deg: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Gain of an antenna whose bearing is not known: the mean over azimuth."""
    ring = (pattern.vertical + pattern.horizontal).mean(axis=-1)
    mean = np.interp(takeoff_deg, pattern.elevation_deg, ring)
    return np.asarray(10.0 * np.log10(np.maximum(mean, 1e-30)))


def _signal_spread(
    layers: Layers, paths: Paths
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Signal deciles from the latitude of the path's middle, (P, 1, 1)."""
    middle = layers.geomagnetic_lat_deg.reshape(-1, CONTROL_POINTS)[:, MID]
    assert middle.size == paths.distance_km.size
    upper, lower = signal_deciles_db(middle)
    return upper[:, None, None], lower[:, None, None]


def _ratio_spread(
    signal: tuple[NDArray[np.float64], NDArray[np.float64]], noise: Noise
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Deciles of signal over noise: the noise's other side counts (P.533 sec. 10)."""
    return np.hypot(signal[0], noise.lower_db), np.hypot(signal[1], noise.upper_db)


def wire_gain_db(
    link: Link,
    patterns: Mapping[str, Pattern],
    band_names: tuple[str, ...],
    bearing_deg: ArrayLike,
) -> NDArray[np.float64]:
    """
    Gain of my wire towards every mode, for every bearing it could be hung on.

    Parameters
    ----------
    link : Link
        The sky's half.
    patterns : mapping of str to Pattern
        Pattern for each band the set-up works on.
    band_names : tuple of str
        The question's bands, B of them.
    bearing_deg : array_like
        Shape (G,), wire bearings. [deg]

    Returns
    -------
    gain_db : numpy.ndarray
        Shape (G, P, T, B, M); `NO_GAIN_DB` on bands without a pattern. [dBi]
    """
    wires = np.atleast_1d(np.asarray(bearing_deg, dtype=float))
    towards = link.paths.bearing_deg[None, :] - wires[:, None]
    takeoff = link.modes.takeoff_deg
    gain = np.full((wires.size, *takeoff.shape), NO_GAIN_DB)
    for b, name in enumerate(band_names):
        if name in patterns:
            gain[:, :, :, b, :] = patterns[name].gain_dbi(
                np.clip(takeoff[None, :, :, b, :], 0.0, 90.0),
                towards[:, :, None, None],
            )
    return gain


def contact_chance(
    link: Link,
    gain_db: NDArray[np.float64],
    efficiency: ArrayLike,
    *,
    support: NDArray[np.float64] | None = None,
    screened: NDArray[np.float64] | None = None,
    extra_db: ArrayLike = 0.0,
) -> Contact:
    """
    Let lobe meet hop: chance in both directions.

    Parameters
    ----------
    link : Link
        The sky's half.
    gain_db : numpy.ndarray
        Shape (G, P, T, B, M), my wire's gain towards every mode. [dBi]
    efficiency : array_like
        Shape (B,), radiation efficiency of my wire, 0 to 1. Receiving, it costs
        noise as much as signal and is divided out.
    support, screened : numpy.ndarray, optional
        Shape (P, T, B, M), in place of the link's own: for asking what would be if
        the layers were otherwise.
    extra_db : array_like, optional
        Added to both margins; broadcasts to (P, T, B, M). [dB]

    Returns
    -------
    contact : Contact
        Chances (G, P, T, B).
    """
    carried = link.modes.support if support is None else support
    stopped = link.modes.screened if screened is None else screened
    modes = carried.shape[-1]
    shape = carried.shape[:-1]
    alive = (carried > 0.0).any(axis=-1)
    live_support = carried[alive].reshape(-1, modes)
    live_stopped = stopped[alive].reshape(-1, modes)
    own = gain_db[:, alive] + np.broadcast_to(extra_db, carried.shape)[alive]
    received = np.log10(np.maximum(np.asarray(efficiency, dtype=float), 1e-30)) * 10.0
    own_hear = own - np.broadcast_to(received[:, None], carried.shape)[alive]

    def one_way(
        base_db: NDArray[np.float64],
        own_db: NDArray[np.float64],
        spread: tuple[NDArray[np.float64], NDArray[np.float64]],
    ) -> NDArray[np.float64]:
        margin = np.where(live_support > 0.0, base_db[alive] + own_db, -np.inf)
        upper, lower = (np.broadcast_to(side, shape)[alive] for side in spread)
        whole = np.zeros((gain_db.shape[0], *shape))
        whole[:, alive] = chance(live_support, live_stopped, margin, upper, lower)
        return whole

    return Contact(
        heard=one_way(link.heard_db, own, link.heard_spread_db),
        hear=one_way(link.hear_db, own_hear, link.hear_spread_db),
    )
