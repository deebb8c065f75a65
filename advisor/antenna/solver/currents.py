"""
Currents on thin wires by the moment method: set up, load, solve.

The matrix comes from `advisor.antenna.solver.kernel`. Time runs as exp(+jωt); voltages
and currents are peak values.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from advisor.antenna.ground import VACUUM_PERMITTIVITY_F_M, Ground, complex_permittivity
from advisor.antenna.solver.contact import contact_reaction
from advisor.antenna.solver.kernel import (
    LIGHT_SPEED_M_S,
    VACUUM_PERMEABILITY_H_M,
    free_space_reaction,
    ground_reaction,
    half_functions,
    image_reaction,
)
from advisor.antenna.solver.mesh import Mesh, build_mesh
from advisor.antenna.wires import WireModel
from geo.arrays import Complexes, Floats
from geo.errors import InputError

# Below this reciprocal condition number double precision leaves no digits.
_SINGULAR = 1e-13
# In the ground segments are cut by the waves there, but only so many times finer than
# in air unless these waves are that many times shorter still.
_FINEST, _COARSER = 10.0, 6.0


@dataclass(frozen=True)
class Solution:
    """
    The currents of one model on one frequency.

    Attributes
    ----------
    model : WireModel
        What was solved.
    frequency_mhz : float
        Frequency. [MHz]
    ground : Ground or None
        What is below; None for free space.
    mesh : Mesh
        Segments.
    half_currents_a : numpy.ndarray
        Shape (S, 2), peak current at both ends of each segment, along it. [A]
    z_in_ohm : numpy.ndarray
        Shape (number of sources,), voltage over current at each, all of them
        driven. [ohm]
    source_currents_a : numpy.ndarray
        Shape (number of sources,). [A]
    admittance_s : numpy.ndarray
        Shape (number of sources, number of sources), short-circuit admittances
        between the sources, loads in place. [S]
    input_w, conductor_w : float
        Power from the sources, and what is lost in the conductors. [W]
    loads_w : numpy.ndarray
        Shape (number of loads,), what is lost in each. [W]
    """

    model: WireModel
    frequency_mhz: float
    ground: Ground | None
    mesh: Mesh
    half_currents_a: Complexes
    z_in_ohm: Complexes
    source_currents_a: Complexes
    admittance_s: Complexes
    input_w: float
    conductor_w: float
    loads_w: Floats

    @property
    def load_w(self) -> float:
        """Power lost in all loads, in watts."""
        return float(self.loads_w.sum())

    @property
    def wavenumber_rad_m(self) -> float:
        """Free-space wavenumber, radians per metre."""
        return wavenumber(self.frequency_mhz)

    def current_a(self, places: ArrayLike) -> Complexes:
        """
        Read the current at places within every segment.

        Parameters
        ----------
        places : array_like
            Shape (X,), parts of a segment's length, 0 at its start to 1 at its end.

        Returns
        -------
        current : numpy.ndarray
            Shape (S, X), peak current along the segment. [A]
        """
        value, _ = half_functions(self.mesh.length_m, self.wavenumber_rad_m)
        powers = np.asarray(places, dtype=np.float64) ** np.arange(4)[:, None]
        along = self.half_currents_a[:, None, :] @ (value @ powers)
        return np.asarray(along[:, 0])


def wavenumber(frequency_mhz: float) -> float:
    """
    Free-space wavenumber.

    Parameters
    ----------
    frequency_mhz : float
        Frequency. [MHz]

    Returns
    -------
    k : float
        2π over the wavelength. [rad/m]

    Examples
    --------
    >>> wavenumber(299.792458)
    6.283
    """
    return 2e6 * np.pi * frequency_mhz / LIGHT_SPEED_M_S


def solve(
    model: WireModel,
    frequency_mhz: float,
    ground: Ground | None,
    *,
    cache_dir: Path | None = None,
    segments_per_wavelength: float = 16.0,
) -> Solution:
    """
    Solve for the currents.

    Parameters
    ----------
    model : WireModel
        Wires, feeds and loads.
    frequency_mhz : float
        Frequency. [MHz]
    ground : Ground or None
        What is below z = 0; None for free space.
    cache_dir : pathlib.Path, optional
        Where to keep the ground's tables between runs; they are made anew without.
    segments_per_wavelength : float, optional
        Density away from feeds and open ends, where segments are shorter.

    Returns
    -------
    solution : Solution
        Impedances, currents and powers.

    Raises
    ------
    geo.errors.InputError
        If the model cannot be cut into segments (see `build_mesh`), if the frequency
        is not positive, or if the equations have no sound solution.

    Notes
    -----
    A feed is a voltage spread over the length of its gap. More segments move the
    impedance by 1 % at most over all shapes, 2 % where it is high; by 0.3 % where wires
    are in the ground.
    """
    if not 0.0 < frequency_mhz < np.inf:
        raise InputError(
            f"frequency {frequency_mhz} MHz is not positive; HF is 1.8 to 54"
        )
    eps = _permittivity(ground, frequency_mhz)
    mesh = mesh_for(model, frequency_mhz, ground, segments_per_wavelength)
    parts = reactions(mesh, wavenumber(frequency_mhz), ground, eps, cache_dir)
    halves = parts[0]
    for more in parts[1:]:
        halves += more
    return solve_filled(model, frequency_mhz, ground, mesh, halves, eps)


def _permittivity(ground: Ground | None, frequency_mhz: float) -> complex:
    """Relative permittivity of a real ground, of air for any other."""
    if ground is None or ground.is_perfect:
        return 1.0 + 0j
    return complex(complex_permittivity(ground, frequency_mhz))


def mesh_for(
    model: WireModel,
    frequency_mhz: float,
    ground: Ground | None,
    segments_per_wavelength: float = 16.0,
) -> Mesh:
    """
    Cut a model into segments as a frequency and a ground ask for.

    Parameters
    ----------
    model, ground, segments_per_wavelength
        As of `solve`.
    frequency_mhz : float
        Frequency. [MHz]

    Returns
    -------
    mesh : Mesh
        Segments and basis functions.
    """
    return build_mesh(
        model,
        2.0 * np.pi / wavenumber(frequency_mhz),
        over_ground=ground is not None,
        touches_ground=ground is not None and ground.is_perfect,
        index_below=_index_below(_permittivity(ground, frequency_mhz)),
        segments_per_wavelength=segments_per_wavelength,
    )


def reactions(
    mesh: Mesh, k: float, ground: Ground | None, eps: complex, cache_dir: Path | None
) -> list[Complexes]:
    """
    Reaction of every half function on every other, (M, 2, M, 2).

    Parameters
    ----------
    mesh : Mesh
        Segments.
    k : float
        Wavenumber. [rad/m]
    ground : Ground or None
        What is below.
    eps : complex
        Relative permittivity of a real ground. [1]
    cache_dir : pathlib.Path, optional
        Where to keep the ground's tables.

    Returns
    -------
    parts : list of numpy.ndarray
        The direct part, then the ground's; one sum of wires that touch it. [ohm]
    """
    if ground is None:
        return [free_space_reaction(mesh, k)]
    if mesh.is_below.any():
        return [contact_reaction(mesh, k, eps)]
    if ground.is_perfect:
        return [free_space_reaction(mesh, k), image_reaction(mesh, k)]
    return [free_space_reaction(mesh, k), ground_reaction(mesh, k, eps, cache_dir)]


def _index_below(eps: complex) -> float:
    """How much shorter segments are in the ground, where waves are shorter."""
    n = abs(eps) ** 0.5
    # In salt water current is gone within centimetres, and so is what it matters.
    return float(max(min(n, max(n / _COARSER, _FINEST)), 1.0))


def solve_filled(
    model: WireModel,
    frequency_mhz: float,
    ground: Ground | None,
    mesh: Mesh,
    halves: Complexes,
    eps: complex,
) -> Solution:
    """
    Join the halves, put in coats and loads, solve, and gather what is asked for.

    Parameters
    ----------
    model, ground
        As of `solve`.
    frequency_mhz : float
        Frequency. [MHz]
    mesh : Mesh
        Segments.
    halves : numpy.ndarray
        Sum of `reactions`; written over. [ohm]
    eps : complex
        Relative permittivity of a real ground. [1]

    Returns
    -------
    solution : Solution
        Impedances, currents and powers.
    """
    series, elastance = _wire_terms(model, mesh, frequency_mhz, eps)
    own = (series + elastance)[mesh.kept] * mesh.count[:, None, None]
    _add_to_diagonal(halves, own)
    size = mesh.junction.shape[1]
    left = np.asarray(mesh.junction @ halves.reshape(size, size))
    matrix = np.ascontiguousarray(mesh.junction @ left.T)
    unit = _solve_symmetric(matrix, mesh.port.astype(np.complex128))
    between = mesh.port.T @ unit
    fed = slice(len(model.sources))
    loaded = slice(len(model.sources), None)
    loads = np.array(
        [load.impedance_ohm(frequency_mhz) for load in model.loads], np.complex128
    )
    # A load's voltage is set against the current that comes of it.
    alone = np.eye(len(loads)) + between[loaded, loaded] * loads
    through = np.linalg.solve(alone, between[loaded, fed])
    dropped = loads[:, None] * through
    unit = unit[:, fed] - unit[:, loaded] @ dropped
    admittance = between[fed, fed] - between[fed, loaded] @ dropped
    voltage = np.array([source.voltage_v for source in model.sources], np.complex128)
    basis = unit @ voltage
    current = admittance @ voltage
    input_w = 0.5 * float(np.real(np.vdot(current, voltage)))
    if not input_w > 0.0:
        raise InputError(
            f"the feed takes {input_w:.3g} W at {frequency_mhz:.6g} MHz, which no "
            "set-up can; look for wires too close, or too thick for their length"
        )
    spread = np.asarray(mesh.junction.T @ basis)
    half_currents = spread.reshape(-1, 2)[mesh.row]
    lost = np.einsum("sa,sab,sb->", half_currents.conj(), series, half_currents)
    at_loads = through @ voltage
    with np.errstate(divide="ignore", invalid="ignore"):
        z_in = voltage / current
    return Solution(
        model,
        frequency_mhz,
        ground,
        mesh,
        half_currents,
        z_in,
        current,
        admittance,
        input_w,
        0.5 * float(lost.real),
        0.5 * loads.real * np.abs(at_loads) ** 2,
    )


def _solve_symmetric(matrix: Complexes, right: Complexes) -> Complexes:
    """
    Solve, or say that the equations are too near to singular.

    Rows and columns are scaled to equal diagonals first, as segments differ in length.
    """
    from scipy.linalg import LinAlgWarning, lu_factor, lu_solve
    from scipy.linalg.lapack import zgecon

    diagonal = np.abs(np.diagonal(matrix))
    scale = 1.0 / np.sqrt(np.where(diagonal > 0.0, diagonal, 1.0))
    matrix = matrix * scale * scale[:, None]
    norm = np.linalg.norm(matrix, 1)
    sound = bool(np.isfinite(norm))
    if sound:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", LinAlgWarning)
            factors = lu_factor(matrix, overwrite_a=True, check_finite=False)
        reciprocal, _ = zgecon(factors[0], norm)
        sound = reciprocal > _SINGULAR
    if not sound:
        raise InputError(
            "the equations for the currents have no sound solution; look for wires "
            "that nearly touch or a load that shorts a loop"
        )
    scaled = lu_solve(factors, right * scale[:, None], check_finite=False)
    return np.asarray(scaled * scale[:, None])


def _wire_terms(
    model: WireModel, mesh: Mesh, frequency_mhz: float, eps: complex
) -> tuple[Complexes, Complexes]:
    """Per segment, what conductor and coat add to its own block: two (S, 2, 2)."""
    length = mesh.length_m
    value, slope = half_functions(length, wavenumber(frequency_mhz))
    powers = np.arange(4)
    hilbert = 1.0 / (1.0 + powers[:, None] + powers)
    mass = value @ hilbert @ value.transpose(0, 2, 1)
    stiffness = slope @ hilbert @ slope.transpose(0, 2, 1)
    per_metre = np.array(
        [
            internal_impedance(frequency_mhz, wire.radius_m, wire.conductivity_s_m)
            for wire in model.wires
        ],
        dtype=np.complex128,
    )[mesh.wire]
    coat = np.array(
        [np.log1p(wire.insulation_m / wire.radius_m) for wire in model.wires]
    )[mesh.wire]
    inside = np.array([wire.insulation_eps_r for wire in model.wires])[mesh.wire]
    # The kernels count what the coat takes the place of: air, or the ground.
    coat = coat * (1.0 / inside - 1.0 / np.where(mesh.is_below, eps, 1.0))
    omega = 2e6 * np.pi * frequency_mhz
    elastance: Complexes = coat / (2j * np.pi * omega * VACUUM_PERMITTIVITY_F_M)
    series = (per_metre * length)[:, None, None] * mass
    return series, (elastance * length)[:, None, None] * stiffness


def internal_impedance(
    frequency_mhz: float, radius_m: float, conductivity_s_m: float
) -> complex:
    r"""
    Series impedance per metre inside a solid round wire.

    Parameters
    ----------
    frequency_mhz : float
        Frequency. [MHz]
    radius_m : float
        Radius. [m]
    conductivity_s_m : float
        Conductivity; infinite gives 0. [S/m]

    Returns
    -------
    z : complex
        Impedance per length. [ohm/m]

    Notes
    -----
    .. math:: Z = \frac{\kappa J_0(\kappa a)}{2\pi a\sigma J_1(\kappa a)},
       \quad \kappa = \sqrt{-j\omega\mu\sigma}

    Ramo, Whinnery and Van Duzer, "Fields and Waves in Communication Electronics",
    chapter 4 (from memory).

    Examples
    --------
    A direct current meets 1/(π a² σ), 5.49 milliohm per metre here:

    >>> internal_impedance(1e-9, 1e-3, 5.8e7).real * 1e3
    5.488
    """
    if np.isinf(conductivity_s_m):
        return 0j
    from scipy.special import jve

    omega = 2e6 * np.pi * frequency_mhz
    kappa = np.sqrt(-1j * omega * VACUUM_PERMEABILITY_H_M * conductivity_s_m)
    ratio = jve(0, kappa * radius_m) / jve(1, kappa * radius_m)
    return complex(kappa * ratio / (2.0 * np.pi * radius_m * conductivity_s_m))


def _add_to_diagonal(halves: Complexes, blocks: Complexes) -> None:
    each = np.arange(len(blocks))
    halves[each, :, each, :] += blocks
