"""Gain round the compass, where the wire runs and where the targets lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.pictures.scene import Moment, Scene, best_moment
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


@dataclass(frozen=True, eq=False)
class Compass(ArrayRecord):
    """
    Gain round the compass at the take-off angle that matters.

    Attributes
    ----------
    setup, band : str
        Names.
    utc : numpy.datetime64
        The hour looked at.
    takeoff_deg : float
        The angle that matters: median for the target asked about; NaN where no layer
        carries the band, then the gain is that of the strongest elevation. [deg]
    azimuth_deg, gain_dbi : numpy.ndarray
        Shape (A,), true azimuth and gain. [deg], [dBi]
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
    takeoff_deg: float
    azimuth_deg: Floats
    gain_dbi: Floats
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
    Gain round the compass at the take-off angle a target asks for.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    target, setup : int, optional
        Which target names the angle, which set-up in order of rank.
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
    asked = float(advice.targets[target].takeoff_deg[at.hour, at.band])
    takeoff = pattern.peak().takeoff_deg if np.isnan(asked) else asked
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
        takeoff_deg=asked,
        azimuth_deg=azimuth,
        gain_dbi=pattern.gain_dbi(takeoff, azimuth - (wire or 0.0)),
        wire_deg=wire,
        first_end=one.first_end,
        good_deg=tuple(good),
        declination_deg=float(declination_deg(place.lat_deg, place.lon_deg, 0.0, year)),
        sectors=tuple(_sector(advice, k) for k in range(len(advice.targets))),
        target=target,
    )


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
