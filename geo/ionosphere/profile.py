r"""
Electron density over height: E layer, F1 ledge and F2 layer as quasi-parabolic pieces.

A piece is called quasi-parabolic where the square of the plasma frequency is a
quadratic in the reciprocal of the distance from the Earth's centre: through such a
piece a ray is known in closed form (`geo.ionosphere.rays`). Six pieces always, so that
arrays have one shape by day and by night:

===== ==================== ==========================================================
piece name                 what it is
===== ==================== ==========================================================
0     E                    from the bottom of the E layer to its peak
1, 2  ledge below the node from the E peak to the F1 node, a join of two halves
3, 4  ledge above the node from the F1 node to the foot of F2, a join of two halves
5     F2                   from the foot to the peak
===== ==================== ==========================================================

Value and slope are continuous at every edge; the density never falls with height. A
valley between E and F is left out: monthly medians do not tell of it, and it lengthens
only rays just steeper than those the E layer turns. There is no topside: nothing is
turned above the F2 peak.

Quadratics of the reciprocal radius: Croft and Hoogasian, Radio Science 3, 69 (1968);
several pieces: Hill, Radio Science 14, 855 (1979); smooth joins: Dyson and Bennett,
J. Atmos. Terr. Phys. 50, 251 (1988). Parabolic E and F2 layers with a ledge to 1.7 foE
between them: Bradley and Dudeney, J. Atmos. Terr. Phys. 35, 2131 (1973) (from memory).
Heights of the F1 node and of the foot are the project's choice.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.records import ArrayRecord
from geo.sphere import EARTH_RADIUS_KM

E_PEAK_KM, E_SEMI_KM = 110.0, 20.0
"""Height of the E peak and semi-thickness below it (Bradley and Dudeney 1973, from
memory). [km]"""

F2_SEMI_SHARE = 0.30
"""Semi-thickness of the F2 layer over the height of its peak; 0.2 to 0.35 would do.
The project's choice: M(3000) does not fix it. From 60 to 95 km the skip distance
grows by 3 % and the MUF over 1000 km falls by 2 %."""

LAYER_TOPS = (0, 2, 3, 5)
"""Last piece of the E layer, of the ledge up to the F1 node, of the lower half of the
join above it, and of F2 with the upper half."""

FOE_AT_MOST = 0.9
"""foE over foF2 beyond which foE is held."""

_FOOT_SHARE, _FOOT_OVER_FOE, _FOOT_OVER_FOF1 = 0.92, 1.7, 1.15
_LOWEST_FOOT, _LEDGE_SHARE = 0.15, 0.7
_NODE_OVER_FOE, _NODE_UNDER_FOOT = 1.05, 0.95


class Profile(ArrayRecord):
    """
    Plasma frequency over height, S pieces for each of an array of places.

    Inside piece i, with ``t = edge[i] - R/r`` counted upwards, the square of the
    plasma frequency is ``value[i] + slope[i] t + curve[i] t**2``.

    Attributes
    ----------
    edge : numpy.ndarray
        Edges from the bottom up, Earth's radius over distance from its centre, so
        that they fall; (S + 1, ...).
    value, slope, curve : numpy.ndarray
        Coefficients at the lower edge of each piece, (S, ...). [MHz²]
    tops : tuple of int
        Last piece of each layer, `LAYER_TOPS` but for made-up profiles.
    """

    edge: NDArray[np.float64]
    value: NDArray[np.float64]
    slope: NDArray[np.float64]
    curve: NDArray[np.float64]
    tops: tuple[int, ...] = LAYER_TOPS

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the array of places."""
        return self.edge.shape[1:]

    @property
    def pieces(self) -> int:
        """How many pieces there are."""
        return len(self.value)

    def each(
        self, change: Callable[[NDArray[np.float64]], NDArray[np.float64]]
    ) -> Profile:
        """
        Return the profile with one and the same done to all its arrays.

        Parameters
        ----------
        change : callable
            What to do to each.
        """
        return Profile(
            change(self.edge),
            change(self.value),
            change(self.slope),
            change(self.curve),
            self.tops,
        )

    def __getitem__(self, key: Any) -> Profile:
        """Index the places as an array; ``profile[..., None]`` adds an axis."""
        whole = (slice(None), *(key if isinstance(key, tuple) else (key,)))
        return self.each(lambda part: part[whole])

    def up_to(self, layer: int) -> Profile:
        """
        Return what lies below the top of a layer.

        Parameters
        ----------
        layer : int
            Index into ``tops``.
        """
        count = self.tops[layer] + 1
        return Profile(
            self.edge[: count + 1],
            self.value[:count],
            self.slope[:count],
            self.curve[:count],
            self.tops[: layer + 1],
        )

    def edge_km(self) -> NDArray[np.float64]:
        """Return the heights of the edges, (S + 1, ...), in km."""
        return np.asarray(EARTH_RADIUS_KM / self.edge - EARTH_RADIUS_KM)

    def plasma_mhz(self, height_km: ArrayLike) -> NDArray[np.float64]:
        """
        Plasma frequency at a height.

        Parameters
        ----------
        height_km : array_like
            Height above the ground; broadcasts with the places. [km]

        Returns
        -------
        plasma_mhz : numpy.ndarray
            0 below the E layer, the peak's value above the F2 peak. [MHz]
        """
        at = EARTH_RADIUS_KM / (EARTH_RADIUS_KM + np.asarray(height_km, dtype=float))
        at = np.broadcast_to(at, np.broadcast_shapes(at.shape, self.shape))
        squared = np.where(np.isnan(self.edge[0]), np.nan, np.zeros(at.shape))
        for i in range(self.pieces):
            t = self.edge[i] - np.maximum(at, self.edge[i + 1])
            inside = self.value[i] + (self.slope[i] + self.curve[i] * t) * t
            squared = np.where(t >= 0.0, inside, squared)
        return np.sqrt(np.maximum(squared, 0.0))


def layered_profile(
    foe_mhz: ArrayLike,
    fof1_mhz: ArrayLike,
    fof2_mhz: ArrayLike,
    hmf2_km: ArrayLike,
    semi_f2_km: ArrayLike | None = None,
    f1_share: ArrayLike | None = None,
) -> Profile:
    r"""
    Build the profile from the critical frequencies and the height of the F2 peak.

    Parameters
    ----------
    foe_mhz : array_like
        Critical frequency of the E layer, positive; held at 0.9 foF2. [MHz]
    fof1_mhz : array_like
        Critical frequency of the F1 layer; NaN where there is none. [MHz]
    fof2_mhz : array_like
        Critical frequency of the F2 layer, positive. [MHz]
    hmf2_km : array_like
        Height of the F2 peak, above 160. [km]
    semi_f2_km : array_like, optional
        Semi-thickness of the F2 layer; `F2_SEMI_SHARE` of the height by default.
        [km]
    f1_share : array_like, optional
        How far the F1 layer stands out: 1 a true ledge with the density's slope zero
        at its top, 0 a straight rise from E to F2. By default 1 where foF1 is a
        number (see `f1_share`). All six broadcast.

    Returns
    -------
    profile : Profile
        NaN where an input other than foF1 is out of range.

    Notes
    -----
    A layer is :math:`f_N^2 = f_o^2 - C (\sigma - \sigma_m)^2` with
    :math:`\sigma = R/r`, :math:`C = f_o^2/(\sigma_b - \sigma_m)^2`, which is the
    quasi-parabola :math:`f_o^2[1 - ((r-r_m) r_b / (y_m r))^2]`.

    The foot of F2 is where its layer has the square of 1.7 foE or, if that is more,
    1.15 foF1²; at most 0.92 foF2². It is kept at least 0.15 of the way up from the E
    peak to the F2 peak, by a thinner layer if need be. The F1 node is half way between
    the peaks, at most 0.7 of the way to the foot.

    Examples
    --------
    A summer noon:

    >>> noon = layered_profile(3.46, 4.8, 6.1, 270.0, 75.0)
    >>> noon.edge_km().round(1)
    array([ 90. , 110. , 149.8, 190. , 219.2, 248.6, 270. ])
    >>> noon.plasma_mhz([80.0, 110.0, 190.0, 270.0]).round(2)
    array([0.  , 3.46, 4.8 , 6.1 ])
    """
    fof1 = np.asarray(fof1_mhz, dtype=float)
    semi_km = np.multiply(F2_SEMI_SHARE, hmf2_km) if semi_f2_km is None else semi_f2_km
    foe, fof1, fof2, hm, semi, share = np.broadcast_arrays(
        np.asarray(foe_mhz, dtype=float),
        fof1,
        np.asarray(fof2_mhz, dtype=float),
        np.asarray(hmf2_km, dtype=float),
        np.asarray(semi_km, dtype=float),
        np.asarray(np.isfinite(fof1) if f1_share is None else f1_share, dtype=float),
    )
    share = np.where(np.isfinite(fof1), np.clip(share, 0.0, 1.0), 0.0)
    usable = (foe > 0.0) & (fof2 > 0.0) & (hm > E_PEAK_KM + 50.0) & (semi > 0.0)
    usable &= semi < hm
    fof2_sq = np.where(usable, fof2, np.nan) ** 2
    foe_sq = np.minimum(foe**2, FOE_AT_MOST**2 * fof2_sq)
    f1_sq = np.where(share > 0.0, np.nan_to_num(fof1), 0.0) ** 2

    bottom, e_peak = _sigma(E_PEAK_KM - E_SEMI_KM), _sigma(E_PEAK_KM)
    peak = _sigma(hm)
    curve_e = foe_sq / (bottom - e_peak) ** 2
    curve_f2 = fof2_sq / (_sigma(hm - semi) - peak) ** 2

    foot_sq = np.maximum(_FOOT_OVER_FOE**2 * foe_sq, _FOOT_OVER_FOF1 * share * f1_sq)
    foot_sq = np.minimum(foot_sq, _FOOT_SHARE * fof2_sq)
    foot = peak + np.sqrt((fof2_sq - foot_sq) / curve_f2)
    foot = np.minimum(foot, e_peak - _LOWEST_FOOT * (e_peak - peak))
    curve_f2 = (fof2_sq - foot_sq) / (foot - peak) ** 2

    foot_km = EARTH_RADIUS_KM / foot - EARTH_RADIUS_KM
    node_km = E_PEAK_KM + _LEDGE_SHARE * (foot_km - E_PEAK_KM)
    node = _sigma(np.minimum(0.5 * (E_PEAK_KM + hm), node_km))
    rise = (foot_sq - foe_sq) / (e_peak - foot)
    straight_sq = foe_sq + rise * (e_peak - node)
    f1_sq = np.clip(f1_sq, _NODE_OVER_FOE * foe_sq, _NODE_UNDER_FOOT * foot_sq)
    node_sq = straight_sq + share * (f1_sq - straight_sq)
    node_slope = (1.0 - share) * rise
    foot_slope = 2.0 * curve_f2 * (foot - peak)

    zero = np.zeros(usable.shape)
    first = (zero, 2.0 * curve_e * (bottom - e_peak), -curve_e)
    last = (foot_sq, foot_slope, -curve_f2)
    below, lower, upper = _join(e_peak, foe_sq, zero, node, node_sq, node_slope)
    above, third, fourth = _join(node, node_sq, node_slope, foot, foot_sq, foot_slope)
    edges = (bottom, e_peak, below, node, above, foot, peak)
    value, slope, curve = (
        np.stack(part)
        for part in zip(first, lower, upper, third, fourth, last, strict=True)
    )
    edge = np.stack([np.where(usable, each, np.nan) for each in edges])
    return Profile(edge, value, slope, curve)


def single_layer(
    critical_mhz: ArrayLike, peak_km: ArrayLike, semi_km: ArrayLike
) -> Profile:
    """
    Build a profile of one quasi-parabolic layer with nothing below it.

    Parameters
    ----------
    critical_mhz : array_like
        Critical frequency. [MHz]
    peak_km, semi_km : array_like
        Height of the peak and semi-thickness. All broadcast. [km]

    Returns
    -------
    profile : Profile
        Of a single piece.

    Examples
    --------
    >>> single_layer(7.0, 300.0, 80.0).plasma_mhz([220.0, 300.0]).round(2)
    array([0., 7.])
    """
    critical, top, semi = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (critical_mhz, peak_km, semi_km))
    )
    bottom, peak = _sigma(top - semi), _sigma(top)
    curve = critical**2 / (bottom - peak) ** 2
    return Profile(
        np.stack([bottom, peak]),
        np.zeros((1, *critical.shape)),
        2.0 * curve[None] * (bottom - peak),
        -curve[None],
        tops=(0,),
    )


def f1_share(zenith_deg: ArrayLike, limit_deg: ArrayLike) -> NDArray[np.float64]:
    """
    How far the F1 layer stands out as the sun goes down.

    Parameters
    ----------
    zenith_deg : array_like
        Zenith angle of the sun. [deg]
    limit_deg : array_like
        Largest zenith angle with an F1 layer; broadcasts. [deg]

    Returns
    -------
    share : numpy.ndarray
        1 up to 10 deg before the limit, from there smoothly to 0, so that no ray
        jumps between one hour and the next (the project's choice).

    Examples
    --------
    >>> f1_share([40.0, 60.0, 65.0, 70.0], 70.0)
    array([1. , 1. , 0.5, 0. ])
    """
    left = (np.asarray(limit_deg, dtype=float) - np.asarray(zenith_deg, float)) / 10.0
    part = np.clip(left, 0.0, 1.0)
    return np.asarray(part * part * (3.0 - 2.0 * part))


def hmf2_km(
    m3000f2: ArrayLike, fof2_mhz: ArrayLike, foe_mhz: ArrayLike, r12: ArrayLike
) -> NDArray[np.float64]:
    r"""
    Height of the F2 peak by the published formula.

    Parameters
    ----------
    m3000f2 : array_like
        M(3000)F2, about 2 to 4.
    fof2_mhz, foe_mhz : array_like
        Critical frequencies; their ratio x is taken as 1.8 where smaller. [MHz]
    r12 : array_like
        Smoothed sunspot number, old scale. All broadcast.

    Returns
    -------
    height_km : numpy.ndarray
        Height of the peak. [km]

    Notes
    -----
    .. math:: h_m = \frac{1490}{M + \Delta M} - 176,\quad
              \Delta M = \frac{0.18}{x-1.4} + \frac{0.096\,(R_{12}-25)}{150}

    References
    ----------
    ITU-R P.1239-3, section 2, after Bradley and Dudeney (from memory).

    Examples
    --------
    >>> hmf2_km(3.0, 8.0, 2.0, 60.0).round(0)
    np.float64(306.)
    """
    ratio = np.asarray(fof2_mhz, dtype=float) / np.asarray(foe_mhz, dtype=float)
    lift = 0.18 / (np.maximum(ratio, 1.8) - 1.4)
    lift = lift + 0.096 * (np.asarray(r12, dtype=float) - 25.0) / 150.0
    return np.asarray(1490.0 / (np.asarray(m3000f2, dtype=float) + lift) - 176.0)


def _sigma(height_km: ArrayLike) -> NDArray[np.float64]:
    """Earth's radius over the distance from its centre."""
    return EARTH_RADIUS_KM / (EARTH_RADIUS_KM + np.asarray(height_km, dtype=float))


_Piece = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]


def _join(
    low: NDArray[np.float64],
    low_sq: NDArray[np.float64],
    low_slope: NDArray[np.float64],
    high: NDArray[np.float64],
    high_sq: NDArray[np.float64],
    high_slope: NDArray[np.float64],
) -> tuple[NDArray[np.float64], _Piece, _Piece]:
    """
    Join two nodes by two quadratics that meet them and each other smoothly.

    The knot is half way, or higher where the upper end is so steep that a knot half
    way would ask the density to fall below it.
    """
    length = low - high
    mean = (high_sq - low_sq) / length
    with np.errstate(divide="ignore", invalid="ignore"):
        upper = np.where(high_slope > 0.0, np.minimum(0.5, mean / high_slope), 0.5)
    part = length * (1.0 - upper)
    middle = 2.0 * mean - low_slope * (1.0 - upper) - high_slope * upper
    first = (middle - low_slope) / (2.0 * part)
    second = (high_slope - middle) / (2.0 * (length - part))
    knot_sq = low_sq + (low_slope + first * part) * part
    return low - part, (low_sq, low_slope, first), (knot_sq, middle, second)
