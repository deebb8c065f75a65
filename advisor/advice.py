"""
From chances to decisions: bearing, band, hour, set-up, and what stands in the way.

Everything shown to a person is worked out here; ``show`` only arranges it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.antenna.pattern import Pattern
from advisor.engine import Contact, Link, contact_chance, link_for, wire_gain_db
from advisor.link.modes import mode_name
from advisor.question import Question
from geo.sphere import angle_between_deg

OPEN_CHANCE = 0.05
"""Below one day in twenty a band counts as closed."""

STAY_CHANCE = 0.05
"""A band is kept for the next hour if it is within this of the best."""

BEARING_STEP_DEG = 5.0
"""Wire bearings are tried in steps that a person can pace out. [deg]"""

TOLERANCE_DB = 1.0
"""What a bearing may cost and still count as good. [dB]"""

LIMITS = (
    "none",
    "layer too weak",
    "stopped by the E layer",
    "absorbed",
    "no radiation at that angle",
    "below the noise",
    "below the horizon",
    "band not on this set-up",
)
"""Names of the limiting factors; `SetUpAdvice.limit` holds places in this tuple."""

_MORE_SIGNAL_DB = 10.0
"""What is added to the signal to see whether noise is the limit. [dB]"""

_STRONGER_LAYER = 1.3
"""How far a layer may be lifted to see whether it is the limit: with more, modes
would join that no day of any month has."""


@dataclass(frozen=True)
class TargetAdvice:
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
    spread_deg : float
        Largest difference of a sample point's bearing from it. [deg]
    takeoff_low_deg, takeoff_deg, takeoff_high_deg : numpy.ndarray
        Take-off angles the sky asks for: lower decile, median and upper decile over
        sample points and modes, by strength; NaN where no mode exists. [deg]
    modes : numpy.ndarray of str
        Strongest mode, such as 2F2.
    support : numpy.ndarray
        Mean over the points of the share of days the best mode exists.
    absorption_db : numpy.ndarray
        Mean absorption of the strongest modes. [dB]
    """

    name: str
    weight_source: str
    points: int
    nearest_km: float
    mean_km: float
    farthest_km: float
    bearing_deg: float
    spread_deg: float
    takeoff_low_deg: NDArray[np.float64]
    takeoff_deg: NDArray[np.float64]
    takeoff_high_deg: NDArray[np.float64]
    modes: NDArray[np.str_]
    support: NDArray[np.float64]
    absorption_db: NDArray[np.float64]

    @property
    def is_all_round(self) -> bool:
        """Whether the target lies about the station rather than in a direction."""
        return self.spread_deg > 90.0


@dataclass(frozen=True)
class Bearing:
    """
    How a set-up is best turned.

    Attributes
    ----------
    wire_deg : float or None
        Bearing worked with; None where turning changes nothing. [deg]
    is_free : bool
        Whether it was chosen here rather than given.
    best_deg : float or None
        Best bearing, whether or not it is the one worked with. [deg]
    good_from_deg, good_to_deg : float or None
        Range about the best that costs under `TOLERANCE_DB`; None if any bearing
        does. [deg]
    loss_db : float
        What the bearing worked with costs against the best. [dB]
    """

    wire_deg: float | None
    is_free: bool
    best_deg: float | None
    good_from_deg: float | None
    good_to_deg: float | None
    loss_db: float


@dataclass(frozen=True)
class SetUpAdvice:
    """
    One set-up on the question, arrays of shape (K, T, B) over K targets.

    Attributes
    ----------
    name, shape : str
        The set-up's name and shape.
    bearing : Bearing
        How to turn it.
    score : float
        Mean over targets and hours of the best band's chance.
    works : numpy.ndarray of bool
        Shape (B,), bands the set-up works on.
    chance, chance_low, chance_high : numpy.ndarray
        Chance of a contact, and its range over the solar index.
    heard, hear : numpy.ndarray
        Chance in each direction.
    margin_db : numpy.ndarray
        Median signal over what is needed on days when the layers carry the band, in
        the worse direction; NaN where no mode exists. [dB]
    gain_dbi : numpy.ndarray
        My wire's gain towards the modes, by strength; NaN where no mode exists.
    limit : numpy.ndarray of int
        What stands in the way, as a place in `LIMITS`.
    """

    name: str
    shape: str
    bearing: Bearing
    score: float
    works: NDArray[np.bool_]
    chance: NDArray[np.float64]
    chance_low: NDArray[np.float64]
    chance_high: NDArray[np.float64]
    heard: NDArray[np.float64]
    hear: NDArray[np.float64]
    margin_db: NDArray[np.float64]
    gain_dbi: NDArray[np.float64]
    limit: NDArray[np.int64]


@dataclass(frozen=True)
class Advice:
    """
    The answer to a question.

    Attributes
    ----------
    question : Question
        What was asked.
    targets : tuple of TargetAdvice
        In the order asked.
    setups : tuple of SetUpAdvice
        Best first.
    best_band : numpy.ndarray of int
        Shape (K, T): best band of the best set-up each hour, -1 where all are
        closed.
    """

    question: Question
    targets: tuple[TargetAdvice, ...]
    setups: tuple[SetUpAdvice, ...]
    best_band: NDArray[np.int64]


def advise(
    question: Question,
    patterns: Mapping[str, Mapping[str, Pattern]],
    far_patterns: Mapping[str, Pattern],
) -> Advice:
    """
    Answer a question.

    Parameters
    ----------
    question : Question
        What is asked.
    patterns : mapping of str to mapping of str to Pattern
        For each set-up's name, the pattern on each band it works on.
    far_patterns : mapping of str to Pattern
        Pattern of the far end's antenna on every band of the question.

    Returns
    -------
    advice : Advice
        Ranked answer.
    """
    link = link_for(question, question.solar.r12, far_patterns)
    spared = [
        link_for(question, r12, far_patterns)
        for r12 in (question.solar.low, question.solar.high)
    ]
    setups = sorted(
        (
            _advise_setup(question, link, spared, setup.name, patterns[setup.name])
            for setup in question.station.setups
        ),
        key=lambda one: -one.score,
    )
    return Advice(
        question=question,
        targets=tuple(_describe_targets(question, link)),
        setups=tuple(setups),
        best_band=best_bands(setups[0].chance),
    )


def best_bands(chance: NDArray[np.float64]) -> NDArray[np.int64]:
    """
    Best band each hour, with few changes.

    Parameters
    ----------
    chance : numpy.ndarray
        Shape (K, T, B).

    Returns
    -------
    best : numpy.ndarray of int
        Shape (K, T); -1 where no band reaches `OPEN_CHANCE`. A band is kept while
        it is within `STAY_CHANCE` of the best.

    Examples
    --------
    >>> best_bands(np.array([[[0.5, 0.4], [0.5, 0.52], [0.1, 0.6], [0.0, 0.0]]]))
    array([[ 0,  0,  1, -1]])
    """
    top = chance.argmax(axis=-1)
    best = np.full(chance.shape[:2], -1)
    for k, hours in enumerate(chance):
        held = -1
        for t, bands in enumerate(hours):
            greatest = bands[top[k, t]]
            if greatest < OPEN_CHANCE:
                held = -1
            elif held < 0 or bands[held] < max(greatest - STAY_CHANCE, OPEN_CHANCE):
                held = int(top[k, t])
            best[k, t] = held
    return best


def _slices(question: Question) -> list[slice]:
    """Where each target's sample points lie on the path axis."""
    ends = np.cumsum([target.lat_deg.size for target in question.targets])
    return [
        slice(int(end - target.lat_deg.size), int(end))
        for end, target in zip(ends, question.targets, strict=True)
    ]


def _over_targets(
    question: Question, values: NDArray[np.float64], axis: int
) -> NDArray[np.float64]:
    """Weighted mean over each target's points: the path axis becomes K targets."""
    moved = np.moveaxis(values, axis, -1)
    means = [
        moved[..., part] @ target.weight
        for part, target in zip(_slices(question), question.targets, strict=True)
    ]
    return np.stack(means, axis=axis)


def _strengths(link: Link) -> NDArray[np.float64]:
    """
    Weight of each mode within its path, hour and band, (P, T, B, M), sum 1 or 0.

    Strong modes that exist often weigh most; my own wire is left out, so that the
    angles are those the sky asks for.
    """
    modes = link.modes
    often = modes.support * (1.0 - modes.screened)
    loss = np.where(often > 0.0, modes.loss_db, np.inf)
    least = loss.min(axis=-1, keepdims=True)
    weight = often * 10.0 ** ((np.where(np.isfinite(least), least, 0.0) - loss) / 10.0)
    total = weight.sum(axis=-1, keepdims=True)
    return np.asarray(
        np.divide(weight, total, out=np.zeros_like(weight), where=total > 0)
    )


def _weighted_quantile(
    values: NDArray[np.float64], weights: NDArray[np.float64], share: float
) -> NDArray[np.float64]:
    """Quantile of values on the last axis by weight; NaN where all weights are 0."""
    order = np.argsort(values, axis=-1)
    ranked = np.take_along_axis(values, order, axis=-1)
    summed = np.cumsum(np.take_along_axis(weights, order, axis=-1), axis=-1)
    total = summed[..., -1:]
    place = (summed < share * total).sum(axis=-1, keepdims=True)
    place = np.minimum(place, values.shape[-1] - 1)
    found = np.take_along_axis(ranked, place, axis=-1)
    return np.asarray(np.where(total > 0.0, found, np.nan)[..., 0])


def _describe_targets(question: Question, link: Link) -> list[TargetAdvice]:
    """Say what the sky asks for, target by target."""
    paths, modes = link.paths, link.modes
    strength = _strengths(link)
    best_support = (modes.support * (1.0 - modes.screened)).max(axis=-1)
    absorbed = (strength * modes.absorption_db).sum(axis=-1)
    described = []
    for target, part in zip(question.targets, _slices(question), strict=True):
        weight = target.weight[:, None, None, None] * strength[part]
        # (T, B, P * M): points and modes of one hour and band together.
        angles = np.moveaxis(modes.takeoff_deg[part], 0, -2)
        shares = np.moveaxis(weight, 0, -2)
        angles = angles.reshape(*angles.shape[:2], -1)
        shares = shares.reshape(*shares.shape[:2], -1)
        quantile = [_weighted_quantile(angles, shares, q) for q in (0.1, 0.5, 0.9)]
        bearing = _circular_mean_deg(paths.bearing_deg[part], target.weight)
        off = angle_between_deg(paths.bearing_deg[part], bearing)
        described.append(
            TargetAdvice(
                name=target.name,
                weight_source=target.weight_source,
                points=target.weight.size,
                nearest_km=float(paths.distance_km[part].min()),
                mean_km=float(paths.distance_km[part] @ target.weight),
                farthest_km=float(paths.distance_km[part].max()),
                bearing_deg=bearing,
                spread_deg=float(off.max()),
                takeoff_low_deg=quantile[0],
                takeoff_deg=quantile[1],
                takeoff_high_deg=quantile[2],
                modes=_strongest_names(link, part, shares),
                support=np.tensordot(target.weight, best_support[part], 1),
                absorption_db=np.tensordot(target.weight, absorbed[part], 1),
            )
        )
    return described


def _strongest_names(
    link: Link, part: slice, shares: NDArray[np.float64]
) -> NDArray[np.str_]:
    """Name of the mode with the greatest weight in each hour and band."""
    hops = link.modes.hops[part]
    names = np.array(
        [[mode_name(m, int(n)) for m, n in enumerate(row)] for row in hops]
    ).ravel()
    kinds = np.unique(names)
    summed = np.stack([shares[..., names == kind].sum(axis=-1) for kind in kinds])
    named = kinds[summed.argmax(axis=0)]
    return np.asarray(np.where(summed.sum(axis=0) > 0.0, named, ""))


def _circular_mean_deg(
    bearing_deg: NDArray[np.float64], weight: NDArray[np.float64]
) -> float:
    """Mean direction."""
    turn = weight @ np.exp(1j * np.radians(bearing_deg))
    return float(np.degrees(np.angle(turn)) % 360.0)


def _advise_setup(
    question: Question,
    link: Link,
    spared: list[Link],
    name: str,
    patterns: Mapping[str, Pattern],
) -> SetUpAdvice:
    """Turn one set-up, then read everything at the bearing chosen."""
    setup = next(one for one in question.station.setups if one.name == name)
    bands = tuple(band.name for band in question.bands)
    works = np.array([band in patterns for band in bands])
    efficiency = np.array(
        [patterns[band].efficiency if band in patterns else 1.0 for band in bands]
    )
    bearing = _turn(question, link, patterns, bands, efficiency, setup.bearing_deg)
    worked = 0.0 if bearing.wire_deg is None else bearing.wire_deg
    gain = wire_gain_db(link, patterns, bands, worked)
    contact = contact_chance(link, gain, efficiency)
    chance = _over_targets(question, contact.both[0], 0)
    ranges = [chance]
    for other in spared:
        moved = wire_gain_db(other, patterns, bands, worked)
        both = contact_chance(other, moved, efficiency).both[0]
        ranges.append(_over_targets(question, both, 0))
    strength = _strengths(link)
    reached = _over_targets(question, strength.sum(axis=-1), 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        towards = _over_targets(
            question, (strength * 10.0 ** (gain[0] / 10.0)).sum(axis=-1), 0
        )
        gain_dbi = 10.0 * np.log10(towards / reached)
    return SetUpAdvice(
        name=name,
        shape=setup.shape,
        bearing=bearing,
        score=float(chance.max(axis=-1).mean()),
        works=works,
        chance=chance,
        chance_low=np.min(ranges, axis=0),
        chance_high=np.max(ranges, axis=0),
        heard=_over_targets(question, contact.heard[0], 0),
        hear=_over_targets(question, contact.hear[0], 0),
        margin_db=_median_margin_db(question, link, gain[0], efficiency),
        gain_dbi=np.where(works & (reached > 0.0), gain_dbi, np.nan),
        limit=_limits(question, link, gain, efficiency, patterns, bands, contact),
    )


def _worse_margin_db(
    link: Link, gain_db: NDArray[np.float64], efficiency: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Margin of each mode in the worse direction, (..., P, T, B, M)."""
    received = 10.0 * np.log10(efficiency)[:, None]
    return np.minimum(link.heard_db, link.hear_db - received) + gain_db


def _sum_db(
    margin_db: NDArray[np.float64], often: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Powers of the modes, each counted as often as it exists, added up."""
    power = (often * 10.0 ** (np.clip(margin_db, -400.0, 400.0) / 10.0)).sum(axis=-1)
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-40)))


def _median_margin_db(
    question: Question,
    link: Link,
    gain_db: NDArray[np.float64],
    efficiency: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Margin on days when the modes exist, mean over each target's points."""
    exists = link.modes.support * (1.0 - link.modes.screened) > OPEN_CHANCE
    margin = _sum_db(_worse_margin_db(link, gain_db, efficiency), exists.astype(float))
    found = exists.any(axis=-1)
    share = _over_targets(question, found.astype(float), 0)
    total = _over_targets(question, np.where(found, margin, 0.0), 0)
    return np.asarray(
        np.divide(total, share, out=np.full_like(total, np.nan), where=share > 0.0)
    )


def _turn(
    question: Question,
    link: Link,
    patterns: Mapping[str, Pattern],
    bands: tuple[str, ...],
    efficiency: NDArray[np.float64],
    given_deg: float | None,
) -> Bearing:
    """Find the best bearing, and how far one may be off it."""
    if all(pattern.is_round for pattern in patterns.values()):
        return Bearing(None, given_deg is None, None, None, None, 0.0)
    turn = 180.0 if all(p.is_reversible for p in patterns.values()) else 360.0
    tried = np.arange(0.0, turn, BEARING_STEP_DEG)
    gain = wire_gain_db(link, patterns, bands, tried)
    chance = _over_targets(
        question, contact_chance(link, gain, efficiency).both, axis=1
    )
    score = chance.max(axis=-1).mean(axis=(1, 2))
    often = link.modes.support * (1.0 - link.modes.screened)
    strength = _sum_db(_worse_margin_db(link, gain, efficiency), often)
    # Strength counts where and when there is something to win.
    worth = chance.max(axis=0) + 1e-6
    level = _over_targets(question, strength, axis=1)
    mean_db = (level * worth).sum(axis=(1, 2, 3)) / worth.sum()
    rivals = score >= score.max() - 0.002
    best = int(np.argmax(np.where(rivals, mean_db, -np.inf)))
    good = _good_range(tried, mean_db, best, turn)
    worked = float(tried[best]) if given_deg is None else float(given_deg) % 360.0
    at_worked = np.interp(
        worked % turn, np.append(tried, turn), np.append(mean_db, mean_db[0])
    )
    return Bearing(
        wire_deg=worked,
        is_free=given_deg is None,
        best_deg=float(tried[best]),
        good_from_deg=good[0],
        good_to_deg=good[1],
        loss_db=float(max(mean_db[best] - at_worked, 0.0)),
    )


def _good_range(
    tried: NDArray[np.float64], mean_db: NDArray[np.float64], best: int, turn: float
) -> tuple[float | None, float | None]:
    """Widest run of bearings about the best that stays within the tolerance."""
    fine = mean_db >= mean_db[best] - TOLERANCE_DB
    if fine.all():
        return None, None
    size = tried.size
    down = next(i for i in range(1, size) if not fine[(best - i) % size])
    up = next(i for i in range(1, size) if not fine[(best + i) % size])
    low = tried[best] - (down - 1) * BEARING_STEP_DEG
    high = tried[best] + (up - 1) * BEARING_STEP_DEG
    return float(low % turn), float(high % turn)


def _limits(
    question: Question,
    link: Link,
    gain_db: NDArray[np.float64],
    efficiency: NDArray[np.float64],
    patterns: Mapping[str, Pattern],
    bands: tuple[str, ...],
    contact: Contact,
) -> NDArray[np.int64]:
    """
    Name what stands in the way: that whose removal helps the chance most.

    Each factor is lifted by itself and the chance worked out again.
    """
    modes = link.modes
    in_reach = _STRONGER_LAYER * modes.muf_mhz >= modes.frequency_mhz[:, None]
    peak = np.array(
        [patterns[band].peak().gain_dbi if band in patterns else 0.0 for band in bands]
    )
    lifted = {
        "layer too weak": {
            "support": np.where(in_reach & modes.clear, 1.0, modes.support)
        },
        "stopped by the E layer": {"screened": np.zeros_like(modes.screened)},
        "absorbed": {"extra_db": modes.absorption_db},
        "no radiation at that angle": {"extra_db": peak[:, None] - gain_db[0]},
        "below the noise": {"extra_db": np.asarray(_MORE_SIGNAL_DB)},
        "below the horizon": {"support": modes.returned},
    }
    now = _over_targets(question, contact.both[0], 0)
    gained = np.full((len(LIMITS), *now.shape), -1.0)
    for name, change in lifted.items():
        both = contact_chance(link, gain_db, efficiency, **change).both[0]
        gained[LIMITS.index(name)] = _over_targets(question, both, 0) - now
    limit = gained.argmax(axis=0)
    # Where lifting one thing alone is no use, what comes first on the way counts.
    useless = gained.max(axis=0) < 0.02
    returned = _over_targets(question, modes.returned.max(axis=-1), 0)
    support = _over_targets(question, modes.support.max(axis=-1), 0)
    first = np.select(
        [returned < OPEN_CHANCE, support < OPEN_CHANCE],
        [LIMITS.index("layer too weak"), LIMITS.index("below the horizon")],
        LIMITS.index("absorbed"),
    )
    limit = np.where(useless, first, limit)
    limit = np.where(now >= 0.9, LIMITS.index("none"), limit)
    idle = np.array([band not in patterns for band in bands])
    return np.where(idle, LIMITS.index("band not on this set-up"), limit)
