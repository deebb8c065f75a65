"""
What the sky asks for, target by target: distances, angles, modes, support.

The sample points of all targets lie one after the other on the path axis; here they
are brought together again.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.propagation.mode_axis import mode_name
from geo.places import Target
from geo.records import ArrayRecord
from geo.sphere import distance_km

_NO_POWER = 1e-30
"""Share of the power sent that is none."""

_ALL_ROUND = 0.5
"""Concentration of bearings below which a target has no direction."""


class TargetAdvice(ArrayRecord):
    """
    One target seen from the station, shapes (T, B) unless said otherwise.

    Attributes
    ----------
    name : str
        Name as understood.
    weight_source : str
        What the sample points' weights stand for.
    points : int
        Number of sample points.
    nearest_km, mean_km, farthest_km : float
        Distances along the path. [km]
    bearing_deg : float
        Mean bearing at my end. [deg]
    direction_concentration : float
        Length of the mean of the unit vectors towards the sample points: 1 if all lie
        one way, near 0 if they lie all round.
    takeoff_low_deg, takeoff_deg, takeoff_high_deg : numpy.ndarray
        Take-off angles the sky asks for: lower decile, median and upper decile over
        sample points and modes, by strength; NaN where no mode exists. [deg]
    long_way : numpy.ndarray of bool
        Whether most of the power comes the long way round.
    support : numpy.ndarray
        Mean over the points of the share of days the best mode exists.
    absorption_db : numpy.ndarray
        Mean absorption of the mode of least loss; NaN where there is none. [dB]
    """

    name: str
    weight_source: str
    points: int
    nearest_km: float
    mean_km: float
    farthest_km: float
    bearing_deg: float
    direction_concentration: float
    takeoff_low_deg: NDArray[np.float64]
    takeoff_deg: NDArray[np.float64]
    takeoff_high_deg: NDArray[np.float64]
    long_way: NDArray[np.bool_]
    support: NDArray[np.float64]
    absorption_db: NDArray[np.float64]

    @property
    def is_all_round(self) -> bool:
        """Whether the target lies about the station rather than in a direction."""
        return self.direction_concentration < _ALL_ROUND


def target_slices(question: Question) -> list[slice]:
    """
    Say where each target's sample points lie on the path axis.

    Parameters
    ----------
    question : Question
        Holds the targets.

    Returns
    -------
    slices : list of slice
        One a target.
    """
    ends = np.cumsum([target.lat_deg.size for target in question.targets])
    return [
        slice(int(end - target.lat_deg.size), int(end))
        for end, target in zip(ends, question.targets, strict=True)
    ]


def over_targets(
    question: Question, values: NDArray[np.float64], axis: int = 0
) -> NDArray[np.float64]:
    """
    Take the weighted mean over each target's points.

    Parameters
    ----------
    question : Question
        Holds the targets.
    values : numpy.ndarray
        Any shape with the path axis at ``axis``.
    axis : int, optional
        Which axis that is.

    Returns
    -------
    means : numpy.ndarray
        The path axis has become one of K targets.
    """
    moved = np.moveaxis(values, axis, -1)
    means = []
    for part, target in zip(target_slices(question), question.targets, strict=True):
        points = moved[..., part]
        # Weights add up to 1 but for rounding: a mean of ones is one, not more.
        mean = points @ target.weight
        means.append(np.clip(mean, points.min(axis=-1), points.max(axis=-1)))
    return np.stack(means, axis=axis)


def strengths(
    mean_power: NDArray[np.float64], far_db: NDArray[np.float64]
) -> NDArray[np.float64]:
    """
    Tell what the sky offers: share of each mode within its path, hour and band.

    Strong modes that exist often weigh most, and where none exists what comes above the
    MUF; the antenna there counts, my own wire is left out.

    Parameters
    ----------
    mean_power : numpy.ndarray
        Shape (..., M), power that comes through between isotropic antennas.
    far_db : numpy.ndarray
        Gain of the antenna there towards each mode. [dBi]

    Returns
    -------
    strength : numpy.ndarray
        Sum over modes 1, or 0 where no mode exists.
    """
    weight = mean_power * 10.0 ** (0.1 * far_db)
    total = weight.sum(axis=-1, keepdims=True)
    there = (mean_power.sum(axis=-1, keepdims=True) > _NO_POWER) & (total > 0.0)
    return np.asarray(np.divide(weight, total, out=np.zeros_like(weight), where=there))


def mode_strengths(link: Link) -> NDArray[np.float64]:
    """
    Tell what the sky offers by all modes of a link, as `strengths` has it.

    Parameters
    ----------
    link : Link
        The sky's half.

    Returns
    -------
    strength : numpy.ndarray
        Shape (P, T, B, M).
    """
    return strengths(link.modes.mean_power, link.far.hop_db)


def mode_names(link: Link) -> NDArray[np.str_]:
    """
    Name every mode.

    Parameters
    ----------
    link : Link
        The sky's half.

    Returns
    -------
    names : numpy.ndarray of str
        Shape (P, T, B, M).
    """
    hops = link.modes.hops
    known = np.array(
        [
            [mode_name(m, n) for n in range(int(hops.max()) + 1)]
            for m in range(hops.shape[-1])
        ]
    )
    return np.asarray(known[np.arange(hops.shape[-1]), hops])


def weighted_quantile(
    values: NDArray[np.float64], weights: NDArray[np.float64], share: float
) -> NDArray[np.float64]:
    """
    Quantile of values on the last axis by weight.

    Parameters
    ----------
    values, weights : numpy.ndarray
        Of one shape; weights not negative.
    share : float
        Which quantile, 0 to 1.

    Returns
    -------
    found : numpy.ndarray
        The least value up to which that share of the weight lies; NaN where all
        weights are 0.

    Examples
    --------
    >>> float(weighted_quantile(np.array([9.0, 5.0, 7.0]), np.array([1.0, 8, 1]), 0.5))
    5.0
    """
    order = np.argsort(values, axis=-1)
    ranked = np.take_along_axis(values, order, axis=-1)
    summed = np.cumsum(np.take_along_axis(weights, order, axis=-1), axis=-1)
    total = summed[..., -1:]
    place = (summed < share * total).sum(axis=-1, keepdims=True)
    place = np.minimum(place, values.shape[-1] - 1)
    found = np.take_along_axis(ranked, place, axis=-1)
    return np.asarray(np.where(total > 0.0, found, np.nan)[..., 0])


def describe_targets(question: Question, link: Link) -> list[TargetAdvice]:
    """
    Say what the sky asks for, target by target.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half.

    Returns
    -------
    targets : list of TargetAdvice
        In the order asked.
    """
    paths, modes = link.paths, link.modes
    takeoff, strength = modes.takeoff_deg, mode_strengths(link)
    support = modes.support.max(axis=-1)
    carried = over_targets(question, support)
    absorbed = least_absorption_db(link)
    described = []
    slices = target_slices(question)
    for k, (target, part) in enumerate(zip(question.targets, slices, strict=True)):
        weight = target.weight[:, None, None, None] * strength[part]
        # (T, B, P * M): points and modes of one hour and band together.
        angles = np.moveaxis(takeoff[part], 0, -2)
        shares = np.moveaxis(weight, 0, -2)
        angles = angles.reshape(*angles.shape[:2], -1)
        shares = shares.reshape(*shares.shape[:2], -1)
        quantile = [weighted_quantile(angles, shares, q) for q in (0.1, 0.5, 0.9)]
        bearing, direction_concentration = _mean_direction(
            paths.bearing_deg[part], target.weight
        )
        described.append(
            TargetAdvice(
                name=target.name,
                weight_source=target.weight_source,
                points=target.weight.size,
                nearest_km=float(paths.distance_km[part].min()),
                mean_km=float(paths.distance_km[part] @ target.weight),
                farthest_km=float(paths.distance_km[part].max()),
                bearing_deg=bearing,
                direction_concentration=direction_concentration,
                takeoff_low_deg=quantile[0],
                takeoff_deg=quantile[1],
                takeoff_high_deg=quantile[2],
                long_way=np.tensordot(target.weight, link.long_way[part], 1) > 0.5,
                support=carried[k],
                absorption_db=_mean_of_known(target.weight, absorbed[part]),
            )
        )
    return described


def least_absorption_db(link: Link) -> NDArray[np.float64]:
    """
    Absorption of each path's mode of least loss.

    Parameters
    ----------
    link : Link
        The sky's half.

    Returns
    -------
    absorption_db : numpy.ndarray
        Shape (P, T, B); NaN where there is no mode. [dB]
    """
    modes = link.modes
    there = (modes.support > 0.0) & np.isfinite(modes.loss_db)
    loss = np.where(there, modes.loss_db, np.inf)
    least = loss.argmin(axis=-1)[..., None]
    absorbed = np.take_along_axis(modes.losses_db["absorption"], least, axis=-1)[..., 0]
    return np.where(there.any(axis=-1), absorbed, np.nan)


def _mean_of_known(
    weight: NDArray[np.float64], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Weighted mean over the first axis of what is not NaN; NaN where all is."""
    known = np.isfinite(values)
    share = np.tensordot(weight, known.astype(float), 1)
    total = np.tensordot(weight, np.where(known, values, 0.0), 1)
    return np.asarray(
        np.divide(total, share, out=np.full_like(total, np.nan), where=share > 0.0)
    )


def _mean_direction(
    bearing_deg: NDArray[np.float64], weight: NDArray[np.float64]
) -> tuple[float, float]:
    """Mean direction in degrees and the length of the mean unit vector."""
    turn = weight @ np.exp(1j * np.radians(bearing_deg))
    return float(np.degrees(np.angle(turn)) % 360.0), float(np.abs(turn))


def median_point(target: Target, lat_deg: float, lon_deg: float) -> int:
    """
    Pick the sample point of median distance.

    Parameters
    ----------
    target : Target
        Its points and weights.
    lat_deg, lon_deg : float
        Where it is seen from. [deg]

    Returns
    -------
    point : int
        Half of the target's weight lies nearer or as near.

    Examples
    --------
    >>> from geo.places import (parse_place, resolve_target)
    >>> here = parse_place("0,0")
    >>> median_point(resolve_target("0,10", here), here.lat_deg, here.lon_deg)
    0
    """
    away = distance_km(lat_deg, lon_deg, target.lat_deg, target.lon_deg)
    order = np.argsort(away, kind="stable")
    reached = np.cumsum(target.weight[order])
    return int(order[np.searchsorted(reached, 0.5 - 1e-9)])


def point_of(target: Target, point: int) -> Target:
    """
    Make a target of one sample point.

    Parameters
    ----------
    target : Target
        Of any number of points.
    point : int
        Which.

    Returns
    -------
    target : Target
        Of one.
    """
    here = slice(point, point + 1)
    return replace(
        target,
        kind="point",
        lat_deg=target.lat_deg[here],
        lon_deg=target.lon_deg[here],
        weight=np.ones(1),
        weight_source="one point",
    )
