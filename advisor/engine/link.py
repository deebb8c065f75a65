"""The sky's half of a question, and the better of both ways round the Earth."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.engine.gains import Gains
from advisor.propagation.modes import Modes
from advisor.propagation.noise import Noise
from advisor.reliability.today import Today
from geo.ionosphere.layers import Layers
from geo.paths import Paths
from geo.records import ArrayRecord


class Link(ArrayRecord):
    """
    All of the link that does not depend on my wire.

    Attributes
    ----------
    paths : Paths
        P paths: the sample points of all targets, one target after the other.
    layers : Layers
        Layers at the stations of the paths.
    bearing_deg : numpy.ndarray
        Shape (P, T, B), at my end: that of the path, or the other way round. [deg]
    long_way : numpy.ndarray of bool
        Shape (P, T, B), whether the modes are those of the long way round.
    horizon_deg : numpy.ndarray
        Shape (P,), elevation of my horizon on the bearing of each path. [deg]
    modes : Modes
        Hop modes over (P, T, B, M).
    ground_loss_db : numpy.ndarray
        Shape (P, B): loss of the ground wave; infinite out of its reach. [dB]
    far : Gains
        The far end's antenna.
    heard_db, hear_db : numpy.ndarray
        Shape (P, T, B): power over noise and need at the far end and here, before
        gains and losses. [dB]
    signal_spread_db : tuple of numpy.ndarray
        Upper and lower decile of the signal, (P, 1, 1). [dB]
    far_sigma_db : tuple of numpy.ndarray
        Shapes (B,): how far ends of this kind differ in hearing and in being heard, as
        of `advisor.engine.wires.far_end_sigmas_db`. [dB]
    noise_far, noise_here : Noise
        Noise at both ends, (P, T, B).
    lightning_share : tuple of numpy.ndarray
        Share of lightning in the noise at the far end, which all stations there have
        in common, and here, (P, T, B).
    count : int
        How many stations there are, of which one is to be worked.
    today : Today or None
        Days like today, ``row`` over (P, T, B); None if nothing is known but the month.
    """

    paths: Paths
    layers: Layers
    bearing_deg: NDArray[np.float64]
    long_way: NDArray[np.bool_]
    horizon_deg: NDArray[np.float64]
    modes: Modes
    ground_loss_db: NDArray[np.float64]
    far: Gains
    heard_db: NDArray[np.float64]
    hear_db: NDArray[np.float64]
    signal_spread_db: tuple[NDArray[np.float64], NDArray[np.float64]]
    far_sigma_db: tuple[NDArray[np.float64], NDArray[np.float64]]
    noise_far: Noise
    noise_here: Noise
    lightning_share: tuple[NDArray[np.float64], NDArray[np.float64]]
    count: int = 1
    today: Today | None = None


def power_through(link: Link) -> NDArray[np.float64]:
    """
    Find the power that the far end's antenna takes in of a point source here.

    Parameters
    ----------
    link : Link
        One way round.

    Returns
    -------
    power : numpy.ndarray
        Shape (P, T, B), of all modes.
    """
    taken = link.modes.mean_power * 10.0 ** (0.1 * link.far.hop_db)
    return np.asarray(taken.sum(axis=-1))


def either_way(
    link: Link, other: Link, far: NDArray[np.intp], better: NDArray[np.bool_]
) -> Link:
    """
    Put the other way round in where it is the better one; P stays as it is.

    Parameters
    ----------
    link, other : Link
        One way round to all places, and the other to the far ones.
    far : numpy.ndarray of int
        Which those are.
    better : numpy.ndarray of bool
        Shape (F, T, B), where the other way is taken.

    Returns
    -------
    link : Link
        The better of both.
    """

    def merged(one: Any, two: Any) -> NDArray[Any]:
        whole = np.array(one)
        pick = better.reshape(better.shape + (1,) * (whole.ndim - better.ndim))
        whole[far] = np.where(pick, two, whole[far])
        return whole

    first, second = link.modes, other.modes
    shared = {"frequency_mhz", "losses_db"}
    modes = replace(
        first,
        losses_db={
            name: merged(loss, second.losses_db[name])
            for name, loss in first.losses_db.items()
        },
        **{
            field.name: merged(getattr(first, field.name), getattr(second, field.name))
            for field in fields(Modes)
            if field.name not in shared
        },
    )
    today = link.today
    if today is not None:
        # The other way round touches other places than those of which one knows.
        today = replace(today, row=merged(today.row, np.full(better.shape, -1)))
    return replace(
        link,
        today=today,
        bearing_deg=merged(link.bearing_deg, other.bearing_deg),
        long_way=merged(link.long_way, other.long_way),
        modes=modes,
        far=replace(link.far, hop_db=merged(link.far.hop_db, other.far.hop_db)),
    )
