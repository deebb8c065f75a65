r"""
Ground wave: what goes along the ground without any layer.

Near by, the Earth is flat and the field is that of the classic numerical distance,
with a first correction for curvature. Further out it is a sum of creeping waves
(residues). Both describe a short vertical antenna at the ground and another one, over
smooth and even ground; hills, woods and houses take more.

The air is taken into account by the usual trick of an Earth of 4/3 the radius. The
standard's own curves use an exponential atmosphere instead; at HF the two are close,
below 1 MHz the trick bends too much.

Time runs as exp(+jωt).
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.sphere import EARTH_RADIUS_KM

EFFECTIVE_RADIUS_KM = EARTH_RADIUS_KM * 4.0 / 3.0
"""Radius that makes rays in a standard atmosphere straight. [km]"""

SHORT_MONOPOLE_SEND_DBI = 10.0 * np.log10(3.0)
"""Gain along the ground of a lossless short vertical over perfect ground. [dBi]"""

SHORT_MONOPOLE_RECEIVE_DBI = 10.0 * np.log10(0.75)
"""The same antenna as receiver of a ground wave: the field that arrives already is
the one at the ground, doubled, so 6.02 dB of its gain are not counted again. [dBi]"""

_LIGHT_KM_MHZ = 0.299792458
_FIELD_1_KM_DBUV_M = 20.0 * np.log10(300e3)
_JOIN = 0.3
_TERMS = 60
_SMALL = 0.1
_SERIES_TERMS = 14
_ROTATION = np.exp(-2j * np.pi / 3.0)


def surface_impedance(eps: ArrayLike) -> NDArray[np.complex128]:
    r"""
    Impedance of the ground for a grazing vertically polarised wave, over that of air.

    Parameters
    ----------
    eps : array_like
        Complex relative permittivity with negative imaginary part,
        `advisor.antenna.ground.complex_permittivity`; an infinite one is a perfect
        conductor.

    Returns
    -------
    impedance : numpy.ndarray
        :math:`\sqrt{\varepsilon - 1}/\varepsilon`; 0 for a perfect conductor.

    References
    ----------
    K. A. Norton, Proc. IRE 24 (1936) 1367 and 29 (1941) 623.

    Examples
    --------
    >>> abs(surface_impedance(70.0 - 12691.0j)).round(4)
    np.float64(0.0089)
    """
    value = np.asarray(eps, dtype=complex)
    perfect = np.isinf(value.real) | np.isinf(value.imag)
    usable = np.where(perfect, 2.0, value)
    return np.asarray(np.where(perfect, 0.0, np.sqrt(usable - 1.0) / usable))


def flat_attenuation(distance: ArrayLike) -> NDArray[np.complex128]:
    r"""
    Sommerfeld-Norton attenuation over flat ground.

    Parameters
    ----------
    distance : array_like
        Numerical distance :math:`w = -jkd\Delta^2/2`, with the impedance of
        `surface_impedance` for :math:`\Delta`.

    Returns
    -------
    attenuation : numpy.ndarray
        Field over that above a perfect conductor; 1 at no distance, tends to
        :math:`-1/2w` far away.

    Notes
    -----
    .. math:: F(w) = 1 - j\sqrt{\pi w}\,e^{-w}\operatorname{erfc}(j\sqrt{w})

    References
    ----------
    K. A. Norton, Proc. IRE 24 (1936) 1367; form with the plasma function
    :math:`w(z) = e^{-z^2}\operatorname{erfc}(-jz)`.

    Examples
    --------
    >>> abs(flat_attenuation([0.0, 1.0, 100.0])).round(4)
    array([1.    , 0.6565, 0.0051])
    """
    from scipy.special import wofz

    root = np.sqrt(np.asarray(distance, dtype=complex))
    return np.asarray(1.0 - 1j * np.sqrt(np.pi) * root * wofz(-root))


def attenuation(
    frequency_mhz: ArrayLike, distance_km: ArrayLike, eps: ArrayLike
) -> NDArray[np.complex128]:
    r"""
    Attenuation of the ground wave over a smooth spherical Earth.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, about 0.5 to 60. [MHz]
    distance_km : array_like
        Distance along the ground, from a wavelength or two up to 2000. [km]
    eps : array_like
        Complex relative permittivity. All broadcast.

    Returns
    -------
    attenuation : numpy.ndarray
        Field over that above a flat perfect conductor; NaN where frequency or
        distance is not positive.

    Notes
    -----
    With :math:`\nu = (ka/2)^{1/3}`, :math:`x = \nu d/a` and
    :math:`q = -j\nu\Delta`,

    .. math:: W = e^{-j\pi/4}\sqrt{\pi x}
       \sum_s \frac{e^{-jxt_s}}{t_s - q^2},\qquad w_1'(t_s) = q\,w_1(t_s)

    beyond :math:`x = 0.3` (25 km at 7 MHz, 40 km at 1.8 MHz), where 60 terms are
    plenty, and below it

    .. math:: W = F - \frac{\delta^3}{2}\left[1 - j\sqrt{\pi w} - (1+2w)F\right],
       \quad \delta^3 = \frac{j}{ka\Delta^3}

    Both agree within 0.05 dB where they are joined, for sea and for the driest land
    alike; the sign of the correction was settled by that.

    References
    ----------
    J. R. Wait, Electromagnetic Waves in Stratified Media (1962), for the residue
    series of van der Pol and Bremmer; D. A. Hill and J. R. Wait, Radio Science 15
    (1980) 637, for the curvature correction (both from memory).
    """
    frequency, distance, ground = np.broadcast_arrays(
        np.asarray(frequency_mhz, dtype=float),
        np.asarray(distance_km, dtype=float),
        np.asarray(eps, dtype=complex),
    )
    valid = (frequency > 0.0) & (distance > 0.0) & ~np.isnan(ground)
    result = np.full(frequency.shape, np.nan, dtype=complex)
    wavenumber = 2.0 * np.pi * np.where(valid, frequency, 1.0) / _LIGHT_KM_MHZ
    scale = np.cbrt(0.5 * wavenumber * EFFECTIVE_RADIUS_KM)
    reduced = scale * np.where(valid, distance, 1.0) / EFFECTIVE_RADIUS_KM
    near = valid & (reduced < _JOIN)
    far = valid & ~near
    impedance = surface_impedance(np.where(valid, ground, 2.0))
    result[near] = _curved_near(wavenumber[near], distance[near], impedance[near])
    result[far] = _residue_sum(reduced[far], (-1j * scale * impedance)[far])
    return result


def _curved_near(
    wavenumber: NDArray[np.float64],
    distance_km: NDArray[np.float64],
    impedance: NDArray[np.complex128],
) -> NDArray[np.complex128]:
    """Flat attenuation with the first correction for curvature."""
    from scipy.special import gamma

    # With s = -j sqrt(w) the bracket over the impedance cubed is
    # slope^3 * sum of (2 c_(m-2) - c_m) s^(m-3), finite for a perfect conductor.
    slope = -1j * np.exp(-0.25j * np.pi) * np.sqrt(0.5 * wavenumber * distance_km)
    s = slope * impedance
    w = -(s**2)
    flat = flat_attenuation(w)
    power = np.arange(3, 3 + _SERIES_TERMS)
    weight = np.sqrt(np.pi) * (
        2.0 / gamma(0.5 * (power - 1.0)) - 1.0 / gamma(0.5 * (power + 1.0))
    )
    small = np.abs(s) < _SMALL
    series = (weight * np.where(small, s, 0.0)[..., None] ** (power - 3)).sum(axis=-1)
    bracket = 1.0 + np.sqrt(np.pi) * s - (1.0 + 2.0 * w) * flat
    direct = bracket / np.where(small, 1.0, s) ** 3
    curvature = 1j * slope**3 / (wavenumber * EFFECTIVE_RADIUS_KM)
    return np.asarray(flat - 0.5 * curvature * np.where(small, series, direct))


def _residue_sum(
    reduced: NDArray[np.float64], q: NDArray[np.complex128]
) -> NDArray[np.complex128]:
    """Sum of creeping waves; the roots are found once for each ground."""
    grounds, which = np.unique(q, return_inverse=True)
    t = _roots_of(grounds.tobytes())[which.reshape(q.shape)]
    terms = np.exp(-1j * reduced[..., None] * t) / (t - q[..., None] ** 2)
    lead = np.exp(-0.25j * np.pi) * np.sqrt(np.pi * reduced)
    return np.asarray(lead * terms.sum(axis=-1))


@lru_cache(maxsize=64)
def _roots_of(grounds: bytes) -> NDArray[np.complex128]:
    """Roots for a row of ground parameters, kept: every path asks for the same."""
    roots = creeping_wave_roots(np.frombuffer(grounds, dtype=complex), _TERMS)
    roots.flags.writeable = False
    return roots


def creeping_wave_roots(q: ArrayLike, terms: int) -> NDArray[np.complex128]:
    r"""
    Roots of the mode equation of a spherical ground.

    Parameters
    ----------
    q : array_like
        Ground parameter :math:`-j(ka/2)^{1/3}\Delta`, phase -90 to -45 degrees; 0
        for a perfect conductor, at most about 300 in size (the driest land at 60 MHz
        has 90).
    terms : int
        How many roots.

    Returns
    -------
    roots : numpy.ndarray
        Shape of ``q`` plus (terms,), in order of rising attenuation.

    Notes
    -----
    For :math:`w_1 = \sqrt\pi(\mathrm{Bi} - j\mathrm{Ai})` the roots of
    :math:`w_1'(t) = q\,w_1(t)` start at those of :math:`\mathrm{Ai}'`, turned by -60
    degrees, for q = 0. They are followed to the wanted q along
    :math:`dt/dq = 1/(t - q^2)` and polished by Newton's method.

    References
    ----------
    J. R. Wait, Electromagnetic Waves in Stratified Media (1962) (from memory).

    Examples
    --------
    >>> abs(creeping_wave_roots(0.0, 2)).round(5)
    array([1.01879, 3.2482 ])
    """
    from scipy.special import ai_zeros, airy

    goal = np.asarray(q, dtype=complex)[..., None]
    start = -ai_zeros(terms)[1] * np.exp(-1j * np.pi / 3.0)
    t = np.broadcast_to(start, (*goal.shape[:-1], terms)).astype(complex)
    # A root moves most while |q| passes sqrt|t|, early on the way to a large q: even
    # steps in the square root of q are short there.
    steps = np.linspace(0.0, 1.0, 49)
    for here, there in pairwise(steps):
        t = _runge_kutta(t, goal, here, there)
    for _ in range(6):
        value, slope, _bi, _bip = airy(t * _ROTATION)
        ratio = _ROTATION * slope / value
        t = t - (ratio - goal) / (t - ratio**2)
    return np.asarray(t)


def _runge_kutta(
    t: NDArray[np.complex128], goal: NDArray[np.complex128], here: float, there: float
) -> NDArray[np.complex128]:
    """One step of fourth order along q = goal * s**2."""
    step = there - here

    def slope(s: float, root: NDArray[np.complex128]) -> NDArray[np.complex128]:
        return np.asarray(2.0 * s * goal / (root - (goal * s**2) ** 2))

    first = slope(here, t)
    second = slope(here + 0.5 * step, t + 0.5 * step * first)
    third = slope(here + 0.5 * step, t + 0.5 * step * second)
    fourth = slope(there, t + step * third)
    return t + step / 6.0 * (first + 2.0 * second + 2.0 * third + fourth)


def ground_wave_field_dbuv_m(
    frequency_mhz: ArrayLike, distance_km: ArrayLike, eps: ArrayLike
) -> NDArray[np.float64]:
    """
    Field of the ground wave of 1 kW from a short vertical.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency. [MHz]
    distance_km : array_like
        Distance along the ground. [km]
    eps : array_like
        Complex relative permittivity of the ground. All broadcast.

    Returns
    -------
    field_dbuv_m : numpy.ndarray
        Vertical field at the ground, for 1 kW radiated by a short monopole that
        gives 300 mV/m at 1 km over a perfect conductor. NaN out of range.
        [dB(uV/m)]

    References
    ----------
    ITU-R P.368, for the reference source (from memory).

    Examples
    --------
    >>> perfect = complex(1.0, -np.inf)
    >>> ground_wave_field_dbuv_m(7.0, [1.0, 10.0], perfect).round(1)
    array([109.5,  89.5])
    """
    weakened = np.abs(attenuation(frequency_mhz, distance_km, eps))
    distance = np.asarray(distance_km, dtype=float)
    distance = np.where(distance > 0.0, distance, np.nan)
    with np.errstate(divide="ignore"):
        return np.asarray(
            _FIELD_1_KM_DBUV_M + 20.0 * np.log10(weakened) - 20.0 * np.log10(distance)
        )


def field_to_loss_db(
    frequency_mhz: ArrayLike, field_dbuv_m: ArrayLike
) -> NDArray[np.float64]:
    """
    Turn a ground-wave field into the basic transmission loss.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, positive. [MHz]
    field_dbuv_m : array_like
        Field as of `ground_wave_field_dbuv_m`. [dB(uV/m)]

    Returns
    -------
    loss_db : numpy.ndarray
        142.0 + 20 log f - E, the free-space loss for a perfect conductor. [dB]

    Notes
    -----
    Received power is the power fed to the antenna, plus the sender's gain, plus the
    receiver's gain, minus the loss, with `SHORT_MONOPOLE_SEND_DBI` and
    `SHORT_MONOPOLE_RECEIVE_DBI` for two short verticals, each less its own losses. A
    pattern computed over real ground is of no use here: along the ground its sky
    wave is nothing. A horizontal wire sends hardly any ground wave; what it does
    comes from its vertical parts.

    References
    ----------
    ITU-R P.368, annex on basic transmission loss (from memory; the constant was
    recomputed).

    Examples
    --------
    >>> field_to_loss_db(10.0, 109.54 - 60.0).round(1)
    np.float64(112.5)
    """
    log_f = np.log10(np.asarray(frequency_mhz, dtype=float))
    return np.asarray(142.0 + 20.0 * log_f - np.asarray(field_dbuv_m, dtype=float))


def mixed_path_field_dbuv_m(
    frequency_mhz: ArrayLike, section_km: ArrayLike, eps: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Field behind several kinds of ground in a row, by Millington's method.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency; broadcasts with the leading axes of the others. [MHz]
    section_km : array_like
        Shape (..., S), lengths of the sections from the sender on; all but the first
        and the last may be 0. [km]
    eps : array_like
        Shape (..., S), complex relative permittivity of each section. Broadcasts.

    Returns
    -------
    field_dbuv_m : numpy.ndarray
        Field at the far end, for the source of `ground_wave_field_dbuv_m`.
        [dB(uV/m)]

    Notes
    -----
    Let :math:`E_s(d)` be the field over ground :math:`s` alone and :math:`d_s` the
    distance to the end of section :math:`s`:

    .. math:: E = E_1(d_1) + \sum_{s>1} \left[E_s(d_s) - E_s(d_{s-1})\right]

    The mean, in dB, of this and of the same sum from the other end makes the result
    the same both ways. Where the ground gets better the field recovers.

    References
    ----------
    G. Millington, Proc. IEE 96 III (1949) 53; ITU-R P.368, annex on mixed paths.

    Examples
    --------
    >>> land, sea = 13.0 - 12.7j, 70.0 - 12700.0j
    >>> mixed_path_field_dbuv_m(7.1, [20.0, 20.0], [land, sea]).round(0)
    np.float64(51.0)
    """
    lengths = np.asarray(section_km, dtype=float)
    ground = np.asarray(eps, dtype=complex)
    frequency = np.asarray(frequency_mhz, dtype=float)[..., None]

    def one_way(
        parts: NDArray[np.float64], soils: NDArray[np.complex128]
    ) -> NDArray[np.float64]:
        ends = np.cumsum(parts, axis=-1)
        leaving = ground_wave_field_dbuv_m(frequency, ends, soils)
        entering = ground_wave_field_dbuv_m(frequency, ends[..., :-1], soils[..., 1:])
        return np.asarray(leaving.sum(axis=-1) - entering.sum(axis=-1))

    there = one_way(lengths, ground)
    back = one_way(lengths[..., ::-1], ground[..., ::-1])
    return np.asarray(0.5 * (there + back))
