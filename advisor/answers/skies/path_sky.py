"""
Usable frequencies over one path, hour by hour, for a circuit that anyone can check.

The reference circuit has isotropic, lossless antennas and a flat horizon at both ends,
so that only the sky, the power, the emission and the noise count.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from advisor.answers.bearings import sum_db
from advisor.answers.rows.sky import PathFacts, PathRow
from advisor.answers.skies.sky import sun_times
from advisor.antenna.closedform import isotropic_pattern
from advisor.engine.engine import link_at
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import median_point, point_of
from advisor.propagation.mode_axis import ES_RANKED, mode_name
from geo.errors import InputError
from geo.paths import FAR_END, MID, NEAR_END

LOWEST_MHZ, LUF_HIGHEST_MHZ, HIGHEST_MHZ, STEP_MHZ = 1.6, 30.0, 60.0, 0.1
"""Frequencies tried; the LUF is looked for up to the second only. [MHz]"""

_COARSE = 10
"""Steps that a first look takes at a time."""

HALF, NINE_TENTHS = 0.5, 0.9
"""Shares of days that stand for the MUF and for its lower decile."""

_REGULAR = slice(0, ES_RANKED.start)
"""Modes of the regular layers: sporadic E is left out."""


@dataclass(frozen=True)
class SkyPath:
    """
    Usable frequencies over one path.

    Attributes
    ----------
    facts : PathFacts
        Where it leads, and what the LUF holds for.
    rows : tuple of PathRow
        One an hour.
    """

    facts: PathFacts
    rows: tuple[PathRow, ...]


def sky_path(question: Question) -> SkyPath:
    """
    Find MUF, its lower decile and LUF over one path, hour by hour.

    Parameters
    ----------
    question : Question
        One target; its bands are of no account.

    Returns
    -------
    path : SkyPath
        Frequencies to 0.1 MHz.

    Raises
    ------
    InputError
        If there is more than one target.

    Notes
    -----
    The MUF is the highest frequency that a regular layer returns on half of the days,
    the FOT on nine days in ten. The LUF is the lowest at which the signal there, summed
    over the modes that exist on half of the days or more, meets the need in the monthly
    median.

    References
    ----------
    ITU-R P.533-14, sections 3.6 and 9 (from memory); ITU-R P.373 for the
    terms (from memory).
    """
    if len(question.targets) != 1:
        raise InputError(f"{len(question.targets)} targets for one path: name one")
    here, target = question.place, question.targets[0]
    point = median_point(target, here.lat_deg, here.lon_deg)
    count = round((HIGHEST_MHZ - LOWEST_MHZ) / STEP_MHZ) + 1
    frequency = np.round(LOWEST_MHZ + STEP_MHZ * np.arange(count), 1)
    narrow = replace(question, targets=(point_of(target, point),))

    def linked(mhz: NDArray[np.float64]) -> Link:
        far = [isotropic_pattern(LOWEST_MHZ)] * mhz.size
        return link_at(narrow, question.solar.r12, mhz, far, horizon_deg=0.0)

    # Well above the highest that exists nothing is asked for in such small steps.
    exists = linked(frequency[::_COARSE]).modes.support[0, ..., _REGULAR] >= HALF
    steps = np.flatnonzero(exists.any(axis=(0, 2))).max(initial=0) + 1
    frequency = frequency[: _COARSE * steps + 1]
    link = linked(frequency)
    station, paths = question.station, link.paths
    middle = [
        float(each[0, MID]) for each in (paths.control_lat_deg, paths.control_lon_deg)
    ]
    ends = {
        "here": (here.lat_deg, here.lon_deg),
        "middle": (middle[0], middle[1]),
        "far end": (float(paths.lat_deg[0]), float(paths.lon_deg[0])),
    }
    facts = PathFacts(
        target=target.name,
        lat_deg=ends["far end"][0],
        lon_deg=ends["far end"][1],
        distance_km=float(paths.distance_km[0]),
        bearing_deg=float(paths.bearing_deg[0]),
        circuit=(
            f"{question.emission.name} {station.power_w:g} W sent from here, isotropic "
            f"lossless antennas and a flat horizon at both ends, noise "
            f"{station.far_end.noise} there"
        ),
        sun={
            name: sun_times(*place, question.times[0]) for name, place in ends.items()
        },
    )
    return SkyPath(facts, _rows(link, frequency))


def _rows(link: Link, frequency_mhz: NDArray[np.float64]) -> tuple[PathRow, ...]:
    """One row an hour."""
    muf, names = _highest(link, frequency_mhz, HALF)
    fot, _ = _highest(link, frequency_mhz, NINE_TENTHS)
    luf = _lowest(link, frequency_mhz)
    sun = 90.0 - link.layers.zenith_deg
    return tuple(
        PathRow(
            path_muf_mhz=float(muf[t]),
            path_muf_mode=names[t],
            path_fot_mhz=float(fot[t]),
            path_luf_mhz=float(luf[t]),
            sun_here_deg=float(sun[t, NEAR_END]),
            sun_middle_deg=float(sun[t, MID]),
            sun_far_deg=float(sun[t, FAR_END]),
        )
        for t in range(muf.size)
    )


def _highest(
    link: Link, frequency_mhz: NDArray[np.float64], share: float
) -> tuple[NDArray[np.float64], list[str]]:
    """Highest frequency that exists on a share of days, and the mode it goes by."""
    support = link.modes.support[0, ..., _REGULAR]
    found = support.max(axis=-1) >= share
    last = found.shape[-1] - 1 - found[:, ::-1].argmax(axis=-1)
    hours = np.arange(last.size)
    highest = np.where(found.any(axis=-1), frequency_mhz[last], np.nan)
    modes = support[hours, last].argmax(axis=-1)
    hops = link.modes.hops[0, hours, last, modes]
    names = [mode_name(int(m), int(n)) for m, n in zip(modes, hops, strict=True)]
    return highest, [
        name if np.isfinite(mhz) else ""
        for name, mhz in zip(names, highest, strict=True)
    ]


def _lowest(link: Link, frequency_mhz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Lowest frequency at which the median signal there meets the need, (T,)."""
    modes, level = link.modes, link.heard_db[0]
    exists = modes.support[0, ..., _REGULAR] >= HALF
    each = level[..., None] - modes.loss_db[0, ..., _REGULAR]
    margin = np.where(exists.any(axis=-1), sum_db(each, exists.astype(float)), -np.inf)
    enough = (margin >= 0.0) & (frequency_mhz <= LUF_HIGHEST_MHZ)
    first = frequency_mhz[enough.argmax(axis=-1)]
    return np.where(enough.any(axis=-1), first, np.nan)
