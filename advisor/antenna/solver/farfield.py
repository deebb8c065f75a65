"""
Where solved currents radiate: far field, gain, and where the power went.

The field over ground is the direct ray plus its reflection, the two polarisations
apart. Along one straight wire the phase depends on a single direction cosine, so
each wire's radiation is integrated as a function of that cosine once and then read
off for every direction.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from advisor.antenna.ground import (
    complex_permittivity,
    reflection_horizontal,
    reflection_vertical,
)
from advisor.antenna.pattern import Pattern, standard_grid
from advisor.antenna.solver.currents import Solution
from advisor.antenna.solver.kernel import (
    VACUUM_PERMEABILITY_H_M,
    WAVE_IMPEDANCE_OHM,
    legendre,
)
from advisor.antenna.solver.sommerfeld import radial_points, wavenumber_below
from geo.arrays import Complexes, Floats

if TYPE_CHECKING:
    from scipy.interpolate import PPoly


# Radians of phase along the wire between spline nodes: error about 1e-6.
_PHASE_STEP = 0.12
_SEGMENT_POINTS = 3
# Smaller parts of a unit vector, or shifts in radians, are rounding.
_NO_PART = 1e-9


@dataclass(frozen=True)
class PowerBudget:
    """
    Where the power from the sources goes.

    Attributes
    ----------
    input_w : float
        From the sources. [W]
    sky_w : float
        Radiated upwards (in free space, all round): the far field integrated. [W]
    ground_w : float
        Into a real ground: what the other parts leave over; `ground_power` finds it
        in its own right. Zero without one. [W]
    conductor_w, load_w : float
        Lost in the wires and in the loads. [W]
    """

    input_w: float
    sky_w: float
    ground_w: float
    conductor_w: float
    load_w: float

    @property
    def efficiency(self) -> float:
        """Power to the sky over power in, 0 to 1."""
        return self.sky_w / self.input_w

    @property
    def gap(self) -> float:
        """Part of the input that is unaccounted for; 0 over real ground."""
        spent = self.sky_w + self.ground_w + self.conductor_w + self.load_w
        return 1.0 - spent / self.input_w


def far_field(
    solution: Solution, elevation_deg: ArrayLike, azimuth_deg: ArrayLike
) -> tuple[Complexes, Complexes]:
    r"""
    Far field on a grid of directions.

    Parameters
    ----------
    solution : Solution
        Solved currents.
    elevation_deg : array_like
        Shape (E,); 0 to 90 over ground, -90 to 90 in free space. [deg]
    azimuth_deg : array_like
        Shape (A,), clockwise from +y. [deg]

    Returns
    -------
    vertical, horizontal : numpy.ndarray
        Shape (E, A) each: peak electric field times distance over exp(-jkr), along
        increasing elevation and along increasing azimuth. NaN below a ground. [V]

    Notes
    -----
    .. math:: rE = -\frac{j\omega\mu}{4\pi}\left[\int I\,\hat t\cdot\hat e\,
       e^{jk\hat r\cdot r'}ds + R\int I\,\hat t\cdot\hat e^*
       e^{jk\hat r^*\cdot r'}ds\right]

    with R the Fresnel coefficient of the polarisation and * the mirrored direction.
    """
    elevation = np.asarray(elevation_deg, dtype=np.float64)
    azimuth = np.asarray(azimuth_deg, dtype=np.float64)
    return _field_of(_radiators(solution), solution, elevation, azimuth)


def _field_of(
    radiators: list[_Radiator], solution: Solution, elevation: Floats, azimuth: Floats
) -> tuple[Complexes, Complexes]:
    """Do what `far_field` does, with the wires' splines made before."""
    azimuth = np.radians(azimuth)
    rising = np.radians(elevation)[:, None]
    sin_az, cos_az = np.sin(azimuth), np.cos(azimuth)
    up = np.sin(rising)
    level_x, level_y = np.cos(rising) * sin_az, np.cos(rising) * cos_az
    # Unit vector of rising elevation; that of rising azimuth is (cos, -sin, 0).
    lift_x, lift_y, lift_z = -up * sin_az, -up * cos_az, np.cos(rising)

    shape = (elevation.size, azimuth.size)
    vertical = np.zeros(shape, dtype=np.complex128)
    horizontal = np.zeros(shape, dtype=np.complex128)
    senses = (1.0,) if solution.ground is None else (1.0, -1.0)
    factors_v: list[Complexes | float] = [1.0]
    factors_h: list[Complexes | float] = [1.0]
    if solution.ground is not None:
        eps = complex_permittivity(solution.ground, solution.frequency_mhz)
        factors_v.append(reflection_vertical(elevation, eps)[:, None])
        factors_h.append(reflection_horizontal(elevation, eps)[:, None])
    through = _through(solution, elevation) if solution.mesh.is_below.any() else None
    for wire in radiators:
        tx, ty, tz = wire.direction
        across = tx * cos_az - ty * sin_az
        level = lift_x * tx + lift_y * ty
        if through is not None and wire.is_below:
            u1, te, tm, tm_up = through
            moment = wire.moment_below(level_x, level_y, u1)
            vertical += (tm * level + tm_up * lift_z * tz) * moment
            horizontal += te * across * moment
            continue
        moments = wire.moments(level_x, level_y, up, senses)
        for sense, fv, fh, moment in zip(
            senses, factors_v, factors_h, moments, strict=True
        ):
            # The mirrored ray's own unit vector dips where the direct one lifts.
            vertical += fv * (sense * level + lift_z * tz) * moment
            horizontal += fh * across * moment
    scale = -0.5j * 1e6 * solution.frequency_mhz * VACUUM_PERMEABILITY_H_M
    return scale * vertical, scale * horizontal


def _through(
    solution: Solution, elevation: Floats
) -> tuple[Complexes, Complexes, Complexes, Complexes]:
    """
    Say what the surface makes of waves on their way up, by elevation.

    Decay per depth over k, and fields over those of the same current in free space:
    horizontal current in both polarisations, upright current. Shape (E, 1) each.
    """
    if solution.ground is None:
        raise ValueError("free space has no surface")
    eps = complex(complex_permittivity(solution.ground, solution.frequency_mhz))
    angle = np.radians(elevation)[:, None]
    u0, u1 = 1j * np.sin(angle), wavenumber_below(np.cos(angle), eps)
    up = 2.0 / (eps * u0 + u1)
    return u1, 2.0 * u0 / (u0 + u1), u1 * up, u0 * up


@dataclass(frozen=True)
class _Radiator:
    """
    One straight wire: its radiation as a function of one direction cosine.

    The phase is counted from the foot of the perpendicular from the frame's origin,
    so that upright wires and those through the origin need few exponentials.
    """

    direction: Floats
    foot_rad: Floats
    along: PPoly
    points_rad: Floats
    current: Complexes

    @property
    def is_below(self) -> bool:
        """Whether it is in the ground."""
        return float(self.points_rad[:, 2].mean()) < 0.0

    def moment_below(
        self, level_x: Floats, level_y: Floats, u1: Complexes
    ) -> Complexes:
        """Integral of current times exp(jk r·r') up to the surface, A m."""
        tx, ty, tz = self.direction
        if abs(tz) < _NO_PART:
            fx, fy, fz = self.foot_rad
            shift = np.exp(1j * (level_x * fx + level_y * fy) + u1 * fz)
            return np.asarray(shift * self.along(level_x * tx + level_y * ty))
        total = np.zeros(np.broadcast_shapes(level_x.shape, u1.shape), np.complex128)
        for (x, y, z), current in zip(self.points_rad, self.current, strict=True):
            wave = np.exp(u1 * z)
            if max(abs(x), abs(y)) > _NO_PART:
                wave = wave * np.exp(1j * (level_x * x + level_y * y))
            total += current * wave
        return total

    def moments(
        self, level_x: Floats, level_y: Floats, up: Floats, senses: tuple[float, ...]
    ) -> list[Complexes]:
        """Integrals of current times exp(jk r·r'), upwards and mirrored, A m."""
        tx, ty, tz = self.direction
        fx, fy, fz = self.foot_rad
        upright = max(abs(tx), abs(ty)) < _NO_PART
        level = np.zeros_like(up) if upright else level_x * tx + level_y * ty
        shift: Complexes | float = 1.0
        if max(abs(fx), abs(fy)) > _NO_PART:
            shift = np.exp(1j * (level_x * fx + level_y * fy))
        out: list[Complexes] = []
        flat = shift * self.along(level) if abs(tz) < _NO_PART else None
        for sense in senses:
            lifted = np.exp(1j * sense * fz * up)
            if flat is not None:
                out.append(flat * lifted)
            else:
                out.append(shift * self.along(level + sense * tz * up) * lifted)
        return out


def _radiators(solution: Solution) -> list[_Radiator]:
    """Spline each wire's radiation integral over the direction cosine along it."""
    from scipy.interpolate import CubicSpline, PPoly

    mesh, k, wires = solution.mesh, solution.wavenumber_rad_m, solution.model.wires
    x, weight = legendre(_SEGMENT_POINTS)
    current = solution.current_a(x) * weight * mesh.length_m[:, None]
    points = mesh.start_m[:, None] + x[:, None] * (mesh.end_m - mesh.start_m)[:, None]
    place = k * np.einsum("sxi,si->sx", points, mesh.tangent)
    # A little beyond ±1, where rounding may put a cosine.
    count = int(np.ceil(2.0 * float(np.abs(place).max()) / _PHASE_STEP)) + 12
    nodes = np.linspace(-1.0 - 1e-9, 1.0 + 1e-9, count)
    table = np.empty((count, len(wires)), dtype=np.complex128)
    for index in range(len(wires)):
        own = mesh.wire == index
        wave = np.exp(1j * nodes[:, None] * place[own].ravel())
        table[:, index] = wave @ current[own].ravel()
    pieces = CubicSpline(nodes, table).c
    radiators = []
    for index, wire in enumerate(wires):
        start, direction = np.asarray(wire.start_m), wire.direction
        foot = start - (start @ direction) * direction
        along = PPoly(np.ascontiguousarray(pieces[..., index]), nodes)
        own = mesh.wire == index
        radiators.append(
            _Radiator(
                direction,
                k * foot,
                along,
                k * points[own].reshape(-1, 3),
                current[own].ravel(),
            )
        )
    return radiators


def _gain(field: Complexes, input_w: float) -> Floats:
    """Power gain from the field times distance: 4π r² S / P."""
    return 2.0 * np.pi * np.abs(field) ** 2 / (WAVE_IMPEDANCE_OHM * input_w)


def pattern_of(
    solution: Solution,
    *,
    elevation_step_deg: float = 1.0,
    azimuth_step_deg: float = 2.0,
) -> Pattern:
    """
    Gain over the upper half of the sky.

    Parameters
    ----------
    solution : Solution
        Solved currents.
    elevation_step_deg, azimuth_step_deg : float, optional
        Steps, as for `advisor.antenna.pattern.standard_grid`. [deg]

    Returns
    -------
    pattern : Pattern
        Vertical and horizontal gain and the efficiency.
    """
    elevation, azimuth = standard_grid(elevation_step_deg, azimuth_step_deg)
    # Wires in one upright plane through the bearing radiate alike to both sides.
    corners = np.concatenate([solution.mesh.start_m, solution.mesh.end_m])
    flat = azimuth.size % 2 == 0 and bool(np.all(np.abs(corners[:, 0]) < 1e-9))
    seen = azimuth[: azimuth.size // 2 + 1] if flat else azimuth
    radiators = _radiators(solution)
    fields = _field_of(radiators, solution, elevation, seen)
    vertical, horizontal = (_gain(field, solution.input_w) for field in fields)
    if flat:
        vertical, horizontal = (
            np.concatenate([half, half[:, -2:0:-1]], axis=1)
            for half in (vertical, horizontal)
        )
    return Pattern(
        elevation,
        azimuth,
        vertical,
        horizontal,
        _sky_power(radiators, solution) / solution.input_w,
        solution.frequency_mhz,
    )


def power_budget(solution: Solution) -> PowerBudget:
    """
    Account for the power from the sources.

    Parameters
    ----------
    solution : Solution
        Solved currents.

    Returns
    -------
    budget : PowerBudget
        Sky, ground, conductors, loads.
    """
    sky_w = sky_power(solution)
    rest = solution.input_w - sky_w - solution.conductor_w - solution.load_w
    ground = solution.ground
    real = ground is not None and not ground.is_perfect
    return PowerBudget(
        solution.input_w,
        sky_w,
        rest if real else 0.0,
        solution.conductor_w,
        solution.load_w,
    )


def sky_power(solution: Solution) -> float:
    """
    Power radiated to the sky, from the far field alone.

    Parameters
    ----------
    solution : Solution
        Solved currents.

    Returns
    -------
    power : float
        Over the upper half of the sky; in free space, all round. [W]

    Notes
    -----
    Gauss-Legendre in a variable that crowds points at the horizon, where the field
    over salt water changes within a degree; evenly spaced azimuths.
    """
    return _sky_power(_radiators(solution), solution)


def _sky_power(radiators: list[_Radiator], solution: Solution) -> float:
    """Do what `sky_power` does, with the wires' splines made before."""
    mesh = solution.mesh
    corners = np.concatenate([mesh.start_m, mesh.end_m])
    size = solution.wavenumber_rad_m * float(np.linalg.norm(np.ptp(corners, axis=0)))
    if solution.ground is not None:
        size = max(size, 2.0 * solution.wavenumber_rad_m * float(corners[:, 2].max()))
    x, weight = legendre(24 + 8 * int(0.1 * size))
    if solution.ground is None:
        elevation, measure = np.pi * (x - 0.5), np.pi * weight
    else:
        elevation, measure = 0.5 * np.pi * x**2, np.pi * x * weight
    turns = 2 * (10 + int(0.6 * size))
    azimuth = np.linspace(0.0, 360.0, turns, endpoint=False)
    fields = _field_of(radiators, solution, np.degrees(elevation), azimuth)
    density = np.abs(fields[0]) ** 2 + np.abs(fields[1]) ** 2
    ring = density.mean(axis=1) * np.pi / WAVE_IMPEDANCE_OHM
    return float(np.sum(ring * np.cos(elevation) * measure))


def ground_power(solution: Solution) -> float:
    r"""
    Power that enters a real ground, from the currents' plane-wave spectrum.

    Uses only the reflection coefficients of plane waves, travelling and evanescent,
    so it checks the currents independently of the tables they came from. Slow for
    wires very near the ground.

    Parameters
    ----------
    solution : Solution
        Solved currents.

    Returns
    -------
    power : float
        Through z = 0 downwards, by Parseval's theorem; 0 in free space and over a
        perfect ground, NaN with a wire in the ground. [W]

    Notes
    -----
    .. math:: P = \frac{1}{8\pi^2}\iint \left(\mathrm{Re}\left[
       \frac{u_1}{j\omega\mu}\right]|E_{TE}|^2 + \mathrm{Re}\left[
       \frac{j\omega\varepsilon}{u_1}\right]|E_{TM}|^2\right)
       \lambda\,d\lambda\,d\varphi

    of the tangential fields at the surface.
    """
    if solution.ground is None or solution.ground.is_perfect:
        return 0.0
    if solution.mesh.is_below.any():
        return float("nan")
    k = solution.wavenumber_rad_m
    eps = complex(complex_permittivity(solution.ground, solution.frequency_mhz))
    corners = np.concatenate([solution.mesh.start_m, solution.mesh.end_m])
    spread = k * float(np.linalg.norm(np.ptp(corners[:, :2], axis=0)))
    low, high = k * float(corners[:, 2].min()), k * float(corners[:, 2].max())
    lam, u0, d_lam = radial_points(eps, spread, 2.0 * low, 2.0 * high, decay=16.0)
    total = 0.0
    for first in range(0, lam.size, 64):
        part = slice(first, first + 64)
        # Enough azimuths for the fastest of these waves over the whole spread.
        turns = 2 * (12 + int(0.6 * spread * float(lam[part].max())))
        density = _spectral_density(solution, eps, lam[part], u0[part], turns)
        total += float(np.sum(density * lam[part] * d_lam[part]))
    return total * k**2 / (4.0 * np.pi)


def _spectral_density(
    solution: Solution, eps: complex, lam: Floats, u0: Complexes, turns: int
) -> Floats:
    """Power into the ground per area of wavenumber, averaged round. Shape (L,)."""
    mesh, k = solution.mesh, solution.wavenumber_rad_m
    u1 = wavenumber_below(lam, eps)
    r_te, r_tm = (u0 - u1) / (u0 + u1), (eps * u0 - u1) / (eps * u0 + u1)
    x, weight = legendre(4)
    current = (solution.current_a(x) * weight * mesh.length_m[:, None]).ravel()
    points = mesh.start_m[:, None] + x[:, None] * (mesh.end_m - mesh.start_m)[:, None]
    px, py, pz = np.moveaxis(points.reshape(-1, 3), 1, 0)
    tx, ty, tz = np.repeat(mesh.tangent, x.size, axis=0).T
    rising = current * np.exp(-k * u0[:, None] * pz)
    te, tm = np.zeros(lam.size), np.zeros(lam.size)
    for angle in np.arange(turns) * (2.0 * np.pi / turns):
        c, s = np.cos(angle), np.sin(angle)
        wave = rising * np.exp(1j * k * lam[:, None] * (c * px + s * py))
        field_te = wave @ (c * ty - s * tx) / u0
        field_tm = u0 * (wave @ (c * tx + s * ty)) + 1j * lam * (wave @ tz)
        te += np.abs((1.0 + r_te) * field_te) ** 2
        tm += np.abs((1.0 - r_tm) * field_tm) ** 2
    # Both incident fields share the factor ωμ/(2k) once lengths are in 1/k.
    density: Floats = te * np.real(-1j * u1) + tm * np.real(1j * eps / u1)
    return density * (0.25 * WAVE_IMPEDANCE_OHM / turns)
