"""The sun at both ends of a path over the hours of a question."""

from __future__ import annotations

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.pictures.scene import middle_point
from geo.arrays import Floats, Times
from geo.records import ArrayRecord
from geo.sun import REFRACTION_AND_RADIUS_DEG, rise_and_set, subsolar_point, zenith_deg

_STEP_H = 0.1


class Daylight(ArrayRecord):
    """
    The sun at one end over the hours of a question.

    Attributes
    ----------
    label : str
        Whose end.
    hour : numpy.ndarray
        Shape (N,), hours since the first. [h]
    elevation_deg : numpy.ndarray
        Shape (N,), of the sun's centre. [deg]
    rises, sets : tuple of numpy.datetime64
        Sunrises and sunsets within the hours, UTC.
    """

    label: str
    hour: Floats
    elevation_deg: Floats
    rises: tuple[np.datetime64, ...]
    sets: tuple[np.datetime64, ...]

    @property
    def stays(self) -> str:
        """
        Where the sun stays if it neither rises nor sets: ``up`` or ``down``.

        It is up from sunrise to sunset, which count its radius and the refraction at
        the horizon, not only while its centre is above.
        """
        middle_deg = self.elevation_deg[self.elevation_deg.size // 2]
        return "up" if middle_deg > -REFRACTION_AND_RADIUS_DEG else "down"


def daylight_at_both_ends(advice: Answer, target: int = 0) -> tuple[Daylight, ...]:
    """
    Follow the sun at my end and at the middle of a target.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int, optional
        Which target.

    Returns
    -------
    ends : tuple of Daylight
        My end, then the target's; only mine where the target lies all round.
    """
    mine = _daylight_here(advice)
    return (mine, *_daylight_there(advice, target))


def daylight_of_targets(advice: Answer) -> tuple[tuple[Daylight, ...], ...]:
    """
    Follow the sun at my end and at the middle of every target.

    Parameters
    ----------
    advice : Answer
        The answer.

    Returns
    -------
    ends : tuple of tuple of Daylight
        For every target as from `daylight_at_both_ends`.
    """
    mine = _daylight_here(advice)
    return tuple(
        (mine, *_daylight_there(advice, k)) for k in range(len(advice.targets))
    )


def _daylight_here(advice: Answer) -> Daylight:
    """Follow the sun at my end."""
    place = advice.question.place
    here = advice.question.here
    return _daylight(here, place.lat_deg, place.lon_deg, advice.question.times)


def _daylight_there(advice: Answer, target: int) -> tuple[Daylight, ...]:
    """Follow the sun at a target; nothing where it lies all round."""
    seen = advice.targets[target]
    if seen.is_all_round:
        return ()
    lat, lon = middle_point(advice.question.targets[target])
    return (_daylight(seen.name, lat, lon, advice.question.times),)


def _daylight(label: str, lat_deg: float, lon_deg: float, times: Times) -> Daylight:
    """Sun's elevation every few minutes, and its rises and sets."""
    hour = np.arange(0.0, times.size + 0.5 * _STEP_H, _STEP_H)
    when = times[0] + np.rint(3600.0 * hour).astype("timedelta64[s]")
    sun_lat, sun_lon = subsolar_point(when)
    rises, sets = [], []
    end = times[-1] + np.timedelta64(1, "h")
    for start in np.arange(times[0], end, np.timedelta64(24, "h")):
        rise, fall = rise_and_set(lat_deg, lon_deg, start)
        rises.append(rise)
        sets.append(fall)
    return Daylight(
        label=label,
        hour=hour,
        elevation_deg=90.0 - zenith_deg(lat_deg, lon_deg, sun_lat, sun_lon),
        rises=tuple(time for time in rises if time < end),
        sets=tuple(time for time in sets if time < end),
    )
