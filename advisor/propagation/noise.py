"""
Radio noise at a receiving place: man-made and galactic, with their spread.

Figures are those of ITU-R P.372: the noise factor is in dB above kT0B with
T0 = 290 K. Lightning, the third source, is in `advisor.propagation.lightning`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.errors import InputError, near_matches
from geo.records import ArrayRecord
from geo.sphere import EARTH_RADIUS_KM
from geo.tables import read_table

KT0_DBW_HZ = -203.98
"""Thermal noise density at 290 K, 10 log10(1.380649e-23 * 290). [dBW/Hz]"""

LOWEST_MHZ, HIGHEST_MHZ = 0.3, 250.0
"""Frequencies for which man-made noise is stated. [MHz]"""

DECILE_SIGMAS = 1.2816
"""Standard deviations from the median to a decile of a normal law."""

_NEPER_DB = 10.0 / np.log(10.0)

_PIERCED_KM = 300.0
"""Height at which noise from the sky meets the F2 layer. [km]"""

_WIDE_DB = 12.0
"""Decile above which the sum of sources is read back in another way. [dB]"""


class Noise(ArrayRecord):
    """
    Median noise factor and its deciles.

    Attributes
    ----------
    factor_db : numpy.ndarray
        Median external noise factor Fa over kT0B. [dB]
    upper_db, lower_db : numpy.ndarray
        Distance from the median to the upper and the lower decile. [dB]
    """

    factor_db: NDArray[np.float64]
    upper_db: NDArray[np.float64]
    lower_db: NDArray[np.float64]


def environments() -> tuple[str, ...]:
    """
    Names of the man-made noise environments, noisiest first.

    Returns
    -------
    names : tuple of str
        Names accepted by `man_made_noise`.

    Examples
    --------
    >>> environments()
    ('city', 'residential', 'rural', 'quiet rural')
    """
    names = read_table("man_made_noise").columns["environment"]
    return tuple(name for name in names if name != "galactic")


def _source(environment: str, frequency_mhz: ArrayLike) -> Noise:
    """Evaluate one row of the noise table: Fam = c - d log f."""
    table = read_table("man_made_noise")
    names = table.columns["environment"]
    if environment not in names:
        hint = near_matches(environment, environments())
        raise InputError(
            f"noise environment '{environment}' is unknown: allowed are "
            f"{', '.join(environments())}" + (f"; {hint}" if hint else "")
        )
    row = names.index(environment)
    log_f = np.log10(np.asarray(frequency_mhz, dtype=float))
    factor = table.numbers("c_db")[row] - table.numbers("d_db")[row] * log_f
    upper, lower = (
        np.where(np.isnan(factor), np.nan, table.numbers(f"{which}_decile_db")[row])
        for which in ("upper", "lower")
    )
    return Noise(np.asarray(factor), upper, lower)


def man_made_noise(
    environment: str, frequency_mhz: ArrayLike, *, any_place: bool = False
) -> Noise:
    """
    Man-made noise of an environment.

    Parameters
    ----------
    environment : str
        One of `environments`.
    frequency_mhz : array_like
        Frequency, 0.3 to 250, outside of which all is NaN; the law of quiet rural,
        stated up to 30, is continued. [MHz]
    any_place : bool, optional
        Whether the place is any one of such an environment: the spread from place
        to place then widens the deciles.

    Returns
    -------
    noise : Noise
        Median and deciles over time.

    Raises
    ------
    InputError
        For an unknown environment.

    References
    ----------
    ITU-R P.372-16, Part 6, Fam = c - d log f.

    Examples
    --------
    >>> man_made_noise("rural", 14.1).factor_db.round(1)
    np.float64(35.4)
    """
    frequency = np.asarray(frequency_mhz, dtype=float)
    within = (frequency >= LOWEST_MHZ) & (frequency <= HIGHEST_MHZ)
    noise = _source(environment, np.where(within, frequency, np.nan))
    if not any_place:
        return noise
    table = read_table("man_made_noise")
    row = table.columns["environment"].index(environment)
    places = table.numbers("location_decile_db")[row]
    return Noise(
        noise.factor_db,
        np.hypot(noise.upper_db, places),
        np.hypot(noise.lower_db, places),
    )


def galactic_noise(frequency_mhz: ArrayLike, fof2_mhz: ArrayLike) -> Noise:
    r"""
    Galactic noise through the part of the sky that the layer leaves open.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency. [MHz]
    fof2_mhz : array_like
        Critical frequency over the receiver; broadcasts. [MHz]

    Returns
    -------
    noise : Noise
        Median and deciles; the median is -inf where it is kept out.

    Notes
    -----
    A layer is pierced where :math:`\cos i > f_oF2/f`, i the angle of incidence at
    it: by a cone about the zenith, none of the sky at foF2. Of an even sky

    .. math:: s = 1 - \sin E,\quad
              \cos^2 E = (1 + h/R)^2\,(1 - (f_oF2/f)^2)

    is open, E the elevation of the cone's edge and h = 300 km (the project's choice);
    the whole of it from 3.4 foF2, half of it at 1.8. The noise is lower by
    :math:`10\log_{10} s`. P.372 has the whole law from foF2 on (from memory).

    References
    ----------
    ITU-R P.372-16, Part 4, Fam = 52 - 23 log f of the open sky, deciles 2 dB. Secant
    law: Davies, Ionospheric Radio (1990), chapter 6 (from memory).

    Examples
    --------
    >>> galactic_noise(14.1, [0.0, 7.0, 13.0]).factor_db.round(1)
    array([25.6, 23.2, 14.9])
    """
    frequency, fof2 = np.broadcast_arrays(
        np.asarray(frequency_mhz, dtype=float), np.asarray(fof2_mhz, dtype=float)
    )
    open_sky = _source("galactic", frequency)
    sine_i2 = 1.0 - np.minimum(fof2 / frequency, 1.0) ** 2
    edge = np.minimum((1.0 + _PIERCED_KM / EARTH_RADIUS_KM) ** 2 * sine_i2, 1.0)
    with np.errstate(divide="ignore"):
        share_db = 10.0 * np.log10(1.0 - np.sqrt(1.0 - edge))
    return Noise(open_sky.factor_db + share_db, open_sky.upper_db, open_sky.lower_db)


def combine(sources: list[Noise]) -> Noise:
    r"""
    Add noise sources by the rule for log-normal powers.

    Parameters
    ----------
    sources : list of Noise
        Sources with arrays that broadcast; a median of -inf adds nothing.

    Returns
    -------
    noise : Noise
        Median and deciles of the sum, with at least thermal noise in it.

    Notes
    -----
    With :math:`c = 10/\ln 10` and each source's standard deviation
    :math:`\sigma = D/1.282` the means and variances of the powers add:

    .. math:: \alpha_i = e^{F_i/c + \sigma_i^2/2c^2},\quad
              \beta_i = \alpha_i^2 (e^{\sigma_i^2/c^2} - 1)

    and the sum is read back as a log-normal law. Where a source has a decile of more
    than 12 dB the spread is :math:`c\sqrt{2\ln(\alpha/\gamma)}` with
    :math:`\gamma = \sum e^{F_i/c}` instead. The median is worked out once for the upper
    and once for the lower deciles; the mean of the two is returned.

    References
    ----------
    ITU-R P.372-16, Part 8 (from memory).

    Examples
    --------
    >>> two = Noise(np.array(30.0), np.array(2.0), np.array(2.0))
    >>> combine([two, two]).factor_db.round(1)
    np.float64(33.1)
    """
    thermal = Noise(np.zeros(()), np.zeros(()), np.zeros(()))
    medians, spreads = [], []
    for side in ("upper_db", "lower_db"):
        alpha, beta, gamma, widest = (np.zeros(()) for _ in range(4))
        for source in [*sources, thermal]:
            decile = getattr(source, side)
            sigma = decile / DECILE_SIGMAS / _NEPER_DB
            median = np.exp(source.factor_db / _NEPER_DB)
            mean = median * np.exp(sigma**2 / 2.0)
            alpha, gamma = alpha + mean, gamma + median
            beta = beta + mean**2 * np.expm1(sigma**2)
            widest = np.maximum(widest, np.where(median > 0.0, decile, 0.0))
        total = np.sqrt(np.log1p(beta / alpha**2))
        wide = np.sqrt(2.0 * np.log(alpha / gamma))
        total = np.where(widest > _WIDE_DB, wide, total)
        medians.append(_NEPER_DB * (np.log(alpha) - total**2 / 2.0))
        spreads.append(DECILE_SIGMAS * _NEPER_DB * total)
    return Noise(np.asarray(0.5 * (medians[0] + medians[1])), spreads[0], spreads[1])
