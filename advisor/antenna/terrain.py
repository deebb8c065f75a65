"""
Field of a source over uneven ground, in the vertical plane of one bearing.

By reciprocity the ratio of the field sent to the sky to that of the direct ray is that
of a plane wave at the source: a matter of two dimensions, whatever the source is. The
field along the ground is found from the integral equation, outwards from the foot of
the antenna, for waves that go on and not back. The phase of the direct way is taken out
of it, so that what is left changes slowly and a few hundred pieces of ground reach a
hundred kilometres.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.antenna.closedform import wavelength_m
from advisor.antenna.ground import (
    Ground,
    complex_permittivity,
    reflection_horizontal,
    reflection_vertical,
)
from geo.arrays import Complexes, Floats

_Reals = NDArray[np.floating[Any]]

_NEAR = 1.5
"""Wavelengths on both sides of the foot where waves back count too."""

_FINEST, _WIDENING = 0.1, 0.06
"""Length of a piece of ground, in wavelengths at the foot and over its distance."""

_FARTHEST = 8000.0
"""Where the ground ends: the first Fresnel zone at 1 degree is 3300 wavelengths long.
"""

_TURN_RAD, _COARSEST = 2.0, 0.015
"""Most that the wave along a slope may turn against the direct one in a piece, unless
the piece is as short as this over its distance: 0.1 dB for horizontal and 0.3 dB for
vertical polarisation, root mean square around a mountain."""

_STEEPEST_RAD = np.radians(20.0)
"""Slopes that are steeper are cut no finer."""

_EXACT = 4.0
"""Phase up to which Hankel functions are not taken from their series."""


def field_over(
    distance_m: ArrayLike,
    height_m: ArrayLike,
    source_m: ArrayLike,
    elevation_deg: ArrayLike,
    frequency_mhz: float,
    ground: Ground,
) -> tuple[Complexes, Complexes]:
    r"""
    Field towards the sky over that of the direct ray alone, on several bearings.

    Parameters
    ----------
    distance_m : array_like
        Shape (D,), along the bearing, rising, negative behind the foot. [m]
    height_m : array_like
        Shape (G, D), ground over the foot of the antenna; straight between the points
        and level beyond the outer ones. [m]
    source_m : array_like
        Shape (H,), heights of sources over the foot, positive. [m]
    elevation_deg : array_like
        Shape (E,), 0 to 90. [deg]
    frequency_mhz : float
        Frequency. [MHz]
    ground : Ground
        Soil everywhere; no perfect conductor.

    Returns
    -------
    vertical, horizontal : numpy.ndarray
        Shape (G, H, E), complex: 1 in free space, :math:`1 + R e^{-2jkh\sin\Delta}`
        over flat ground.

    Notes
    -----
    With :math:`g = -\tfrac j4 H_0^{(2)}(kr)` and an impedance boundary,
    :math:`\partial u/\partial n = jk\eta u`,

    .. math:: \tfrac12 u = g_S + \int\left(\frac{\partial g}{\partial n'}
       - jk\eta\,g\right) u\,ds', \qquad
       F = 1 + jk\int (\hat n\cdot\hat d - \eta)\, u\, e^{jk(r'-S)\cdot\hat d}\, ds'

    where :math:`\eta` is :math:`\sqrt{\varepsilon-1}` for horizontal polarisation and
    that over :math:`\varepsilon` for vertical. What the same pieces give over flat
    ground is taken off and the Fresnel coefficients are put in its place, so that flat
    ground is right to the last digit. Waves thrown back by slopes that face the antenna
    are left out.

    References
    ----------
    G. A. Hufford, Q. Appl. Math. 9 (1952) 391, for the integral equation solved
    outwards along the ground (from memory).
    """
    k = 2.0 * np.pi / float(wavelength_m(frequency_mhz))
    profile, height = np.asarray(distance_m, float), np.atleast_2d(height_m)
    source = np.atleast_1d(np.asarray(source_m, dtype=float))
    elevation = np.atleast_1d(np.asarray(elevation_deg, dtype=float))
    eps = complex_permittivity(ground, frequency_mhz)
    root = complex(np.sqrt(eps - 1.0))
    ends = _piece_ends_m(k, profile, height, float(source.min()))
    uneven = [np.interp(ends, profile, each) for each in height]
    pieces = _Pieces(k, ends, np.stack([np.zeros(ends.size), *uneven]))
    found = pieces.sent(source, np.radians(elevation), (root / complex(eps), root))
    turned = np.exp(-2j * k * source[:, None] * np.sin(np.radians(elevation)))
    whole = [
        1.0 + mirrored(elevation, eps) * turned + each[1:] - each[0]
        for mirrored, each in zip(
            (reflection_vertical, reflection_horizontal), found, strict=True
        )
    ]
    return whole[0], whole[1]


def _piece_ends_m(
    k: float, distance_m: Floats, height_m: Floats, low_m: float
) -> Floats:
    """Distances at which the ground is cut, from behind the foot outwards, (N + 1,)."""
    length = 2.0 * np.pi / k
    finest = min(_FINEST * length, max(0.7 * low_m, 0.04 * length))
    slope = np.abs(np.diff(height_m, axis=1) / np.diff(distance_m)).max(axis=0)
    tilt = np.minimum(np.arctan(slope), _STEEPEST_RAD)
    most = np.append(_TURN_RAD / (k * np.maximum(1.0 - np.cos(tilt), 1e-9)), np.inf)
    near = np.arange(0.0, _NEAR * length, finest)
    ends = [*(-near[:0:-1]), *near]
    while ends[-1] < _FARTHEST * length:
        at = int(np.searchsorted(distance_m, ends[-1], side="right")) - 1
        step = max(_COARSEST * ends[-1], float(most[max(at, 0)]))
        step = min(_WIDENING * ends[-1], step)
        ends.append(ends[-1] + max(step, finest))
    return np.array(ends)


class _Pieces:
    """
    The ground of several bearings cut into the same N pieces, each straight.

    Arrays are (G, N) for the middles of the pieces, and (G, N + 1) for their ends.
    """

    def __init__(self, k: float, ends_m: Floats, height_m: Floats) -> None:
        self.k, self.ends_x, self.ends_z = k, ends_m, height_m
        self.x = 0.5 * (ends_m[1:] + ends_m[:-1])
        self.z = 0.5 * (height_m[:, 1:] + height_m[:, :-1])
        run, rise = np.diff(ends_m), np.diff(height_m, axis=1)
        self.length = np.hypot(run, rise)
        self.normal_x, self.normal_z = -rise / self.length, run / self.length
        self.direct = np.hypot(self.x, self.z)
        self.dense = int(np.searchsorted(self.x, _NEAR * 2.0 * np.pi / k))

    def sent(
        self, source_m: Floats, elevation_rad: Floats, etas: tuple[complex, ...]
    ) -> list[Complexes]:
        """Give what the ground sends on, for each kind of boundary, (G, H, E)."""
        k, ca, sa = self.k, np.cos(elevation_rad), np.sin(elevation_rad)
        way = np.hypot(self.x[:, None], self.z[..., None] - source_m)
        arriving = -0.25j * _hankel(k * way)[0]
        arriving = arriving * np.exp(1j * k * (self.direct[..., None] - way))
        back = np.exp(-1j * k * source_m[:, None] * sa)
        found = [
            (self.length[..., None] * u).swapaxes(1, 2)
            for u in self._along(arriving, etas)
        ]
        sent = [np.empty((*u.shape[:2], sa.size), complex) for u in found]
        # Bearing by bearing, so that it fits into the cache of a processor.
        for g, (x, z) in enumerate(zip(self.normal_x, self.normal_z, strict=True)):
            wave = self._towards_sky(g, ca, sa)
            for whole, each, eta in zip(sent, found, etas, strict=True):
                u = each[g]
                parts = np.concatenate([x * u, z * u, u]).astype(np.complex64) @ wave
                ahead, up, soil = parts.reshape(3, *whole.shape[1:])
                whole[g] = 1j * k * back * (ahead * ca + up * sa - eta * soil)
        return sent

    def _towards_sky(self, g: int, ca: Floats, sa: Floats) -> Complexes:
        """Phase of the pieces of one bearing as a wave at each elevation, (N, E)."""
        x, z = self.ends_x[:, None], self.ends_z[g, :, None]
        slow = 0.5 * self.k * (x * ca + z * sa - np.hypot(x, z))
        half = (slow[1:] - slow[:-1]).astype(np.float32)
        half = np.where(np.abs(half) > 1e-3, half, np.float32(1e-3))
        middle = self.x[:, None] * ca + self.z[g, :, None] * sa
        turns = (middle - self.direct[g, :, None]) * (self.k / (2.0 * np.pi))
        turns -= np.rint(turns)
        phase = (2.0 * np.pi * turns).astype(np.float32)
        return _turned(phase, np.sin(half) / half)

    def _along(self, arriving: Complexes, etas: tuple[complex, ...]) -> list[Complexes]:
        """Solve for the field on the ground, the phase of the direct way taken out."""
        near = self.dense
        block = [self._row(i, near) for i in range(near)]
        found = []
        for eta in etas:
            matrix = np.stack([both[0] + eta * both[1] for both in block], axis=1)
            u = np.empty(arriving.shape, dtype=complex)
            matrix = 0.5 * np.eye(near) - matrix
            u[:, :near] = np.linalg.solve(matrix, arriving[:, :near])
            found.append(u)
        for i in range(near, self.x.size):
            double, single = self._row(i, i + 1)
            for u, eta in zip(found, etas, strict=True):
                row = double + eta * single
                seen = np.matmul(row[:, None, :i], u[:, :i])[:, 0] + arriving[:, i]
                u[:, i] = seen / (0.5 - row[:, i, None])
        return found

    def _row(self, i: int, count: int) -> tuple[Complexes, Complexes]:
        """Weights of the first pieces at one of them: without eta, and times eta."""
        k, near = self.k, self.x[i] - _EXACT / self.k
        some = slice(0, count)
        dx, dz = self.x[some] - self.x[i], self.z[:, some] - self.z[:, i, None]
        way = np.sqrt(dx * dx + dz * dz)
        if i < count:
            way[:, i] = 1.0
        facing = dx * self.normal_x[:, some] + dz * self.normal_z[:, some]
        # Single precision from here on: what is left of the phase is small.
        slip = k * (self.direct[:, i, None] - self.direct[:, some] - way)
        size = (0.25 * k * self.length[:, some]).astype(np.float32)
        carried = _turned(slip.astype(np.float32), size)
        h0, h1 = _hankel(
            (k * way).astype(np.float32), int(np.searchsorted(self.x[some], near))
        )
        double = carried * h1
        double *= 1j * (facing / way).astype(np.float32)
        first = max(int(np.searchsorted(self.x, near)) - 1, 0)
        h0[:, first:] = self._close(i, first, count)
        single = -carried * h0
        if i < count:
            half = 0.5 * k * self.length[:, i]
            h0, h1 = _hankel(half)
            both = half * (h0 - 1j * h1)
            if i < self.dense:
                both = both + half * np.exp(-2j * half) * (h0 + 1j * h1)
            # Further out the wave back from what lies ahead adds up to the same 2 / pi.
            double[:, i], single[:, i] = 0.0, -0.25 * both
        return double, single

    def _close(self, i: int, first: int, count: int) -> Complexes:
        """Mean of H0 over the pieces next to one, where it is steep."""
        x, z = self.ends_x[first : count + 1], self.ends_z[:, first : count + 1]
        way = np.hypot(x - self.x[i], z - self.z[:, i, None])
        t = self.k * way
        h0, h1 = _hankel(t)
        whole = t * (h0 - 1j * h1)
        change = np.diff(way, axis=1)
        change = np.where(np.abs(change) > 1e-9, change, 1e-9)
        return np.asarray(np.diff(whole, axis=1) / (self.k * change))


def _turned(phase: _Reals, size: _Reals) -> Complexes:
    """Complex number of a phase and a size."""
    whole = np.empty(phase.shape, np.result_type(phase, 1j))
    whole.real, whole.imag = size * np.cos(phase), size * np.sin(phase)
    return whole


def _hankel(t: Floats, exact_from: int = 0) -> tuple[Complexes, Complexes]:
    """
    Hankel functions of the second kind, orders 0 and 1, times exp(+jt).

    Those of the last axis before ``exact_from`` are all far enough for the series in
    1/t (Abramowitz and Stegun, 9.2.5 to 9.2.10).
    """
    from scipy.special import j0, j1, y0, y1

    t = np.maximum(t, t.dtype.type(1e-9))
    step = 0.125 / t
    square = step * step
    far = np.sqrt((2.0 / np.pi) / t) * t.dtype.type(0.5**0.5)
    h0, h1 = (np.empty(t.shape, np.result_type(t, 1j)) for _ in range(2))
    real, imag = 1.0 - 4.5 * square, step * (1.0 - 37.5 * square)
    h0.real, h0.imag = far * (real - imag), far * (real + imag)
    real, imag = 1.0 + 7.5 * square, step * (52.5 * square - 3.0)
    h1.real, h1.imag = -far * (real + imag), far * (real - imag)
    tail = t[..., exact_from:] if exact_from else t
    close = tail < _EXACT
    near = tail[close]
    turned = np.exp(1j * near)
    for whole, first, second in ((h0, j0, y0), (h1, j1, y1)):
        part = whole[..., exact_from:] if exact_from else whole
        part[close] = (first(near) - 1j * second(near)) * turned
    return h0, h1
