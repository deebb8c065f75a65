r"""
What if: absorption added by a solar flare or by protons over the polar caps.

Neither is part of a monthly median. A flare's X-rays black out the day side within
minutes and for up to an hour or two; protons thrown at the polar caps do it for days.
Each function answers "what would it cost", in dB on top of the ordinary losses.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.errors import InputError
from geo.ionosphere.hops import sec_incidence

ABSORPTION_HEIGHT_KM = 80.0
"""Height at which a ray's slant through the disturbed region is taken; the project's
choice, no source. [km]"""

_FLARE_CLASSES = {"A": 1e-8, "B": 1e-7, "C": 1e-6, "M": 1e-5, "X": 1e-4}
_FLARE = re.compile(r"([ABCMX])\s*(\d+(?:\.\d*)?)?", re.IGNORECASE)

_PROTON_DAY, _PROTON_NIGHT = 0.115, 0.020
_PROTON_DAY_ZENITH_DEG, _PROTON_NIGHT_ZENITH_DEG = 80.0, 100.0
_PROTON_REFERENCE_MHZ = 30.0
_EDGE_QUIET_DEG, _EDGE_PER_KP_DEG, _EDGE_HALF_WIDTH_DEG = 65.0, 1.5, 2.5


def flare_flux_w_m2(flare_class: str) -> float:
    """
    Soft X-ray flux of a flare class.

    Parameters
    ----------
    flare_class : str
        A letter A, B, C, M or X and a factor: ``"M5"``, ``"X1.3"``; a letter alone
        means factor 1.

    Returns
    -------
    flux_w_m2 : float
        Peak flux from 0.1 to 0.8 nm. [W/m2]

    Raises
    ------
    InputError
        If the text is not a flare class.

    References
    ----------
    NOAA Space Weather Prediction Center, GOES X-ray classes.

    Examples
    --------
    >>> flare_flux_w_m2("M5")
    5e-05
    """
    match = _FLARE.fullmatch(flare_class.strip())
    if match is None or (match[2] and float(match[2]) == 0.0):
        raise InputError(
            f"flare class '{flare_class}' is not known: a letter A, B, C, M or X and a "
            "factor are wanted, such as M5 or X1.3"
        )
    return _FLARE_CLASSES[match[1].upper()] * float(match[2] or 1.0)


def flare_class(flux_w_m2: float) -> str:
    """
    Name the class of a soft X-ray flux.

    Parameters
    ----------
    flux_w_m2 : float
        From 0.1 to 0.8 nm, positive. [W/m2]

    Returns
    -------
    flare_class : str
        As `flare_flux_w_m2` reads it, to two figures.

    Examples
    --------
    >>> flare_class(5e-5), flare_class(1.3e-3), flare_class(9.99e-7)
    ('M5.0', 'X13.0', 'C1.0')
    """
    flux = float(f"{flux_w_m2:.1e}")
    letter = max((k for k, v in _FLARE_CLASSES.items() if v <= flux), default="A")
    return f"{letter}{flux / _FLARE_CLASSES[letter]:.1f}"


def fadeout_frequency_mhz(
    flux_w_m2: ArrayLike, zenith_deg: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Frequency that loses 1 dB vertically during a flare.

    Parameters
    ----------
    flux_w_m2 : array_like
        Soft X-ray flux, positive. [W/m2]
    zenith_deg : array_like
        Solar zenith angle where the ray crosses the D region. Broadcasts. [deg]

    Returns
    -------
    frequency_mhz : numpy.ndarray
        0 on the night side and for weak flux; NaN where the flux is not positive.
        [MHz]

    Notes
    -----
    .. math:: HAF = (10\log_{10} F + 65)\cos^{0.75}\chi

    References
    ----------
    NOAA Space Weather Prediction Center, documentation of its global D-region
    absorption product (as implemented in open source).

    Examples
    --------
    >>> fadeout_frequency_mhz(flare_flux_w_m2("X1"), [0.0, 60.0, 95.0]).round(1)
    array([25. , 14.9,  0. ])
    """
    flux = np.asarray(flux_w_m2, dtype=float)
    overhead = 10.0 * np.log10(np.where(flux > 0.0, flux, np.nan)) + 65.0
    sun = np.maximum(np.cos(np.radians(np.asarray(zenith_deg, dtype=float))), 0.0)
    return np.asarray(np.maximum(overhead, 0.0) * sun**0.75)


def fadeout_db(
    frequency_mhz: ArrayLike,
    fadeout_mhz: ArrayLike,
    takeoff_deg: ArrayLike,
    hops: ArrayLike = 1,
) -> NDArray[np.float64]:
    r"""
    Absorption added by a flare.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency, positive. [MHz]
    fadeout_mhz : array_like
        `fadeout_frequency_mhz`, as a mean over the crossings. [MHz]
    takeoff_deg : array_like
        Take-off angle. [deg]
    hops : array_like of int, optional
        Hops on the day side. All broadcast.

    Returns
    -------
    loss_db : numpy.ndarray
        Added loss. [dB]

    Notes
    -----
    .. math:: A = n \left(\frac{HAF}{f}\right)^{1.5} \sec i_{80}

    The vertical figure already counts the way up and the way down.

    References
    ----------
    NOAA Space Weather Prediction Center, D-region absorption (exponent from memory).

    Examples
    --------
    >>> fadeout_db([7.1, 14.1, 28.5], 25.0, 90.0).round(1)
    array([6.6, 2.4, 0.8])
    """
    ratio = np.asarray(fadeout_mhz, dtype=float) / np.asarray(
        frequency_mhz, dtype=float
    )
    slant = sec_incidence(takeoff_deg, ABSORPTION_HEIGHT_KM)
    return np.asarray(np.asarray(hops, dtype=float) * ratio**1.5 * slant)


def polar_cap_30_mhz_db(
    flux_over_5_mev: ArrayLike, flux_over_2_mev: ArrayLike, zenith_deg: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Vertical one-way absorption at 30 MHz inside the polar cap.

    Parameters
    ----------
    flux_over_5_mev, flux_over_2_mev : array_like
        Integral proton flux above 5.2 and above 2.2 MeV, not negative.
        [1/(cm2 s sr)]
    zenith_deg : array_like
        Solar zenith angle. All broadcast. [deg]

    Returns
    -------
    loss_db : numpy.ndarray
        What a riometer would show. NaN for a negative flux. [dB]

    Notes
    -----
    .. math:: A_{day} = 0.115\sqrt{J(>5.2)},\qquad A_{night} = 0.020\sqrt{J(>2.2)}

    straight between solar zenith angles of 80 and 100 degrees.

    References
    ----------
    H. H. Sauer and D. C. Wilkinson, Space Weather 6 (2008) S12002 (from memory).

    Examples
    --------
    >>> polar_cap_30_mhz_db(1000.0, 3000.0, [50.0, 90.0, 120.0]).round(2)
    array([3.64, 2.37, 1.1 ])
    """
    five, two = (
        np.sqrt(np.where(flux >= 0.0, flux, np.nan))
        for flux in (
            np.asarray(flux_over_5_mev, dtype=float),
            np.asarray(flux_over_2_mev, dtype=float),
        )
    )
    dark = np.interp(
        np.asarray(zenith_deg, dtype=float),
        (_PROTON_DAY_ZENITH_DEG, _PROTON_NIGHT_ZENITH_DEG),
        (0.0, 1.0),
    )
    return np.asarray((1.0 - dark) * _PROTON_DAY * five + dark * _PROTON_NIGHT * two)


def polar_cap_share(
    geomagnetic_lat_deg: ArrayLike, kp: ArrayLike
) -> NDArray[np.float64]:
    """
    How far a place lies inside the region that the protons reach.

    Parameters
    ----------
    geomagnetic_lat_deg : array_like
        Geomagnetic latitude. [deg]
    kp : array_like
        Planetary index Kp, 0 to 9. Broadcasts.

    Returns
    -------
    share : numpy.ndarray
        0 outside, 1 inside.

    Notes
    -----
    The edge is put at 65 degrees less 1.5 degrees for each unit of Kp and spread
    over 5 degrees. Common practice, no source: published edges lie at 60 to 65
    degrees and move 1 to 2 degrees per unit.

    Examples
    --------
    >>> polar_cap_share([60.0, 65.0, -70.0], 0.0)
    array([0. , 0.5, 1. ])
    """
    edge = _EDGE_QUIET_DEG - _EDGE_PER_KP_DEG * np.asarray(kp, dtype=float)
    inside = np.abs(np.asarray(geomagnetic_lat_deg, dtype=float)) - edge
    return np.asarray(np.clip(0.5 + 0.5 * inside / _EDGE_HALF_WIDTH_DEG, 0.0, 1.0))


def polar_cap_db(
    frequency_mhz: ArrayLike,
    vertical_30_mhz_db: ArrayLike,
    takeoff_deg: ArrayLike,
    crossings: ArrayLike = 2,
) -> NDArray[np.float64]:
    r"""
    Absorption added by protons over the polar caps.

    Parameters
    ----------
    frequency_mhz : array_like
        Working frequency, positive. [MHz]
    vertical_30_mhz_db : array_like
        `polar_cap_30_mhz_db` times `polar_cap_share`. [dB]
    takeoff_deg : array_like
        Take-off angle. [deg]
    crossings : array_like of int, optional
        Crossings of the D region inside the cap, two for a whole hop. All
        broadcast.

    Returns
    -------
    loss_db : numpy.ndarray
        Added loss. [dB]

    Notes
    -----
    .. math:: A = c\,A_{30} \left(\frac{30}{f}\right)^{1.5} \sec i_{80}

    A riometer looks through the layer once; a hop passes it twice.

    References
    ----------
    H. H. Sauer and D. C. Wilkinson, Space Weather 6 (2008) S12002 (from memory).

    Examples
    --------
    >>> polar_cap_db([7.5, 30.0], 1.0, 90.0)
    array([16.,  2.])
    """
    fall = (_PROTON_REFERENCE_MHZ / np.asarray(frequency_mhz, dtype=float)) ** 1.5
    slant = sec_incidence(takeoff_deg, ABSORPTION_HEIGHT_KM)
    passes = np.asarray(crossings, dtype=float) * slant
    return np.asarray(passes * np.asarray(vertical_30_mhz_db, dtype=float) * fall)
