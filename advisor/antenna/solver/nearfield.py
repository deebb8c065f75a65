"""
Fields close to the wires.

Electric and magnetic field follow from the solved currents through the same
potentials that the solver uses, ground and all, so they hold at any distance.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from advisor.antenna.ground import complex_permittivity
from advisor.antenna.solver.currents import Solution
from advisor.antenna.solver.kernel import WAVE_IMPEDANCE_OHM, half_functions, legendre
from advisor.antenna.solver.sommerfeld import (
    F_H,
    F_TE,
    F_ZZ,
    TableRange,
    W,
    ground_table,
)
from geo.arrays import Complexes, Floats, Ints

# Quadrature points per segment; 1.5 + 2.5 lengths per distance leaves about 1e-4.
_POINTS = (2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128)
_SAMPLES_AT_ONCE = 1 << 17
# Step of the numerical slope of the ground's functions, in the lesser of the
# distance and the wavelength over 2π.
_SLOPE_STEP = 1e-3

# Where wires in the ground stand in for themselves. [m]
_LIFTED_M = 0.01
# A wire in the ground with more of its length upright than this is a stake.
_STEEP, _ARMS = 0.7, 4

# From horizontal and vertical distance to the ground's four functions times k.
_Kernel = Callable[[Floats, Floats], Complexes]


def near_field(
    solution: Solution, points_m: ArrayLike, cache_dir: Path | None = None
) -> tuple[Complexes, Complexes]:
    r"""
    Electric and magnetic field of the solved currents.

    Parameters
    ----------
    solution : Solution
        Solved currents, in free space or over ground.
    points_m : array_like
        Shape (P, 3): east, north and up. [m]
    cache_dir : pathlib.Path, optional
        Where the ground's tables are kept.

    Returns
    -------
    electric_v_m, magnetic_a_m : numpy.ndarray
        Shape (P, 3), complex peak values for the source voltages of the model.
        NaN for points below a ground. [V/m, A/m]

    Notes
    -----
    .. math:: E = -\frac{jk\eta}{4\pi}\left[\int I\,t\,g\,ds
              + \frac{1}{k^2}\nabla\int I' g\,ds\right],\quad
              H = \frac{1}{4\pi}\int I\,\nabla g\times t\,ds,\quad
              g = \frac{e^{-jkR}}{R}

    and the same with the ground's functions of `advisor.antenna.solver.sommerfeld` for
    what comes back from it: image charges and currents over a perfect ground,
    Sommerfeld integrals over a real one. From a tenth of a metre on, the strongest
    field at a distance is good to 1 %, single points next to a feed or bend to 10 %.
    Wires in the ground stand in by the same current a centimetre above it: their charge
    is screened as much as the image of one in air weakens it, 2/(ε+1). A stake lies
    down as a cross. From half a metre on that is within 20 %.
    """
    points = np.atleast_2d(np.asarray(points_m, dtype=np.float64))
    shape = (len(points), 3)
    electric = np.zeros(shape, dtype=np.complex128)
    magnetic = np.zeros(shape, dtype=np.complex128)
    above = np.isfinite(points).all(axis=1)
    if solution.ground is not None:
        above &= points[:, 2] >= 0.0
    seen = np.flatnonzero(above)
    if seen.size:
        solution = _lifted(solution)
        k = solution.wavenumber_rad_m
        for part in _samples(solution, points[seen], mirrored=False):
            part.add(*_direct(part, k), electric, magnetic, seen)
        if solution.ground is not None:
            kernel = _ground_kernel(solution, points[seen], cache_dir)
            for part in _samples(solution, points[seen], mirrored=True):
                part.add(*_reflected(part, k, kernel), electric, magnetic, seen)
    electric[~above] = np.nan
    magnetic[~above] = np.nan
    return electric, magnetic


def _lifted(solution: Solution) -> Solution:
    """Put what touches or is in a real ground just above it; stakes lie down."""
    mesh, ground = solution.mesh, solution.ground
    if ground is None or ground.is_perfect or not mesh.is_below.any():
        return solution
    stakes = mesh.is_below & (np.abs(mesh.tangent[:, 2]) > _STEEP)
    start: list[Floats] = []
    end: list[Floats] = []
    current, wire, radius = [], [], []
    for turn in range(_ARMS):
        rows = stakes if turn else np.ones_like(stakes)
        out = np.exp(2j * np.pi * turn / _ARMS)
        arm = np.array([out.real, out.imag, 0.0])
        for ends, gathered in ((mesh.start_m, start), (mesh.end_m, end)):
            placed = ends + np.where(stakes, np.abs(ends[:, 2]), 0.0)[:, None] * arm
            placed[:, 2] = np.maximum(placed[:, 2], _LIFTED_M)
            gathered.append(placed[rows])
        part = np.where(stakes, 1.0 / _ARMS, 1.0)[:, None]
        current.append((solution.half_currents_a * part)[rows])
        wire.append(mesh.wire[rows])
        radius.append(mesh.radius_m[rows])
    lifted = replace(
        mesh,
        start_m=np.concatenate(start),
        end_m=np.concatenate(end),
        wire=np.concatenate(wire),
        radius_m=np.concatenate(radius),
    )
    return replace(solution, mesh=lifted, half_currents_a=np.concatenate(current))


def rms_fields(
    solution: Solution,
    points_m: ArrayLike,
    power_w: float,
    cache_dir: Path | None = None,
) -> tuple[Floats, Floats]:
    """
    Strength of both fields for a power into the wire.

    Parameters
    ----------
    solution : Solution
        Solved currents.
    points_m : array_like
        Shape (P, 3): east, north and up. [m]
    power_w : float
        Power that the wire accepts, 0 or more. [W]
    cache_dir : pathlib.Path, optional
        Where the ground's tables are kept.

    Returns
    -------
    electric_v_m, magnetic_a_m : numpy.ndarray
        Shape (P,), rms over time of the whole vector. [V/m, A/m]
    """
    electric, magnetic = near_field(solution, points_m, cache_dir)
    scale = np.sqrt(0.5 * power_w / solution.input_w)
    return (
        scale * np.linalg.norm(electric, axis=1),
        scale * np.linalg.norm(magnetic, axis=1),
    )


def distances_m(points_m: Floats, start_m: Floats, end_m: Floats) -> Floats:
    """
    Distances of points from straight pieces of wire.

    Parameters
    ----------
    points_m : numpy.ndarray
        Shape (P, 3). [m]
    start_m, end_m : numpy.ndarray
        Shape (S, 3), ends of the pieces. [m]

    Returns
    -------
    distance_m : numpy.ndarray
        Shape (P, S). [m]
    """
    span = end_m - start_m
    offset = points_m[:, None] - start_m
    share = np.einsum("psi,si->ps", offset, span) / np.einsum("si,si->s", span, span)
    nearest = offset - np.clip(share, 0.0, 1.0)[..., None] * span
    return np.asarray(np.linalg.norm(nearest, axis=2), dtype=np.float64)


@dataclass(frozen=True)
class _Samples:
    """
    Points of current and charge, each pair of field point and segment a row.

    Shapes (M, n) and (M, n, 3); ``offset_m`` runs from the sample to the field
    point.
    """

    point: Ints
    offset_m: Floats
    height_m: Floats
    tangent: Floats
    radius_m: Floats
    current_a_m: Complexes
    charge_a: Complexes

    def add(
        self,
        electric: Complexes,
        magnetic: Complexes,
        all_electric: Complexes,
        all_magnetic: Complexes,
        rows: Ints,
    ) -> None:
        """Add what each pair gives to its field point."""
        np.add.at(all_electric, rows[self.point], electric)
        np.add.at(all_magnetic, rows[self.point], magnetic)


def _samples(
    solution: Solution, points: Floats, *, mirrored: bool
) -> Iterator[_Samples]:
    """Cut segments as finely as each field point's distance, or its image's, asks."""
    mesh = solution.mesh
    length, tangent = mesh.length_m, mesh.tangent
    value, slope = half_functions(length, solution.wavenumber_rad_m)
    current = np.einsum("sa,sam->sm", solution.half_currents_a, value)
    charge = np.einsum("sa,sam->sm", solution.half_currents_a, slope)
    seen_from = points * (1.0, 1.0, -1.0) if mirrored else points
    away = distances_m(seen_from, mesh.start_m, mesh.end_m)
    wanted = 1.5 + 2.5 * length / np.maximum(away, 1e-3 * length)
    level = np.minimum(np.searchsorted(_POINTS, wanted), len(_POINTS) - 1)
    for index, count in enumerate(_POINTS):
        which, segment = np.nonzero(level == index)
        x, weight = legendre(count)
        powers = x ** np.arange(4)[:, None]
        step = max(_SAMPLES_AT_ONCE // count, 1)
        for first in range(0, which.size, step):
            p, s = which[first : first + step], segment[first : first + step]
            span = (mesh.end_m - mesh.start_m)[s]
            places = mesh.start_m[s][:, None] + x[:, None] * span[:, None]
            yield _Samples(
                p,
                points[p][:, None] - places,
                places[..., 2],
                tangent[s],
                mesh.radius_m[s],
                (current[s] @ powers) * weight * length[s][:, None],
                (charge[s] @ powers) * weight * length[s][:, None],
            )


def _direct(part: _Samples, k: float) -> tuple[Complexes, Complexes]:
    """Fields of the samples themselves. Shape (M, 3) each."""
    r2 = np.einsum("mni,mni->mn", part.offset_m, part.offset_m)
    r2 += part.radius_m[:, None] ** 2
    r = np.sqrt(r2)
    g = np.exp(-1j * k * r) / r
    slope = -(1.0 + 1j * k * r) * g / r2
    flow = np.einsum("mn,mn->m", part.current_a_m, g)[:, None] * part.tangent
    pull = np.einsum("mn,mni->mi", part.charge_a * slope, part.offset_m)
    swirl = np.einsum("mn,mni->mi", part.current_a_m * slope, part.offset_m)
    electric = -1j * k * WAVE_IMPEDANCE_OHM / (4.0 * np.pi) * (flow + pull / k**2)
    magnetic = np.cross(swirl, part.tangent) / (4.0 * np.pi)
    return electric, np.asarray(magnetic, dtype=np.complex128)


def _reflected(
    part: _Samples, k: float, kernel: _Kernel
) -> tuple[Complexes, Complexes]:
    """Fields that come back from the ground. Shape (M, 3) each."""
    level = part.offset_m[..., :2]
    rho = k * np.linalg.norm(level, axis=2)
    zeta = k * (part.offset_m[..., 2] + 2.0 * part.height_m)
    value = kernel(rho, zeta)
    step = _SLOPE_STEP * np.minimum(np.hypot(rho, zeta), 1.0)
    # Even in rho, so that a step across the axis only turns round.
    outward = kernel(rho + step, zeta) - kernel(np.abs(rho - step), zeta)
    outward /= 2.0 * step[..., None]
    step = _SLOPE_STEP * np.minimum(zeta, 1.0)
    upward = kernel(rho, zeta + step) - kernel(rho, zeta - step)
    upward /= 2.0 * step[..., None]
    towards = level / np.maximum(np.linalg.norm(level, axis=2), 1e-12)[..., None]

    def summed(weights: Complexes, which: int) -> Complexes:
        """Sum one function over the samples. Shape (M,)."""
        return np.asarray(np.einsum("mn,mn->m", weights, value[..., which]))

    def gradient(weights: Complexes, which: int) -> Complexes:
        """Sum the gradient of one function, in units of k. Shape (M, 3)."""
        across = np.einsum("mn,mni->mi", weights * outward[..., which], towards)
        along = np.einsum("mn,mn->m", weights, upward[..., which])
        return np.concatenate([across, along[:, None]], axis=1)

    # The table holds the three F over k; lengths are in 1/k. Only W keeps its size.
    current, charge = k * part.current_a_m, part.charge_a
    flat = part.tangent * (1.0, 1.0, 0.0)
    rise = part.tangent[:, 2:]
    upright = np.array([0.0, 0.0, 1.0])
    electric = summed(current, F_TE)[:, None] * flat
    lift = rise[:, 0] * summed(current, F_ZZ) + summed(charge, W)
    electric = electric + lift[:, None] * upright
    electric = electric - rise * gradient(current, W) + gradient(charge, F_H)
    magnetic = np.cross(gradient(current, F_TE), flat)
    turning = rise * gradient(current, F_ZZ) + gradient(charge, W)
    magnetic = magnetic + np.cross(turning, upright)
    scale = k / (4.0 * np.pi)
    return -1j * WAVE_IMPEDANCE_OHM * scale * electric, scale * magnetic


def _ground_kernel(
    solution: Solution, points: Floats, cache_dir: Path | None
) -> _Kernel:
    """Return the four functions of the ground under a solution, over k."""
    ground = solution.ground
    if ground is None or ground.is_perfect:
        signs = np.zeros(4)
        signs[[F_TE, F_ZZ, F_H]] = -1.0, 1.0, -1.0

        def image(rho: Floats, zeta: Floats) -> Complexes:
            r = np.hypot(rho, zeta)
            return np.asarray((np.exp(-1j * r) / r)[..., None] * signs)

        return image
    mesh, k = solution.mesh, solution.wavenumber_rad_m
    corners = np.concatenate([mesh.start_m, mesh.end_m])
    lowest = corners[:, 2].min() + points[:, 2].min()
    highest = corners[:, 2].max() + points[:, 2].max()
    both = np.concatenate([corners, points])[:, :2]
    widest = float(np.linalg.norm(np.ptp(both, axis=0)))
    # Room for the steps of the slopes.
    table = ground_table(
        TableRange(
            complex(complex_permittivity(ground, solution.frequency_mhz)),
            k * float(lowest) * (1.0 - 2.0 * _SLOPE_STEP),
            k * float(highest) * (1.0 + 2.0 * _SLOPE_STEP),
            k * widest + 2.0 * _SLOPE_STEP,
        ),
        cache_dir,
    )
    return lambda rho, zeta: table(rho, zeta)
