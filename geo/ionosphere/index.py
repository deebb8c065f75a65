r"""
The index for which the maps of foF2 are read: IG12, month by month.

The maps were drawn by the sunspot number of the 1950s, and neither foF2 nor the solar
flux has kept to it since. IG12 is worked back from measured foF2: it is the R12 at
which the maps would have given what was measured. It was 14 below R12 in 2019 and 20
above it in 2024. M(3000)F2, foF1, foE and sporadic E keep R12.

The months are in ``tables/ionospheric_index.ecsv``; later ones follow from the smoothed
flux and sunspot number of ``tables/solar_monthly.ecsv`` by a relation fitted to both
tables. ``docs/studies/build_ionospheric_index.py`` prints the three relations here.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.solar import MOST_R12, mid_month_s
from geo.tables import read_table

FIT_DECILE_IG12 = 5.7
"""What the index by flux and sunspots is off by in one month of ten at either end; rms
4.5 over 1958 to 2024."""


def ig12_by_flux_and_r12(flux_sfu: ArrayLike, r12: ArrayLike) -> NDArray[np.float64]:
    r"""
    Ionospheric index from smoothed flux and sunspot number together.

    Parameters
    ----------
    flux_sfu : array_like
        10.7 cm flux, 13-month running mean. [sfu]
    r12 : array_like
        Smoothed sunspot number, old scale. Broadcasts.

    Returns
    -------
    ig12 : numpy.ndarray
        About -13 to 170.

    Notes
    -----
    .. math:: -97.31 + 1.5497 F - 0.003636 F^2 + 0.5651 R_{12}

    fitted to 798 months from April 1958 to September 2024, rms 4.5. Flux alone leaves
    5.8, the sunspot number alone 5.1, each with a sense of its own in recent cycles.

    Examples
    --------
    >>> ig12_by_flux_and_r12([70.0, 190.0], [3.0, 107.0]).round(0)
    array([ -5., 126.])
    """
    flux = np.asarray(flux_sfu, dtype=np.float64)
    spots = np.asarray(r12, dtype=np.float64)
    by_flux = -97.3123 + flux * (1.54967 - 0.00363621 * flux)
    return np.asarray(by_flux + 0.565097 * spots)


def ig12_by_r12(r12: ArrayLike) -> NDArray[np.float64]:
    r"""
    Ionospheric index that goes with a sunspot number in the mean of all cycles.

    Parameters
    ----------
    r12 : array_like
        Smoothed sunspot number, old scale, held at 250 above.

    Returns
    -------
    ig12 : numpy.ndarray
        Increasing, -14 at 0 and 187 at 250.

    Notes
    -----
    .. math:: -13.90 + 1.5645 R_{12} - 0.003038 R_{12}^2

    fitted to the same months, rms 5.1.

    Examples
    --------
    >>> ig12_by_r12([0.0, 50.0, 100.0]).round(0)
    array([-14.,  57., 112.])
    """
    spots = np.minimum(np.asarray(r12, dtype=np.float64), MOST_R12)
    return np.asarray(-13.902 + spots * (1.56445 - 0.00303803 * spots))


def _flux_by_r12(r12: ArrayLike) -> NDArray[np.float64]:
    """Give the smoothed flux by R12 over the same months, rms 6.4 sfu."""
    spots = np.asarray(r12, dtype=np.float64)
    return np.asarray(62.8518 + spots * (0.927598 + 0.000109429 * spots))


@cache
def _departures() -> tuple[
    NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], np.float64
]:
    """Return mid-months, index and flux off their relations, the last known moment."""
    known, solar = read_table("ionospheric_index"), read_table("solar_monthly")
    months = np.array(solar.columns["month"], dtype="datetime64[M]")
    flux, spots = solar.numbers("f107_smoothed13"), solar.numbers("r12_ccir")
    index = ig12_by_flux_and_r12(flux, spots)
    seen = np.array(known.columns["month"], dtype="datetime64[M]")
    _, here, there = np.intersect1d(months, seen, return_indices=True)
    index[here] = known.numbers("ig12")[there]
    return (
        mid_month_s(months),
        index - ig12_by_r12(spots),
        flux - _flux_by_r12(spots),
        mid_month_s(seen)[-1],
    )


def _seconds(times: ArrayLike) -> NDArray[np.float64]:
    """Return times in seconds since 1970, (T,)."""
    when = np.atleast_1d(np.asarray(times, dtype="datetime64[s]"))
    return np.where(np.isnat(when), np.nan, when.astype(np.float64))


def ig12_at(times: ArrayLike, r12: ArrayLike) -> NDArray[np.float64]:
    """
    Ionospheric index at some times if the smoothed sunspot number is as given.

    Parameters
    ----------
    times : array_like of datetime64
        UTC, (T,) or scalar.
    r12 : array_like
        Smoothed sunspot number, old scale, (T,) or scalar.

    Returns
    -------
    ig12 : numpy.ndarray
        Shape (T,): `ig12_by_r12`, and what the month itself stands off it, which is
        linear between the 15ths: as measured to September 2024, then by
        `ig12_by_flux_and_r12`, nothing before April 1958 and after April 2041. With the
        R12 of the table it is the month's own index.

    Examples
    --------
    >>> times = np.array(["2019-06-15T12", "2024-06-15T12"], "M8[s]")
    >>> ig12_at(times, [2.5, 107.0]).round(1)
    array([-11.9, 126.7])
    """
    months, off, _, _ = _departures()
    departure = np.interp(_seconds(times), months, off, left=0.0, right=0.0)
    return np.asarray(ig12_by_r12(r12) + departure)


def ig12_half_width(times: ArrayLike) -> NDArray[np.float64]:
    """
    Error of the index, sun apart, that one month in ten exceeds at either end.

    Parameters
    ----------
    times : array_like of datetime64
        UTC, (T,) or scalar.

    Returns
    -------
    half_width : numpy.ndarray
        Shape (T,): 0 where it was measured, 5.7 after September 2024.

    Examples
    --------
    >>> ig12_half_width(np.array(["2019-06-15", "2026-06-15"], "M8[s]"))
    array([0. , 5.7])
    """
    *_, known = _departures()
    return np.where(_seconds(times) <= known, 0.0, FIT_DECILE_IG12)


def r12_from_flux(times: ArrayLike, flux_sfu: ArrayLike) -> NDArray[np.float64]:
    r"""
    Smoothed sunspot number that goes with a smoothed flux at some times.

    Parameters
    ----------
    times : array_like of datetime64
        UTC, (T,) or scalar.
    flux_sfu : array_like
        10.7 cm flux, best its mean over months, (T,) or scalar. [sfu]

    Returns
    -------
    r12 : numpy.ndarray
        Shape (T,), 0 to 250, old scale. With the table's flux of a month it is the
        table's R12, and the index by `ig12_at` is the month's own.

    Notes
    -----
    .. math:: F - F_m + F(R_m) = 62.85 + 0.9276 R_{12} + 1.094\times10^{-4} R_{12}^2

    with :math:`F_m` and :math:`R_m` of the table: flux and sunspots have drifted apart
    since the 1960s, and a month keeps its drift. The relation is fitted to the same
    months as the index, rms 6.4 sfu.

    Examples
    --------
    >>> r12_from_flux(np.datetime64("2025-12-15T12"), [140.98, 160.0]).round(1)
    array([74.8, 94.9])
    """
    months, _, off, _ = _departures()
    drift = np.interp(_seconds(times), months, off, left=0.0, right=0.0)
    over = np.asarray(flux_sfu, dtype=np.float64) - drift - 62.8518
    root = np.sqrt(np.maximum(0.927598**2 + 4.0 * 0.000109429 * over, 0.0))
    return np.clip((root - 0.927598) / (2.0 * 0.000109429), 0.0, MOST_R12)
