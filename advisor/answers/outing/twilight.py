"""Sun and grey line at both ends of a path."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.engine.question import Question
from geo.arrays import Floats, Times
from geo.places import Target
from geo.sun import (
    CIVIL_TWILIGHT_DEG,
    REFRACTION_AND_RADIUS_DEG,
    SunEvents,
    subsolar_minutes,
    sun_events,
    zenith_deg,
)

_MINUTES = 24 * 60

Under = tuple[Floats, Floats]


@dataclass(frozen=True)
class SunAt:
    """
    The sun at one end in the 24 hours from the first hour.

    Attributes
    ----------
    name : str
        Whose end.
    lat_deg, lon_deg : float
        Where; the middle of a region. [deg]
    events : SunEvents
        Rise, set, twilight.
    grey : tuple of (numpy.datetime64, numpy.datetime64)
        Grey line, to the minute: the sun below the horizon by no more than 6 deg.
    """

    name: str
    lat_deg: float
    lon_deg: float
    events: SunEvents
    grey: tuple[tuple[np.datetime64, np.datetime64], ...]


@dataclass(frozen=True)
class GreyBoth:
    """
    Grey line at both ends at once.

    Attributes
    ----------
    name : str
        The far end.
    begin, end : numpy.datetime64
        From and to, UTC.
    """

    name: str
    begin: np.datetime64
    end: np.datetime64


TAKING_DOWN = np.timedelta64(30, "m")
"""Daylight that taking down wire and masts wants (common practice, no source)."""


def turn_back_by(events: SunEvents, walk_min: float = 0.0) -> np.datetime64:
    """
    Say when to leave the site, to be back by daylight.

    Parameters
    ----------
    events : SunEvents
        Of the site.
    walk_min : float, optional
        Way back. [min]

    Returns
    -------
    moment : numpy.datetime64
        Sunset less the way; NaT where the sun does not set. [UTC]
    """
    return events.set - np.timedelta64(round(60.0 * walk_min), "s")


def take_down_by(events: SunEvents, walk_min: float = 0.0) -> np.datetime64:
    """
    Say when to begin to take down, to be done by daylight.

    Parameters
    ----------
    events : SunEvents
        Of the site.
    walk_min : float, optional
        Way back, which is to be done by daylight too. [min]

    Returns
    -------
    moment : numpy.datetime64
        `turn_back_by` less `TAKING_DOWN`; NaT where the sun does not set. [UTC]
    """
    return turn_back_by(events, walk_min) - TAKING_DOWN


def sun_at_ends(question: Question) -> tuple[SunAt, ...]:
    """
    Say what the sun does here and at the middle of each target.

    Parameters
    ----------
    question : Question
        Holds place, targets and hours.

    Returns
    -------
    suns : tuple of SunAt
        My end first; a target that lies all round me is left out.
    """
    start = question.times[0]
    place = question.place
    ends = [("here", place.lat_deg, place.lon_deg)]
    for target in question.targets:
        middle = centre(target)
        if middle is not None:
            ends.append((target.name, *middle))
    moments = start + np.arange(_MINUTES + 1).astype("timedelta64[m]")
    under = subsolar_minutes(start)
    return tuple(
        SunAt(
            name, lat, lon, sun_events(lat, lon, start), _grey(lat, lon, moments, under)
        )
        for name, lat, lon in ends
    )


def centre(target: Target) -> tuple[float, float] | None:
    """
    Find the middle of a target.

    Parameters
    ----------
    target : Target
        Sample points with weights.

    Returns
    -------
    lat_deg, lon_deg : tuple of float or None
        Direction of the mean of the vectors from the Earth's centre; None for a ring,
        whose middle is the station. [deg]
    """
    if target.kind == "ring":
        return None
    lat, lon = np.radians(target.lat_deg), np.radians(target.lon_deg)
    points = np.stack(
        [np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)]
    )
    x, y, z = points @ target.weight
    return (
        float(np.degrees(np.arctan2(z, np.hypot(x, y)))),
        float(np.degrees(np.arctan2(y, x))),
    )


def grey_at_both(suns: tuple[SunAt, ...]) -> tuple[GreyBoth, ...]:
    """
    Find when it is twilight here and at a far end at once.

    Parameters
    ----------
    suns : tuple of SunAt
        From `sun_at_ends`.

    Returns
    -------
    both : tuple of GreyBoth
        In the order of the targets, then of time.
    """
    found = []
    for far in suns[1:]:
        for here_from, here_to in suns[0].grey:
            for far_from, far_to in far.grey:
                begin, end = max(here_from, far_from), min(here_to, far_to)
                if begin < end:
                    found.append(GreyBoth(far.name, begin, end))
    return tuple(found)


def _grey(
    lat: float, lon: float, moments: Times, under: Under
) -> tuple[tuple[np.datetime64, np.datetime64], ...]:
    """Find the minutes with the sun between the horizon and civil twilight."""
    elevation = 90.0 - zenith_deg(lat, lon, *under)
    grey = (elevation < -REFRACTION_AND_RADIUS_DEG) & (elevation >= -CIVIL_TWILIGHT_DEG)
    edges = np.flatnonzero(np.diff(grey.astype(int), prepend=0, append=0))
    last = moments.size - 1
    return tuple(
        (moments[begin], moments[min(int(end), last)])
        for begin, end in zip(edges[::2], edges[1::2], strict=True)
    )
