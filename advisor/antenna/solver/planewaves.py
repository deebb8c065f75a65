"""
Sums over the plane waves that an antenna sends out, for those of no thickness.

A wave of horizontal wavenumber κ (in units of that of free space) travels up to
κ = 1 and dies away upwards beyond. Both kinds are summed panel by panel.
"""

from __future__ import annotations

import numpy as np

from geo.arrays import Complexes, Floats

_PANEL_NODES, _PANEL_WEIGHTS = np.polynomial.legendre.leggauss(12)


def half_wave(kappa: Floats) -> Floats:
    """
    Spectrum of a half-wave, cos(κπ/2) / (1 - κ²).

    Parameters
    ----------
    kappa : numpy.ndarray
        Wavenumber along the wire over that of free space. [1]

    Returns
    -------
    spectrum : numpy.ndarray
        Whole at κ = 1. [1]

    Examples
    --------
    >>> half_wave(np.array([0.0, 1.0])).round(4)
    array([1.    , 0.7854])
    """
    size = np.abs(kappa)
    return np.asarray(0.5 * np.pi * np.sinc(0.5 * (1.0 - size)) / (1.0 + size))


def wire_spectrum(kappa: Floats) -> tuple[Floats, Floats]:
    r"""
    Split the power spectrum of a horizontal half-wave over azimuth.

    Parameters
    ----------
    kappa : numpy.ndarray
        Shape (panels, nodes), horizontal wavenumber over that of free space. [1]

    Returns
    -------
    te, tm : numpy.ndarray
        Shape of ``kappa``: integrals of :math:`\kappa g^2\sin^2\psi` and
        :math:`\kappa g^2\cos^2\psi` round the circle at each κ. [1]

    Notes
    -----
    The midpoint rule is exact to rounding once its points outnumber the highest
    harmonic, πκ.
    """
    te, tm = np.empty_like(kappa), np.empty_like(kappa)
    for i, panel in enumerate(kappa):
        harmonic = np.pi * panel.max()
        points = int(np.ceil(0.25 * (harmonic + 6.0 * np.cbrt(harmonic) + 24.0)))
        along = np.cos((np.arange(points) + 0.5) * (0.5 * np.pi / points))
        power = half_wave(panel[:, None] * along) ** 2
        tm[i] = power @ along**2
        te[i] = power.sum(axis=1) - tm[i]
        te[i] *= 2.0 * np.pi / points * panel
        tm[i] *= 2.0 * np.pi / points * panel
    return te, tm


def travelling_waves(eps: Complexes, phase_rad: float) -> tuple[Floats, Floats]:
    """
    Quadrature over the elevation of travelling waves, as (panels, nodes).

    Parameters
    ----------
    eps : numpy.ndarray
        Complex relative permittivity of the ground, a scalar. [1]
    phase_rad : float
        Phase by which direct and reflected wave differ overhead. [rad]

    Returns
    -------
    sine : numpy.ndarray
        Sine of the elevation. [1]
    weight : numpy.ndarray
        Weight of d(elevation). [rad]

    Notes
    -----
    Panels crowd towards the horizon, where the ground's reflection turns over within
    ``1/|n|``, and are short enough for an interference of ``phase_rad``.
    """
    edges = _edges(0.5 * np.pi, min(0.5, 8.0 / phase_rad), [(0.0, _grazing(eps))])
    elevation, weight = _panels(edges)
    return np.sin(elevation), weight


def evanescent_waves(eps: Complexes, reach: float) -> tuple[Floats, Floats]:
    """
    Quadrature over waves that die away upwards, as (panels, nodes).

    Parameters
    ----------
    eps : numpy.ndarray
        Complex relative permittivity of the ground, a scalar. [1]
    reach : float
        Greatest decay that counts. [1]

    Returns
    -------
    decay : numpy.ndarray
        sinh v, where κ = cosh v. [1]
    weight : numpy.ndarray
        Weight of dv. [1]

    Notes
    -----
    Panels crowd towards v = 0 and towards the wavenumber of the ground, where its
    own waves turn from travelling to dying away.
    """
    corners = [(0.0, _grazing(eps))]
    if np.isfinite(eps):
        corners.append((float(np.arccosh(np.maximum(1.0, np.sqrt(eps).real))), 1e-4))
    v, weight = _panels(_edges(float(np.arcsinh(reach)), 0.5, corners))
    return np.sinh(v), weight


def _grazing(eps: Complexes) -> float:
    """
    Return the least step needed near the horizon, as an angle in radians.

    The reflection turns over within ``1/|n|`` of it over dense ground, and within
    √|ε - 1| over ground hardly denser than air.
    """
    if not np.isfinite(eps):
        return 0.3
    thin = max(1e-4, float(np.sqrt(abs(eps - 1.0))))
    return 0.3 * min(thin, 1.0 / float(np.sqrt(abs(eps))))


def _edges(end: float, widest: float, corners: list[tuple[float, float]]) -> Floats:
    """Panel edges from 0 to ``end``, tripling in distance from each corner."""
    edges = [np.linspace(0.0, end, 1 + int(np.ceil(end / widest)))]
    for corner, finest in corners:
        count = 1 + max(0, int(np.log(widest / finest) / np.log(3.0)))
        ladder = finest * 3.0 ** np.arange(count)
        edges.append(np.concatenate([[corner], corner - ladder, corner + ladder]))
    merged = np.unique(np.concatenate(edges))
    return merged[(merged >= 0.0) & (merged <= end)]


def _panels(edges: Floats) -> tuple[Floats, Floats]:
    """Gauss nodes and weights between successive edges, as (panels, nodes)."""
    half = 0.5 * np.diff(edges)[:, None]
    middle = 0.5 * (edges[1:] + edges[:-1])[:, None]
    return middle + half * _PANEL_NODES, half * _PANEL_WEIGHTS
