"""Trials that are asked at once: all of my place and ten days, on a band or several."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from advisor.answers.shared import share_out
from advisor.answers.verification.trials import Trials
from advisor.logs.sightings import Sightings
from advisor.station.bands import Band
from geo.arrays import Floats, Indices, Times

DAYS_A_BLOCK = 10
_START_CELLS = 72
_START_BANDS = 6
"""Before its first figure a question costs as much as three days of a far end, and on
its first band as much as six bands more: found by timing."""


@dataclass(frozen=True)
class Block:
    """
    M trials that are asked at once.

    Attributes
    ----------
    own : tuple of float
        Latitude and longitude of my place. [deg]
    day : numpy.datetime64
        The middle one of the ten.
    members : numpy.ndarray of int
        Shape (M,), which trials.
    far : numpy.ndarray
        Shape (2, P), latitudes and longitudes of the far ends. [deg]
    place, band, hour : numpy.ndarray of int
        Shape (M,), of each trial the place in far ends, ``bands`` and ``hours``.
    bands : tuple of Band
        The B bands.
    hours : numpy.ndarray of int
        Shape (T,), of the day.
    cells : int
        Far ends times hours that are wanted, added up over the bands.
    """

    own: tuple[float, float]
    day: np.datetime64
    members: Indices
    far: Floats
    place: Indices
    band: Indices
    hour: Indices
    bands: tuple[Band, ...]
    hours: Indices
    cells: int


def blocks_of(
    seen: Sightings,
    trials: Trials,
    bands: tuple[Band, ...],
    here: complex,
    *,
    whole_days: bool,
    all_bands: bool = False,
) -> Iterator[Block]:
    """
    Group trials by my place and ten days; by band too where far ends differ.

    Parameters
    ----------
    seen : Sightings
        Rows of the files.
    trials : Trials
        The times.
    bands : tuple of Band
        Every band of the rows.
    here : complex
        Latitude and longitude of my place where a row does not say another. [deg]
    whole_days : bool
        Whether all hours are wanted.
    all_bands : bool, optional
        Whether each is wanted on all bands.

    Yields
    ------
    block : Block
        Every trial is in one of them.
    """
    rows = trials.row
    if not rows.size:
        return
    own = (seen.own_lat_deg + 1j * seen.own_lon_deg)[rows]
    own = np.where(np.isfinite(own), own, here)
    months, third = ten_days(trials)
    names = [band.name for band in bands]
    order = np.argsort(names)
    band = order[np.searchsorted(np.array(names)[order], seen.band[rows])]
    place_here = np.unique(own, return_inverse=True)[1]
    far = (seen.far_lat_deg + 1j * seen.far_lon_deg)[rows]
    for group in _alike((place_here * 10_000 + months.astype(int)) * 3 + third):
        places, at = np.unique(far[group], return_inverse=True)
        hour = trials.hour[group]
        apart = _alike(band[group])
        parts = [np.arange(group.size)]
        if not all_bands:
            parts = _joined(apart, at, hour, whole_days=whole_days)
        first = group[0]
        since = int(third[first]) * DAYS_A_BLOCK + 4
        for part in parts:
            kept, here_at = np.unique(at[part], return_inverse=True)
            used = np.arange(len(names)) if all_bands else np.unique(band[group[part]])
            hours = np.arange(24) if whole_days else np.unique(hour[part])
            if all_bands:
                cells = kept.size * hours.size * used.size
            else:
                alone = [each for each in apart if np.isin(each, part).all()]
                cells = sum(_cells(at[each], hour[each], whole_days) for each in alone)
            yield Block(
                own=(float(own[first].real), float(own[first].imag)),
                day=months[first] + np.timedelta64(since, "D"),
                members=group[part],
                far=np.stack([places[kept].real, places[kept].imag]),
                place=here_at,
                band=np.searchsorted(used, band[group[part]]),
                hour=np.searchsorted(hours, hour[part]),
                bands=tuple(bands[b] for b in used),
                hours=hours,
                cells=cells,
            )


def ten_days(trials: Trials) -> tuple[Times, Indices]:
    """
    Say in which third of which month each trial was.

    Parameters
    ----------
    trials : Trials
        M times.

    Returns
    -------
    month : numpy.ndarray of datetime64[M]
        Shape (M,).
    third : numpy.ndarray of int
        Shape (M,), 0 to 2; the last is the longest.
    """
    dates = trials.day.astype("datetime64[D]")
    months = dates.astype("datetime64[M]")
    return months, np.minimum((dates - months).astype(int) // DAYS_A_BLOCK, 2)


def _alike(key: Indices) -> list[Indices]:
    """Group places of equal values."""
    order = np.argsort(key, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(key[order])) + 1)


def _cells(place: Indices, hour: Indices, whole_days: bool) -> int:
    """Count far ends times hours."""
    return np.unique(place).size * (24 if whole_days else np.unique(hour).size)


def _joined(
    apart: list[Indices], place: Indices, hour: Indices, *, whole_days: bool
) -> list[Indices]:
    """Put the trials of bands together where they cost less than apart."""

    def cost(part: Indices, bands: int) -> int:
        cells = _cells(place[part], hour[part], whole_days)
        return (cells + _START_CELLS) * (_START_BANDS + bands)

    joined: list[tuple[Indices, int]] = []
    for part in sorted(apart, key=len):
        best, saved = len(joined), 0
        for n, (other, bands) in enumerate(joined):
            both = cost(np.concatenate([other, part]), bands + 1)
            less = cost(other, bands) + cost(part, 1) - both
            if less > saved:
                best, saved = n, less
        if best == len(joined):
            joined.append((part, 1))
        else:
            other, bands = joined[best]
            joined[best] = np.concatenate([other, part]), bands + 1
    return [np.sort(part) for part, _ in joined]


def each_of(
    blocks: Iterator[Block],
    tell: Callable[[Block], Floats],
    processes: int,
    step: Callable[[int], None],
) -> Iterator[tuple[Block, Floats]]:
    """
    Tell of every block.

    Parameters
    ----------
    blocks : iterator of Block
        The blocks.
    tell : callable
        What is told of one.
    processes : int
        Over how many processes they are shared out.
    step : callable
        Told how many cells were worked out.

    Yields
    ------
    block : Block
        One after the other.
    told : numpy.ndarray
        What was told of it.
    """
    listed = list(blocks)
    told: dict[int, Floats] = {}

    def work(index: int) -> Iterator[tuple[int, tuple[int, Floats]]]:
        yield listed[index].cells, (index, tell(listed[index]))

    if processes > 1 and len(listed) > 1:
        for cells in share_out(
            work, len(listed), lambda part: told.update([part]), processes
        ):
            step(cells)
    for index, block in enumerate(listed):
        # All but those of a process that was ended from outside.
        if index not in told:
            told[index] = tell(block)
            step(block.cells)
        yield block, told.pop(index)
