"""
What a set-up radiates: gain over elevation and azimuth, polarisations apart.

Every antenna part of the project, closed form or solved, ends in a `Pattern`.
It is computed once per set-up and band with the wire at bearing zero and then
*rotated* for every bearing that is tried.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Floats
from geo.fields import OrNothing, record

# Weakest gain reported in decibels: nulls are never perfect and JSON knows no
# infinity. [dBi]
FLOOR_DBI = -60.0

# A dip or rise round the horizon smaller than this is not a lobe. [dB]
_LEAST_LOBE_DB = 0.5

# Power balances of solved wires close to about 1e-5; above one by more than this
# is a mistake and not rounding.
_EFFICIENCY_SLACK = 1e-3


def standard_grid(
    elevation_step_deg: float = 1.0, azimuth_step_deg: float = 2.0
) -> tuple[Floats, Floats]:
    """
    Elevations and azimuths on which patterns are tabulated.

    Within the lobes of wires up to three wavelengths long or high, linear
    interpolation on the default grid is good to about 0.1 dB. Gain that rises from
    nothing at the horizon comes out up to 0.5 dB high between 1 and 2 degrees and
    3 dB high at half a degree.

    Parameters
    ----------
    elevation_step_deg, azimuth_step_deg : float, optional
        Wanted spacings, positive; rounded so that they divide 90 and 360. [deg]

    Returns
    -------
    elevation_deg : numpy.ndarray
        Shape (E,), from 0 to 90. [deg]
    azimuth_deg : numpy.ndarray
        Shape (A,), from 0, 360 left out. [deg]

    Examples
    --------
    >>> elevation_deg, azimuth_deg = standard_grid(30.0, 120.0)
    >>> elevation_deg, azimuth_deg
    (array([ 0., 30., 60., 90.]), array([  0., 120., 240.]))
    """
    steps_up = max(1, round(90.0 / elevation_step_deg))
    steps_round = max(1, round(360.0 / azimuth_step_deg))
    return (
        np.linspace(0.0, 90.0, steps_up + 1),
        np.linspace(0.0, 360.0, steps_round, endpoint=False),
    )


@dataclass(frozen=True)
class Peak:
    """
    Strongest direction of a pattern.

    Attributes
    ----------
    gain_dbi : float
        Gain there. [dBi]
    takeoff_deg : float
        Its elevation. [deg]
    azimuth_deg : float
        Its direction, clockwise from the wire's bearing; of several alike, the
        first. [deg]
    """

    gain_dbi: float
    takeoff_deg: float
    azimuth_deg: float


@record
class Lobes:
    """
    Where a pattern is strong and weak on one circle of constant elevation.

    Both lists are empty where the gain is the same all round.

    Attributes
    ----------
    maxima_deg : tuple of float
        Directions clockwise from the wire, strongest first, equals in rising order.
        [deg]
    maxima_dbi : tuple of float
        Their gains. [dBi]
    minima_deg : tuple of float
        Directions clockwise from the wire, weakest first. [deg]
    minima_dbi : tuple of float
        Their gains; minus infinity, written as null, where nothing is radiated. [dBi]
    """

    maxima_deg: tuple[float, ...]
    maxima_dbi: tuple[float, ...]
    minima_deg: tuple[float, ...]
    minima_dbi: tuple[OrNothing, ...]


@dataclass(frozen=True)
class Centre:
    """
    From how high a wire radiates, for the ground around it.

    Attributes
    ----------
    upright_m, level_m : float
        Mean height of its upright and of its level parts over the ground. [m]
    is_level : bool
        Whether it runs farther along than up, so that its vertical polarisation too is
        sent by level wire.
    """

    upright_m: float = 0.0
    level_m: float = 0.0
    is_level: bool = False


@dataclass(frozen=True, eq=False)
class Pattern:
    """
    Far-field gain of one set-up on one frequency, wire at bearing zero.

    The arrays are copied and read-only; two patterns are equal if they are the same
    object.

    Attributes
    ----------
    elevation_deg : numpy.ndarray
        Shape (E,), increasing from 0 to 90, evenly spaced, E >= 2. [deg]
    azimuth_deg : numpy.ndarray
        Shape (A,), clockwise from the wire's bearing, evenly spaced from 0,
        360 left out. [deg]
    vertical, horizontal : numpy.ndarray
        Shape (E, A): power gain over isotropic in each polarisation, as a ratio.
        Losses in conductor and ground are in it; those of transformer and line
        are not.
    efficiency : float
        Power that reaches the sky over power accepted by the wire, 0 to 1.
    frequency_mhz : float
        The frequency solved for. [MHz]
    centre : Centre
        From how high it radiates.

    Raises
    ------
    ValueError
        If a grid is uneven, a shape does not fit, or a value is negative or not
        finite: a mistake of the caller's, not of the user's.
    """

    elevation_deg: Floats
    azimuth_deg: Floats
    vertical: Floats
    horizontal: Floats
    efficiency: float
    frequency_mhz: float
    centre: Centre = Centre()
    _total: Floats = field(init=False)
    _cells: Floats = field(init=False)

    def __post_init__(self) -> None:
        for name in ("elevation_deg", "azimuth_deg", "vertical", "horizontal"):
            values = np.array(getattr(self, name), dtype=np.float64)
            values.flags.writeable = False
            object.__setattr__(self, name, values)
        _check_grid(self.elevation_deg, self.azimuth_deg)
        shape = (self.elevation_deg.size, self.azimuth_deg.size)
        for name in ("vertical", "horizontal"):
            values = getattr(self, name)
            if values.shape != shape:
                raise ValueError(f"{name} has shape {values.shape}, the grid {shape}")
            if not (np.isfinite(values).all() and (values >= 0.0).all()):
                raise ValueError(f"{name} must be finite and not negative")
        if not 0.0 <= self.efficiency <= 1.0 + _EFFICIENCY_SLACK:
            raise ValueError(f"efficiency {self.efficiency} is not within 0 to 1")
        if not 0.0 < self.frequency_mhz < np.inf:
            raise ValueError(f"frequency {self.frequency_mhz} MHz is not positive")
        total = self.vertical + self.horizontal
        object.__setattr__(self, "_total", total)
        object.__setattr__(self, "_cells", _bilinear_cells(total))

    def __repr__(self) -> str:
        peak = self.peak()
        return (
            f"Pattern({self.frequency_mhz:g} MHz, {peak.gain_dbi:.1f} dBi at "
            f"{peak.takeoff_deg:.0f} deg, efficiency {self.efficiency:.2f})"
        )

    def weakened_by(self, loss_db: float) -> Pattern:
        """
        Put a loss before the antenna.

        Parameters
        ----------
        loss_db : float
            Loss on the way to the wire. [dB]

        Returns
        -------
        pattern : Pattern
            The same with gain and efficiency less.
        """
        share = 10.0 ** (-loss_db / 10.0)
        return replace(
            self,
            vertical=share * self.vertical,
            horizontal=share * self.horizontal,
            efficiency=share * self.efficiency,
        )

    def mean_over_azimuth(self) -> Pattern:
        """
        Take the mean over all directions: a wire whose bearing is not known.

        Returns
        -------
        pattern : Pattern
            The same all round, with the same power.
        """
        ring = np.ones(self.azimuth_deg.size)
        return replace(
            self,
            vertical=self.vertical.mean(axis=1, keepdims=True) * ring,
            horizontal=self.horizontal.mean(axis=1, keepdims=True) * ring,
        )

    def gain(self, takeoff_deg: ArrayLike, azimuth_deg: ArrayLike) -> Floats:
        """
        Total power gain towards a direction, polarisations added as powers.

        The ionosphere scrambles polarisation, so the two parts count alike.
        Between grid points the ratio is interpolated linearly both ways.

        Parameters
        ----------
        takeoff_deg : array_like
            Elevation, 0 to 90. Broadcasts with ``azimuth_deg``. [deg]
        azimuth_deg : array_like
            Direction clockwise from the wire's bearing; any value. [deg]

        Returns
        -------
        gain : numpy.ndarray
            Ratio over isotropic; NaN where the elevation is outside 0 to 90 or an
            input is NaN.
        """
        shape = (self.elevation_deg.size - 1, self.azimuth_deg.size)
        return _bilinear(self._cells, shape, takeoff_deg, azimuth_deg)

    def gain_dbi(self, takeoff_deg: ArrayLike, azimuth_deg: ArrayLike) -> Floats:
        """
        Total power gain towards a direction in decibels.

        Parameters
        ----------
        takeoff_deg, azimuth_deg : array_like
            As in `gain`. [deg]

        Returns
        -------
        gain_dbi : numpy.ndarray
            Gain over isotropic, never under `FLOOR_DBI` (-60); NaN where `gain` is
            NaN. [dBi]
        """
        return gain_in_dbi(self.gain(takeoff_deg, azimuth_deg))

    def sky_power(self) -> float:
        """
        Integrate the gain over the upper hemisphere.

        Returns
        -------
        fraction : float
            Power sent to the sky over power accepted by the wire: what
            ``efficiency`` states, found from the pattern alone. On the standard grid
            good to 1 part in 1e4, over sea water with its steep rise to 2 in 1e3.
        """
        elevation = np.radians(self.elevation_deg)
        around = self._total.mean(axis=1)
        return 0.5 * float(np.trapezoid(around * np.cos(elevation), elevation))

    @property
    def is_round(self) -> bool:
        """Whether the gain is the same all round, so that turning changes nothing."""
        total = self.vertical + self.horizontal
        return bool(np.allclose(total, total[:, :1], rtol=1e-3, atol=1e-6))

    @property
    def is_reversible(self) -> bool:
        """Whether turning by 180 degrees changes nothing."""
        total = self.vertical + self.horizontal
        half, odd = divmod(self.azimuth_deg.size, 2)
        turned = np.roll(total, half, axis=1)
        return not odd and bool(np.allclose(total, turned, rtol=1e-3, atol=1e-6))

    def peak(self) -> Peak:
        """
        Strongest direction on the grid.

        Returns
        -------
        peak : Peak
            Gain, elevation and azimuth of the largest tabulated value.
        """
        total = self._total
        # Rounding must not decide between lobes that are alike by symmetry.
        alike = total >= total.max() * (1.0 - 1e-9)
        row, column = divmod(int(np.argmax(alike)), total.shape[1])
        return Peak(
            gain_dbi=float(gain_in_dbi(total[row, column])),
            takeoff_deg=float(self.elevation_deg[row]),
            azimuth_deg=float(self.azimuth_deg[column]),
        )

    def lobes(self, takeoff_deg: float) -> Lobes:
        """
        Directions of maxima and minima at one elevation.

        Parameters
        ----------
        takeoff_deg : float
            Elevation, 0 to 90. [deg]

        Returns
        -------
        lobes : Lobes
            Every rise and dip of 0.5 dB or more round the compass, placed between
            grid points by a parabola. Empty where the elevation is out of range.
        """
        cut = self.gain_dbi(takeoff_deg, self.azimuth_deg)
        maxima, minima = _turning_points(cut)
        step = 360.0 / cut.size
        places: dict[str, list[tuple[float, float]]] = {"max": [], "min": []}
        for kind, points, sign in (("max", maxima, -1.0), ("min", minima, 1.0)):
            for i in points:
                shift = _vertex(cut[i - 1], cut[i], cut[(i + 1) % cut.size])
                azimuth = (step * (i + shift)) % 360.0
                # Rounded, so that symmetric lobes count as equally strong.
                places[kind].append((sign * round(float(cut[i]), 6), azimuth))
            places[kind].sort()
        return Lobes(
            maxima_deg=tuple(azimuth for _, azimuth in places["max"]),
            maxima_dbi=tuple(-strength for strength, _ in places["max"]),
            minima_deg=tuple(azimuth for _, azimuth in places["min"]),
            minima_dbi=tuple(strength for strength, _ in places["min"]),
        )


def _check_grid(elevation_deg: Floats, azimuth_deg: Floats) -> None:
    """Raise unless the grid is the even one that the look-up relies on."""
    if elevation_deg.ndim != 1 or elevation_deg.size < 2:
        raise ValueError(
            f"elevation_deg has shape {elevation_deg.shape}, not (E >= 2,)"
        )
    if azimuth_deg.ndim != 1 or azimuth_deg.size < 1:
        raise ValueError(f"azimuth_deg has shape {azimuth_deg.shape}, not (A >= 1,)")
    even = np.linspace(0.0, 90.0, elevation_deg.size)
    if not np.allclose(elevation_deg, even, rtol=0.0, atol=1e-6):
        raise ValueError("elevation_deg must run evenly from 0 to 90")
    even = np.linspace(0.0, 360.0, azimuth_deg.size, endpoint=False)
    if not np.allclose(azimuth_deg, even, rtol=0.0, atol=1e-6):
        raise ValueError("azimuth_deg must run evenly from 0 and leave out 360")


def gain_in_dbi(ratio: ArrayLike) -> Floats:
    """
    Write a gain in decibels.

    Parameters
    ----------
    ratio : array_like
        Over isotropic.

    Returns
    -------
    gain_dbi : numpy.ndarray
        Never under `FLOOR_DBI`; NaN stays NaN. [dBi]
    """
    floor = 10.0 ** (FLOOR_DBI / 10.0)
    return np.asarray(10.0 * np.log10(np.maximum(ratio, floor)), dtype=np.float64)


def _vertex(left: float, middle: float, right: float) -> float:
    """Offset in steps of a parabola's turning point from its middle point."""
    curvature = left - 2.0 * middle + right
    if curvature == 0.0:
        return 0.0
    return float(np.clip(0.5 * (left - right) / curvature, -0.5, 0.5))


def _turning_points(cut: Floats) -> tuple[list[int], list[int]]:
    """
    Find the indices of the maxima and minima of a closed curve of decibels.

    One walk round from the greatest value: a turning point counts once the curve
    has left it by the least step, so ripple and rounding make none.
    """
    if np.isnan(cut).any():
        return [], []
    start = int(np.argmax(cut))
    maxima: list[int] = []
    minima: list[int] = []
    falling, extreme = True, start
    for step in range(1, cut.size + 1):
        i = (start + step) % cut.size
        change = cut[i] - cut[extreme]
        if (change < 0.0) if falling else (change > 0.0):
            extreme = i
        elif abs(change) >= _LEAST_LOBE_DB:
            (minima if falling else maxima).append(extreme)
            falling, extreme = not falling, i
    if minima:
        maxima.append(start)
    return sorted(set(maxima)), sorted(minima)


def _bilinear_cells(grid: Floats) -> Floats:
    """
    Coefficients of the four-corner blend in every cell of an even grid.

    Shape (4, (E - 1) * A): value at the lower first corner, its change upwards, its
    change in azimuth, and the twist. The last column of cells ends at the first
    azimuth.
    """
    along = np.roll(grid, -1, axis=1) - grid
    up = grid[1:] - grid[:-1]
    twist = along[1:] - along[:-1]
    return np.stack([part.ravel() for part in (grid[:-1], up, along[:-1], twist)])


def _bilinear(
    cells: Floats,
    shape: tuple[int, int],
    takeoff_deg: ArrayLike,
    towards_deg: ArrayLike,
) -> Floats:
    """
    Blend the corners of the cell each direction falls in; NaN off the sky.

    ``shape`` counts the cells upwards and round. Cell and fraction are found before
    broadcasting, so a few take-off angles against many bearings cost only the
    blend, which works in place: millions of directions are looked up at a time.
    """
    rows, columns = shape
    takeoff = np.asarray(takeoff_deg, dtype=np.float64)
    towards = np.asarray(towards_deg, dtype=np.float64)
    above_ground = (takeoff >= 0.0) & (takeoff <= 90.0)

    height = np.where(above_ground, takeoff, 0.0) * (rows / 90.0)
    row = np.minimum(height.astype(np.intp), rows - 1)
    # NaN from here on marks the bad elevations.
    up = np.where(above_ground, height - row, np.nan)

    known = np.isfinite(towards)
    turn = np.where(known, towards, 0.0) * (1.0 / 360.0)
    turn = (turn - np.floor(turn)) * columns
    column = np.minimum(turn.astype(np.intp), columns - 1)
    along = np.where(known, turn - column, np.nan)

    cell = np.atleast_1d(row * columns + column)
    gain: Floats = cells[3].take(cell)
    gain *= along
    gain += cells[1].take(cell)
    gain *= up
    change = cells[2].take(cell)
    change *= along
    gain += change
    gain += cells[0].take(cell)
    # Rounding must not turn a null negative.
    np.maximum(gain, 0.0, out=gain)
    return gain.reshape(np.broadcast_shapes(takeoff.shape, towards.shape))
