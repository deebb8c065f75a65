"""Gain of an antenna towards every route a signal can take."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from advisor.antenna.grazing import grazing_gain
from advisor.antenna.ground import ground_by_name
from advisor.antenna.pattern import Pattern
from advisor.engine.wires import FAR_END_GROUND
from advisor.propagation.modes import Modes
from geo.records import ArrayRecord

NO_GAIN_DB = -300.0
"""Stands for a band a set-up does not work on: no contact, but finite. [dB]"""


class Gains(ArrayRecord):
    """
    Gain of one end's antenna towards every route the signal can take.

    Leading axes G are bearings tried; the far end has none.

    Attributes
    ----------
    hop_db : numpy.ndarray
        Shape (..., P, T, B, M): towards the hop modes. [dBi]
    ground_db : numpy.ndarray
        Shape (..., P, B): along the ground, see `grazing_gain`. [dBi]
    efficiency_db : numpy.ndarray
        Shape (B,): radiation efficiency. Receiving, external noise is lost in a
        lossy antenna just as the signal is, so it is divided out. [dB]
    """

    hop_db: NDArray[np.float64]
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
            self.ground_db + more_db,
            self.efficiency_db,
        )


def decibels(ratio: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    Write a power ratio in decibels.

    Parameters
    ----------
    ratio : numpy.ndarray
        Ratio, not negative.

    Returns
    -------
    decibels : numpy.ndarray
        `NO_GAIN_DB` where there is nothing. [dB]
    """
    return np.asarray(10.0 * np.log10(np.maximum(ratio, 10.0 ** (NO_GAIN_DB / 10.0))))


def far_gains(modes: Modes, patterns: Sequence[Pattern]) -> Gains:
    """
    Gains of the far end, averaged over azimuth because its bearing is not known.

    Parameters
    ----------
    modes : Modes
        Hop modes of P paths on B frequencies.
    patterns : sequence of Pattern
        Pattern on each frequency.

    Returns
    -------
    gains : Gains
        Without a leading axis.
    """
    hop, ground, efficiency = [], [], []
    soil = ground_by_name(FAR_END_GROUND)
    for b, pattern in enumerate(patterns):
        ring = (pattern.vertical + pattern.horizontal).mean(axis=-1)
        landing = np.clip(np.nan_to_num(modes.landing_deg[:, :, b]), 0.0, 90.0)
        hop.append(np.interp(landing, pattern.elevation_deg, ring))
        ground.append(grazing_gain(pattern, soil, pattern.azimuth_deg).mean())
        efficiency.append(pattern.efficiency)
    each = (len(modes.hops), len(patterns))
    return Gains(
        decibels(np.stack(hop, axis=2)),
        np.broadcast_to(decibels(np.array(ground)), each),
        decibels(np.array(efficiency)),
    )
