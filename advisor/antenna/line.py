"""
Transmission lines: their constants, what they do to an impedance, what they lose.

Impedances are complex, time runs as exp(+jωt). Everything broadcasts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Complexes, Floats
from geo.errors import InputError, near_matches
from geo.tables import read_table

# Speed of light, exact by definition of the metre. [m/s]
_LIGHT_M_S = 299_792_458.0

# One neper in decibels.
_NEPER_DB = 20.0 / np.log(10.0)


@dataclass(frozen=True)
class Line:
    """
    A kind of transmission line.

    Attributes
    ----------
    name : str
        Trade or military designation.
    impedance_ohm : float
        Characteristic impedance without losses, positive. [ohm]
    velocity_factor : float
        Wave speed over that of light, above 0 to 1. [1]
    k1_db, k2_db : float
        Matched loss is ``k1 sqrt(f) + k2 f``: conductors and dielectric, f in
        MHz, 0 or more. [dB per 100 m]
    reference : str, optional
        Where the constants are from.
    note : str, optional
        What to mind.

    Raises
    ------
    geo.errors.InputError
        If a constant is outside its range.
    """

    name: str
    impedance_ohm: float
    velocity_factor: float
    k1_db: float
    k2_db: float
    reference: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if not 0.0 < self.impedance_ohm < np.inf:
            raise InputError(
                f"line '{self.name}': impedance {self.impedance_ohm} ohm is not "
                "positive; common lines are 50, 75, 300, 450 and 600"
            )
        if not 0.0 < self.velocity_factor <= 1.0:
            raise InputError(
                f"line '{self.name}': velocity factor {self.velocity_factor} is not "
                "above 0 and at most 1; coax is 0.66 to 0.85, open wire 0.9 to 0.98"
            )
        for key in ("k1_db", "k2_db"):
            if not 0.0 <= getattr(self, key) < np.inf:
                raise InputError(
                    f"line '{self.name}': loss constant {key} {getattr(self, key)} is "
                    "not 0 or more"
                )

    @property
    def is_coaxial(self) -> bool:
        """Whether it has an outside of its own: two wires are of 200 ohm or more."""
        return self.impedance_ohm < 150.0


def line_names() -> tuple[str, ...]:
    """
    Return the names that `line_by_name` accepts.

    Returns
    -------
    names : tuple of str
        In the order of the table.
    """
    return tuple(line.name for line in _lines().values())


def line_by_name(name: str) -> Line:
    """
    Look up a kind of line.

    Parameters
    ----------
    name : str
        One of `line_names`; capitals, spaces and hyphens do not matter.

    Returns
    -------
    line : Line
        Its constants and their source.

    Raises
    ------
    geo.errors.InputError
        If no line has that name.

    Examples
    --------
    >>> line_by_name("rg58").velocity_factor
    0.66
    """
    found = _lines().get(_fold(name))
    if found is None:
        hint = near_matches(name, line_names()) or "use one of these"
        raise InputError(
            f"no feed line is called '{name}'; {hint} (known: "
            f"{', '.join(line_names())})"
        )
    return found


def propagation(line: Line, frequency_mhz: ArrayLike) -> tuple[Complexes, Complexes]:
    r"""
    Propagation constant and characteristic impedance of a lossy line.

    Parameters
    ----------
    line : Line
        Kind of line.
    frequency_mhz : array_like
        Frequency, positive. [MHz]

    Returns
    -------
    gamma_per_m : numpy.ndarray
        Attenuation in nepers (real) and phase (imaginary) per metre; NaN where
        the frequency is not positive. [1/m]
    impedance_ohm : numpy.ndarray
        Complex characteristic impedance. [ohm]

    Notes
    -----
    The conductor part of the loss is taken as series resistance
    :math:`R = 2 Z_0 \alpha_1` and the dielectric part as shunt conductance
    :math:`G = 2\alpha_2 / Z_0`; then

    .. math:: \gamma = \sqrt{(R + j\beta Z_0)(G + j\beta / Z_0)},\quad
              Z = \sqrt{(R + j\beta Z_0)/(G + j\beta / Z_0)}

    so that a line is passive at any load (textbook line theory).

    Examples
    --------
    >>> gamma, impedance = propagation(line_by_name("RG-213"), 10.0)
    >>> round(float(gamma.real) * 868.59, 2)  # dB per 100 m
    1.89
    """
    frequency = np.asarray(frequency_mhz, dtype=np.float64)
    frequency = np.where(frequency > 0.0, frequency, np.nan)
    beta = 2e6 * np.pi * frequency / (_LIGHT_M_S * line.velocity_factor)
    series = 2.0 * line.k1_db * np.sqrt(frequency) / (100.0 * _NEPER_DB) + 1j * beta
    shunt = 2.0 * line.k2_db * frequency / (100.0 * _NEPER_DB) + 1j * beta
    with np.errstate(invalid="ignore"):
        return np.sqrt(series * shunt), line.impedance_ohm * np.sqrt(series / shunt)


def matched_loss_db(
    line: Line, frequency_mhz: ArrayLike, length_m: ArrayLike
) -> Floats:
    """
    Loss of a line that ends in its own impedance.

    Parameters
    ----------
    line : Line
        Kind of line.
    frequency_mhz : array_like
        Frequency, positive. Broadcasts with ``length_m``. [MHz]
    length_m : array_like
        Length, 0 or more. [m]

    Returns
    -------
    loss_db : numpy.ndarray
        ``(k1 sqrt(f) + k2 f) length / 100``; NaN where an input is out of range.
        [dB]

    Examples
    --------
    >>> matched_loss_db(line_by_name("RG-58"), 14.1, 15.0).round(2)
    np.float64(0.83)
    """
    frequency = np.asarray(frequency_mhz, dtype=np.float64)
    frequency = np.where(frequency > 0.0, frequency, np.nan)
    per_m = (line.k1_db * np.sqrt(frequency) + line.k2_db * frequency) / 100.0
    return np.asarray(per_m * _length(length_m), dtype=np.float64)


def input_impedance(
    load_ohm: ArrayLike, line: Line, frequency_mhz: ArrayLike, length_m: ArrayLike
) -> Complexes:
    r"""
    Impedance seen through a length of lossy line.

    Parameters
    ----------
    load_ohm : array_like
        Impedance at the far end, finite. Broadcasts with the rest. [ohm]
    line : Line
        Kind of line.
    frequency_mhz : array_like
        Frequency, positive. [MHz]
    length_m : array_like
        Length, 0 or more. [m]

    Returns
    -------
    impedance_ohm : numpy.ndarray
        Complex; NaN where an input is out of range. [ohm]

    Notes
    -----
    .. math:: Z_{in} = Z \frac{Z_L + Z \tanh\gamma l}{Z + Z_L \tanh\gamma l}

    Examples
    --------
    A lossless quarter wave turns 100 ohm into 25 ohm:

    >>> ideal = Line("ideal", 50.0, 1.0, 0.0, 0.0)
    >>> input_impedance(100.0, ideal, 299.792458 / 4.0, 1.0).real.round(6)
    np.float64(25.0)
    """
    gamma, own = propagation(line, frequency_mhz)
    load = np.asarray(load_ohm, dtype=np.complex128)
    # Written in reflections: tanh overflows where a lossless line is an exact
    # quarter wave, this does not.
    echo = reflection(load, own) * np.exp(-2.0 * gamma * _length(length_m))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(own * (1.0 + echo) / (1.0 - echo), dtype=np.complex128)


def line_loss_db(
    load_ohm: ArrayLike, line: Line, frequency_mhz: ArrayLike, length_m: ArrayLike
) -> Floats:
    r"""
    Loss of a line at any load: power in over power out.

    Parameters
    ----------
    load_ohm : array_like
        Impedance at the far end, finite, with positive resistance. [ohm]
    line : Line
        Kind of line.
    frequency_mhz : array_like
        Frequency, positive. [MHz]
    length_m : array_like
        Length, 0 or more. [m]

    Returns
    -------
    loss_db : numpy.ndarray
        Matched loss and what the standing wave adds; a short line loses *less*
        than matched where the load draws a low current. NaN where an input is
        out of range. [dB]

    Notes
    -----
    .. math:: \frac{P_{in}}{P_L} = \frac{\Re Z_{in}}{\Re Z_L}
              \left|\cosh\gamma l + \frac{Z_L}{Z}\sinh\gamma l\right|^2

    With a real characteristic impedance this is the textbook
    :math:`(a^2 - |\rho|^2) / (a (1 - |\rho|^2))`, a being the matched loss as a
    ratio.
    """
    gamma, own = propagation(line, frequency_mhz)
    load = np.asarray(load_ohm, dtype=np.complex128)
    turn = gamma * _length(length_m)
    # Load current 1 A; its drive at the near end gives the power there.
    with np.errstate(invalid="ignore"):
        current = np.cosh(turn) + load / own * np.sinh(turn)
        voltage = load * np.cosh(turn) + own * np.sinh(turn)
    resistance = np.where(load.real > 0.0, load.real, np.nan)
    return np.asarray(
        10.0 * np.log10((voltage * current.conj()).real / resistance), dtype=np.float64
    )


def reflection(impedance_ohm: ArrayLike, reference_ohm: ArrayLike) -> Complexes:
    """
    Voltage reflection coefficient at an impedance.

    Parameters
    ----------
    impedance_ohm : array_like
        Impedance, finite. Broadcasts with ``reference_ohm``. [ohm]
    reference_ohm : array_like
        Impedance that would reflect nothing. [ohm]

    Returns
    -------
    rho : numpy.ndarray
        ``(Z - Z0) / (Z + Z0)``; NaN where an input is. [1]

    Examples
    --------
    >>> reflection([50.0, 150.0], 50.0).real
    array([0. , 0.5])
    """
    load = np.asarray(impedance_ohm, dtype=np.complex128)
    own = np.asarray(reference_ohm, dtype=np.complex128)
    with np.errstate(invalid="ignore"):
        return np.asarray((load - own) / (load + own), dtype=np.complex128)


@cache
def _lines() -> dict[str, Line]:
    """Every kind of line by its folded name, in file order."""
    return {_fold(line.name): line for line in read_table("feed_lines").records(Line)}


def _fold(name: str) -> str:
    """Drop what people leave out of a designation or put in."""
    return name.casefold().replace("-", "").replace(" ", "")


def _length(length_m: ArrayLike) -> Floats:
    """Lengths with NaN for the negative ones."""
    length = np.asarray(length_m, dtype=np.float64)
    return np.where(length >= 0.0, length, np.nan)
