"""
How far from the wires people should keep: reference levels and distances.

All distances are estimates: bodies, vehicles, fences and the ground's unevenness
change the field, and national limits prevail.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from advisor.antenna.solver.currents import Solution, wavenumber
from advisor.antenna.solver.kernel import WAVE_IMPEDANCE_OHM
from advisor.antenna.solver.nearfield import distances_m, rms_fields
from geo.arrays import Floats
from geo.errors import InputError, near_matches
from geo.fields import record
from geo.tables import read_table

GROUND_FACTOR = 2.56
"""Rise in power density by reflection from ground: the field times 1.6.

US EPA recommendation used in FCC OET Bulletin 65 (from memory)."""

NEAREST_M = 0.1
"""No exposure distance is told closer than this. [m]"""

# Directions tried round a wire, and lowest height looked at. [m]
_ROUND = 16
_LOWEST_M = 0.05
# Directions past the end of a wire, from its own. [deg]
_CAP_DEG = (0.0, 20.0, 40.0, 60.0, 80.0)
# Rise of a ring's steepest direction under which the ring lies level.
_LEVEL = 1e-9
# How closely an exposure distance is searched for.
_SEARCH_TOLERANCE = 0.06
_SEARCH_AIM = 1.02


@dataclass(frozen=True)
class ExposureLevels:
    """
    Reference levels at one frequency.

    Attributes
    ----------
    extent : str
        What they are for: ``"whole body"``, ``"local"`` or ``"nerves"``.
    electric_v_m, magnetic_a_m : float
        Rms fields. [V/m, A/m]
    power_density_w_m2 : float
        Of a plane wave; NaN where none is given. [W/m^2]
    averaging_min : float
        Time over which the square of the field is averaged; 0 for none. [min]
    reference : str
        Where they are from.
    """

    extent: str
    electric_v_m: float
    magnetic_a_m: float
    power_density_w_m2: float
    averaging_min: float
    reference: str


def exposure_levels(frequency_mhz: float, extent: str) -> ExposureLevels | None:
    """
    Look up the reference levels for the general public.

    Parameters
    ----------
    frequency_mhz : float
        Frequency. [MHz]
    extent : str
        ``"whole body"`` (mean over the body and half an hour), ``"local"`` (any
        part, mean over six minutes) or ``"nerves"`` (any moment, to 10 MHz).

    Returns
    -------
    levels : ExposureLevels or None
        None where the guidelines give none for that extent at that frequency.

    Raises
    ------
    geo.errors.InputError
        If the extent is unknown.

    Examples
    --------
    >>> exposure_levels(7.15, "whole body").electric_v_m
    75.7
    """
    rows = read_table("exposure_levels").rows()
    known = list(dict.fromkeys(row["extent"] for row in rows))
    if extent not in known:
        hint = near_matches(extent, known) or "use one of these"
        raise InputError(
            f"no exposure level for '{extent}'; {hint} (known: {', '.join(known)})"
        )
    for row in rows:
        inside = float(row["low_mhz"]) <= frequency_mhz <= float(row["high_mhz"])
        if row["extent"] == extent and inside:
            return ExposureLevels(
                extent,
                float(row["electric"])
                * frequency_mhz ** float(row["electric_exponent"]),
                float(row["magnetic"])
                * frequency_mhz ** float(row["magnetic_exponent"]),
                float(row["power_density"] or np.nan),
                float(row["averaging_min"]),
                row["reference"],
            )
    return None


def mean_power_w(power_w: float, duty: float, send_share: float = 1.0) -> float:
    """
    Average the power as exposure counts it.

    Parameters
    ----------
    power_w : float
        Peak envelope power, 0 or more. [W]
    duty : float
        Mean over peak power of the emission while sending, above 0 to 1. [1]
    send_share : float, optional
        Share of the averaging time spent sending, 0 to 1. [1]

    Returns
    -------
    power_w : float
        Mean power. [W]

    Raises
    ------
    geo.errors.InputError
        If a number is out of its range.

    Examples
    --------
    >>> mean_power_w(100.0, 0.4, 0.5)
    20.0
    """
    if not 0.0 <= power_w < np.inf:
        raise InputError(f"power {power_w} W is not 0 or more")
    for name, share in (("duty", duty), ("share of time sending", send_share)):
        if not 0.0 <= share <= 1.0:
            raise InputError(f"{name} {share} is not 0 to 1")
    return power_w * duty * send_share


LEAST_DISTANCE_M = 3.0
"""People are kept at least so far away, whatever is worked out. [m]"""


@record
class ExposureDistance:
    """
    How far from the antenna the reference levels hold: an estimate.

    Attributes
    ----------
    distance_m : float
        Distance from the nearest part of the wire. [m]
    bound_by : str
        What sets it: electric field, magnetic field or reach of the far-field formula.
    extent : str
        Reference levels that set it.
    solved : bool
        Whether it is from solved currents; else from the far-field formula.
    """

    distance_m: float
    bound_by: str
    extent: str
    solved: bool


def exposure_distance(
    solution: Solution,
    mean_w: float,
    peak_w: float | None = None,
    extent: str = "whole body",
    cache_dir: Path | None = None,
) -> ExposureDistance:
    """
    Find the distance from the wire beyond which the reference levels hold.

    The strongest field found anywhere at that distance counts, at any height above
    ground, though the whole-body levels are means over a body: on the safe side.

    Parameters
    ----------
    solution : Solution
        Solved currents.
    mean_w : float
        Mean power into the wire. [W]
    peak_w : float, optional
        Peak envelope power into the wire, for the levels that hold at any moment up
        to 10 MHz; without it they are left out. [W]
    extent : str, optional
        ``"whole body"`` or ``"local"``.
    cache_dir : pathlib.Path, optional
        Where the ground's tables are kept.

    Returns
    -------
    distance : ExposureDistance
        Good to about 6 % in the field of the ideal wire over flat ground that was
        solved, never under 0.1 m. An estimate.

    Raises
    ------
    geo.errors.InputError
        If a power is negative or no level exists.
    """
    if not 0.0 <= mean_w < np.inf or not 0.0 <= (peak_w or 0.0) < np.inf:
        raise InputError(f"power of {mean_w} W or {peak_w} W is not 0 or more")
    limits = [(_levels_or_refuse(solution.frequency_mhz, extent), mean_w)]
    nerves = exposure_levels(solution.frequency_mhz, "nerves")
    if peak_w is not None and nerves is not None:
        limits.append((nerves, peak_w))

    def worst(distance_m: float) -> tuple[float, str, str]:
        """Greatest field over its level at a distance, which field, which level."""
        points = _shell(solution, distance_m)
        electric, magnetic = rms_fields(solution, points, 1.0, cache_dir)
        # The strongest electric and magnetic fields need not be at one point.
        e, h = float(electric.max()), float(magnetic.max())
        return max(
            (np.sqrt(power_w) * field / level, name, levels.extent)
            for levels, power_w in limits
            for field, level, name in (
                (e, levels.electric_v_m, "electric field"),
                (h, levels.magnetic_a_m, "magnetic field"),
            )
        )

    # The formula's distance is a start. Fields fall off at least as one over the
    # distance, so that a step by their excess goes too far, and brackets the answer.
    far = max(far_field_reach_m(mean_w, limits[0][0].electric_v_m), NEAREST_M)
    found = worst(far)
    near, closer = far, found
    while found[0] > 1.0:
        near, closer = far, found
        far *= found[0] * _SEARCH_AIM
        found = worst(far)
    while closer[0] <= 1.0 and near > NEAREST_M:
        far, found = near, closer
        near = max(far * found[0] / _SEARCH_AIM, NEAREST_M)
        closer = worst(near)
    if closer[0] <= 1.0:
        far, found = near, closer
    while far / near > 1.0 + _SEARCH_TOLERANCE:
        middle = _between(near, closer[0], far, found[0])
        halfway = worst(middle)
        if halfway[0] > 1.0:
            near, closer = middle, halfway
        else:
            far, found = middle, halfway
    return ExposureDistance(far, found[1], found[2], solved=True)


def _between(near_m: float, excess: float, far_m: float, rest: float) -> float:
    """Aim just beyond where a power law through both ends meets the level."""
    reach = np.log(far_m / near_m)
    share = np.log(excess) / (np.log(excess) - np.log(max(rest, 1e-9)))
    aim = near_m * np.exp(share * reach) * _SEARCH_AIM
    # So close to either end that the bracket closes, or well inside it.
    closing = 1.0 + 0.9 * _SEARCH_TOLERANCE
    if aim * _SEARCH_AIM > far_m:
        aim = far_m / closing
    return float(max(aim, near_m * _SEARCH_AIM))


def far_field_reach_m(
    eirp_w: float, electric_v_m: float, ground_factor: float = GROUND_FACTOR
) -> float:
    """
    Distance at which a far field has come down to a strength.

    Parameters
    ----------
    eirp_w : float
        Mean equivalent isotropic power, 0 or more. [W]
    electric_v_m : float
        Rms electric field, positive. [V/m]
    ground_factor : float, optional
        Rise by reflection: 2.56, or 4 at worst, or 1 if the gain has it in. [1]

    Returns
    -------
    distance_m : float
        ``sqrt(30 k EIRP) / E``, whether or not that is far. [m]

    Examples
    --------
    >>> far_field_reach_m(100.0, 30.0, 1.0)
    1.826
    """
    density = electric_v_m**2 / WAVE_IMPEDANCE_OHM
    return float(np.sqrt(ground_factor * eirp_w / (4.0 * np.pi * density)))


def far_field_distance(
    eirp_w: float,
    frequency_mhz: float,
    extent: str = "whole body",
    ground_factor: float = GROUND_FACTOR,
    peak_eirp_w: float | None = None,
) -> ExposureDistance:
    """
    Estimate the exposure distance of an antenna whose currents are not solved.

    Parameters
    ----------
    eirp_w : float
        Mean power times gain over isotropic. [W]
    frequency_mhz : float
        Frequency. [MHz]
    extent : str, optional
        ``"whole body"`` or ``"local"``.
    ground_factor : float, optional
        As in `far_field_reach_m`. [1]
    peak_eirp_w : float, optional
        Peak envelope power times gain, for the levels that hold at any moment up to
        10 MHz; without it they are left out. [W]

    Returns
    -------
    distance : ExposureDistance
        Where the density comes down to the stricter of both fields' levels, but
        never within a wavelength over 2π, where the formula does not hold and most
        often falls short.

    Raises
    ------
    geo.errors.InputError
        If the power is negative or no level exists.

    Examples
    --------
    >>> far_field_distance(400.0, 50.1).distance_m
    6.3
    """
    if not 0.0 <= eirp_w < np.inf:
        raise InputError(f"equivalent isotropic power {eirp_w} W is not 0 or more")
    levels = _levels_or_refuse(frequency_mhz, extent)
    reached = [
        (
            far_field_reach_m(eirp_w, levels.electric_v_m, ground_factor),
            "electric field",
        ),
        (
            far_field_reach_m(
                eirp_w, levels.magnetic_a_m * WAVE_IMPEDANCE_OHM, ground_factor
            ),
            "magnetic field",
        ),
        (1.0 / wavenumber(frequency_mhz), "reach of the far-field formula"),
    ]
    nerves = exposure_levels(frequency_mhz, "nerves")
    if peak_eirp_w is not None and nerves is not None:
        reach = far_field_reach_m(peak_eirp_w, nerves.electric_v_m, ground_factor)
        reached.append((reach, "electric field at any moment"))
    distance_m, bound_by = max(reached)
    return ExposureDistance(distance_m, bound_by, extent, solved=False)


def _levels_or_refuse(frequency_mhz: float, extent: str) -> ExposureLevels:
    """Look up levels that must be there."""
    levels = exposure_levels(frequency_mhz, extent)
    if levels is None:
        raise InputError(
            f"no {extent} exposure levels at {frequency_mhz} MHz; they reach from 0.1 "
            "to 400 MHz"
        )
    return levels


def _shell(solution: Solution, distance_m: float) -> Floats:
    """Points at one distance from the nearest wire, all round and above ground."""
    wires = solution.model.wires
    # Current and charge change over a good part of a wavelength, their field at this
    # distance over the distance: no need to look more often than either.
    step_m = max(0.25 * distance_m, 0.15 / solution.wavenumber_rad_m)
    starts = np.array([wire.start_m for wire in wires])
    ends = np.array([wire.end_m for wire in wires])
    points = np.concatenate(
        [
            _round_wire(start, end, step_m, distance_m)
            for start, end in zip(starts, ends, strict=True)
        ]
    )
    if solution.ground is not None:
        points = points[points[:, 2] >= _LOWEST_M - 1e-9]
    if not starts[:, 0].any() and not ends[:, 0].any():
        # Wires in one upright plane: the field is the same on both sides of it.
        points = points[points[:, 0] >= -1e-9]
    nearest = distances_m(points, starts, ends).min(axis=1)
    kept: Floats = points[nearest >= distance_m * (1.0 - 1e-9)]
    return kept


def _round_wire(start: Floats, end: Floats, step_m: float, distance_m: float) -> Floats:
    """Points round one wire and past its ends, some nearer to another wire."""
    length = float(np.linalg.norm(end - start))
    count = int(np.ceil(length / step_m)) + 1
    centres = start + np.linspace(0.0, 1.0, count)[:, None] * (end - start)
    along = (end - start) / length
    across = np.cross(along, np.eye(3)[int(np.argmin(np.abs(along)))])
    across /= np.linalg.norm(across)
    sideways = np.cross(along, across)
    turn = 2.0 * np.pi * np.arange(_ROUND)[:, None] / _ROUND
    ring = np.cos(turn) * across + np.sin(turn) * sideways
    parts = [(centres[:, None] + distance_m * ring).reshape(-1, 3)]
    # The strongest field often lies near the ground, between two directions.
    slope = float(np.hypot(across[2], sideways[2]))
    if slope > _LEVEL:
        sine = (_LOWEST_M - centres[:, 2]) / (distance_m * slope)
        low = np.abs(sine) < 1.0
        for side in (-1.0, 1.0):
            angle = np.arctan2(sideways[2], across[2]) + side * np.arccos(sine[low])
            out = np.cos(angle)[:, None] * across + np.sin(angle)[:, None] * sideways
            parts.append(centres[low] + distance_m * out)
    for tip, outward in ((end, along), (start, -along)):
        for off in np.radians(_CAP_DEG):
            parts.append(
                tip + distance_m * (np.cos(off) * outward + np.sin(off) * ring)
            )
        drop = _LOWEST_M - tip[2]
        if abs(drop) < distance_m:
            flat = np.sqrt(distance_m**2 - drop**2)
            circle = flat * np.concatenate([np.cos(turn), np.sin(turn)], axis=1)
            parts.append(tip + np.column_stack([circle, np.full(_ROUND, drop)]))
    return np.concatenate(parts)
