"""
The ground around a place: elevation tiles of the user's, profiles, the skyline.

Tiles are read from ``.hgt`` files and from plain GeoTIFF in latitude and longitude.
Heights of a `Terrain` are over the ground at the place itself.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from geo.arrays import Floats
from geo.errors import InputError
from geo.records import ContentRecord
from geo.sphere import EARTH_RADIUS_KM, destination

BEARINGS_DEG = np.arange(0.0, 360.0, 5.0)
"""Bearings on which profiles are taken. [deg]"""

DISTANCES_M = np.concatenate(
    [np.arange(10.0, 200.0, 10.0), np.geomspace(200.0, 20_000.0, 100)]
)
"""Distances at which they are taken: farther off the pattern of a wire is that of the
skyline. [m]"""

LEAST_REACH_M = 2000.0
"""A tile must reach as far on every bearing. [m]"""

EYE_M = 5.0
"""Height over the ground from which the skyline is told. [m]"""

RAY_BENDING = 4.0 / 3.0
"""Radius of the Earth over which rays near the ground are straight, over the true one:
ITU-R P.310 (from memory)."""

_HGT_NAME = re.compile(r"([NS])(\d{2})([EW])(\d{3})", re.IGNORECASE)
_HGT_SIDES = {2 * side * side: side for side in (1201, 3601)}
_HGT_VOID = -32768
_MOST_PIXELS = 120_000_000
_HIGHEST_M, _LOWEST_M = 9000.0, -500.0

_SCALE, _TIE, _KEYS, _NO_DATA = 33550, 33922, 34735, 42113
_MODEL, _RASTER = 1024, 1025
_GEOGRAPHIC, _AREA = 2, 1


@dataclass(frozen=True, eq=False)
class Tile:
    """
    Heights on an even grid of latitude and longitude.

    Attributes
    ----------
    name : str
        Name of the file.
    height_m : numpy.ndarray
        Shape (rows, columns) from the north-west; what is no height counts as a void.
        [m]
    north_deg, west_deg : float
        Place of the first height. [deg]
    step_lat_deg, step_lon_deg : float
        Between neighbours, positive. [deg]
    void : float
        Stands for no height.
    """

    name: str
    height_m: np.ndarray
    north_deg: float
    west_deg: float
    step_lat_deg: float
    step_lon_deg: float
    void: float

    def at(self, lat_deg: ArrayLike, lon_deg: ArrayLike) -> tuple[Floats, Floats]:
        """
        Height in some places, between four neighbours.

        Parameters
        ----------
        lat_deg, lon_deg : array_like
            Where. [deg]

        Returns
        -------
        height_m : numpy.ndarray
            NaN outside the tile and beside a void. [m]
        is_inside : numpy.ndarray of bool
            Whether it is inside.
        """
        rows, columns = self.height_m.shape
        down = (self.north_deg - np.asarray(lat_deg, dtype=float)) / self.step_lat_deg
        along = (np.asarray(lon_deg, dtype=float) - self.west_deg) / self.step_lon_deg
        # A grid's own edge may be missed by rounding.
        inside = (down > -1e-6) & (down < rows - 1 + 1e-6)
        inside &= (along > -1e-6) & (along < columns - 1 + 1e-6)
        row = np.clip(np.where(inside, down, 0.0), 0.0, rows - 1.0)
        column = np.clip(np.where(inside, along, 0.0), 0.0, columns - 1.0)
        i = np.minimum(row.astype(int), rows - 2)
        j = np.minimum(column.astype(int), columns - 2)
        v, u = row - i, column - j
        total = np.zeros(row.shape)
        for di, dj, weight in (
            (0, 0, (1 - v) * (1 - u)),
            (0, 1, (1 - v) * u),
            (1, 0, v * (1 - u)),
            (1, 1, v * u),
        ):
            height = self.height_m[i + di, j + dj].astype(float)
            known = (height != self.void) & (height > _LOWEST_M) & (height < _HIGHEST_M)
            total += np.where(weight > 0.0, weight * np.where(known, height, np.nan), 0)
        return np.where(inside, total, np.nan), inside


def read_tile(path: Path) -> Tile:
    """
    Read an elevation tile.

    Parameters
    ----------
    path : pathlib.Path
        A file ``N36W085.hgt`` of 1201 or 3601 heights a side, or a GeoTIFF in degrees.

    Returns
    -------
    tile : Tile
        Heights and where they are.

    Raises
    ------
    InputError
        If it cannot be read, is of another size or is not in latitude and longitude.
    """
    kind = path.suffix.lower()
    if kind not in (".hgt", ".tif", ".tiff"):
        raise InputError(
            f"elevation tile {path.name}: give a .hgt file or a GeoTIFF (.tif)"
        )
    try:
        return _read_hgt(path) if kind == ".hgt" else _read_geotiff(path)
    except OSError as error:
        reason = error.strerror or "it is no whole file of its kind"
        raise InputError(f"cannot read elevation tile {path}: {reason}") from error


def _read_hgt(path: Path) -> Tile:
    """Read the heights of one square degree, big-endian, named by its corner."""
    corner = _HGT_NAME.match(path.name)
    if corner is None:
        raise InputError(
            f"elevation tile {path.name}: the name of a .hgt file says its south-west "
            "corner, such as N36W085.hgt"
        )
    size = path.stat().st_size
    side = _HGT_SIDES.get(size)
    if side is None:
        wanted = " or ".join(map(str, _HGT_SIDES))
        raise InputError(
            f"elevation tile {path.name} has {size} bytes: {wanted} are a whole tile "
            "of 1201 or 3601 heights a side; fetch it again"
        )
    south = float(corner[2]) * (1.0 if corner[1].upper() == "N" else -1.0)
    west = float(corner[4]) * (1.0 if corner[3].upper() == "E" else -1.0)
    height = np.memmap(path, dtype=">i2", mode="r", shape=(side, side))
    step = 1.0 / (side - 1)
    return Tile(path.name, height, south + 1.0, west, step, step, _HGT_VOID)


def _read_geotiff(path: Path) -> Tile:
    """Read heights from a GeoTIFF: OGC 19-008r4 for its tags (from memory)."""
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(path) as image:
            pixels = image.size[0] * image.size[1]
            if pixels > _MOST_PIXELS:
                raise InputError(
                    f"elevation tile {path.name} has {pixels} heights: cut out at most "
                    f"{_MOST_PIXELS}"
                )
            tags = dict(getattr(image, "tag_v2", {}))
            height = np.asarray(image)
    except (UnidentifiedImageError, Image.DecompressionBombError, SyntaxError) as error:
        raise InputError(
            f"elevation tile {path.name} is no GeoTIFF that can be read"
        ) from error
    keys = np.asarray(tags.get(_KEYS, ()), dtype=int)
    keys = keys[4 : keys.size // 4 * 4].reshape(-1, 4)
    geo = {int(key): int(value) for key, where, _, value in keys if where == 0}
    if height.ndim != 2 or min(height.shape) < 2:
        raise InputError(f"elevation tile {path.name} is a picture: give heights")
    if _SCALE not in tags or _TIE not in tags or geo.get(_MODEL) != _GEOGRAPHIC:
        raise InputError(
            f"elevation tile {path.name} is not laid out in latitude and longitude: "
            "convert it to WGS 84 degrees"
        )
    step_lon, step_lat = (float(each) for each in tags[_SCALE][:2])
    column, row, _, lon, lat = (float(each) for each in tags[_TIE][:5])
    if not (step_lon > 0.0 and step_lat > 0.0 and abs(lat) <= 90.0):
        raise InputError(f"elevation tile {path.name} says no sound place on Earth")
    # Heights that stand for areas stand for their middles.
    middle = 0.5 if geo.get(_RASTER, _AREA) == _AREA else 0.0
    try:
        void = float(str(tags.get(_NO_DATA, _HGT_VOID)).strip(" \0"))
    except ValueError:
        void = float(_HGT_VOID)
    return Tile(
        path.name,
        height,
        lat + (row - middle) * step_lat,
        lon + (middle - column) * step_lon,
        step_lat,
        step_lon,
        void,
    )


class Terrain(ContentRecord):
    """
    Height of the ground around a place.

    Attributes
    ----------
    distance_m : numpy.ndarray
        Shape (D,), rising from above 0. [m]
    height_m : numpy.ndarray
        Shape (72, D), over the ground at the place, on each of `BEARINGS_DEG`. Beyond
        the last point that is known it is level. [m]
    reach_m : float
        As far it is known on every bearing. [m]
    source : str
        Where it is from.
    """

    distance_m: Floats
    height_m: Floats
    reach_m: float
    source: str

    def __str__(self) -> str:
        return self.source

    def slices(self) -> tuple[Floats, Floats]:
        """
        Lay the ground behind and ahead in one row, for each bearing.

        Returns
        -------
        distance_m : numpy.ndarray
            Shape (2 D + 1,), negative behind. [m]
        height_m : numpy.ndarray
            Shape (72, 2 D + 1). [m]
        """
        behind = np.roll(self.height_m, len(BEARINGS_DEG) // 2, axis=0)[:, ::-1]
        foot = np.zeros((len(self.height_m), 1))
        distance = self.distance_m
        return (
            np.concatenate([-distance[::-1], [0.0], distance]),
            np.hstack([behind, foot, self.height_m]),
        )

    def seen_from(self, azimuth_deg: float, distance_m: float) -> Terrain:
        """
        Take the profiles around a point near by.

        Parameters
        ----------
        azimuth_deg, distance_m : float
            Where it lies from the place. [deg], [m]

        Returns
        -------
        terrain : Terrain
            Between the profiles there are, over the ground at that point.

        Examples
        --------
        >>> plane = terrain_of_points([(0, 100, -20), (180, 100, 20)])
        >>> moved = plane.seen_from(180, 50)
        >>> [float(h) for h in moved.height_m[[0, 36], 4].round(1)]
        [-10.0, 10.0]
        """
        spot = distance_m * np.exp(1j * np.radians(azimuth_deg))
        at = spot + self.distance_m * np.exp(1j * np.radians(BEARINGS_DEG))[:, None]
        height = self._height_at(np.angle(at, deg=True), np.abs(at))
        foot = self._height_at(azimuth_deg, distance_m)
        return Terrain(self.distance_m, height - foot, self.reach_m, self.source)

    def _height_at(self, azimuth_deg: ArrayLike, distance_m: ArrayLike) -> Floats:
        """Height between four points of the profiles."""
        around = np.vstack([self.height_m, self.height_m[:1]])
        around = np.hstack([np.zeros((len(around), 1)), around])
        turn = np.asarray(azimuth_deg) % 360.0 / (BEARINGS_DEG[1] - BEARINGS_DEG[0])
        far = np.append(0.0, self.distance_m)
        along = np.interp(np.asarray(distance_m, float), far, np.arange(far.size))
        i = np.minimum(turn.astype(int), len(BEARINGS_DEG) - 1)
        j = np.minimum(along.astype(int), far.size - 2)
        v, u = turn - i, along - j
        near = around[i, j] * (1.0 - u) + around[i, j + 1] * u
        next_to = around[i + 1, j] * (1.0 - u) + around[i + 1, j + 1] * u
        return np.asarray(near * (1.0 - v) + next_to * v)

    def skyline(self) -> tuple[tuple[float, float], ...]:
        """
        Elevation of the horizon by azimuth.

        Returns
        -------
        skyline : tuple of (float, float)
            Azimuth and elevation, 0 where the ground falls away. [deg]
        """
        radius_m = 1e3 * RAY_BENDING * EARTH_RADIUS_KM
        bulge = 0.5 * self.distance_m**2 / radius_m
        seen = (self.height_m - EYE_M - bulge) / self.distance_m
        top = np.degrees(np.arctan(seen.max(axis=1).clip(min=0.0)))
        return tuple(
            (float(azimuth), round(float(up), 2))
            for azimuth, up in zip(BEARINGS_DEG, top, strict=True)
        )


def terrain_around(tiles: Sequence[Tile], lat_deg: float, lon_deg: float) -> Terrain:
    """
    Take the profiles around a place from elevation tiles.

    Parameters
    ----------
    tiles : sequence of Tile
        Any number; the first that covers a point counts.
    lat_deg, lon_deg : float
        The place, to ten metres or so. [deg]

    Returns
    -------
    terrain : Terrain
        To 20 km, or as far as the tiles reach.

    Raises
    ------
    InputError
        If the place is outside, too near an edge, or a void is in the way.
    """
    names = ", ".join(tile.name for tile in tiles)
    far = np.concatenate([[0.0], DISTANCES_M])
    lat, lon = destination(lat_deg, lon_deg, BEARINGS_DEG[:, None], 1e-3 * far)
    height, inside = np.full(lat.shape, np.nan), np.zeros(lat.shape, dtype=bool)
    for tile in tiles:
        here, covered = tile.at(lat, lon)
        height = np.where(covered & np.isnan(height), here, height)
        inside |= covered
    where = f"{lat_deg:.5f}, {lon_deg:.5f}"
    if not inside[0, 0]:
        raise InputError(
            f"the place {where} is outside the elevation {_tiles(tiles)} {names}: "
            "give the one it lies in"
        )
    ends = np.where(inside.all(axis=1), far[-1], far[inside.argmin(axis=1) - 1])
    if ends.min() < LEAST_REACH_M:
        raise InputError(
            f"the elevation {_tiles(tiles)} {names} ends {ends.min():.0f} m from "
            f"{where} on bearing {BEARINGS_DEG[ends.argmin()]:.0f}: give the next one "
            f"too, to reach {LEAST_REACH_M:.0f} m all round"
        )
    known = far <= ends[:, None]
    bearing, at = np.nonzero(np.isnan(height) & known)
    if bearing.size:
        first = at.argmin()
        raise InputError(
            f"the elevation {_tiles(tiles)} {names} has a void {far[at[first]]:.0f} m "
            f"from {where} on bearing {BEARINGS_DEG[bearing[first]]:.0f}: give one "
            "with its voids filled"
        )
    last = height[np.arange(len(ends)), known.sum(axis=1) - 1]
    height = np.where(known, height, last[:, None]) - height[0, 0]
    return Terrain(DISTANCES_M, height[:, 1:], float(ends.min()), names)


def _tiles(tiles: Sequence[Tile]) -> str:
    """Tile or tiles."""
    return "tile" if len(tiles) == 1 else "tiles"


def terrain_of_points(points: Sequence[tuple[float, float, float]]) -> Terrain:
    """
    Take the profiles from points that were measured by hand.

    Parameters
    ----------
    points : sequence of (float, float, float)
        Azimuth from true north, distance and height over the ground at the place.
        [deg], [m], [m]

    Returns
    -------
    terrain : Terrain
        Straight from the place through the points of each azimuth, level beyond the
        last, and in between from one azimuth to the next.

    Examples
    --------
    >>> falling = terrain_of_points([(0, 100, -20), (180, 100, 0)])
    >>> falling.height_m[[0, 18, 36], -1]
    array([-20., -10.,   0.])
    """
    azimuths = sorted({azimuth for azimuth, _, _ in points})
    rows = []
    for azimuth in azimuths:
        along = sorted((far, up) for a, far, up in points if a == azimuth)
        far, up = zip((0.0, 0.0), *along, strict=True)
        rows.append(np.interp(DISTANCES_M, far, up))
    height = np.stack(
        [
            np.interp(BEARINGS_DEG, azimuths, column, period=360.0)
            for column in np.transpose(rows)
        ],
        axis=1,
    )
    reach = max(far for _, far, _ in points)
    return Terrain(DISTANCES_M, height, reach, f"{len(points)} points")
