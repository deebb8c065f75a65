"""What the wire gives round the compass, how it runs, where the targets lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.pictures.scene import Moment, Scene, best_moment
from advisor.antenna.pattern import Pattern, gain_in_dbi
from advisor.engine.targets import mode_strengths, target_slices
from advisor.engine.wires import gain_over_hills
from geo.arrays import Floats
from geo.magnetic import decimal_year_of, declination_deg
from geo.paths import paths_to
from geo.records import ArrayRecord


@dataclass(frozen=True)
class Sector:
    """
    Directions in which a target lies.

    Attributes
    ----------
    name : str
        The target.
    bearing_deg : float
        Mean bearing. [deg]
    from_deg, to_deg : float
        Lower and upper decile over the target, clockwise. [deg]
    is_all_round : bool
        Whether it lies about the station.
    """

    name: str
    bearing_deg: float
    from_deg: float
    to_deg: float
    is_all_round: bool


class Compass(ArrayRecord):
    """
    What the wire gives round the compass over the angles that the sky offers.

    Attributes
    ----------
    setup, band : str
        Names.
    utc : numpy.datetime64
        The hour looked at.
    low_deg, high_deg : float
        Deciles of the angles offered for the target asked about; NaN where no layer
        carries the band, then the gain is that of the strongest elevation. [deg]
    azimuth_deg, gain_dbi : numpy.ndarray
        Shape (A,), true azimuth and gain. [deg], [dBi]
    gives_dbi : float
        What the wire gives towards that target; NaN where no layer carries the band.
        [dBi]
    wire_deg : float or None
        Way the wire runs; None where turning changes nothing. [deg]
    first_end : str
        Name of the end that this bearing starts from; empty where the wire may run
        either way.
    good_deg : tuple of tuple of float
        Ranges of wire bearings, from and to, clockwise, that cost under the
        tolerance; empty if any does. [deg]
    declination_deg : float
        Magnetic declination, east positive. [deg]
    sectors : tuple of Sector
        One a target.
    target : int
        Place among them of the target that names the angle.
    """

    setup: str
    band: str
    utc: np.datetime64
    low_deg: float
    high_deg: float
    azimuth_deg: Floats
    gain_dbi: Floats
    gives_dbi: float
    wire_deg: float | None
    first_end: str
    good_deg: tuple[tuple[float, float], ...]
    declination_deg: float
    sectors: tuple[Sector, ...]
    target: int


def compass(
    scene: Scene, target: int = 0, setup: int = 0, moment: Moment | None = None
) -> Compass:
    """
    Turn round the compass: what the wire gives over the angles offered for a target.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    target, setup : int, optional
        Which target names the angles, which set-up in order of rank.
    moment : Moment, optional
        Hour and band looked at; that of the greatest chance if not given.

    Returns
    -------
    record : Compass
        Gain, wire and targets.
    """
    advice = scene.advice
    question, one = advice.question, advice.setups[setup]
    at = moment or best_moment(advice, target, setup)
    patterns = scene.patterns[one.name]
    pattern = patterns[question.bands[at.band].name]
    seen = advice.targets[target]
    azimuth = np.arange(0.0, 360.0, 1.0)
    wire = one.bearing.wire_deg
    good: list[tuple[float, float]] = []
    if one.bearing.good_from_deg is not None and one.bearing.good_to_deg is not None:
        good = [(one.bearing.good_from_deg, one.bearing.good_to_deg)]
        if all(each.is_reversible for each in patterns.values()):
            good.append(((good[0][0] + 180.0) % 360.0, (good[0][1] + 180.0) % 360.0))
    place = question.place
    year = float(decimal_year_of(question.times[:1])[0])
    return Compass(
        setup=one.name,
        band=question.bands[at.band].name,
        utc=question.times[at.hour],
        low_deg=float(seen.takeoff_low_deg[at.hour, at.band]),
        high_deg=float(seen.takeoff_high_deg[at.hour, at.band]),
        azimuth_deg=azimuth,
        gain_dbi=_round_dbi(scene, target, at, pattern, azimuth, wire or 0.0),
        gives_dbi=float(one.gain_dbi[target, at.hour, at.band]),
        wire_deg=wire,
        first_end=one.first_end,
        good_deg=tuple(good),
        declination_deg=float(declination_deg(place.lat_deg, place.lon_deg, 0.0, year)),
        sectors=tuple(_sector(advice, k) for k in range(len(advice.targets))),
        target=target,
    )


def _round_dbi(
    scene: Scene,
    target: int,
    at: Moment,
    pattern: Pattern,
    azimuth_deg: Floats,
    wire_deg: float,
) -> Floats:
    """Mean gain over what the sky offers for a target, as if it all came one way."""
    question = scene.advice.question
    here = target_slices(question)[target], at.hour, at.band
    share = mode_strengths(scene.link)[here]
    weight = question.targets[target].weight[:, None] * share
    offered = weight > 0.0
    weights: Floats | None = weight[offered]
    angle = scene.link.modes.takeoff_deg[here][offered]
    if not offered.any():
        angle, weights = np.array([pattern.peak().takeoff_deg]), None
    gain = gain_over_hills(
        question,
        pattern,
        angle[:, None],
        azimuth_deg[None, :] - wire_deg,
        azimuth_deg[None, :],
    )
    return gain_in_dbi(np.average(gain, axis=0, weights=weights))


def _sector(advice: Answer, target: int) -> Sector:
    """Directions of one target, from the lower to the upper decile."""
    question, seen = advice.question, advice.targets[target]
    points = question.targets[target]
    bearing = paths_to(
        question.place.lat_deg,
        question.place.lon_deg,
        points.lat_deg,
        points.lon_deg,
        long_path=question.long_path,
    ).bearing_deg
    off = (bearing - seen.bearing_deg + 180.0) % 360.0 - 180.0
    low, high = np.quantile(
        off, (0.1, 0.9), weights=points.weight, method="inverted_cdf"
    )
    return Sector(
        name=seen.name,
        bearing_deg=seen.bearing_deg,
        from_deg=float((seen.bearing_deg + low) % 360.0),
        to_deg=float((seen.bearing_deg + high) % 360.0),
        is_all_round=seen.is_all_round,
    )
