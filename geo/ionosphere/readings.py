"""Soundings from the readings of an ionosonde, one an hour."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from geo.bulletins import Ionosonde, ionosonde
from geo.errors import InputError
from geo.ionosphere.conditions import Sounding
from geo.ionosphere.layers import layers_at
from geo.places import Place
from geo.solar import r12_at

BEFORE_HOURS = 6
"""Readings so long before the first hour still say something of it: 1/e in 3 h."""

LEAST_RATIO, MOST_RATIO = 0.45, 2.2
"""A reading further off the month than this is taken for a trace that the program took
for another, and left out: within what a sounding by hand may have. The project's
choice."""


def hourly_soundings(
    text: str, first: np.datetime64, hours: int
) -> tuple[Sounding, ...]:
    """
    Make soundings of a table of ionospheric characteristics.

    Parameters
    ----------
    text : str
        The table, as `geo.bulletins.ionosonde` reads it.
    first : numpy.datetime64
        First hour of the question, UTC.
    hours : int
        How many.

    Returns
    -------
    soundings : tuple of Sounding
        Median of an hour's readings, from six hours before the first hour on, without
        those that lie far off the month.

    Raises
    ------
    InputError
        If it is another file, or has no reading of these hours.
    """
    found = ionosonde(text)
    start = first.astype("datetime64[h]")
    begin = start - np.timedelta64(BEFORE_HOURS, "h")
    hourly = tuple(_hourly(found, begin, start + np.timedelta64(hours, "h")))
    if not hourly:
        raise InputError(
            f"no reading to rely on from {begin}Z on{_reach(found)}; download the "
            "hours before the one you ask about"
        )
    return hourly


def _hourly(
    found: Ionosonde, begin: np.datetime64, end: np.datetime64
) -> Iterator[Sounding]:
    """Take the median of each hour."""
    place = Place(found.lat_deg, found.lon_deg, found.name)
    hour_of = found.times.astype("datetime64[h]")
    known = np.isfinite(found.fof2_mhz) & (hour_of >= begin) & (hour_of < end)
    times = found.times[known]
    if not times.size:
        return
    month = layers_at(place.lat_deg, place.lon_deg, times, r12_at(times)[0])
    ratio = found.fof2_mhz[known] / month.fof2_mhz[:, 0]
    known[known] = (ratio >= LEAST_RATIO) & (ratio <= MOST_RATIO)
    for hour in np.unique(hour_of[known]):
        of_it = known & (hour_of == hour)
        heights = found.hmf2_km[of_it & np.isfinite(found.hmf2_km)]
        yield Sounding(
            round(float(np.median(found.fof2_mhz[of_it])), 3),
            place,
            found.times[of_it][of_it.sum() // 2],
            round(float(np.median(heights)), 1) if heights.size else None,
        )


def _reach(found: Ionosonde) -> str:
    """Say from when to when a file goes."""
    if not found.times.size:
        return ""
    first, last = found.times[[0, -1]].astype("datetime64[m]")
    return f" (it goes from {first}Z to {last}Z)"
