"""
A wire's pattern over the hills around it, by true bearing.

The pattern over flat ground says how strong the wire is; `advisor.antenna.terrain` says
what the ground of each bearing makes of a source at its height. Nearly flat from 60
degrees up, where only the slope under the wire is left, it goes over to the flat one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from hashlib import sha256
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from advisor.antenna.closedform import wavelength_m
from advisor.antenna.ground import Ground, ground_by_name
from advisor.antenna.pattern import Pattern, standard_grid
from advisor.antenna.solver.cache import identity
from advisor.antenna.solver.cache_files import Arrays, fetch, keep
from advisor.antenna.terrain import field_over
from geo.arrays import Floats
from geo.terrain import BEARINGS_DEG, Terrain

_SPREAD_DEG = 1.0 / 3.0
"""Fringes of far valleys are a fraction of a degree wide; rays of one mode spread as
much from day to day, so that power is a mean over the step up and down. [deg]"""

_FINE_TO_DEG, _FADE_DEG = 15.0, 60.0

_LEAST_OF_PEAK = 0.25
"""What the flat pattern would be without its ground is not read off its nulls."""

_HEIGHT_STEP = 1.05
"""Ratio of the heights that tables are kept for: what counts is the ratio of two fields
at the same height."""

_LEAST_WAVES = 0.02
"""Least height of a source, in wavelengths: nearer the ground all fields are alike."""

_UP_DEG, _TRUE_DEG = standard_grid()


@dataclass(frozen=True, eq=False)
class Hills:
    """
    Power of a source over that of its direct ray, on one frequency.

    Attributes
    ----------
    vertical, horizontal : numpy.ndarray
        Shape (91, 180), at elevations of 0 to 90 and true bearings of 0 to 358.
    flat_vertical, flat_horizontal : numpy.ndarray
        Shape (91,), over flat ground.
    """

    vertical: Floats
    horizontal: Floats
    flat_vertical: Floats
    flat_horizontal: Floats

    def more(
        self,
        pattern: Pattern,
        takeoff_deg: ArrayLike,
        azimuth_deg: ArrayLike,
        bearing_deg: ArrayLike,
    ) -> Floats:
        """
        Gain that the hills add to a wire's own.

        Parameters
        ----------
        pattern : Pattern
            Over flat ground, on the standard elevations.
        takeoff_deg : array_like
            Elevation, 0 to 90. [deg]
        azimuth_deg : array_like
            Direction from the wire's bearing. [deg]
        bearing_deg : array_like
            The same direction from true north. [deg]

        Returns
        -------
        gain : numpy.ndarray
            Ratio over isotropic, negative where the hills take. Power that they send
            elsewhere is not taken from the rest.
        """
        parts = self.parts(pattern, takeoff_deg, azimuth_deg, bearing_deg)
        vertical, horizontal = (
            free * change for free, change in zip(*parts, strict=True)
        )
        return np.asarray(vertical + horizontal)

    def parts(
        self,
        pattern: Pattern,
        takeoff_deg: ArrayLike,
        azimuth_deg: ArrayLike,
        bearing_deg: ArrayLike,
    ) -> tuple[Floats, Floats]:
        """
        Take apart what the hills add, for whoever turns the wire over them.

        Parameters
        ----------
        pattern : Pattern
            See `more`.
        takeoff_deg : array_like
            Elevation, 0 to 90. [deg]
        azimuth_deg : array_like
            Direction from the wire's bearing. [deg]
        bearing_deg : array_like
            The same direction from true north. [deg]

        Returns
        -------
        free, change : numpy.ndarray
            First axis vertical and horizontal: the wire's gain without its ground, by
            direction from its bearing, and what that is multiplied by, by true bearing.
            The sum of their products is what the hills add.
        """
        free, change = [], []
        for one, (hilly, flat) in zip(
            _without_ground(self, pattern), self._looked_up, strict=True
        ):
            free.append(one.gain(takeoff_deg, azimuth_deg))
            over = hilly.gain(takeoff_deg, bearing_deg)
            change.append(over - flat.gain(takeoff_deg, 0.0))
        return np.stack(free), np.stack(change)

    def more_around(self, pattern: Pattern, takeoff_deg: ArrayLike) -> Floats:
        """
        Gain that the hills add to a wire's own, a mean over all directions.

        Parameters
        ----------
        pattern : Pattern
            See `more`.
        takeoff_deg : array_like
            Elevation, 0 to 90. [deg]

        Returns
        -------
        gain : numpy.ndarray
            Ratio over isotropic.
        """
        total: Floats = np.zeros(())
        for free, (hilly, flat) in zip(
            _without_ground(self, pattern), self._looked_up, strict=True
        ):
            change = hilly.mean_over_azimuth().gain(takeoff_deg, 0.0)
            change = change - flat.gain(takeoff_deg, 0.0)
            total = total + free.mean_over_azimuth().gain(takeoff_deg, 0.0) * change
        return total

    @cached_property
    def _looked_up(self) -> tuple[tuple[Pattern, Pattern], ...]:
        """Tables as what can be looked up: over hills and flat, each polarisation."""
        around = np.ones(_TRUE_DEG.size)
        return tuple(
            (_table(hilly), _table(flat[:, None] * around))
            for hilly, flat in (
                (self.vertical, self.flat_vertical),
                (self.horizontal, self.flat_horizontal),
            )
        )


def _table(power: Floats) -> Pattern:
    """Put a table where it can be looked up between its points."""
    azimuth = np.linspace(0.0, 360.0, power.shape[1], endpoint=False)
    return Pattern(_UP_DEG, azimuth, power, np.zeros(power.shape), 0.0, 1.0)


@lru_cache(maxsize=256)
def _without_ground(hills: Hills, pattern: Pattern) -> tuple[Pattern, Pattern]:
    """Power of a wire's direct ray by polarisation, read off its flat pattern."""
    return (
        _table(_free(hills.flat_vertical) @ pattern.vertical),
        _table(_free(hills.flat_horizontal) @ pattern.horizontal),
    )


def hills_of(
    terrain: Terrain, pattern: Pattern, ground: Ground, cache_dir: Path | None = None
) -> Hills:
    """
    Work out what the hills make of a wire, once for each of its heights.

    Parameters
    ----------
    terrain : Terrain
        Ground around it.
    pattern : Pattern
        Of the wire over flat ground; says frequency and heights.
    ground : Ground
        Soil; a perfect conductor counts as sea.
    cache_dir : pathlib.Path, optional
        Where tables are kept between runs.

    Returns
    -------
    hills : Hills
        Of all bearings.
    """
    mhz = pattern.frequency_mhz
    centre = pattern.centre
    heights = tuple(_stepped(up, mhz) for up in (centre.upright_m, centre.level_m))
    key = (
        _mark(terrain),
        mhz,
        ground.eps_r,
        ground.sigma_s_m,
        heights,
        centre.is_level,
    )
    if key not in _kept:
        name = identity("hills", _source(), *key)
        found = fetch(cache_dir, name)
        if found is None:
            found = _worked_out(terrain, mhz, ground, heights, centre.is_level)
            keep(cache_dir, name, found)
        _kept[key] = Hills(*(np.asarray(found[each], float) for each in _TABLES))
    return _kept[key]


_TABLES = ("vertical", "horizontal", "flat_vertical", "flat_horizontal")

_kept: dict[tuple[object, ...], Hills] = {}
"""Tables while a program runs: who asks again need not know the directory."""


@cache
def _source() -> str:
    """Name the method by its own source, so that no edit is forgotten."""
    here = Path(__file__).parent
    return sha256(
        b"".join((here / f"{each}.py").read_bytes() for each in ("hills", "terrain"))
    ).hexdigest()[:16]


def _mark(terrain: Terrain) -> str:
    """Name a terrain by its heights."""
    return sha256(terrain.height_m.round(2).tobytes()).hexdigest()[:16]


def _stepped(height_m: float, mhz: float) -> float:
    """Take the nearest of the heights that tables are kept for."""
    least = _LEAST_WAVES * float(wavelength_m(mhz))
    steps = np.round(np.log(max(height_m, least)) / np.log(_HEIGHT_STEP))
    return float(_HEIGHT_STEP**steps)


def _worked_out(
    terrain: Terrain,
    mhz: float,
    ground: Ground,
    heights_m: tuple[float, ...],
    is_level: bool,
) -> Arrays:
    """Tables of one frequency: all bearings at once."""
    if ground.is_perfect:
        ground = ground_by_name("sea water")
    k = 2.0 * np.pi / float(wavelength_m(mhz))
    upright, level = heights_m
    apart = min(0.1 / k, 0.3 * level)
    sources = [level, level - apart, level + apart] if is_level else [level, upright]
    fine = np.arange(0.0, _FINE_TO_DEG, _SPREAD_DEG)
    angle = np.append(fine, np.arange(_FINE_TO_DEG, _FADE_DEG + 1.0, 2.5))
    angle = np.append(angle, 90.0)
    distance, height = terrain.slices()
    uneven = np.vstack([np.zeros(distance.size), height])
    vertical, horizontal = field_over(distance, uneven, sources, angle, mhz, ground)
    rise = np.sin(np.radians(angle))
    if is_level:
        # A level wire sends what is polarised vertically as the slope of its field.
        ahead = np.exp(1j * k * apart * rise)
        sent = vertical[:, 2] * ahead - vertical[:, 1] / ahead
        sent = sent / (2.0 * k * apart)
    else:
        sent = vertical[:, 1]
    found: Arrays = {}
    for name, field in (("vertical", sent), ("horizontal", horizontal[:, 0])):
        power = _smeared(angle, np.abs(field) ** 2)
        found[f"flat_{name}"] = power[0]
        change = (power[1:] - power[0]) * _fade()
        around = np.stack(
            [
                np.interp(_TRUE_DEG, BEARINGS_DEG, each, period=360.0)
                for each in change.T
            ]
        )
        found[name] = around + power[0][:, None]
    return found


def _smeared(angle_deg: Floats, power: Floats) -> Floats:
    """Mean of each degree and the steps beside it, (G, 91)."""
    found = np.empty((len(power), _UP_DEG.size))
    for row, each in zip(found, power, strict=True):
        steps = [
            np.interp(np.clip(_UP_DEG + step, 0.0, 90.0), angle_deg, each)
            for step in (-_SPREAD_DEG, 0.0, _SPREAD_DEG)
        ]
        row[:] = np.mean(steps, axis=0)
    found[:, 0] = power[:, 0]
    return found


def _fade() -> Floats:
    """Share of the hills at each elevation, (91,): all to 60 degrees, none overhead."""
    above = (_UP_DEG - _FADE_DEG) / (90.0 - _FADE_DEG)
    return np.asarray(np.cos(0.5 * np.pi * above.clip(0.0, 1.0)) ** 2)


def _free(flat: Floats) -> Floats:
    """Matrix that takes the ground out of a pattern, in and beside nulls by others."""
    first = int(np.argmax(np.diff(flat) < 0.0)) if (np.diff(flat) < 0.0).any() else 90
    clear = flat >= _LEAST_OF_PEAK * flat.max()
    clear[1 : first + 1] = True
    clear[0] = flat[0] > 0.01 * flat.max()
    at = np.flatnonzero(clear)
    pick = np.stack([np.interp(_UP_DEG, at, row) for row in np.eye(at.size)], axis=1)
    whole = np.zeros((flat.size, flat.size))
    whole[:, at] = pick / flat[at]
    return whole
