"""
How one piece of current acts on another: the entries of the moment matrix.

Galerkin's method in mixed potentials with piecewise-linear currents on straight
segments. Free space and the image in a perfect ground share one kernel; what a real
ground sends back comes from the tables of `advisor.antenna.halfspace`. Time runs as
exp(+jωt).
"""

from __future__ import annotations

import functools
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from advisor.antenna.ground import VACUUM_PERMITTIVITY_F_M
from advisor.antenna.halfspace import (
    F_H,
    F_ZZ,
    GroundTable,
    TableRange,
    W,
    ground_table,
)
from advisor.antenna.mesh import Mesh

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
IntArray = NDArray[np.int64]

LIGHT_SPEED_M_S = 299_792_458.0
VACUUM_PERMEABILITY_H_M = 1.0 / (VACUUM_PERMITTIVITY_F_M * LIGHT_SPEED_M_S**2)
WAVE_IMPEDANCE_OHM = VACUUM_PERMEABILITY_H_M * LIGHT_SPEED_M_S

# Pairs whose gap is under this many segment lengths are integrated analytically.
_NEAR_LENGTHS = 0.9
_FAR_POINTS = 4
_GRADED_POINTS = 24
# Points per segment for the ground's part, by how close the image is.
_GROUND_POINTS = (2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96)
_PAIRS_AT_ONCE = 1 << 14


def free_space_reaction(mesh: Mesh, k: float) -> ComplexArray:
    r"""
    Reaction of every half function on every other, no ground.

    Parameters
    ----------
    mesh : Mesh
        Segments.
    k : float
        Wavenumber. [rad/m]

    Returns
    -------
    reaction : numpy.ndarray
        Shape (S, 2, S, 2), symmetric. [ohm]

    Notes
    -----
    .. math:: Z = \frac{j\omega\mu}{4\pi}\iint
       \left[\mathbf f\cdot\mathbf f' - \frac{\partial f\,\partial f'}{k^2}\right]
       \frac{e^{-jkR}}{R}\,ds\,ds', \quad R^2=|\mathbf r-\mathbf r'|^2+a^2

    Harrington, "Field Computation by Moment Methods", 1968, chapter 4 (from memory).
    """
    p, q = np.triu_indices(len(mesh.radius_m))
    cosine = np.einsum("pi,pi->p", mesh.tangent[p], mesh.tangent[q])
    moments = _kernel_moments(mesh, mesh.start_m, mesh.end_m, p, q, k)
    return _symmetric(mesh, p, q, _combine(mesh, p, q, k, moments, cosine, 1.0))


def image_reaction(mesh: Mesh, k: float) -> ComplexArray:
    """
    Reaction of every half function on the image of every other in a perfect ground.

    Parameters
    ----------
    mesh : Mesh
        Segments, all of them at or above z = 0.
    k : float
        Wavenumber. [rad/m]

    Returns
    -------
    reaction : numpy.ndarray
        Shape (S, 2, S, 2), symmetric. [ohm]
    """
    p, q = np.triu_indices(len(mesh.radius_m))
    mirror = np.array([1.0, 1.0, -1.0])
    # The image's current is turned over along the ground and kept upright.
    cosine = np.einsum("pi,pi->p", mesh.tangent[p], -mirror * mesh.tangent[q])
    moments = _kernel_moments(mesh, mesh.start_m * mirror, mesh.end_m * mirror, p, q, k)
    return _symmetric(mesh, p, q, _combine(mesh, p, q, k, moments, cosine, -1.0))


def _combine(
    mesh: Mesh,
    p: IntArray,
    q: IntArray,
    k: float,
    moments: ComplexArray,
    cosine: FloatArray,
    charge: float,
) -> ComplexArray:
    """Vector and scalar potential parts from the moments of one kernel."""
    length = mesh.length_m
    signs = np.array([[1.0, -1.0], [-1.0, 1.0]])
    scalar = charge * moments.sum(axis=(1, 2)) / (k**2 * length[p] * length[q])
    block: ComplexArray = cosine[:, None, None] * moments
    block -= scalar[:, None, None] * signs
    block *= 1j * k * WAVE_IMPEDANCE_OHM / (4.0 * np.pi)
    return block


def _symmetric(
    mesh: Mesh, p: IntArray, q: IntArray, block: ComplexArray
) -> ComplexArray:
    """Spread blocks of the upper triangle over the whole matrix."""
    size = len(mesh.radius_m)
    whole = np.empty((size, size, 2, 2), dtype=np.complex128)
    whole[p, q] = block
    whole[q, p] = block.transpose(0, 2, 1)
    return np.ascontiguousarray(whole.transpose(0, 2, 1, 3))


@functools.cache
def legendre(points: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """
    Gauss's rule on 0 to 1.

    Parameters
    ----------
    points : int
        How many.

    Returns
    -------
    x, weight : numpy.ndarray
        Shape (points,); the weights sum to 1.
    halves : numpy.ndarray
        Shape (2, points), weights times the falling and the rising half function.
    """
    x, weight = np.polynomial.legendre.leggauss(points)
    x, weight = 0.5 * (1.0 + x), 0.5 * weight
    return x, weight, weight * np.stack([1.0 - x, x])


@functools.cache
def _pair_weights(points: int) -> FloatArray:
    """Shape (points², 4): what turns a kernel's samples into its four moments."""
    halves = legendre(points)[2]
    weights: FloatArray = np.einsum("ai,bj->ijab", halves, halves)
    return weights.reshape(points**2, 4)


@functools.cache
def _graded() -> tuple[FloatArray, FloatArray]:
    """Points and weights on 0..1, crowded at both ends to follow a logarithm."""
    x, weight, _ = legendre(_GRADED_POINTS)
    up, down = x**4, (1.0 - x) ** 4
    slope = 4.0 * (x * (1.0 - x)) ** 3 / (up + down) ** 2
    return up / (up + down), weight * slope


def _gap(
    mesh: Mesh, other_start: FloatArray, other_end: FloatArray, p: IntArray, q: IntArray
) -> FloatArray:
    """Least distance that two segments can have, from centres and lengths."""
    centre = 0.5 * (mesh.start_m + mesh.end_m)
    other = 0.5 * (other_start + other_end)
    length = mesh.length_m
    away = centre[p] - other[q]
    distance = np.sqrt(np.sum(away**2, axis=1))
    return distance - 0.5 * (length[p] + length[q])


def _kernel_moments(
    mesh: Mesh,
    other_start: FloatArray,
    other_end: FloatArray,
    p: IntArray,
    q: IntArray,
    k: float,
) -> ComplexArray:
    """
    Moments of exp(-jkR)/R between segments p and segments q of another set.

    Far pairs by plain quadrature; on near ones 1/R - k²R/2 is taken out and
    integrated apart, and what is left is smooth. Shape (pairs, 2, 2).
    """
    length = mesh.length_m
    longest = np.maximum(length[p], length[q])
    near = _gap(mesh, other_start, other_end, p, q) < _NEAR_LENGTHS * longest
    x, _, _ = legendre(_FAR_POINTS)
    points = mesh.start_m[:, None] + x[:, None] * (mesh.end_m - mesh.start_m)[:, None]
    others = other_start[:, None] + x[:, None] * (other_end - other_start)[:, None]
    a2 = 0.5 * (mesh.radius_m[p] ** 2 + mesh.radius_m[q] ** 2)
    weights = _pair_weights(_FAR_POINTS)

    moments = np.empty((len(p), 4), dtype=np.complex128)
    for first in range(0, len(p), _PAIRS_AT_ONCE):
        part = slice(first, first + _PAIRS_AT_ONCE)
        r2 = np.broadcast_to(
            a2[part, None, None], (len(a2[part]), x.size, x.size)
        ).copy()
        for axis in range(3):
            difference = points[p[part], :, None, axis] - others[q[part], None, :, axis]
            r2 += difference**2
        r = np.sqrt(r2).reshape(-1, x.size**2)
        real, imag = np.cos(k * r), np.sin(-k * r)
        smooth = near[part]
        real[smooth] += 0.5 * (k * r[smooth]) ** 2 - 1.0
        moments[part] = (real / r) @ weights + 1j * ((imag / r) @ weights)
    moments *= (length[p] * length[q])[:, None]
    near_p, near_q = p[near], q[near]
    moments[near] += _static_moments(
        mesh, other_start, other_end, near_p, near_q, np.sqrt(a2[near]), k
    )
    return moments.reshape(-1, 2, 2)


def _static_moments(
    mesh: Mesh,
    other_start: FloatArray,
    other_end: FloatArray,
    p: IntArray,
    q: IntArray,
    radius: FloatArray,
    k: float,
) -> FloatArray:
    """
    Moments of 1/R - k²R/2: inner integral in closed form, outer by graded points.

    The outer segment is cut abreast of the inner one's ends, where the integrand
    changes fastest. Shape (pairs, 4).
    """
    tangent, length = mesh.tangent, mesh.length_m
    axis = (other_end - other_start)[q] / length[q][:, None]
    cuts = [np.zeros(len(p)), length[p]]
    for tip in (other_start[q], other_end[q]):
        abreast = np.einsum("pi,pi->p", tip - mesh.start_m[p], tangent[p])
        cuts.append(np.clip(abreast, 0.0, length[p]))
    edges = np.sort(np.stack(cuts), axis=0)
    pair = np.tile(np.arange(len(p)), 3)
    low, high = edges[:-1].ravel(), edges[1:].ravel()
    real = high - low > 1e-9 * length[p][pair]
    pair, low, high = pair[real], low[real], high[real]

    x, weight = _graded()
    s = low[:, None] + (high - low)[:, None] * x
    # From the inner segment's start to the outer point: along and across the inner.
    offset = (mesh.start_m[p] - other_start[q])[pair]
    direction, inner = tangent[p][pair], axis[pair]
    along = (
        np.einsum("ni,ni->n", offset, inner)[:, None]
        + s * np.einsum("ni,ni->n", direction, inner)[:, None]
    )
    across = offset - np.einsum("ni,ni->n", offset, inner)[:, None] * inner
    lean = direction - np.einsum("ni,ni->n", direction, inner)[:, None] * inner
    d2 = (
        np.einsum("ni,ni->n", across, across)[:, None]
        + 2.0 * s * np.einsum("ni,ni->n", across, lean)[:, None]
        + s**2 * np.einsum("ni,ni->n", lean, lean)[:, None]
    )
    d2 = np.maximum(d2, 0.0) + radius[pair, None] ** 2
    inner_length = length[q][pair, None]
    falling, rising = _inner_integrals(along, d2, inner_length, k)

    outer = s / length[p][pair, None]
    scaled = weight * (high - low)[:, None]
    moments = np.empty((len(pair), 4))
    for a, shape in enumerate((1.0 - outer, outer)):
        moments[:, 2 * a] = np.einsum("ni,ni->n", shape * scaled, falling)
        moments[:, 2 * a + 1] = np.einsum("ni,ni->n", shape * scaled, rising)
    total = np.empty((len(p), 4))
    for column in range(4):
        total[:, column] = np.bincount(pair, moments[:, column], minlength=len(p))
    return total


def _inner_integrals(
    along: FloatArray, d2: FloatArray, length: FloatArray, k: float
) -> tuple[FloatArray, FloatArray]:
    """Integrals of (1 - t/L) and t/L times 1/R - k²R/2 over t in 0..L, closed form."""
    d = np.sqrt(d2)
    u0, u1 = -along, length - along
    r0, r1 = np.sqrt(u0**2 + d2), np.sqrt(u1**2 + d2)
    logs = np.arcsinh(u1 / d) - np.arcsinh(u0 / d)
    # Zeroth and first moments about the foot point, of 1/R and of R.
    one_over = r1 - r0
    plain = 0.5 * (u1 * r1 - u0 * r0 + d2 * logs)
    first = (r1**3 - r0**3) / 3.0
    zeroth = logs - 0.5 * k**2 * plain
    rising = (along * zeroth + one_over - 0.5 * k**2 * first) / length
    return zeroth - rising, rising


def ground_reaction(
    mesh: Mesh, k: float, eps: complex, cache_dir: Path | None = None
) -> ComplexArray:
    r"""
    Reaction of every half function on what the ground sends back of every other.

    Parameters
    ----------
    mesh : Mesh
        Segments, all of them above z = 0.
    k : float
        Wavenumber in air. [rad/m]
    eps : complex
        Relative permittivity of the ground. [1]
    cache_dir : pathlib.Path, optional
        Where the tables are kept.

    Returns
    -------
    reaction : numpy.ndarray
        Shape (S, 2, S, 2), symmetric. [ohm]

    Notes
    -----
    .. math:: Z = \frac{j\omega\mu}{4\pi}\iint \{ f f' [\mathbf t_h\cdot\mathbf t_h'
       F_{TE} + t_z t_z' F_{zz}] + (f t_z\,\partial f' + \partial f\,f' t_z') W
       - \partial f\,\partial f' F_h/k^2 \}\,ds\,ds'

    with the functions of `sommerfeld_integrals`.
    """
    p, q = np.triu_indices(len(mesh.radius_m))
    tangent, length = mesh.tangent, mesh.length_m
    mirror = np.array([1.0, 1.0, -1.0])
    start, end = mesh.start_m, mesh.end_m
    heights = np.concatenate([start[:, 2], end[:, 2]])
    corners = np.concatenate([start, end])[:, :2]
    spread = float(np.linalg.norm(np.ptp(corners, axis=0)))
    span = TableRange(
        complex(eps),
        2.0 * k * float(heights.min()),
        2.0 * k * float(heights.max()),
        k * spread,
    )
    table = ground_table(span, cache_dir)
    upright = bool(np.any(np.abs(tangent[:, 2]) > 1e-9))

    # An integrand whose pole is y half-lengths off loses (y + √(1+y²))² per point.
    lowest = np.minimum(start[:, 2], end[:, 2])
    gap = np.maximum(
        _gap(mesh, start * mirror, end * mirror, p, q), lowest[p] + lowest[q]
    )
    longest = np.maximum(length[p], length[q])
    wanted = 4.5 / np.arcsinh(2.0 * gap / longest)
    choice = np.searchsorted(_GROUND_POINTS[:-1], wanted)

    block = np.empty((len(p), 2, 2), dtype=np.complex128)
    for rank in np.unique(choice):
        count = _GROUND_POINTS[rank]
        members = np.flatnonzero(choice == rank)
        at_once = max(4 * _PAIRS_AT_ONCE // count**2, 1)
        for first in range(0, len(members), at_once):
            part = members[first : first + at_once]
            block[part] = _ground_moments(
                mesh, p[part], q[part], k, count, table, upright
            )
    block *= 1j * k * WAVE_IMPEDANCE_OHM / (4.0 * np.pi)
    return _symmetric(mesh, p, q, block)


def _ground_moments(
    mesh: Mesh,
    p: IntArray,
    q: IntArray,
    k: float,
    count: int,
    table: GroundTable,
    upright: bool,
) -> ComplexArray:
    """Evaluate the double integral of `ground_reaction` for some pairs, metres."""
    tangent, length = mesh.tangent, mesh.length_m
    x, _, _ = legendre(count)
    points = mesh.start_m[:, None] + x[:, None] * (mesh.end_m - mesh.start_m)[:, None]
    ours, theirs = points[p][:, :, None], points[q][:, None, :]
    rho = np.hypot(ours[..., 0] - theirs[..., 0], ours[..., 1] - theirs[..., 1])
    zeta = ours[..., 2] + theirs[..., 2]
    values = table(k * rho, k * zeta, all_four=upright)
    kinds = values.shape[-1]
    samples = np.moveaxis(values.reshape(len(p), count**2, kinds), 1, 2)
    moments = (samples @ _pair_weights(count)).reshape(len(p), kinds, 2, 2)
    moments *= (length[p] * length[q])[:, None, None, None]

    level = np.einsum("pi,pi->p", tangent[p, :2], tangent[q, :2])
    signs = np.array([[1.0, -1.0], [-1.0, 1.0]])
    slope = np.array([-1.0, 1.0])
    te, h = moments[:, 0], moments[:, F_H if upright else 1]
    charge = h.sum(axis=(1, 2)) / (k**2 * length[p] * length[q])
    # Tables hold the three F over k and the mesh is in metres.
    block: ComplexArray = level[:, None, None] * te - charge[:, None, None] * signs
    block *= k
    if upright:
        rise_p, rise_q = tangent[p, 2], tangent[q, 2]
        block += (k * rise_p * rise_q)[:, None, None] * moments[:, F_ZZ]
        w = moments[:, W]
        outer = w.sum(axis=2) * (rise_p / length[q])[:, None]
        inner = w.sum(axis=1) * (rise_q / length[p])[:, None]
        block += outer[:, :, None] * slope + slope[:, None] * inner[:, None, :]
    return block
