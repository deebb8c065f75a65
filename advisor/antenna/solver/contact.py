r"""
Wires in touch with soil: how currents on both sides of its surface act on each other.

Direct waves and images are those of `advisor.antenna.solver.kernel`, each medium with
its own wavenumber, charges weighted as in electrostatics. What is left over of the
Sommerfeld integrals is bounded, or grows as a logarithm, where wires reach the surface;
it is integrated on a grid and splined.

The scalar potential is continuous through the surface, so current runs through it
unbroken, and the charge on a wire jumps there by the ratio of the permittivities as the
slope of the current may: nothing else is asked of a junction.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from advisor.antenna.solver.kernel import direct_blocks, tabled_blocks
from advisor.antenna.solver.mesh import Mesh
from advisor.antenna.solver.sommerfeld import (
    beyond_branches,
    faded_bessel,
    radial_points,
    wavenumber_below,
)
from geo.arrays import Bools, Complexes, Floats

if TYPE_CHECKING:
    from scipy.interpolate import NdBSpline

_PER_FOLD = {2: 4.0, 3: 3.0}
"""Nodes per factor e in distance, by how many variables there are: twice as many move
the impedance of a stake or of radials by 5e-6."""

_PER_RADIAN = 1.5
# Waves in the ground count over this many of their depths of decay.
_DEPTHS = 6.0
_LEAST_NODES = 6
# Of a segment that ends on the surface, the part that counts as being this far off.
_LEAST_PART = 0.02
_DECAY = 38.0
_BLOCK = 128


Span = tuple[float, float] | None


@dataclass(frozen=True)
class Reach:
    """
    What a table must cover; lengths times the free-space wavenumber.

    Attributes
    ----------
    eps : complex
        Relative permittivity of the ground. [1]
    rho : float
        Greatest horizontal distance. [rad]
    above, below : tuple of float or None
        Least and greatest height of points in the air and depth of points in the
        ground; with one side only, of sums of two. [rad]
    """

    eps: complex
    rho: float
    above: Span
    below: Span

    def widened(self) -> Reach:
        """Round outwards to steps of 19 %, so that near set-ups share a table."""

        def out(span: Span) -> Span:
            if span is None:
                return None
            low, high = (4.0 * np.log2(edge) for edge in span)
            return (
                float(2.0 ** (0.25 * np.floor(low - 1e-6))),
                float(2.0 ** (0.25 * np.ceil(high + 1e-6))),
            )

        spans = [out(span) for span in (self.above, self.below)]
        least = min(span[0] for span in spans if span)
        rho = 2.0 ** (0.25 * np.ceil(4.0 * np.log2(max(self.rho, least)) + 1e-6))
        return Reach(self.eps, float(rho), *spans)


def contact_reaction(mesh: Mesh, k: float, eps: complex) -> Complexes:
    r"""
    Reaction of every half function on every other, some of them in the ground.

    Parameters
    ----------
    mesh : Mesh
        Segments, each wholly above or wholly below z = 0.
    k : float
        Wavenumber in air. [rad/m]
    eps : complex
        Relative permittivity of the ground. [1]

    Returns
    -------
    reaction : numpy.ndarray
        Shape (M, 2, M, 2), symmetric. [ohm]

    Notes
    -----
    Formulation C of Michalski and Mosig (see `advisor.antenna.solver.sommerfeld`), in
    the form of `advisor.antenna.solver.kernel.ground_reaction`. With u0, u1, C as there
    and E the decay from both points to the surface, the kernels of
    :math:`\int K\lambda J_0 E\,d\lambda` are, of F_TE, F_zz, F_h and W,

    * both in the ground: :math:`-R_{TE}/u_1`, :math:`u_1C-R_{TM}/u_1`,
      :math:`(u_1C-R_{TE}/u_1)/\varepsilon`, :math:`C`;
    * one on each side: :math:`2/(u_0+u_1)`,
      :math:`2(\lambda^2-u_0u_1)/(\varepsilon u_0+u_1)+(u_1-u_0)C`,
      :math:`2/(\varepsilon u_0+u_1)`, :math:`C`.
    """
    p, q = mesh.pairs
    below = mesh.is_below
    wave = k * complex(wavenumber_in(eps))
    mirror = (eps - 1.0) / (eps + 1.0)

    air, soil = ~below[p] & ~below[q], below[p] & below[q]
    in_air, in_soil, across = ((p[each], q[each]) for each in (air, soil, ~air & ~soil))
    total = direct_blocks(mesh, k, in_air)
    total += direct_blocks(mesh, k, in_air, is_image=True, vector=0.0, charge=-mirror)
    total += direct_blocks(mesh, k, in_soil, wave=wave, charge=1.0 / eps)
    total += direct_blocks(
        mesh, k, in_soil, wave=wave, is_image=True, vector=0.0, charge=mirror / eps
    )
    total += direct_blocks(mesh, k, across, charge=2.0 / (eps + 1.0))
    # The rest changes over a wavelength in the ground, or its depth of decay.
    gap_m = 0.25 / abs(wave)
    spread = k * float(np.linalg.norm(np.ptp(mesh.start_m[:, :2], axis=0)))
    spread += k * float(mesh.length_m.max())
    above, under = _heights(mesh, k, ~below), _heights(mesh, k, below)
    for pairs, spans in (
        (in_air, (_twice(above), None)),
        (in_soil, (None, _twice(under))),
        (across, (above, under)),
    ):
        if len(pairs[0]):
            table = _table(Reach(complex(eps), spread, *spans).widened())
            total += tabled_blocks(mesh, k, pairs, table, least_gap_m=gap_m)
    return total


def _heights(mesh: Mesh, k: float, own: Bools) -> Span:
    """Least and greatest distance from the surface of some segments, times k."""
    if not own.any():
        return None
    ends = np.abs(np.stack([mesh.start_m[own, 2], mesh.end_m[own, 2]]))
    # Nearer to the surface than this nothing changes but the logarithm of W.
    least = np.maximum(ends.min(axis=0), _LEAST_PART * np.ptp(ends, axis=0))
    return k * float(least.min()), k * float(ends.max())


def _twice(span: Span) -> Span:
    return None if span is None else (2.0 * span[0], 2.0 * span[1])


def wavenumber_in(eps: complex) -> complex:
    """
    Wavenumber in the ground over that in air.

    Parameters
    ----------
    eps : complex
        Relative permittivity of the ground. [1]

    Returns
    -------
    n : complex
        Its imaginary part is not positive: waves die away.
    """
    n = np.sqrt(complex(eps))
    return complex(-n if n.imag > 0.0 else n)


@dataclass(frozen=True)
class ContactTable:
    """
    What is left of the four ground functions, splined over distance and heights.

    Attributes
    ----------
    reach : Reach
        What is covered.
    spline : scipy.interpolate.NdBSpline
        The functions times R and a phase, over the coordinates of `_along`, `_off`.
    """

    reach: Reach
    spline: NdBSpline[np.complex128]

    def __call__(self, rho: Floats, up: Floats, other: Floats, four: bool) -> Complexes:
        """
        Interpolate.

        Parameters
        ----------
        rho, up, other : numpy.ndarray
            One shape: distance, and both heights, negative in the ground. [rad]
        four : bool
            Whether F_zz and W are wanted too.

        Returns
        -------
        integrals : numpy.ndarray
            That shape plus (4,), or (2,) with F_TE and F_h alone.
        """
        reach = self.reach
        if reach.above and reach.below:
            height = np.clip(np.maximum(up, other), *reach.above)
            depth = np.clip(-np.minimum(up, other), *reach.below)
            places = [_off(height, reach, 0), _off(depth, reach, 1)]
            distance = height + depth
        else:
            side = 0 if reach.above else 1
            distance = np.clip(np.abs(up + other), *(reach.above or reach.below or ()))
            places = [_off(distance, reach, side)]
        far = np.hypot(rho, distance)
        at = np.stack([_along(rho, reach), *places], axis=-1)
        found: Complexes = np.asarray(self.spline(at), dtype=np.complex128)
        found *= (np.exp(-1j * _phase(rho, far, reach)) / far)[..., None]
        return found if four else found[..., [0, 2]]


def _phase(rho: Floats, far: Floats, reach: Reach) -> Floats:
    """Phase of the waves that go farthest: through the air, or along the surface."""
    return far if reach.above else np.broadcast_to(rho, far.shape)


def _in_ground(length: Floats, eps: complex) -> Floats:
    """Radians of waves in the ground over a length, as far as they matter."""
    n = wavenumber_in(eps)
    return n.real * np.minimum(length, _DEPTHS / max(-n.imag, 1e-9))


def _per_fold(reach: Reach) -> float:
    return _PER_FOLD[3 if reach.above and reach.below else 2]


def _along(rho: Floats, reach: Reach) -> Floats:
    """Coordinate of a horizontal distance: about one node each."""
    least = sum(span[0] for span in (reach.above, reach.below) if span)
    radians = rho + (_in_ground(rho, reach.eps) if reach.below else 0.0)
    return np.asarray(
        _per_fold(reach) * np.arcsinh(rho / least) + _PER_RADIAN * radians
    )


def _off(length: Floats, reach: Reach, side: int) -> Floats:
    """Coordinate of a height (side 0) or depth (side 1)."""
    span = reach.below if side else reach.above
    radians = _in_ground(length, reach.eps) if side else length
    least = span[0] if span else 1.0
    return np.asarray(_per_fold(reach) * np.log(length / least) + _PER_RADIAN * radians)


def _nodes(coordinate: Callable[[Floats], Floats], low: float, high: float) -> Floats:
    """Lengths from low to high at about whole steps of their coordinate."""
    fine = np.geomspace(max(low, 1e-9), max(high, 1.01 * low), 4000)
    fine[0] = low
    steps = coordinate(fine)
    count = max(int(np.ceil(steps[-1] - steps[0])) + 1, _LEAST_NODES)
    nodes = np.interp(np.linspace(steps[0], steps[-1], count), steps, fine)
    nodes[[0, -1]] = fine[[0, -1]]
    return np.asarray(nodes)


@functools.lru_cache(maxsize=24)
def _table(reach: Reach) -> ContactTable:
    """Integrate and spline."""
    from scipy.interpolate import NdBSpline, make_interp_spline

    sides = [side for side, span in enumerate((reach.above, reach.below)) if span]
    rho = _nodes(lambda length: _along(length, reach), 0.0, reach.rho)
    offs = []
    for side in sides:
        low, high = (reach.below if side else reach.above) or (0.0, 0.0)
        offs.append(_nodes(functools.partial(_off, reach=reach, side=side), low, high))
    values = left_over(reach.eps, rho, *offs, side=sides[0])
    shape = (rho.size, *(1 for _ in offs))
    height = sum(
        off.reshape([1, *(-1 if i == j else 1 for j in range(len(offs)))])
        for i, off in enumerate(offs)
    )
    far = np.hypot(rho.reshape(shape), height)
    phase = _phase(rho.reshape(shape), far, reach)
    coefficients = values * (far * np.exp(1j * phase))[..., None]
    axes = [_along(rho, reach)] + [
        _off(off, reach, side) for off, side in zip(offs, sides, strict=True)
    ]
    knots = []
    for axis, places in enumerate(axes):
        each = make_interp_spline(places, coefficients, k=3, axis=axis)
        knots.append(each.t)
        coefficients = np.moveaxis(each.c, 0, axis)
    spline = NdBSpline(tuple(knots), np.ascontiguousarray(coefficients), k=3)
    return ContactTable(reach, spline)


def left_over(eps: complex, rho: Floats, *off: Floats, side: int = 0) -> Complexes:
    """
    Integrate what is left of the ground functions once the direct waves are out.

    Parameters
    ----------
    eps : complex
        Relative permittivity of the ground. [1]
    rho : numpy.ndarray
        Shape (R,), rising horizontal distances times k0. [rad]
    *off : numpy.ndarray
        Sums of heights, shape (Z,); or heights (H,) and depths (D,). [rad]
    side : int, optional
        Of one alone: 0 if both points are in the air, 1 if both in the ground.

    Returns
    -------
    integrals : numpy.ndarray
        Shape (R, Z, 4) or (R, H, D, 4): F_TE, F_zz and F_h over k0, and W.
    """
    least = sum(float(each.min()) for each in off)
    most = sum(float(each.max()) for each in off)
    # Deep in the ground waves have died long before they are evanescent in it.
    least = min(least, 0.1 * _DECAY / max(abs(eps) ** 0.5, 1.0))
    lam, u0, d_lam = radial_points(eps, float(rho[-1]), least, most, fades=True)
    u1 = wavenumber_below(lam, eps)
    mirror = (eps - 1.0) / (eps + 1.0)
    r_te, r_tm = (eps - 1.0) / (u0 + u1) ** 2, (eps * u0 - u1) / (eps * u0 + u1)
    c = 2.0 * (eps - 1.0) / ((u0 + u1) * (eps * u0 + u1))
    # Each kernel times u0, which takes away the branch point in air.
    if len(off) == 2:
        steep = np.where(
            lam > 4.0 * abs(eps) ** 0.5 + 2.0,
            (lam**2 * (1.0 + eps) - eps) / (lam**2 + u0 * u1),
            lam**2 - u0 * u1,
        )
        kernels = [
            2.0 * u0 / (u0 + u1),
            u0 * (2.0 * steep / (eps * u0 + u1) + (u1 - u0) * c),
            2.0 * u0 / (eps * u0 + u1),
            u0 * c,
        ]
        taken = np.array([1.0, 1.0, 2.0 / (eps + 1.0), 0.0])
    elif side:
        kernels = [
            -r_te * u0 / u1,
            u0 * (u1 * c - r_tm / u1),
            u0 * (u1 * c - (r_te + mirror) / u1) / eps,
            u0 * c,
        ]
    else:
        kernels = [r_te, r_tm - u0**2 * c, r_te - u0**2 * c + mirror, u0 * c]
    measure = lam * d_lam / u0
    weights = np.stack(kernels, axis=-1) * measure[:, None]
    smooth = beyond_branches(lam, eps)
    total = np.zeros((rho.size, *(each.size for each in off), 4), dtype=np.complex128)
    for first in range(0, lam.size, _BLOCK):
        part = slice(first, first + _BLOCK)
        bessel = faded_bessel(rho, lam[part], smooth[part])
        if not len(bessel):
            break
        if len(off) == 2:
            down = np.exp(-u1[part, None] * off[1])[..., None] * weights[part, None]
            air = np.exp(-u0[part, None] * off[1])[..., None]
            down -= air * (taken * measure[part, None])[:, None]
            waves = np.exp(-u0[part, None] * off[0])[:, :, None, None] * down[:, None]
        else:
            u = u1 if side else u0
            waves = np.exp(-u[part, None] * off[0])[..., None] * weights[part, None]
        flat = waves.reshape(len(waves), -1).view(np.float64)
        summed = (bessel @ flat).view(np.complex128)
        total[: len(bessel)] += summed.reshape(-1, *total.shape[1:])
    return total
