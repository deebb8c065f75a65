"""
The ground under the wire: its constants and how it mirrors a plane wave.

Time runs as exp(+jωt) throughout, so a lossy permittivity has a negative
imaginary part.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Complexes, Floats
from geo.errors import InputError, near_matches
from geo.tables import read_table

# CODATA 2018, electric constant ε0. [F/m]
VACUUM_PERMITTIVITY_F_M = 8.8541878128e-12


@dataclass(frozen=True)
class Ground:
    """
    A uniform, flat, non-magnetic ground.

    Real ground is layered and varies with rain; the 1/e depth at HF is metres, so
    the constants stand for a mean over that depth.

    Attributes
    ----------
    name : str
        Kind of ground.
    eps_r : float
        Relative permittivity, 1 or more. [1]
    sigma_s_m : float
        Conductivity, 0 or more; infinite for a perfect conductor. [S/m]
    reference : str
        Where the two numbers are from.

    Raises
    ------
    geo.errors.InputError
        If a constant is outside its range.
    """

    name: str
    eps_r: float
    sigma_s_m: float
    reference: str

    def __post_init__(self) -> None:
        if not 1.0 <= self.eps_r < np.inf:
            raise InputError(
                f"ground '{self.name}': relative permittivity {self.eps_r} is not a "
                "finite number of 1 or more; soil is 3 to 40"
            )
        if not self.sigma_s_m >= 0.0:
            raise InputError(
                f"ground '{self.name}': conductivity {self.sigma_s_m} S/m is not 0 or "
                "more; soil is 0.0001 to 0.03"
            )

    @property
    def is_perfect(self) -> bool:
        """Whether the ground is a perfect conductor."""
        return bool(np.isinf(self.sigma_s_m))


PERFECT = Ground(
    "perfect", 1.0, float("inf"), "a perfect conductor, for comparison with textbooks"
)


@cache
def _grounds() -> dict[str, Ground]:
    """Every named ground, in file order, the perfect conductor last."""
    grounds = read_table("ground_constants").records(Ground)
    return {ground.name: ground for ground in [*grounds, PERFECT]}


def ground_names() -> tuple[str, ...]:
    """
    Return the names that `ground_by_name` accepts.

    Returns
    -------
    names : tuple of str
        Lower case, in the order of the table.
    """
    return tuple(_grounds())


def ground_by_name(name: str) -> Ground:
    """
    Look up a ground by its name.

    Parameters
    ----------
    name : str
        One of `ground_names`; capitals and extra spaces do not matter.

    Returns
    -------
    ground : Ground
        Constants and their source.

    Raises
    ------
    geo.errors.InputError
        If no ground has that name.

    Examples
    --------
    >>> ground_by_name("Sea water").sigma_s_m
    5.0
    """
    key = " ".join(name.split()).casefold()
    if key not in _grounds():
        hint = near_matches(key, ground_names()) or "use one of these"
        raise InputError(
            f"no ground is called '{name}'; {hint} (known: {', '.join(ground_names())})"
        )
    return _grounds()[key]


def complex_permittivity(ground: Ground, frequency_mhz: ArrayLike) -> Complexes:
    r"""
    Relative permittivity of the ground with its loss as imaginary part.

    Parameters
    ----------
    ground : Ground
        Constants of the ground.
    frequency_mhz : array_like
        Frequency, positive. [MHz]

    Returns
    -------
    eps : numpy.ndarray
        Shape of ``frequency_mhz``; ``1 - inf j`` for a perfect conductor. NaN where
        the frequency is not positive. [1]

    Notes
    -----
    .. math:: \varepsilon = \varepsilon_r - j\sigma / (\omega\varepsilon_0)

    which is :math:`\varepsilon_r - j\,17975\,\sigma / f_{MHz}`; ITU-R P.527 rounds
    the constant to 18000.

    Examples
    --------
    >>> eps = complex_permittivity(Ground("example", 13.0, 0.005, ""), 14.0)
    >>> float(eps.real), float(eps.imag)
    (13.0, -6.42)
    """
    frequency = np.asarray(frequency_mhz, dtype=np.float64)
    omega = 2e6 * np.pi * np.where(frequency > 0.0, frequency, np.nan)
    eps = np.empty(frequency.shape, dtype=np.complex128)
    # Set apart: 1 - 1j * inf would make the real part NaN.
    eps.real = np.where(np.isnan(omega), np.nan, ground.eps_r)
    eps.imag = -ground.sigma_s_m / (omega * VACUUM_PERMITTIVITY_F_M)
    return eps


def reflection_horizontal(elevation_deg: ArrayLike, eps: ArrayLike) -> Complexes:
    """
    Fresnel coefficient of the ground for a horizontally polarised plane wave.

    Parameters
    ----------
    elevation_deg : array_like
        Elevation of the ray, 0 to 90. Broadcasts with ``eps``. [deg]
    eps : array_like
        Complex relative permittivity, from `complex_permittivity`. [1]

    Returns
    -------
    reflection : numpy.ndarray
        Reflected over incident electric field, at the surface; -1 for a perfect
        conductor. NaN where the elevation is out of range. [1]

    Notes
    -----
    `reflection_te` at a vertical wavenumber of sin(elevation).

    Examples
    --------
    >>> reflection_horizontal([90.0], 4.0).real
    array([-0.3333])
    """
    return reflection_te(_sine(elevation_deg), eps)


def reflection_vertical(elevation_deg: ArrayLike, eps: ArrayLike) -> Complexes:
    """
    Fresnel coefficient of the ground for a vertically polarised plane wave.

    Over real ground it runs from -1 at the horizon through a least magnitude at
    the pseudo-Brewster angle; a perfect conductor gives +1 at every angle.

    Parameters
    ----------
    elevation_deg : array_like
        Elevation of the ray, 0 to 90. Broadcasts with ``eps``. [deg]
    eps : array_like
        Complex relative permittivity, from `complex_permittivity`. [1]

    Returns
    -------
    reflection : numpy.ndarray
        Reflected over incident magnetic field, at the surface. NaN where the
        elevation is out of range. [1]

    Notes
    -----
    `reflection_tm` at a vertical wavenumber of sin(elevation).

    Examples
    --------
    >>> reflection_vertical([0.0, 90.0], 4.0).real
    array([-1.    ,  0.3333])
    """
    return reflection_tm(_sine(elevation_deg), eps)


def reflection_te(vertical_wavenumber: ArrayLike, eps: ArrayLike) -> Complexes:
    r"""
    Reflection of a plane wave, travelling or evanescent, with E along the ground.

    Parameters
    ----------
    vertical_wavenumber : array_like
        Vertical wavenumber in air over that of free space, :math:`c`: the sine of
        the elevation for a ray, :math:`-js` with s > 0 for a wave that dies away
        upwards. Broadcasts with ``eps``. [1]
    eps : array_like
        Complex relative permittivity, from `complex_permittivity`. [1]

    Returns
    -------
    reflection : numpy.ndarray
        Reflected over incident electric field; -1 for a perfect conductor, 0 for
        air. NaN where an input is NaN. [1]

    Notes
    -----
    .. math:: R = \frac{c - q}{c + q} = \frac{1-\varepsilon}{(c + q)^2},
       \quad q = \sqrt{\varepsilon - 1 + c^2}

    The second form, used here, loses no digits as the ground thins out to air.
    Textbook result; ITU-R BS.705 uses the same coefficient.
    """
    c, eps_in, root = _usable(vertical_wavenumber, eps)
    reflection = (1.0 - eps_in) / (c + root) ** 2
    return _with_limits(reflection, vertical_wavenumber, eps, -1.0)


def reflection_tm(vertical_wavenumber: ArrayLike, eps: ArrayLike) -> Complexes:
    r"""
    Reflection of a plane wave, travelling or evanescent, with H along the ground.

    Parameters
    ----------
    vertical_wavenumber : array_like
        As in `reflection_te`. [1]
    eps : array_like
        Complex relative permittivity, from `complex_permittivity`. [1]

    Returns
    -------
    reflection : numpy.ndarray
        Reflected over incident magnetic field; 1 for a perfect conductor, 0 for
        air. NaN where an input is NaN. [1]

    Notes
    -----
    .. math:: R = \frac{\varepsilon c - q}{\varepsilon c + q}
       = \frac{(\varepsilon-1)[(\varepsilon+1)c^2 - 1]}{(\varepsilon c + q)^2},
       \quad q = \sqrt{\varepsilon - 1 + c^2}

    Textbook result; ITU-R BS.705 uses the same coefficient.
    """
    c, eps_in, root = _usable(vertical_wavenumber, eps)
    numerator = (eps_in - 1.0) * ((eps_in + 1.0) * c**2 - 1.0)
    reflection = numerator / (eps_in * c + root) ** 2
    return _with_limits(reflection, vertical_wavenumber, eps, 1.0)


def _sine(elevation_deg: ArrayLike) -> Floats:
    """Sine of an elevation; NaN outside 0 to 90 degrees."""
    elevation = np.asarray(elevation_deg, dtype=np.float64)
    above_ground = (elevation >= 0.0) & (elevation <= 90.0)
    return np.sin(np.radians(np.where(above_ground, elevation, np.nan)))


def _usable(
    vertical_wavenumber: ArrayLike, eps: ArrayLike
) -> tuple[Complexes, Complexes, Complexes]:
    """Both inputs with stand-ins where neither formula works, and the root q."""
    c = np.asarray(vertical_wavenumber, dtype=np.complex128)
    eps_in = np.asarray(eps, dtype=np.complex128)
    c = np.where(np.isnan(c), 1.0, c)
    eps_in = np.where(np.isfinite(eps_in) & (eps_in != 1.0), eps_in, 2.0)
    root = np.sqrt(eps_in - 1.0 + c**2)
    # The wave in the ground must die away downwards, whatever the sign of zero.
    return c, eps_in, np.where(root.imag > 0.0, -root, root)


def _with_limits(
    reflection: Complexes,
    vertical_wavenumber: ArrayLike,
    eps: ArrayLike,
    perfect: float,
) -> Complexes:
    """Put the limits and NaN where they belong."""
    c = np.asarray(vertical_wavenumber, dtype=np.complex128)
    eps_in = np.asarray(eps, dtype=np.complex128)
    reflection = np.where(eps_in == 1.0, 0.0, reflection)
    reflection = np.where(np.isinf(eps_in), perfect, reflection)
    return np.where(np.isnan(c) | np.isnan(eps_in), np.nan, reflection)
