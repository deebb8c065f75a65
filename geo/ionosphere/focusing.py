"""
Focusing: what the tube of neighbouring rays gathers, and where rays end softly.

Rays alone would give endless power at the skip edge, at the horizon and at the
antipode, and none a kilometre beyond. What nature smears there is stated here as three
floors and one loss.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geo.ionosphere.rays import Array
from geo.sphere import EARTH_RADIUS_KM

SKIP_BLUR = 0.04
"""Distance over which the skip edge is smeared, as a share of the skip distance: the
layer wanders by that much within the hour (the project's choice)."""

FOCUS_AT_MOST_DB = 9.0
"""Most that is granted for rays near the horizon (textbooks, from memory). [dB]"""

LEAST_SINE_AROUND = 0.1
"""Least sine of the distance round the Earth, so that the antipode gains 15 dB at most
over the distance itself (ITU-R P.533-14 section 5.3, from memory)."""

LIGHT_KM_MHZ = 0.299792458
"""Wavelength times frequency. [km MHz]"""


def focusing_db(
    frequency_mhz: ArrayLike,
    takeoff_deg: ArrayLike,
    ground_km: ArrayLike,
    group_km: ArrayLike,
    slope_km_rad: ArrayLike,
    blur_km_rad: ArrayLike = 0.0,
    landing_deg: ArrayLike | None = None,
) -> Array:
    r"""
    Gain by the ray tube over spreading along the group path.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    takeoff_deg : array_like
        Take-off angle, 0 to 90. [deg]
    ground_km, group_km : array_like
        Distance and group path, of all hops together. [km]
    slope_km_rad : array_like
        Change of the whole distance with the take-off angle. [km/rad]
    blur_km_rad : array_like, optional
        Least slope next to a skip edge, `Edge.blur_km_rad`. [km/rad]
    landing_deg : array_like, optional
        Angle at which it comes down, the take-off angle if left out. All broadcast.
        [deg]

    Returns
    -------
    gain_db : numpy.ndarray
        At most `FOCUS_AT_MOST_DB`, of one ray; the powers of all rays add up. [dB]

    Notes
    -----
    .. math:: F = 10\log_{10}\frac{P'^2 \cos\beta}
              {R\,|\sin(D/R)|\,\sin\beta'\,|dD/d\beta|}

    with :math:`\beta'` the angle of landing. Smoothed in three places, all of which
    would be endless by rays alone:

    * **Skip edge.** With D'' the second derivative there and W = 0.04 of the skip
      distance, by which the layer wanders within the hour, the slope is at least
      :math:`\sqrt{2 D'' W}`, added in squares: some 5 dB for both rays together at
      the edge, where the bare rays make 8 dB over the first 4 %, and the wave's own
      width would leave 15 dB for some minutes.
    * **Horizon.** The sine of the angle is at least the width of the shadow boundary,
      :math:`(2/kR)^{1/3}`, added in squares: 0.9 deg on 3.6 MHz, 0.6 deg on 14 MHz;
      and the gain is at most 9 dB in all.
    * **Antipode.** Beyond a quarter of the way round, the sine of the distance is at
      least 0.1.

    References
    ----------
    Bremmer, Terrestrial Radio Waves, 1949, for the ray tube and the width of the
    shadow boundary; 9 dB from textbooks, 15 dB at the antipode from ITU-R P.533-14
    section 5.3 (all from memory).

    Examples
    --------
    A mirror overhead neither gathers nor scatters:

    >>> focusing_db(3.6, 89.9, 2.0 * 0.524, 600.0, -600.0).round(1)
    np.float64(0.0)
    """
    beta = np.radians(np.asarray(takeoff_deg, dtype=float))
    ground = np.maximum(np.asarray(ground_km, dtype=float), 1e-6) / EARTH_RADIUS_KM
    around = np.abs(np.sin(ground))
    least = np.where(ground > 0.5 * np.pi, LEAST_SINE_AROUND, 0.0)
    down = beta if landing_deg is None else np.radians(np.asarray(landing_deg, float))
    sine = soft_sine(frequency_mhz, np.degrees(down))
    slope = np.hypot(np.asarray(slope_km_rad, float), np.asarray(blur_km_rad, float))
    tube = EARTH_RADIUS_KM * np.maximum(around, least) * sine * slope
    with np.errstate(divide="ignore", invalid="ignore"):
        power = np.asarray(group_km, dtype=float) ** 2 * np.cos(beta) / tube
        gain = 10.0 * np.log10(power)
    return np.asarray(np.minimum(gain, FOCUS_AT_MOST_DB))


def soft_sine(frequency_mhz: ArrayLike, elevation_deg: ArrayLike) -> Array:
    """
    Sine of an elevation, at least the width of the shadow boundary.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    elevation_deg : array_like
        0 to 90; broadcasts. [deg]

    Returns
    -------
    sine : numpy.ndarray
        Both added in squares.

    Examples
    --------
    >>> soft_sine(14.1, [0.0, 10.0]).round(3)
    array([0.01 , 0.174])
    """
    least = np.cbrt(1.0 / _per_radius(frequency_mhz))
    return np.asarray(np.hypot(np.sin(np.radians(elevation_deg)), least))


def shadow_db(frequency_mhz: ArrayLike, beyond_km: ArrayLike) -> Array:
    r"""
    Loss of the flattest ray beyond the distance at which it lands.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency. [MHz]
    beyond_km : array_like
        How far beyond, 0 where negative; broadcasts. [km]

    Returns
    -------
    loss_db : numpy.ndarray
        0.17 dB a kilometre on 3.6 MHz, 0.27 on 14 MHz. [dB]

    Notes
    -----
    The first of the waves that creep round a sphere on which the field vanishes:
    :math:`8.686\cdot\tfrac{\sqrt 3}{2}\cdot 2.338\,(kR/2)^{1/3}` dB a radian. So a
    hop fades out over some tens of kilometres instead of ending.

    References
    ----------
    Bremmer, Terrestrial Radio Waves, 1949; Fock 1945 (from memory).

    Examples
    --------
    >>> shadow_db([3.6, 14.1], 30.0).round(1)
    array([5.1, 8.1])
    """
    a_radian = 8.686 * 0.5 * np.sqrt(3.0) * 2.338 * np.cbrt(_per_radius(frequency_mhz))
    beyond = np.maximum(np.asarray(beyond_km, dtype=float), 0.0) / EARTH_RADIUS_KM
    return np.asarray(a_radian * beyond)


def _per_radius(frequency_mhz: ArrayLike) -> Array:
    """kR/2, the Earth's radius in wavelengths times pi."""
    wave = 2.0 * np.pi * np.asarray(frequency_mhz, dtype=float) / LIGHT_KM_MHZ
    return np.asarray(0.5 * wave * EARTH_RADIUS_KM)
