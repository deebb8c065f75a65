"""Soundings from files of ionosondes that the user downloaded."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from geo.errors import InputError

if TYPE_CHECKING:
    import numpy as np

    from geo.bulletins import Ionosonde
    from geo.ionosphere.conditions import Sounding

BEFORE_HOURS = 6
"""Readings so long before the first hour still say something of it: 1/e in 3 h."""

LEAST_RATIO, MOST_RATIO = 0.45, 2.2
"""A reading further off the month than this is taken for a trace that the program took
for another, and left out: within what a sounding by hand may have. The project's
choice."""

MOST_BYTES = 50_000_000
"""Longest file that is read: some years of readings."""


def soundings_of(
    files: tuple[Path, ...], first: np.datetime64, hours: int
) -> Iterator[Sounding]:
    """
    Make soundings of the readings of some files, one an hour.

    Parameters
    ----------
    files : tuple of pathlib.Path
        Tables of ionospheric characteristics.
    first : numpy.datetime64
        First hour of the question, UTC.
    hours : int
        How many.

    Yields
    ------
    sounding : Sounding
        Median of an hour's readings, from six hours before the first hour on, without
        those that lie far off the month.

    Raises
    ------
    InputError
        If a file cannot be read, or has no reading of these hours.
    """
    import numpy as np

    from geo.bulletins import ionosonde

    for file in files:
        try:
            with file.open("rb") as opened:
                body = opened.read(MOST_BYTES + 1)
            if len(body) > MOST_BYTES:
                raise InputError(f"it has over {MOST_BYTES // 1_000_000} MB")
            found = ionosonde(body.decode())
        except OSError as error:
            why = error.strerror or f"{error}"
            raise InputError(f"--ionosonde '{file}': {why}") from None
        except UnicodeDecodeError:
            raise InputError(f"--ionosonde '{file}': it is not text") from None
        except InputError as error:
            raise InputError(f"--ionosonde '{file}': {error}") from None
        start = first.astype("datetime64[h]")
        begin = start - np.timedelta64(BEFORE_HOURS, "h")
        hourly = list(_hourly(found, begin, start + np.timedelta64(hours, "h")))
        if not hourly:
            raise InputError(
                f"--ionosonde '{file}': no reading to rely on from {begin}Z on"
                f"{_reach(found)}; download the hours before the one you ask about"
            )
        yield from hourly


def _hourly(
    found: Ionosonde, begin: np.datetime64, end: np.datetime64
) -> Iterator[Sounding]:
    """Take the median of each hour."""
    import numpy as np

    from geo.ionosphere.conditions import Sounding
    from geo.ionosphere.layers import layers_at
    from geo.places import Place
    from geo.solar import r12_at

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
