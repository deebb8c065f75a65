"""
What a real ground sends back to a wire in the air: the Sommerfeld integrals.

Four scalar functions of the horizontal distance between two points and of the sum
of their heights say everything about the ground. They are integrated once per
ground and frequency on a grid, splined, and kept in a cache if there is one.

Every length is multiplied by the free-space wavenumber k0 and every inverse length
divided by it, so a table depends on the permittivity alone, not on the frequency.
Time runs as exp(+jωt).
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from advisor.antenna.solver.cache_files import fetch, keep
from geo.arrays import Complexes, Floats

if TYPE_CHECKING:
    from scipy.interpolate import NdBSpline


# Order of the four integrals in the last axis of every array.
F_TE, F_ZZ, F_H, W = range(4)

_LEGENDRE_POINTS = 12
_BESSEL_RADIANS_PER_PANEL = 8.0
# exp(-38) is 3e-17: nothing is left of the integrand beyond.
_DECAY = 38.0
# Beyond the branch points the integrand is smooth, and what lies more than so many
# radians of the Bessel function beyond adds nothing: it is faded out over these.
_FADE_AT_RADIANS, _FADE_OVER_RADIANS = 36.0, 8.0
_NODES_PER_FOLD = 7.0
_NODES_PER_WAVELENGTH = 12.0
_FORMAT = 1


@dataclass(frozen=True)
class TableRange:
    """
    What one table must cover; lengths times the free-space wavenumber.

    Attributes
    ----------
    eps : complex
        Relative permittivity of the ground, imaginary part not positive. [1]
    zeta_min, zeta_max : float
        Least and greatest sum of two heights, positive. [rad]
    rho_max : float
        Greatest horizontal distance. [rad]
    """

    eps: complex
    zeta_min: float
    zeta_max: float
    rho_max: float

    def widened(self) -> TableRange:
        """Round the range outwards to steps of 19 %, so that near set-ups share it."""

        def step(value: float, up: bool) -> float:
            # A value on a step goes to the next, or rounding might leave it outside.
            quarter = 4.0 * np.log2(value)
            edge = np.floor(quarter + 1e-6) + 1 if up else np.ceil(quarter - 1e-6) - 1
            return float(2.0 ** (edge / 4.0))

        return TableRange(
            self.eps,
            step(self.zeta_min, up=False),
            step(self.zeta_max, up=True),
            step(max(self.rho_max, self.zeta_min), up=True),
        )


def sommerfeld_integrals(eps: complex, rho: ArrayLike, zeta: ArrayLike) -> Complexes:
    r"""
    Integrate the four ground functions on a grid of distances and height sums.

    Parameters
    ----------
    eps : complex
        Relative permittivity of the ground. [1]
    rho : array_like
        Shape (R,), horizontal distances times k0, 0 or more. [rad]
    zeta : array_like
        Shape (Z,), sums of the two heights times k0, positive. [rad]

    Returns
    -------
    integrals : numpy.ndarray
        Shape (R, Z, 4): F_TE, F_zz and F_h over k0, and W.

    Notes
    -----
    With lengths in units of 1/k0, :math:`u_0=\sqrt{\lambda^2-1}`,
    :math:`u_1=\sqrt{\lambda^2-\varepsilon}`, each is

    .. math:: \int_0^\infty K\,\lambda J_0(\lambda\rho)\,e^{-u_0\zeta}\,d\lambda

    with :math:`K` equal to :math:`R_{TE}/u_0`, :math:`R_{TM}/u_0-u_0C`,
    :math:`R_{TE}/u_0-u_0C` and :math:`C`, where
    :math:`C=2(\varepsilon-1)/[(u_0+u_1)(\varepsilon u_0+u_1)]`. This is the
    mixed-potential formulation C of Michalski and Mosig, "Multilayered media Green's
    functions in integral equation formulations", IEEE Trans. Antennas Propag. 45(3),
    1997 (from memory), written for Galerkin testing of wires in air. The path is the
    real axis; λ = sin w and λ = cosh v take away the branch point at 1. Beyond the
    branch points all but the Bessel function is smooth over many of its ripples, whose
    sum is then nothing: the integrand is faded out there, by an error function so wide
    that the ripples feel 1e-8 of it, the sooner the greater the distance.

    Examples
    --------
    Close to the image the ground acts as its static mirror, -(ε-1)/(ε+1)/R:

    >>> f = sommerfeld_integrals(4.0 - 1.0j, [0.0], [1e-3])[0, 0, F_H]
    >>> complex(f * 1e-3)
    (-0.62+0.08j)
    """
    rho = np.asarray(rho, dtype=np.float64)
    zeta = np.asarray(zeta, dtype=np.float64)
    order, outwards = np.argsort(zeta), np.argsort(rho)
    heights, distances = zeta[order], rho[outwards]
    lam, u0, kernels = _integrand(eps, float(distances[-1]), heights[0], heights[-1])
    smooth = beyond_branches(lam, eps)

    total = np.zeros((rho.size, zeta.size, 4), dtype=np.complex128)
    block = 256
    for first in range(0, lam.size, block):
        part = slice(first, first + block)
        # Higher points see nothing of the fast-dying waves, farther ones nothing of
        # the finely rippled.
        alive = int(np.searchsorted(heights, _DECAY / max(u0[first].real, 1e-30)))
        bessel = faded_bessel(distances, lam[part], smooth[part])
        near = len(bessel)
        if not near:
            break
        waves = np.exp(-u0[part, None] * heights[:alive])
        source = waves[:, :, None] * kernels[part, None, :]
        flat = source.reshape(source.shape[0], -1).view(np.float64)
        total[:near, :alive] += (
            (bessel @ flat).view(np.complex128).reshape(near, alive, 4)
        )
    back = np.empty_like(total)
    back[np.ix_(outwards, order)] = total
    return back


def faded_bessel(distances: Floats, lam: Floats, smooth: Floats) -> Floats:
    """
    Give the Bessel function of waves, faded out where their ripples come to nothing.

    Parameters
    ----------
    distances : numpy.ndarray
        Shape (R,), rising, times k0. [rad]
    lam : numpy.ndarray
        Shape (L,), rising wavenumbers over k0.
    smooth : numpy.ndarray
        Shape (L,), what `beyond_branches` says of them.

    Returns
    -------
    bessel : numpy.ndarray
        Shape (up to R, L): distances that see nothing of these waves are left out.
    """
    from scipy.special import erfc, j0

    near = int(np.searchsorted(distances, _reach(smooth[0])))
    bessel: Floats = j0(distances[:near, None] * lam)
    whole = int(np.searchsorted(distances, _reach(smooth[-1], -1.0)))
    fading = slice(whole, near)
    radians = distances[fading, None] * smooth
    bessel[fading] *= 0.5 * erfc((radians - _FADE_AT_RADIANS) / _FADE_OVER_RADIANS)
    return bessel


def beyond_branches(lam: Floats, eps: complex) -> Floats:
    """
    Say how far waves lie in the range where all but the Bessel function is smooth.

    Parameters
    ----------
    lam : numpy.ndarray
        Wavenumbers over k0.
    eps : complex
        Relative permittivity of the ground. [1]

    Returns
    -------
    smooth : numpy.ndarray
        Wavenumber beyond the start of that range, 0 before it.
    """
    return np.maximum(lam - _smooth_from(eps), 0.0)


def _smooth_from(eps: complex) -> float:
    """Horizontal wavenumber well beyond both branch points, over k0."""
    return 1.0 + 2.0 * float(np.sqrt(abs(eps)))


def _reach(smooth: ArrayLike, end: float = 1.0) -> Floats:
    """Distance at which so high a wavenumber is faded out; with -1, begins to fade."""
    radians = _FADE_AT_RADIANS + end * 4.0 * _FADE_OVER_RADIANS
    return np.asarray(radians / np.maximum(smooth, 1e-30))


def radial_points(
    eps: complex,
    rho_max: float,
    zeta_min: float,
    zeta_max: float,
    *,
    decay: float = _DECAY,
    fades: bool = False,
) -> tuple[Floats, Complexes, Floats]:
    """
    Choose horizontal wavenumbers for integrals over plane waves above a ground.

    Parameters
    ----------
    eps : complex
        Relative permittivity of the ground. [1]
    rho_max : float
        Greatest distance in the integrand's Bessel functions, times k0. [rad]
    zeta_min, zeta_max : float
        Least and greatest height in its exponentials, times k0. [rad]
    decay : float, optional
        Stop where the least height has made the wave exp(-decay).
    fades : bool, optional
        Whether the integrand is faded out as in `sommerfeld_integrals`.

    Returns
    -------
    lam : numpy.ndarray
        Shape (L,), wavenumbers over k0, rising from 0.
    u0 : numpy.ndarray
        Shape (L,), √(λ² - 1): j times the vertical wavenumber in air over k0.
    weight : numpy.ndarray
        Shape (L,), of the integral over λ.
    """
    x, weight = np.polynomial.legendre.leggauss(_LEGENDRE_POINTS)

    def points(edges: Floats) -> tuple[Floats, Floats]:
        half = 0.5 * np.diff(edges)[:, None]
        middle = 0.5 * (edges[1:] + edges[:-1])[:, None]
        return (middle + half * x).ravel(), (half * weight).ravel()

    highest = 1.0 + decay / zeta_min
    inside, outside = _panels(eps, rho_max, zeta_max, highest, fades)
    angle, d_angle = points(inside)
    growth, d_growth = points(outside)
    lam = np.concatenate([np.sin(angle), np.cosh(growth)])
    u0 = np.concatenate([1j * np.cos(angle), np.sinh(growth) + 0j])
    d_lam = np.concatenate([np.cos(angle) * d_angle, np.sinh(growth) * d_growth])
    return lam, u0, d_lam


def wavenumber_below(lam: Floats, eps: complex) -> Complexes:
    """
    Find √(λ² - ε): j times the vertical wavenumber in the ground over k0.

    Parameters
    ----------
    lam : numpy.ndarray
        Horizontal wavenumbers over k0, real.
    eps : complex
        Relative permittivity of the ground. [1]

    Returns
    -------
    u1 : numpy.ndarray
        The root whose waves die away or travel downwards, whatever the sign of a
        zero imaginary part.
    """
    u1: Complexes = np.sqrt(lam**2 - eps + 0j)
    return np.where(u1.imag < 0.0, -u1, u1)


def _integrand(
    eps: complex, rho_max: float, zeta_min: float, zeta_max: float
) -> tuple[Floats, Complexes, Complexes]:
    """Abscissae λ, u0 there, and the four kernels times λ dλ, shape (L, 4)."""
    lam, u0, d_lam = radial_points(eps, rho_max, zeta_min, zeta_max, fades=True)
    u1 = wavenumber_below(lam, eps)
    r_te = (eps - 1.0) / (u0 + u1) ** 2
    r_tm = (eps * u0 - u1) / (eps * u0 + u1)
    c = 2.0 * (eps - 1.0) / ((u0 + u1) * (eps * u0 + u1))
    kernels = np.stack([r_te, r_tm - u0**2 * c, r_te - u0**2 * c, u0 * c], axis=-1)
    return lam, u0, kernels * (lam * d_lam / u0)[:, None]


def _panels(
    eps: complex, rho_max: float, zeta_max: float, highest: float, fades: bool
) -> tuple[Floats, Floats]:
    """Panel edges in w and v: graded to the pole and branch points, never too long."""
    index = np.sqrt(complex(eps))
    # The pole of the vertical waves lies about 1/|n| from λ = 1 in both variables; in
    # ground as thin as air the branch point of u1 comes within √|ε - 1|.
    least = 0.3 * min(1.0, abs(np.sqrt(complex(eps) - 1.0))) / abs(index)
    least = max(least, 1e-7)
    near_one = np.geomspace(least, 1.0, _doublings(least, 1.0))
    inside = np.concatenate([[0.0, np.pi / 2.0], np.pi / 2.0 - near_one])
    reach = np.arccosh(highest)
    outside = np.concatenate([[0.0, reach], near_one])
    # What fades is faded by panels: they must not be too coarse.
    count = (2 if fades else 1) * _doublings(1.0, highest)
    wide = np.geomspace(1.0, max(highest, 1.1), count)
    outside = np.concatenate([outside, np.arccosh(np.maximum(wide, 1.0))])
    if 1.0 < index.real < highest:
        branch = np.arccosh(index.real)
        least = min(max(0.5 * abs(index.imag) / index.real, 1e-7), 0.5)
        off = np.geomspace(least, 1.0, _doublings(least, 1.0))
        outside = np.concatenate([outside, [branch], branch + off, branch - off])
    outside = np.unique(outside[(outside >= 0.0) & (outside <= reach)])
    inside = np.unique(inside[inside >= 0.0])

    swing = max(rho_max / _BESSEL_RADIANS_PER_PANEL, 1e-9)
    lift = zeta_max / _BESSEL_RADIANS_PER_PANEL
    inside = _split(inside, np.abs(np.diff(np.sin(inside))) * swing)
    inside = _split(inside, np.abs(np.diff(np.cos(inside))) * lift)
    lam = np.cosh(outside)
    ripples = np.diff(lam) * swing
    if fades:
        far = _reach(lam[:-1] - _smooth_from(eps))
        ripples *= np.minimum(far / max(rho_max, 1e-9), 1.0)
    return inside, _split(outside, ripples)


def _doublings(first: float, last: float) -> int:
    return int(np.ceil(max(np.log2(last / first), 0.0))) + 1


def _split(edges: Floats, excess: Floats) -> Floats:
    """Cut each panel into as many equal parts as its excess says."""
    parts = np.maximum(np.ceil(excess), 1).astype(np.int64)
    width = np.repeat(np.diff(edges) / parts, parts)
    rank = np.arange(parts.sum()) - np.repeat(np.cumsum(parts) - parts, parts)
    return np.append(np.repeat(edges[:-1], parts) + rank * width, edges[-1])


@dataclass(frozen=True)
class GroundTable:
    """
    The four ground functions as a spline over distance and height sum.

    Attributes
    ----------
    span : TableRange
        What is covered.
    coefficients : numpy.ndarray
        Shape (R, Z, 4), of the functions times R' exp(jR').
    """

    span: TableRange
    coefficients: Complexes

    def __call__(
        self, rho: Floats, zeta: Floats, *, all_four: bool = True
    ) -> Complexes:
        """
        Interpolate.

        Parameters
        ----------
        rho, zeta : numpy.ndarray
            One shape: distances and height sums times k0. [rad]
        all_four : bool, optional
            Whether F_zz and W are wanted; without a vertical part they are not.

        Returns
        -------
        integrals : numpy.ndarray
            That shape plus (4,), or (2,) with F_TE and F_h alone. NaN out of range.
        """
        x, y = _coordinates(self.span, rho, zeta)
        spline = self._spline if all_four else self._horizontal_spline
        distance = np.sqrt(rho**2 + zeta**2)
        spread = np.empty(rho.shape, dtype=np.complex128)
        spread.real = np.cos(distance)
        spread.imag = -np.sin(distance)
        spread /= distance
        table = np.asarray(spline(np.stack([x, y], axis=-1)), dtype=np.complex128)
        return table * spread[..., None]

    @functools.cached_property
    def _spline(self) -> NdBSpline[np.complex128]:
        from scipy.interpolate import NdBSpline

        knots = [_not_a_knot(n) for n in self.coefficients.shape[:2]]
        return NdBSpline(tuple(knots), self.coefficients, k=3, extrapolate=False)

    @functools.cached_property
    def _horizontal_spline(self) -> NdBSpline[np.complex128]:
        from scipy.interpolate import NdBSpline

        two = np.ascontiguousarray(self.coefficients[:, :, [F_TE, F_H]])
        return NdBSpline(self._spline.t, two, k=3, extrapolate=False)


def _not_a_knot(nodes: int) -> Floats:
    inner = np.arange(2.0, nodes - 2.0)
    return np.concatenate([np.zeros(4), inner, np.full(4, nodes - 1.0)])


def _coordinates(
    span: TableRange, rho: ArrayLike, zeta: ArrayLike
) -> tuple[Floats, Floats]:
    """Where a distance and a height sum lie on the grid, in nodes."""
    rho = np.asarray(rho, dtype=np.float64)
    per_radian = _NODES_PER_WAVELENGTH / (2.0 * np.pi)
    x = _NODES_PER_FOLD * np.arcsinh(rho / span.zeta_min) + per_radian * rho
    y = _NODES_PER_FOLD * np.log(np.asarray(zeta, dtype=np.float64) / span.zeta_min)
    return x, y


def _grid(span: TableRange) -> tuple[Floats, Floats]:
    """Distances and height sums at the whole numbers of `_coordinates`."""
    x_last, y_last = _coordinates(span, span.rho_max, span.zeta_max)
    x = np.arange(max(int(np.ceil(x_last)) + 1, 6), dtype=np.float64)
    y = np.arange(max(int(np.ceil(y_last)) + 1, 6), dtype=np.float64)
    # x is a sum of two rising functions of rho: solve for rho by Newton's steps.
    per_radian = _NODES_PER_WAVELENGTH / (2.0 * np.pi)
    rho = np.minimum(span.zeta_min * np.sinh(x / _NODES_PER_FOLD), x / per_radian)
    for _ in range(50):
        slope = _NODES_PER_FOLD / np.hypot(rho, span.zeta_min) + per_radian
        rho = np.maximum(rho - (_coordinates(span, rho, 1.0)[0] - x) / slope, 0.0)
    return rho, span.zeta_min * np.exp(y / _NODES_PER_FOLD)


@functools.lru_cache(maxsize=16)
def tabulate(span: TableRange) -> GroundTable:
    """
    Integrate and spline the ground functions over a range.

    Parameters
    ----------
    span : TableRange
        What to cover.

    Returns
    -------
    table : GroundTable
        Good to about 1e-5 of the direct image's size over the range; to 7e-3 a few
        centimetres above fresh water at 50 MHz, where the wave in the ground is far
        shorter than in air. Impedance, efficiency and gain do not show it.
    """
    from scipy.interpolate import make_interp_spline

    rho, zeta = _grid(span)
    values = sommerfeld_integrals(span.eps, rho, zeta)
    distance = np.hypot(rho[:, None], zeta)
    smooth = values * (distance * np.exp(1j * distance))[:, :, None]
    along = make_interp_spline(np.arange(rho.size), smooth, k=3, axis=0).c
    both = make_interp_spline(np.arange(zeta.size), along, k=3, axis=1).c
    return GroundTable(span, np.ascontiguousarray(np.moveaxis(both, 0, 1)))


def ground_table(span: TableRange, cache_dir: Path | None = None) -> GroundTable:
    """
    Fetch a table from the cache, or make it and leave it there.

    A file that is damaged or of another version is replaced; a directory that
    cannot be written is done without.

    Parameters
    ----------
    span : TableRange
        What to cover; it is widened to shared steps first.
    cache_dir : pathlib.Path, optional
        Directory for the files; without it nothing is read or written.

    Returns
    -------
    table : GroundTable
        Covers at least the range asked for.
    """
    span = span.widened()
    name = f"ground\n{_FORMAT} {_NODES_PER_FOLD} {_NODES_PER_WAVELENGTH} {span!r}"
    found = fetch(cache_dir, name)
    if found is not None:
        stored = found.get("coefficients", np.zeros(0))
        shape = tuple(nodes.size for nodes in _grid(span))
        if stored.shape == (*shape, 4) and stored.dtype == np.complex128:
            return GroundTable(span, stored.astype(np.complex128, copy=False))
    table = tabulate(span)
    keep(cache_dir, name, {"coefficients": table.coefficients})
    return table
