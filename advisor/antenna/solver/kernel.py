"""
How one piece of current acts on another: the entries of the moment matrix.

Galerkin's method in mixed potentials on straight segments. Currents are piecewise
linear plus a small cubic that bends them like a sine: linear ones alone give waves
along the wire a speed that is off by (kL)²/24. Free space and the image in a perfect
ground share one kernel; what a real ground sends back comes from the tables of
`advisor.antenna.solver.sommerfeld`. Time runs as exp(+jωt).
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path

import numpy as np

from advisor.antenna.ground import VACUUM_PERMITTIVITY_F_M
from advisor.antenna.solver.mesh import Mesh
from advisor.antenna.solver.sommerfeld import (
    F_H,
    F_TE,
    F_ZZ,
    TableRange,
    W,
    ground_table,
)
from geo.arrays import Bools, Complexes, Floats, Ints

LIGHT_SPEED_M_S = 299_792_458.0
VACUUM_PERMEABILITY_H_M = 1.0 / (VACUUM_PERMITTIVITY_F_M * LIGHT_SPEED_M_S**2)
WAVE_IMPEDANCE_OHM = VACUUM_PERMEABILITY_H_M * LIGHT_SPEED_M_S

# Pairs whose gap is under this many segment lengths are integrated analytically.
_NEAR_LENGTHS = 0.9
_FAR_POINTS = 4
_GRADED_POINTS = 24
_AZIMUTH_POINTS = 6
# On segments longer than this many radii the reduced kernel is within 3e-4.
_LONG_RADII = 100.0
# Points per segment for the ground's part, by how close the image is.
_GROUND_POINTS = (2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96)
_PAIRS_AT_ONCE = 1 << 12
# Lengths that differ by less are one. [m]
_ALIKE_M = 1e-8
# Any odd numbers, so large that no two sums of products meet by chance.
_ODD = np.random.default_rng(13).integers(1 << 40, 1 << 62, 13) | 1

Sampler = Callable[[Floats, Floats, Floats, bool], Complexes]
"""Functions of a ground by distance and both heights times k; whether all four."""


def free_space_reaction(mesh: Mesh, k: float) -> Complexes:
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
        Shape (M, 2, M, 2), symmetric. [ohm]

    Notes
    -----
    .. math:: Z = \frac{j\omega\mu}{4\pi}\iint
       \left[\mathbf f\cdot\mathbf f' - \frac{\partial f\,\partial f'}{k^2}\right]
       \frac{e^{-jkR}}{R}\,ds\,ds', \quad R^2=|\mathbf r-\mathbf r'|^2+a^2

    Harrington, "Field Computation by Moment Methods", 1968, chapter 4 (from memory).
    """
    return direct_blocks(mesh, k, mesh.pairs)


def image_reaction(mesh: Mesh, k: float) -> Complexes:
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
        Shape (M, 2, M, 2), symmetric. [ohm]
    """
    return direct_blocks(mesh, k, mesh.pairs, is_image=True, vector=-1.0, charge=-1.0)


def direct_blocks(
    mesh: Mesh,
    k: float,
    pairs: tuple[Ints, Ints],
    *,
    wave: complex | None = None,
    is_image: bool = False,
    vector: complex = 1.0,
    charge: complex = 1.0,
) -> Complexes:
    """
    Reaction of pairs of segments by exp(-jkR)/R.

    Parameters
    ----------
    mesh : Mesh
        Segments.
    k : float
        Wavenumber in air, which the basis functions go by. [rad/m]
    pairs : tuple of numpy.ndarray
        First and second segment of each pair.
    wave : complex, optional
        Wavenumber of the medium that the waves go through. [rad/m]
    is_image : bool, optional
        Whether the second is seen in the mirror z = 0.
    vector, charge : complex, optional
        What the vector and the scalar potential are multiplied by; seen in the mirror
        the current is not turned over, as the mirror has it.

    Returns
    -------
    reaction : numpy.ndarray
        Shape (M, 2, M, 2), symmetric; zero for pairs left out. [ohm]
    """
    wave = k if wave is None else wave
    mirror = np.array([1.0, 1.0, -1.0 if is_image else 1.0])
    start, end = mesh.start_m * mirror, mesh.end_m * mirror
    turned = vector * mirror * mesh.tangent
    value, slope = half_functions(mesh.length_m, k)
    x, _ = legendre(_FAR_POINTS)
    sampled = _sampled(mesh, k, _FAR_POINTS)
    points = mesh.start_m[:, None] + x[:, None] * (mesh.end_m - mesh.start_m)[:, None]
    others = start[:, None] + x[:, None] * (end - start)[:, None]
    first_of, back = _alike(mesh, *pairs)
    p, q = pairs[0][first_of], pairs[1][first_of]
    block = np.empty((len(p), 2, 2), dtype=np.complex128)
    for first in range(0, len(p), _PAIRS_AT_ONCE):
        part = slice(first, first + _PAIRS_AT_ONCE)
        i, j = p[part], q[part]
        a2 = 0.5 * (mesh.radius_m[i] ** 2 + mesh.radius_m[j] ** 2)
        longest = np.maximum(mesh.length_m[i], mesh.length_m[j])
        near = _gap(mesh, start, end, i, j) < _NEAR_LENGTHS * longest
        kernel = _kernel(points[i], others[j], a2, wave, near)
        cosine = np.sum(mesh.tangent[i] * turned[j], axis=1)[:, None, None]
        here = cosine * _contract(sampled[0][i], kernel, sampled[0][j])
        here -= charge / k**2 * _contract(sampled[1][i], kernel, sampled[1][j])
        i, j = i[near], j[near]
        static = _static_moments(mesh, start, end, i, j, np.sqrt(a2[near]), wave)
        # The image of an upright wire goes on in its line.
        own = (not is_image) | (np.abs(mesh.tangent[i, 2]) > 1.0 - 1e-12)
        own &= mesh.wire[i] == mesh.wire[j]
        shortest = np.minimum(mesh.length_m[i], mesh.length_m[j])
        own &= shortest < _LONG_RADII * mesh.radius_m[i]
        static[own] = _on_the_surface(mesh, start, end, i[own], j[own], wave)
        here[near] += cosine[near] * _contract(value[i], static, value[j])
        here[near] -= charge / k**2 * _contract(slope[i], static, slope[j])
        block[part] = here
    block *= 1j * k * WAVE_IMPEDANCE_OHM / (4.0 * np.pi)
    return _symmetric(mesh, *pairs, block[back])


def _alike(mesh: Mesh, p: Ints, q: Ints) -> tuple[Ints, Ints]:
    """
    Find pairs that are one pair turned, shifted along the ground or seen in a mirror.

    What two segments do to each other goes by their heights and by the distances among
    their four ends on the map. Radials, both halves of a wire and equal steps along one
    have few pairs of their own. Returns one of each kind, and the kind of each pair.
    """
    place, up = mesh.start_m[:, 0] + 1j * mesh.start_m[:, 1], mesh.start_m[:, 2]
    tip, high = mesh.end_m[:, 0] + 1j * mesh.end_m[:, 1], mesh.end_m[:, 2]
    measures = [
        *(
            each[at]
            for each in (up, high, mesh.length_m, mesh.radius_m)
            for at in (p, q)
        ),
        *(np.abs(a[p] - b[q]) for a in (place, tip) for b in (place, tip)),
        1.0 * (mesh.wire[p] == mesh.wire[q]),
    ]
    key = np.zeros(len(p), dtype=np.int64)
    for measure, odd in zip(measures, _ODD, strict=True):
        key += np.rint(measure / _ALIKE_M).astype(np.int64) * odd
    _, first, back = np.unique(key, return_index=True, return_inverse=True)
    return first, back


def _contract(ours: Floats, middle: Complexes, theirs: Floats) -> Complexes:
    """Shape (pairs, 2, 2): what two sets of halves (pairs, 2, n) make of (., n, n)."""
    # As real numbers: a product of real with complex would turn both to complex.
    pairs, count = middle.shape[:2]
    split = np.ascontiguousarray(middle).view(np.float64)
    half = np.matmul(ours, split).reshape(pairs, 2, count, 2).transpose(0, 2, 1, 3)
    both = np.matmul(theirs, half.reshape(pairs, count, 4))
    block: Complexes = both.view(np.complex128).transpose(0, 2, 1)
    return block


def _symmetric(mesh: Mesh, p: Ints, q: Ints, block: Complexes) -> Complexes:
    """Spread blocks of pairs over the whole matrix, on both sides of its diagonal."""
    size = len(mesh.kept)
    rows, columns = mesh.row[p], mesh.row[q]
    whole = np.zeros((size, size, 2, 2), dtype=np.complex128)
    if mesh.is_turned:
        # Turns add up, as often as the first has equals.
        block = block * mesh.count[rows, None, None]
        np.add.at(whole, (rows, columns), block)
        own = np.arange(size)
        block = 0.5 * (whole[own, own] + whole[own, own].transpose(0, 2, 1))
        whole[own, own] = 0.5 * block
        whole += whole.transpose(1, 0, 3, 2)
    else:
        whole[rows, columns] = block
        whole[columns, rows] = block.transpose(0, 2, 1)
    return np.ascontiguousarray(whole.transpose(0, 2, 1, 3))


def half_functions(length_m: Floats, k: float) -> tuple[Floats, Floats]:
    r"""
    Both halves of a basis function on each segment, as polynomials.

    Parameters
    ----------
    length_m : numpy.ndarray
        Shape (S,), lengths, well under half a wavelength. [m]
    k : float
        Wavenumber. [rad/m]

    Returns
    -------
    value : numpy.ndarray
        Shape (S, 2, 4): coefficients of 1, t, t², t³, with t from 0 to 1 along the
        segment, of the half that falls from 1 to 0 and of the one that rises.
    slope : numpy.ndarray
        The same of their derivatives along the wire. [1/m]

    Notes
    -----
    .. math:: \frac{\sin kLt}{\sin kL} \approx t + \beta(t - t^3),
       \quad \beta = \tfrac12(1 - kL\cot kL)

    with value and slope exact at the full end; β vanishes for short segments.

    Examples
    --------
    >>> value, slope = half_functions(np.array([0.3]), 1.0)
    >>> float(value[0, 1] @ 0.5 ** np.arange(4)), float(np.sin(0.15) / np.sin(0.3))
    (0.5057, 0.5057)
    """
    x = k * length_m
    bend = 0.5 * (1.0 - x / np.tan(x))
    none, one = np.zeros_like(bend), np.ones_like(bend)
    falling = [one, 2.0 * bend - 1.0, -3.0 * bend, bend]
    rising = [none, 1.0 + bend, none, -bend]
    value = np.moveaxis(np.array([falling, rising]), 2, 0)
    slope = np.zeros_like(value)
    slope[..., :3] = value[..., 1:] * np.array([1.0, 2.0, 3.0])
    slope /= length_m[:, None, None]
    return value, slope


@functools.cache
def legendre(points: int) -> tuple[Floats, Floats]:
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
    """
    x, weight = np.polynomial.legendre.leggauss(points)
    return 0.5 * (1.0 + x), 0.5 * weight


def _sampled(mesh: Mesh, k: float, points: int) -> tuple[Floats, Floats]:
    """Halves and their slopes at Gauss's points, with weights: two (S, 2, points)."""
    x, weight = legendre(points)
    powers = x ** np.arange(4)[:, None]
    scale = weight * mesh.length_m[:, None, None]
    value, slope = half_functions(mesh.length_m, k)
    return (value @ powers) * scale, (slope @ powers) * scale


@functools.cache
def _graded() -> tuple[Floats, Floats]:
    """Points and weights on 0..1, crowded at both ends to follow a logarithm."""
    x, weight = legendre(_GRADED_POINTS)
    up, down = x**4, (1.0 - x) ** 4
    slope = 4.0 * (x * (1.0 - x)) ** 3 / (up + down) ** 2
    return up / (up + down), weight * slope


def _gap(
    mesh: Mesh, other_start: Floats, other_end: Floats, p: Ints, q: Ints
) -> Floats:
    """Least distance that two segments can have, from centres and lengths."""
    centre = 0.5 * (mesh.start_m + mesh.end_m)
    other = 0.5 * (other_start + other_end)
    length = mesh.length_m
    away = centre[p] - other[q]
    gap: Floats = np.sqrt(np.sum(away**2, axis=1))
    gap -= 0.5 * (length[p] + length[q])
    return gap


def _kernel(
    ours: Floats, theirs: Floats, radius2: Floats, k: complex, near: Bools
) -> Complexes:
    """Shape (pairs, n, n): exp(-jkR)/R between points, on near pairs less its peak."""
    count = ours.shape[1]
    r2 = np.broadcast_to(radius2[:, None, None], (len(ours), count, count)).copy()
    for axis in range(3):
        r2 += (ours[:, :, None, axis] - theirs[:, None, :, axis]) ** 2
    r = np.sqrt(r2)
    if k.imag:
        kernel = np.exp(-1j * k * r)
    else:
        kernel = np.empty(r.shape, dtype=np.complex128)
        kernel.real, kernel.imag = np.cos(k.real * r), np.sin(-k.real * r)
    # 1/R - k²R/2 is integrated apart; what is left is smooth.
    kernel[near] += 0.5 * (k * r[near]) ** 2 - 1.0
    kernel /= r
    return kernel


@functools.cache
def _round_the_wire() -> tuple[Floats, Floats]:
    """Distances across a wire of radius 1 between points on its surface, weights."""
    x, weight = legendre(_AZIMUTH_POINTS)
    # Crowded towards no distance, about which the potential is logarithmic.
    return 2.0 * np.sin(0.5 * np.pi * x**3), 3.0 * x**2 * weight


def _on_the_surface(
    mesh: Mesh, other_start: Floats, other_end: Floats, p: Ints, q: Ints, k: complex
) -> Complexes:
    """
    Moments of pairs in one straight line with the exact kernel, as `_static_moments`.

    Current and charge are spread round the surface, so that 1/R is averaged over the
    distances across. The reduced kernel, from axis to surface, is off near the ends of
    segments that are only some radii long.
    """
    across, weight = _round_the_wire()
    radius = (across[:, None] * mesh.radius_m[p]).ravel()
    p, q = (np.tile(each, len(across)) for each in (p, q))
    each = _static_moments(mesh, other_start, other_end, p, q, radius, k)
    mean: Complexes = weight @ each.reshape(len(across), -1)
    return mean.reshape(-1, 4, 4)


def _static_moments(
    mesh: Mesh,
    other_start: Floats,
    other_end: Floats,
    p: Ints,
    q: Ints,
    radius: Floats,
    k: complex,
) -> Complexes:
    """
    Moments of tⁱ t'ʲ with 1/R - k²R/2, the nearly singular part of the kernel.

    The inner integral is in closed form, the outer by graded points on pieces cut
    abreast of the inner one's ends, where the integrand changes fastest. Shape
    (pairs, 4, 4).
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
    inner_powers = _inner_integrals(along, d2, inner_length, k)
    outer = s / length[p][pair, None]
    scaled = weight * (high - low)[:, None]
    outer_powers = scaled[:, None] * outer[:, None] ** np.arange(4)[:, None]
    moments = np.matmul(outer_powers, inner_powers.transpose(0, 2, 1)).reshape(-1, 16)
    pieces = np.zeros((real.size, 16), dtype=np.complex128)
    pieces[real] = moments
    total: Complexes = pieces.reshape(3, len(p), 4, 4).sum(axis=0)
    return total


def _inner_integrals(
    along: Floats, d2: Floats, length: Floats, k: complex
) -> Floats | Complexes:
    """Integrals of (t/L)ⁿ (1/R - k²R/2) over t in 0..L, n = 0 to 3, closed form."""
    d = np.sqrt(d2)
    u0, u1 = -along, length - along
    r0, r1 = np.sqrt(u0**2 + d2), np.sqrt(u1**2 + d2)
    # About the foot point: integrals of uⁿ/R by recurrence, then of uⁿ R.
    over = [np.arcsinh(u1 / d) - np.arcsinh(u0 / d), r1 - r0]
    top, bottom = r1, r0
    for n in range(2, 6):
        top, bottom = top * u1, bottom * u0
        over.append((top - bottom - (n - 1) * d2 * over[n - 2]) / n)
    square = k**2 if k.imag else k.real**2
    k0, k1, k2, k3 = (
        over[n] - 0.5 * square * (over[n + 2] + d2 * over[n]) for n in range(4)
    )
    a = along
    about_start = [
        k0,
        k1 + a * k0,
        k2 + a * (2.0 * k1 + a * k0),
        k3 + a * (3.0 * k2 + a * (3.0 * k1 + a * k0)),
    ]
    return np.stack([m / length**n for n, m in enumerate(about_start)], axis=1)


def ground_reaction(
    mesh: Mesh, k: float, eps: complex, cache_dir: Path | None = None
) -> Complexes:
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
        Shape (M, 2, M, 2), symmetric. [ohm]

    Notes
    -----
    .. math:: Z = \frac{j\omega\mu}{4\pi}\iint \{ f f' [\mathbf t_h\cdot\mathbf t_h'
       F_{TE} + t_z t_z' F_{zz}] + (f t_z\,\partial f' + \partial f\,f' t_z') W
       - \partial f\,\partial f' F_h/k^2 \}\,ds\,ds'

    with the functions of `sommerfeld_integrals`.
    """
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

    def sample(rho: Floats, up: Floats, above: Floats, four: bool) -> Complexes:
        return table(rho, up + above, all_four=four)

    return tabled_blocks(mesh, k, mesh.pairs, sample)


def tabled_blocks(
    mesh: Mesh,
    k: float,
    pairs: tuple[Ints, Ints],
    sample: Sampler,
    *,
    least_gap_m: float = 0.0,
) -> Complexes:
    """
    Reaction of pairs of segments by functions of a ground, read off a table.

    Parameters
    ----------
    mesh : Mesh
        Segments.
    k : float
        Wavenumber in air. [rad/m]
    pairs : tuple of numpy.ndarray
        First and second segment of each pair.
    sample : callable
        Takes distance and both heights times k and whether all four functions are
        wanted; returns F_TE, F_zz and F_h over k, and W.
    least_gap_m : float, optional
        Distance within which the functions do not grow much more. [m]

    Returns
    -------
    reaction : numpy.ndarray
        Shape (M, 2, M, 2), symmetric; zero for pairs left out. [ohm]
    """
    first_of, back = _alike(mesh, *pairs)
    p, q = pairs[0][first_of], pairs[1][first_of]
    length, mirror = mesh.length_m, np.array([1.0, 1.0, -1.0])
    start, end = mesh.start_m, mesh.end_m
    upright = bool(np.any(np.abs(mesh.tangent[:, 2]) > 1e-9))
    # An integrand whose pole is y half-lengths off loses (y + √(1+y²))² per point.
    nearest = np.minimum(np.abs(start[:, 2]), np.abs(end[:, 2]))
    sides = np.sign(start[:, 2] + end[:, 2])
    gap = np.where(
        sides[p] == sides[q],
        _gap(mesh, start * mirror, end * mirror, p, q),
        _gap(mesh, start, end, p, q),
    )
    gap = np.maximum(np.maximum(gap, nearest[p] + nearest[q]), least_gap_m)
    longest = np.maximum(length[p], length[q])
    wanted = 4.5 / np.arcsinh(2.0 * gap / longest)
    choice = np.searchsorted(_GROUND_POINTS[:-1], wanted)

    block = np.empty((len(p), 2, 2), dtype=np.complex128)
    for rank in np.unique(choice):
        count = _GROUND_POINTS[rank]
        members = np.flatnonzero(choice == rank)
        at_once = max(2 * _PAIRS_AT_ONCE // count**2, 1)
        halves = _sampled(mesh, k, count)
        for first in range(0, len(members), at_once):
            part = members[first : first + at_once]
            block[part] = _ground_block(
                mesh, p[part], q[part], k, halves, sample, upright
            )
    block *= 1j * k * WAVE_IMPEDANCE_OHM / (4.0 * np.pi)
    return _symmetric(mesh, *pairs, block[back])


def _ground_block(
    mesh: Mesh,
    p: Ints,
    q: Ints,
    k: float,
    halves: tuple[Floats, Floats],
    sample: Sampler,
    upright: bool,
) -> Complexes:
    """Evaluate the double integral of `ground_reaction` for some pairs, metres."""
    tangent = mesh.tangent
    x, _ = legendre(halves[0].shape[2])
    start, span = mesh.start_m[:, None], (mesh.end_m - mesh.start_m)[:, None]
    ours, theirs = (start[each] + x[:, None] * span[each] for each in (p, q))
    ours, theirs = ours[:, :, None], theirs[:, None, :]
    rho = np.hypot(ours[..., 0] - theirs[..., 0], ours[..., 1] - theirs[..., 1])
    up, above = np.broadcast_arrays(k * ours[..., 2], k * theirs[..., 2])
    samples = sample(k * rho, up, above, upright)
    level = np.einsum("pi,pi->p", tangent[p, :2], tangent[q, :2])
    value, slope = halves
    vp, vq, sp, sq = value[p], value[q], slope[p], slope[q]
    vector = level[:, None, None] * samples[..., F_TE]
    if upright:
        rise_p, rise_q = tangent[p, 2, None, None], tangent[q, 2, None, None]
        vector += rise_p * rise_q * samples[..., F_ZZ]
    # Tables hold the three F over k and the mesh is in metres.
    block = k * _contract(vp, vector, vq)
    block -= _contract(sp, samples[..., F_H if upright else 1], sq) / k
    if upright:
        w = samples[..., W]
        block += rise_p * _contract(vp, w, sq) + rise_q * _contract(sp, w, vq)
    return block
