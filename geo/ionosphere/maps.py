r"""
Monthly median maps of the F2 layer and of sporadic E (ITU-R P.1239).

The CCIR described the ionosphere of the whole world by products of a Fourier
series in universal time and polynomials in geographic position, fitted to
ionograms for each month and two levels of solar activity:

.. math:: \Omega = \sum_k G_k(\varphi,\lambda,\mu)\Bigl[U_{0k}
          + \sum_{j=1}^{H}\bigl(U_{2j-1,k}\sin jT + U_{2j,k}\cos jT\bigr)\Bigr]

A question asks the same places at many hours, so the geographic functions
:math:`G_k` are evaluated once, by :func:`prepare_points`; each map is then one
small contraction in time and one matrix product.

A map holds for the middle of its month, taken as the 15th at 12 h UTC; between
two middles the values are linear in time, also across the new year. They are
linear in the solar index between the levels of the map and beyond, within
:data:`R12_LOWEST` and the limit of the map. The index is the 12-month smoothed sunspot
number R12 on the scale used before July 2015 (0.7 of today's), for foF2 the
ionospheric index of :mod:`geo.ionosphere.index`.

All values are medians of a month: see :mod:`geo.ionosphere.variability` for the days
around them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from geo.tables import read_arrays

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

R12_LOWEST = -20.0  # an index worked back from ionograms can be negative
HARMONICS = 6  # of the longest diurnal series, that of foF2


@dataclass(frozen=True)
class NumericalMap:
    """
    What one set of coefficients means.

    Attributes
    ----------
    table : str
        Coefficient file, without its ending.
    array : str
        Array in that file, (month, level, diurnal term, geographic function).
    sin_powers : tuple of int
        Highest power of sin(modip) for each longitude order 0, 1, 2 ...
    r12_highest : float
        The map is held above this solar index.
    floor : float
        Smallest value returned: a polynomial may dip below what can exist.
    """

    table: str
    array: str
    sin_powers: tuple[int, ...]
    r12_highest: float
    floor: float

    @property
    def functions(self) -> int:
        """Number of geographic functions, each order above 0 counted twice."""
        return 2 * sum(q + 1 for q in self.sin_powers) - (self.sin_powers[0] + 1)


# Powers as in the published maps (ITU-R P.1239 section 2; foEs: Leftin et al. 1968);
# they are confirmed by the number of coefficients and by an independent program.
FOF2 = NumericalMap("ccir_maps", "fof2", (11, 11, 8, 4, 1, 0, 0, 0, 0), 150.0, 0.5)
M3000F2 = NumericalMap("ccir_maps", "m3000f2", (6, 7, 5, 2, 1, 0, 0), 150.0, 1.5)
FOES_LOWER = NumericalMap("foes_maps", "lower", (10, 12, 6, 0, 0), 180.0, 0.3)
FOES_MEDIAN = NumericalMap("foes_maps", "median", (10, 12, 6, 2, 0, 0), 180.0, 0.3)
FOES_UPPER = NumericalMap("foes_maps", "upper", (10, 11, 5, 2, 0), 180.0, 0.3)


@dataclass(frozen=True, eq=False)
class MapPoints:
    """
    Places at which the maps will be read, with their geographic functions.

    Read-only. Made by :func:`prepare_points`; every array is (functions, P).

    Attributes
    ----------
    fof2, m3000f2, foes_lower, foes_median, foes_upper : numpy.ndarray
        Values of G_k for each map.
    """

    fof2: Floats
    m3000f2: Floats
    foes_lower: Floats
    foes_median: Floats
    foes_upper: Floats

    def __len__(self) -> int:
        return int(self.fof2.shape[1])


def _geographic_functions(
    sin_powers: tuple[int, ...], powers: Floats, waves: Floats
) -> Floats:
    """
    Choose the functions of one map from what all maps are made of.

    Parameters
    ----------
    sin_powers : tuple of int
        Highest power of sin(modip) for each longitude order.
    powers : numpy.ndarray
        sin(modip) to the power of 0, 1, 2 ..., (powers, P).
    waves : numpy.ndarray
        Cosine and sine of longitude order 1, 2, 3 ..., with the width of the
        parallel, (orders, 2, P).

    Returns
    -------
    functions : numpy.ndarray
        G_k, (functions, P): power of sin(modip) fastest but for cos, sin.
    """
    rows = [powers[: sin_powers[0] + 1]]
    for power, wave in zip(sin_powers[1:], waves, strict=False):
        rows.append((powers[: power + 1, None] * wave).reshape(-1, wave.shape[-1]))
    functions = np.concatenate(rows)
    functions.flags.writeable = False
    return functions


def prepare_points(
    lat_deg: ArrayLike, lon_deg: ArrayLike, modip_deg: ArrayLike
) -> MapPoints:
    """
    Evaluate the geographic functions of every map at a set of places.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Geographic latitude and east longitude, (P,) or scalar. [deg]
    modip_deg : array_like
        Modified dip at 300 km (:func:`geo.magnetic.modip_deg`), same shape. [deg]

    Returns
    -------
    points : MapPoints
        The prepared places, 2.4 kB each. A place with a NaN or an impossible
        latitude gives NaN from every map.

    Examples
    --------
    >>> points = prepare_points([51.5, -42.9], [-0.6, 147.3], [55.7, -55.9])
    >>> len(points)
    2
    """
    lat, lon, modip = (
        np.atleast_1d(a).ravel()
        for a in np.broadcast_arrays(
            *(np.asarray(a, dtype=float) for a in (lat_deg, lon_deg, modip_deg))
        )
    )
    lat = np.where(np.abs(lat) <= 90.0, lat, np.nan)
    sin_modip = np.sin(np.radians(modip)) + 0.0 * (lat + lon)  # carries any NaN
    cos_lat = np.cos(np.radians(lat))
    lon_rad = np.radians(lon)
    every = [m.sin_powers for m in (FOF2, M3000F2, FOES_LOWER, FOES_MEDIAN, FOES_UPPER)]
    highest = max(max(sin_powers) for sin_powers in every)
    orders = range(1, max(len(sin_powers) for sin_powers in every))
    powers = np.stack([sin_modip**i for i in range(highest + 1)])
    waves = np.stack(
        [
            cos_lat**order
            * np.stack([np.cos(order * lon_rad), np.sin(order * lon_rad)])
            for order in orders
        ]
    )
    return MapPoints(*(_geographic_functions(each, powers, waves) for each in every))


def month_weights(times: ArrayLike) -> Floats:
    """
    Share each time among the maps of the twelve months.

    Parameters
    ----------
    times : array_like of datetime64
        UTC, (T,).

    Returns
    -------
    weights : numpy.ndarray
        Shape (T, 12), January first. Each row sums to 1 and has at most two entries
        that are not zero, linear between the 15ths at 12 h; two entries are NaN for
        not-a-time.

    Examples
    --------
    >>> month_weights(["2026-12-31T00:00"])[0, [10, 11, 0, 1]]
    array([0. , 0.5, 0.5, 0. ])
    """
    when = np.asarray(times, dtype="datetime64[s]")
    middle = np.timedelta64(14 * 24 + 12, "h")  # from the start of a month
    start = (when - middle).astype("datetime64[M]")
    earlier = start.astype("datetime64[D]") + middle
    later = (start + np.timedelta64(1, "M")).astype("datetime64[D]") + middle
    part = (when - earlier) / (later - earlier)
    month = start.astype(np.int64) % 12
    row = np.arange(len(when))
    weights = np.zeros((len(when), 12))
    weights[row, month] = 1.0 - part
    weights[row, (month + 1) % 12] = part
    return weights


def _diurnal_functions(times: NDArray[np.datetime64]) -> Floats:
    """Return 1, sin T, cos T, sin 2T ... (T, 13) for T = 15 UT - 180 deg."""
    hours = (times - times.astype("datetime64[D]")) / np.timedelta64(1, "h")
    angle = np.radians(15.0 * hours - 180.0)
    harmonic = np.arange(1, HARMONICS + 1) * angle[:, None]
    functions = np.ones((len(times), 2 * HARMONICS + 1))
    functions[:, 1::2] = np.sin(harmonic)
    functions[:, 2::2] = np.cos(harmonic)
    return functions


def _evaluate(
    maps: Sequence[tuple[NumericalMap, Floats]], times: ArrayLike, r12: ArrayLike
) -> list[Floats]:
    """
    Read maps at prepared places: first all of time, then all of space.

    Parameters
    ----------
    maps : sequence of (NumericalMap, numpy.ndarray)
        Maps with their geographic functions, (functions, P).
    times : array_like of datetime64
        UTC, (T,) or scalar.
    r12 : array_like
        Solar index, (T,) or scalar.

    Returns
    -------
    values : list of numpy.ndarray
        One (T, P) for each map.
    """
    when = np.atleast_1d(np.asarray(times, dtype="datetime64[s]"))
    index = np.asarray(r12, dtype=float)
    months = month_weights(when)
    used = np.flatnonzero(months.any(axis=0))
    months = months[:, used, None, None]
    diurnal = _diurnal_functions(when)[:, None, None]
    values = []
    for which, functions in maps:
        tables = read_arrays(which.table)
        coefficients = tables[which.array][used]
        low, high = tables["r12_levels"]
        held = np.clip(index, R12_LOWEST, which.r12_highest)
        rise = np.broadcast_to((held - low) / (high - low), when.shape)
        levels = np.stack([1.0 - rise, rise], axis=1)[:, None, :, None]
        mixing = months * levels * diurnal[..., : coefficients.shape[2]]
        at_times = mixing.reshape(len(when), -1) @ coefficients.reshape(
            -1, len(functions)
        )
        values.append(np.maximum(at_times @ functions, which.floor))
    return values


def fof2_mhz(points: MapPoints, times: ArrayLike, ig12: ArrayLike) -> Floats:
    """
    Read the monthly median critical frequency of the F2 layer.

    Parameters
    ----------
    points : MapPoints
        Prepared places.
    times : array_like of datetime64
        UTC, (T,) or scalar.
    ig12 : array_like
        12-month ionospheric index, (T,) or scalar; R12 on the scale before July 2015
        where none is known. Held at -20 below and at 150 above (ITU-R P.1239 for the
        upper limit, from memory: foF2 saturates).

    Returns
    -------
    fof2_mhz : numpy.ndarray
        Ordinary-wave critical frequency, shape (T, P), 0.5 or more: lower values
        of the series, met only for a negative index, are replaced. NaN where the
        place, time or index is NaN. [MHz]

    References
    ----------
    ITU-R P.1239, section 2; W. B. Jones and R. M. Gallet, ITU Telecommunication
    Journal 32, 18-28, 1965.

    Examples
    --------
    >>> points = prepare_points(51.5, -0.6, 55.7)
    >>> noons = ["2026-06-15T12:00", "2026-12-15T12:00"]
    >>> fof2_mhz(points, noons, 100.0).round(1)
    array([[ 6.6],
           [10.2]])
    """
    return _evaluate([(FOF2, points.fof2)], times, ig12)[0]


def m3000f2(points: MapPoints, times: ArrayLike, r12: ArrayLike) -> Floats:
    """
    Read the monthly median factor M(3000)F2.

    Parameters
    ----------
    points : MapPoints
        Prepared places.
    times : array_like of datetime64
        UTC, (T,) or scalar.
    r12 : array_like
        12-month smoothed sunspot number on the scale before July 2015, (T,) or
        scalar. Held at -20 below and at 150 above (the limit of foF2 used here
        too: the levels of the map end at 100).

    Returns
    -------
    m3000f2 : numpy.ndarray
        Ordinary-wave MUF for 3000 km over foF2, shape (T, P), about 2 to 4, never
        below 1.5. NaN where the place, time or index is NaN. [1]

    References
    ----------
    ITU-R P.1239, section 2.

    Examples
    --------
    >>> points = prepare_points(51.5, -0.6, 55.7)
    >>> m3000f2(points, "2026-12-15T12:00", [0.0]).round(2)
    array([[3.68]])
    """
    return _evaluate([(M3000F2, points.m3000f2)], times, r12)[0]


def foes_mhz(
    points: MapPoints, times: ArrayLike, r12: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """
    Read the critical frequency of sporadic E: lower decile, median, upper decile.

    Parameters
    ----------
    points : MapPoints
        Prepared places.
    times : array_like of datetime64
        UTC, (T,) or scalar.
    r12 : array_like
        12-month smoothed sunspot number on the scale before July 2015, (T,) or
        scalar. Held at -20 below and at 180, the upper level of the maps, above.

    Returns
    -------
    lower_mhz, median_mhz, upper_mhz : numpy.ndarray
        Values exceeded on 90, 50 and 10 of 100 days, each (T, P), 0.3 or more. The
        three maps were fitted apart and cross here and there (1 to 3 % of the
        lower deciles, by up to 1 MHz): a decile on the wrong side of the median is
        set to the median. NaN where the place, time or index is NaN. [MHz]

    Notes
    -----
    By day the lowest values are those of the regular E layer. Two solar epochs only:
    take the values as good to 20 %.

    References
    ----------
    M. Leftin, S. M. Ostrow and C. Preston, "Numerical maps of foEs for solar cycle
    minimum and maximum", ESSA Technical Report ERL 73-ITS 63, 1968.

    Examples
    --------
    >>> points = prepare_points(35.0, 135.0, 43.7)
    >>> foes = foes_mhz(points, "2026-06-15T03:00", 60.0)
    >>> [round(float(f[0, 0]), 1) for f in foes]
    [4.5, 7.0, 12.7]
    """
    lower, median, upper = _evaluate(
        [
            (FOES_LOWER, points.foes_lower),
            (FOES_MEDIAN, points.foes_median),
            (FOES_UPPER, points.foes_upper),
        ],
        times,
        r12,
    )
    return np.minimum(lower, median), median, np.maximum(upper, median)
