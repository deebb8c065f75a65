"""Rays of one hop through example skies, and through that over a place."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from advisor.answers.rows.sky import HopRow, HopSky
from advisor.propagation.first_hop import LONGEST_KM, profile_skip_km
from advisor.propagation.muf import apart_mhz
from advisor.station.bands import Band, band_by_name
from geo.errors import InputError
from geo.ionosphere.conditions import QUIET, Conditions
from geo.ionosphere.focusing import focusing_db
from geo.ionosphere.homing import Homed, home, ray_table
from geo.ionosphere.profile import F2_SEMI_SHARE, layered_profile
from geo.places import Place

EXAMPLES = (
    HopSky("a summer noon", 3.46, 4.80, 6.10, 270.0, 75.0, 0.0, 1.0),
    HopSky("a winter noon", 2.60, float("nan"), 9.00, 260.0, 70.0, 0.0, 0.0),
    HopSky("a winter night", 0.50, float("nan"), 4.00, 320.0, 80.0, 0.0, 0.0),
)
"""Skies of middle latitudes without a magnetic field, those on which the rays are
checked."""

USUAL_BANDS = ("80 m", "40 m", "20 m", "15 m")

USUAL_DISTANCES_KM = (
    100.0, 200.0, 300.0, 500.0, 800.0, 1000.0, 1500.0, 2000.0, 2500.0, 3000.0, 3500.0,
)  # fmt: skip

FAINT_DB = -20.0
"""Rays that gather less are left out: they linger under a layer. [dB]"""

_LEAST_KM, _LEAST_MHZ = 1.0, 0.05
_BRANCHES = ("E", "F1", "F2", "F2")
_LOWER, _UPPER = (9, 7, 0, 0), (0, 0, 5, 18)
"""Nodes of `ray_table`: up to the F1 node, and above it."""


def hop_sky(
    place: Place,
    time: np.datetime64,
    r12: NDArray[np.float64],
    conditions: Conditions = QUIET,
) -> HopSky:
    """
    Read the layers over a place.

    Parameters
    ----------
    place : Place
        Middle of the hop.
    time : numpy.datetime64
        UTC.
    r12 : numpy.ndarray
        Shape (1,), twelve-month smoothed sunspot number.
    conditions : Conditions, optional
        What is assumed of the sky besides the medians of the month.

    Returns
    -------
    sky : HopSky
        Called after the place.
    """
    layers = conditions.over(
        [place.lat_deg], [place.lon_deg], np.array([time], dtype="datetime64[s]"), r12
    )
    height = layers.hmf2_km.item()
    return HopSky(
        f"over {place.label}",
        layers.foe_mhz.item(),
        layers.fof1_mhz.item(),
        layers.fof2_mhz.item(),
        height,
        F2_SEMI_SHARE * height,
        layers.gyro_mhz.item(),
        layers.f1_share.item(),
    )


def hop_bands(names: Sequence[str] = (), iaru_region: int = 1) -> tuple[Band, ...]:
    """
    Find the bands that hops are told for.

    Parameters
    ----------
    names : sequence of str, optional
        As typed; four usual ones if none is given.
    iaru_region : int, optional
        Region whose bands they are.

    Returns
    -------
    bands : tuple of Band
        Each once.
    """
    found = (band_by_name(name, iaru_region) for name in names or USUAL_BANDS)
    return tuple({band.name: band for band in found}.values())


def hop_rows(
    skies: Sequence[HopSky] = EXAMPLES,
    bands: Sequence[Band] = (),
    distances_km: Sequence[float] = (),
) -> list[HopRow]:
    """
    List every ray of one hop that lands at a distance.

    Parameters
    ----------
    skies : sequence of HopSky, optional
        Layers, the same all along the hop.
    bands : sequence of Band, optional
        The usual ones if none is given.
    distances_km : sequence of float, optional
        Hop lengths, 1 to 4000; the usual ones if none is given. [km]

    Returns
    -------
    rows : list of HopRow
        By sky, band, distance and angle; one without an angle where no ray lands.

    Raises
    ------
    InputError
        For a distance out of range.

    Notes
    -----
    Rays of E and F1 are those of the ordinary wave, those of F2 of the extraordinary
    one as in `skiplobe tonight`: as ordinary ones on a frequency that is lower by
    `advisor.propagation.muf.apart_mhz`.

    Examples
    --------
    >>> rows = hop_rows(EXAMPLES[2:], hop_bands(["40 m"]), [1300.0])
    >>> [(row.layer, row.ray, round(row.takeoff_deg)) for row in rows]
    [('F2', 'low', 23), ('F2', 'high', 29)]
    """
    for value in distances_km:
        if not _LEAST_KM <= value <= LONGEST_KM:
            raise InputError(
                f"distance {value:g} km is outside {_LEAST_KM:g} to {LONGEST_KM:g} km, "
                "the longest single hop"
            )
    far = np.array(distances_km or USUAL_DISTANCES_KM)
    bands = bands or hop_bands()
    return [row for sky in skies for row in _rows_of(sky, bands, far)]


def _rows_of(
    sky: HopSky, bands: Sequence[Band], distance_km: NDArray[np.float64]
) -> list[HopRow]:
    """Rows of one sky."""
    profile = layered_profile(
        sky.foe_mhz,
        sky.fof1_mhz,
        sky.fof2_mhz,
        sky.hmf2_km,
        sky.semi_f2_km,
        sky.f1_share,
    )
    frequency = np.array([band.planning_mhz for band in bands])
    skip = profile_skip_km(profile[None, None], np.array([[sky.gyro_mhz]]), frequency)
    lower = frequency[:, None] + 0.0 * distance_km
    upper = np.maximum(lower - apart_mhz(sky.gyro_mhz, distance_km), _LEAST_MHZ)
    found: list[tuple[int, float, HopRow]] = []
    for used, nodes in ((lower, _LOWER), (upper, _UPPER)):
        rays = home(ray_table(profile, used, nodes), distance_km)
        gathered = _gathered_db(lower.ravel()[rays.index], rays)
        for k in np.flatnonzero(gathered > FAINT_DB):
            b, d = divmod(int(rays.index[k]), distance_km.size)
            row = HopRow(
                sky=sky.name,
                band=bands[b].name,
                frequency_mhz=float(frequency[b]),
                distance_km=float(distance_km[d]),
                layer=_BRANCHES[rays.branch[k]],
                ray="low" if rays.slope_km_rad[k] <= 0.0 else "high",
                takeoff_deg=float(rays.takeoff_deg[k]),
                apogee_km=float(rays.apogee_km[k]),
                group_km=float(rays.group_km[k]),
                gathered_db=float(gathered[k]),
                skip_km=float(skip[0, b]),
            )
            found.append((int(rays.index[k]), row.takeoff_deg, row))
    none = float("nan")
    for place in set(range(lower.size)) - {each[0] for each in found}:
        b, d = divmod(place, distance_km.size)
        about = sky.name, bands[b].name, float(frequency[b]), float(distance_km[d])
        row = HopRow(*about, "", "", none, none, none, none, float(skip[0, b]))
        found.append((place, 0.0, row))
    return [each[-1] for each in sorted(found, key=lambda each: each[:2])]


def _gathered_db(
    frequency_mhz: NDArray[np.float64], rays: Homed
) -> NDArray[np.float64]:
    """Gain by the ray tube."""
    return focusing_db(
        frequency_mhz,
        rays.takeoff_deg,
        rays.ground_km,
        rays.group_km,
        rays.slope_km_rad,
        rays.blur_km_rad,
    )
