"""
Where a set-up's power goes: angles, bearings, distances, beside the yardsticks.

All gains here are of the wire itself, for power at its feedpoint: the yardsticks have
no feed line either. What the feed takes is told in `advisor.answers.one_wire.feed`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from advisor.antenna.closedform import dipole_pattern, wavelength_m
from advisor.antenna.earthed import earthed_pattern
from advisor.antenna.ground import Ground
from advisor.antenna.pattern import FLOOR_DBI, Lobes, Pattern, Peak
from advisor.antenna.shapes.parts import LEAST_HEIGHT_M
from advisor.antenna.solver.cache import SolvedWire
from geo.arrays import Floats
from geo.fields import record
from geo.ionosphere.hops import (
    E_MIRROR_HEIGHT_KM,
    MAX_HOP_E_KM,
    MAX_HOP_F2_KM,
    hop_length_km,
    takeoff_angle_deg,
)

TAKEOFFS_DEG = (5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 90.0)
"""Angles at which the gain is told. [deg]"""

LOW_ANGLE_DEG = 10.0
"""Angle at which lobes round the horizon, polarisation and ground are told. [deg]"""

F2_HEIGHTS_KM = (250.0, 300.0, 350.0)
"""Mirror heights of F2: low, usual, high. [km]"""

ZONE_EDGES_KM = (800.0, 2500.0)
"""Short skip ends, DX begins: common practice, no source. [km]"""

VERDICTS = ("short skip", "split", "mid range", "DX")
"""What a band may be good for with a wire."""

# Verdicts, ours: above the one share of the power within 800 km it is short skip,
# above the other it is split; DX is within 1.5 dB of the vertical at 5 degrees: one
# over short radials, 1 dB under that yardstick, works DX.
_MOSTLY_SHORT, _PARTLY_SHORT = 0.65, 0.45
_DX_TAKEOFF_DEG, _DX_WITHIN_DB = 5.0, 1.5

# A lobe this far under the strongest is not told, one edge is half of its power. [dB]
_FAINT_DB, _HALF_DB = 6.0, 3.0103
_STEP_DEG = 0.25


@record
class AngleGain:
    """
    Gain at one take-off angle, in the best direction there.

    Attributes
    ----------
    takeoff_deg : float
        Take-off angle. [deg]
    gain_dbi : float
        Gain in the best direction there. [dBi]
    azimuth_deg : float
        That direction, clockwise from the wire. [deg]
    over_vertical_db : float
        Over the quarter-wave vertical on the ground; NaN where the yardstick has none.
        [dB]
    over_dipole_db : float
        Over a half-wave dipole as high as the wire's top; NaN where the yardstick has
        none. [dB]
    over_high_dipole_db : float
        Over a half-wave dipole half a wave up; NaN where the yardstick has none. [dB]
    """

    takeoff_deg: float
    gain_dbi: float
    azimuth_deg: float
    over_vertical_db: float
    over_dipole_db: float
    over_high_dipole_db: float


@record
class LobeReach:
    """
    One lobe over elevation, to half its power, and how far one hop takes it.

    Attributes
    ----------
    low_deg : float
        Lower edge, at half power. [deg]
    takeoff_deg : float
        Strongest. [deg]
    high_deg : float
        Upper edge. [deg]
    gain_dbi : float
        Gain of the strongest. [dBi]
    e_near_km : float
        Nearest of one hop by E at 110 km. [km]
    e_far_km : float
        Farthest, at most 2000. [km]
    f2_near_km : float
        Nearest of one hop by F2 at 250 km. [km]
    f2_far_km : float
        Farthest by F2 at 350 km, at most 4000. [km]
    """

    low_deg: float
    takeoff_deg: float
    high_deg: float
    gain_dbi: float
    e_near_km: float
    e_far_km: float
    f2_near_km: float
    f2_far_km: float


@dataclass(frozen=True, eq=False)
class SkyWork:
    """
    What a set-up radiates on one band.

    Attributes
    ----------
    efficiency : float
        Part of the power into the wire that reaches the sky.
    conductor_share, load_share, ground_share : float
        Parts that do not.
    peak : Peak
        Strongest direction of all.
    angles : tuple of AngleGain
        At the angles asked for.
    low : AngleGain
        At 10 degrees, whatever was asked for.
    lobes : Lobes
        Round the horizon at 10 degrees, clockwise from the wire.
    vertical_share : float
        Part of the power that is vertically polarised in the best direction there.
    reach : tuple of LobeReach
        Lobes over elevation, lowest first.
    zones : tuple of float
        Parts of the sky's power that come down within 800 km, to 2500 km and beyond,
        by one F2 hop at 300 km.
    verdict : str
        One of `VERDICTS`.
    reaches_far : bool
        Whether it keeps up with the vertical at 5 degrees, to 1 dB.
    vertical, dipole : Pattern
        The yardsticks on the page: ground-mounted, and as high as the wire.
    """

    efficiency: float
    conductor_share: float
    load_share: float
    ground_share: float
    peak: Peak
    angles: tuple[AngleGain, ...]
    low: AngleGain
    lobes: Lobes
    vertical_share: float
    reach: tuple[LobeReach, ...]
    zones: tuple[float, float, float]
    verdict: str
    reaches_far: bool
    vertical: Pattern
    dipole: Pattern


def sky_work(
    solved: SolvedWire,
    soil: Ground,
    top_m: float,
    takeoffs_deg: Sequence[float] = TAKEOFFS_DEG,
    cache_dir: Path | None = None,
) -> SkyWork:
    """
    Work out what a wire radiates, beside the yardsticks over the same ground.

    Parameters
    ----------
    solved : SolvedWire
        The wire on one band.
    soil : Ground
        Ground below.
    top_m : float
        Height of the wire's top, for the dipole beside it. [m]
    takeoffs_deg : sequence of float, optional
        Angles at which the gain is told, 0 to 90. [deg]
    cache_dir : pathlib.Path, optional
        Where the solver keeps what it found between runs.

    Returns
    -------
    work : SkyWork
        Gains, lobes, distances, verdict.
    """
    wire = solved.pattern
    mhz = wire.frequency_mhz
    vertical = earthed_pattern(mhz, soil, cache_dir)
    # A yardstick on the grass would be none.
    dipole = dipole_pattern(mhz, max(top_m, LEAST_HEIGHT_M), soil)
    high = dipole_pattern(mhz, 0.5 * wavelength_m(mhz), soil)
    beside = (vertical, dipole, high)

    def at(takeoff_deg: float) -> AngleGain:
        gain, azimuth = _best_round(wire, takeoff_deg)
        over = [gain - _best_round(each, takeoff_deg)[0] for each in beside]
        return AngleGain(takeoff_deg, gain, azimuth, *over)

    low = at(LOW_ANGLE_DEG)
    zones = zone_shares(wire)
    reaches_far = at(_DX_TAKEOFF_DEG).over_vertical_db >= -_DX_WITHIN_DB
    return SkyWork(
        efficiency=wire.efficiency,
        conductor_share=solved.conductor_share,
        load_share=solved.load_share,
        ground_share=solved.ground_share,
        peak=wire.peak(),
        angles=tuple(at(each) for each in takeoffs_deg),
        low=low,
        lobes=wire.lobes(LOW_ANGLE_DEG),
        vertical_share=vertical_share(wire, LOW_ANGLE_DEG, low.azimuth_deg),
        reach=lobe_reaches(wire),
        zones=zones,
        verdict=verdict_of(zones[0], reaches_far),
        reaches_far=reaches_far,
        vertical=vertical,
        dipole=dipole,
    )


def verdict_of(short_share: float, reaches_far: bool) -> str:
    """
    Say what a band is good for.

    Parameters
    ----------
    short_share : float
        Part of the sky's power that comes down within 800 km.
    reaches_far : bool
        Whether the wire keeps up with the vertical at 5 degrees.

    Returns
    -------
    verdict : str
        One of `VERDICTS`.

    Examples
    --------
    >>> verdict_of(0.8, False), verdict_of(0.37, True)
    ('short skip', 'DX')
    """
    if short_share >= _MOSTLY_SHORT:
        return "short skip"
    if short_share >= _PARTLY_SHORT:
        return "split"
    return "DX" if reaches_far else "mid range"


def zone_shares(pattern: Pattern) -> tuple[float, float, float]:
    """
    Split the sky's power by where one F2 hop at 300 km brings it down.

    Parameters
    ----------
    pattern : Pattern
        What is radiated.

    Returns
    -------
    shares : tuple of float
        Within 800 km, 800 to 2500 km, beyond; their sum is 1.
    """
    elevation = np.linspace(0.0, 90.0, 1 + round(90.0 / _STEP_DEG))
    ring = pattern.gain(elevation[:, None], pattern.azimuth_deg).mean(axis=1)
    density = ring * np.cos(np.radians(elevation))
    below = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]))])
    near, far = np.interp(
        takeoff_angle_deg(ZONE_EDGES_KM, F2_HEIGHTS_KM[1]), elevation, below / below[-1]
    )
    return float(1.0 - near), float(near - far), float(far)


def vertical_share(pattern: Pattern, takeoff_deg: float, azimuth_deg: float) -> float:
    """
    Find how much of the power in one direction is vertically polarised.

    Parameters
    ----------
    pattern : Pattern
        What is radiated.
    takeoff_deg : float
        Elevation, 0 to 90. [deg]
    azimuth_deg : float
        Direction clockwise from the wire. [deg]

    Returns
    -------
    share : float
        0 for horizontal, 1 for vertical, at the grid point next to the direction;
        NaN where nothing is radiated.
    """
    row = round(takeoff_deg / float(pattern.elevation_deg[1]))
    column = round(azimuth_deg / 360.0 * pattern.azimuth_deg.size)
    column %= pattern.azimuth_deg.size
    upright = float(pattern.vertical[row, column])
    total = upright + float(pattern.horizontal[row, column])
    return upright / total if total > 0.0 else float("nan")


def lobe_reaches(pattern: Pattern) -> tuple[LobeReach, ...]:
    """
    Find the lobes over elevation, in the best direction at each, and their distances.

    Parameters
    ----------
    pattern : Pattern
        What is radiated.

    Returns
    -------
    reach : tuple of LobeReach
        Lowest first; lobes more than 6 dB under the strongest are left out.
    """
    elevation = np.linspace(0.0, 90.0, 1 + round(90.0 / _STEP_DEG))
    gain = pattern.gain(elevation[:, None], pattern.azimuth_deg).max(axis=1)
    level = 10.0 * np.log10(np.maximum(gain, 10.0 ** (FLOOR_DBI / 10.0)))
    left = np.arange(level.size)
    found: list[tuple[int, int, int]] = []
    while left.size:
        top = int(left[np.argmax(level[left])])
        if level[top] < level.max() - _FAINT_DB:
            break
        strong = level >= level[top] - _HALF_DB
        low, high = top, top
        while low > 0 and strong[low - 1]:
            low -= 1
        while high < level.size - 1 and strong[high + 1]:
            high += 1
        if not any(low <= other <= high for _, other, _ in found):
            found.append((low, top, high))
        # The flanks belong to the lobe: down to the next dip on both sides.
        while low > 0 and level[low - 1] <= level[low]:
            low -= 1
        while high < level.size - 1 and level[high + 1] <= level[high]:
            high += 1
        left = left[(left < low) | (left > high)]
    return tuple(
        _reach(elevation[[low, top, high]], float(level[top]))
        for low, top, high in sorted(found)
    )


def _reach(lobe_deg: Floats, gain_dbi: float) -> LobeReach:
    """Put the distances to a lobe."""
    low, top, high = lobe_deg.tolist()
    e_km = np.minimum(hop_length_km([high, low], E_MIRROR_HEIGHT_KM), MAX_HOP_E_KM)
    f2_km = np.minimum(
        hop_length_km([high, low], [F2_HEIGHTS_KM[0], F2_HEIGHTS_KM[-1]]), MAX_HOP_F2_KM
    )
    return LobeReach(low, top, high, gain_dbi, *e_km.tolist(), *f2_km.tolist())


def _best_round(pattern: Pattern, takeoff_deg: float) -> tuple[float, float]:
    """Greatest gain at one elevation in dBi, and the first direction that has it."""
    around = pattern.gain_dbi(takeoff_deg, pattern.azimuth_deg)
    # Rounding must not decide between directions that are alike by symmetry.
    place = int(np.argmax(around >= around.max() - 1e-6))
    return float(around[place]), float(pattern.azimuth_deg[place])
