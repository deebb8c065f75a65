"""
How active the sun is: the smoothed sunspot number R12 by month, and its flux.

The numerical maps of the ionosphere are monthly medians, so they want the index
smoothed over 13 months, not today's; and they were drawn in the 1960s, so they
want the sunspot number on the scale that was in use until July 2015, which is 0.7
times the number published since. Everything called ``r12`` here is on that old
scale. The months are in ``tables/solar_monthly.ecsv``.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.errors import InputError
from geo.tables import read_table

OBSERVED = "observed"
PREDICTED = "predicted"
AVERAGE_CYCLE = "predicted, average cycle"
"""Kind after 2030, where the series repeats an average solar cycle."""

LAST_FORECAST_MONTH = np.datetime64("2030-12", "M")
"""Last month with a forecast of its own; an average cycle after it."""

FLUX_AT_R12_0_SFU = 63.75
FLUX_PER_R12_SFU = 0.728
FLUX_PER_R12_SQUARED_SFU = 8.9e-4

LEAST_FLUX_SFU, MOST_FLUX_SFU = 60.0, 300.0

MOST_R12 = 250.0
"""Greatest smoothed sunspot number dealt with; cycle 19 reached about 200."""

ERROR_LIMIT_R12 = 35.0
ERROR_GROWTH_MONTHS = 15.0


def flux_from_r12(r12: ArrayLike) -> NDArray[np.float64]:
    """
    Solar flux at 10.7 cm that goes with a smoothed sunspot number.

    Parameters
    ----------
    r12 : array_like
        Smoothed sunspot number, old scale, 0 or more.

    Returns
    -------
    flux_sfu : numpy.ndarray
        10.7 cm flux, 1 sfu = 1e-22 W m-2 Hz-1; NaN for a negative number. [sfu]

    Notes
    -----
    ``63.75 + 0.728 R12 + 8.9e-4 R12**2``, ITU-R P.1239 (its constants from
    memory of the text, agreed with an open-source reference model). The relation
    is that of the 1960s; later the sun gave more flux for its spots. Against the
    shipped months it is right within 4 sfu on the mean of 1962 to 1977, 8 sfu low
    on that of 1978 to 2021, and 25 sfu low on that of 2022 to 2025.

    Examples
    --------
    >>> flux_from_r12([0.0, 50.0, 100.0, 150.0]).round(1)
    array([ 63.8, 102.4, 145.4, 193. ])
    """
    spots = np.asarray(r12, dtype=np.float64)
    spots = np.where(spots >= 0.0, spots, np.nan)
    return FLUX_AT_R12_0_SFU + spots * (
        FLUX_PER_R12_SFU + FLUX_PER_R12_SQUARED_SFU * spots
    )


@cache
def _series() -> tuple[
    NDArray[np.datetime64], NDArray[np.float64], NDArray[np.datetime64]
]:
    """Return the months, their R12, and the last month that was observed."""
    table = read_table("solar_monthly")
    months = np.array(table.columns["month"], dtype="datetime64[M]")
    seen = np.array(table.columns["smoothed_kind"]) == OBSERVED
    return months, table.numbers("r12_ccir"), months[seen].max(keepdims=True)


def mid_month_s(months: NDArray[np.datetime64]) -> NDArray[np.float64]:
    """
    Moment for which the value of a month stands.

    Parameters
    ----------
    months : numpy.ndarray
        datetime64[M].

    Returns
    -------
    seconds : numpy.ndarray
        The 15th at 12 h UTC, since 1970. [s]

    Examples
    --------
    >>> mid_month_s(np.array(["1970-01"], "M8[M]")) / 3600.0
    array([348.])
    """
    middle = months.astype("datetime64[h]") + np.timedelta64(14 * 24 + 12, "h")
    return middle.astype("datetime64[s]").astype(np.float64)


def _inside(times: NDArray[np.datetime64]) -> NDArray[np.float64]:
    """Return times in seconds since 1970; refuse those the table does not cover."""
    when = np.atleast_1d(np.asarray(times, dtype="datetime64[s]"))
    months, _, _ = _series()
    known = (when >= months[0]) & (when < months[-1] + np.timedelta64(1, "M"))
    if not known.all():
        raise InputError(
            f"no sunspot number for {when[~known][0]}: the table holds {months[0]}"
            f" to {months[-1]}; give the smoothed number yourself with --r12"
        )
    return when.astype(np.float64)


def r12_at(
    times: NDArray[np.datetime64],
) -> tuple[NDArray[np.float64], NDArray[np.str_]]:
    """
    Smoothed sunspot number at some times, and how well it is known.

    Parameters
    ----------
    times : numpy.ndarray
        UTC, datetime64, shape (T,), from 1958-04 to 2041-04.

    Returns
    -------
    r12 : numpy.ndarray
        Old scale, linear in time between the 15ths of the months, held in the
        outer halves of the first and the last month, shape (T,).
    kind : numpy.ndarray
        Shape (T,): ``"observed"``; ``"predicted"`` if either neighbouring
        month has a prediction in its mean; ``"predicted, average cycle"`` after
        2030-12-15.

    Raises
    ------
    InputError
        If the table does not reach a time.

    Examples
    --------
    >>> r12, kind = r12_at(np.array(["2025-12-15T12", "2026-11-15T12"], "M8[s]"))
    >>> print(r12, kind)
    [74.77 57.5 ] ['observed' 'predicted']
    """
    seconds = _inside(times)
    months, r12, last_seen = _series()
    kind = np.where(seconds <= mid_month_s(last_seen), OBSERVED, PREDICTED)
    far = seconds > mid_month_s(np.array([LAST_FORECAST_MONTH]))
    kind = np.where(far, AVERAGE_CYCLE, kind)
    return np.interp(seconds, mid_month_s(months), r12), kind


def forecast_half_width(lead_months: ArrayLike) -> NDArray[np.float64]:
    """
    Error of a forecast of R12 that one forecast in ten exceeds at either end.

    Parameters
    ----------
    lead_months : array_like
        Months since the last known smoothed number. [month]

    Returns
    -------
    half_width : numpy.ndarray
        0 up to lead 0, then ``35 (1 - exp(-lead / 15))``, old scale.

    Notes
    -----
    Fitted to forecasts made afresh for cycles 20 to 25 by the method of McNish
    and Lincoln (Trans. Am. Geophys. Union 30, 673, 1949; citation from memory),
    each cycle forecast from the others: ``docs/studies/solar_forecast_error.py``
    prints both. It is within 2 of them to a lead of 60 months and errs on the
    wide side beyond. The forecasts that were issued in 2025 ran 14 sfu, about
    16 in R12, high after ten months; the rule gives 17 there.

    Examples
    --------
    >>> forecast_half_width([0.0, 6.0, 12.0, 60.0]).round(0)
    array([ 0., 12., 19., 34.])
    """
    lead = np.maximum(np.asarray(lead_months, dtype=np.float64), 0.0)
    return ERROR_LIMIT_R12 * -np.expm1(-lead / ERROR_GROWTH_MONTHS)


def r12_range(
    times: NDArray[np.datetime64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """
    Range in which R12 will be found with four chances in five.

    Parameters
    ----------
    times : numpy.ndarray
        UTC, datetime64, shape (T,), from 1958-04 to 2041-04.

    Returns
    -------
    low, high : numpy.ndarray
        Old scale, shape (T,), never below 0. Both equal R12 where it was
        observed.

    Raises
    ------
    InputError
        If the table does not reach a time.

    Examples
    --------
    >>> low, high = r12_range(np.array(["2026-11-15"], "M8[s]"))
    >>> print(low.round(0), high.round(0))
    [39.] [76.]
    """
    r12, _ = r12_at(times)
    _, _, last_seen = _series()
    month_s = 365.25 / 12.0 * 86400.0
    lead = (_inside(times) - mid_month_s(last_seen)) / month_s
    half = forecast_half_width(lead)
    return np.maximum(r12 - half, 0.0), r12 + half
