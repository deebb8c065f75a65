"""The sky over a place hour by hour."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from advisor.answers.rows.inputs import utc_text
from advisor.answers.rows.sky import LayersRow, SunTimes
from advisor.engine.question import SolarIndex
from advisor.propagation.first_hop import f2_muf_mhz, one_hop_muf_mhz, skip_distance_km
from advisor.propagation.muf import with_map_error
from advisor.station.bands import Band
from geo.ionosphere.conditions import QUIET, Conditions
from geo.places import Place
from geo.records import ArrayRecord
from geo.sun import sun_events

_SKY_HOPS_KM = {"0": 0.0, "1000": 1000.0, "3000": 3000.0}
"""Hop lengths the sky table gives a MUF for, by the name in its columns. [km]"""

MUF_DISTANCES_KM = (500.0, 1000.0, 2000.0, 3000.0, 4000.0)
"""Hop lengths the MUF over distance is given for. [km]"""

SUN_HEIGHTS_KM = {"ground": 0.0, "e_layer": 110.0, "f2_layer": 300.0}
"""Heights at which rise and set of the sun are given. [km]"""

_TWILIGHTS = ("civil_dawn", "civil_dusk", "nautical_dawn", "nautical_dusk")


class SkyTable(ArrayRecord):
    """
    The sky over one place.

    Attributes
    ----------
    place : Place
        Where.
    times : numpy.ndarray of datetime64[s]
        Shape (T,), UTC.
    solar_basis : str
        Where the solar activity comes from.
    assumed : tuple of str
        What else is assumed, in whole sentences.
    bands : tuple of str
        Bands with a skip distance.
    rows : tuple of LayersRow
        One row an hour.
    sun : SunTimes
        The sun at the place.
    """

    place: Place
    times: NDArray[np.datetime64]
    solar_basis: str
    assumed: tuple[str, ...]
    bands: tuple[str, ...]
    rows: tuple[LayersRow, ...]
    sun: SunTimes


def sky_table(
    place: Place,
    times: NDArray[np.datetime64],
    solar: SolarIndex,
    bands: Sequence[Band] = (),
    conditions: Conditions = QUIET,
) -> SkyTable:
    """
    Layers over a place, hour by hour.

    Parameters
    ----------
    place : Place
        Where.
    times : numpy.ndarray of datetime64[s]
        Shape (T,), UTC.
    solar : SolarIndex
        Solar activity for each hour.
    bands : sequence of Band, optional
        Bands to give a skip distance for.
    conditions : Conditions, optional
        What is assumed of the sky besides the medians of the month.

    Returns
    -------
    table : SkyTable
        Critical frequencies, M(3000)F2, spreads, MUFs and skip distances. Those of
        distance are for one hop that has its middle over the place.
    """
    layers = conditions.over([place.lat_deg], [place.lon_deg], times, solar.r12)
    lower_ratio, upper_ratio = with_map_error(
        layers.fof2_lower_ratio, layers.fof2_upper_ratio, layers.unsounded
    )
    columns: dict[str, NDArray[np.float64]] = {
        "sun_elevation_deg": 90.0 - layers.zenith_deg[:, 0],
        "foe_mhz": layers.foe_mhz[:, 0],
        "fof1_mhz": layers.fof1_mhz[:, 0],
        "fof2_mhz": layers.fof2_mhz[:, 0],
        "fof2_lower_mhz": (layers.fof2_mhz * lower_ratio)[:, 0],
        "fof2_upper_mhz": (layers.fof2_mhz * upper_ratio)[:, 0],
        "hmf2_km": layers.hmf2_km[:, 0],
        "m3000f2": layers.m3000f2[:, 0],
    }
    by_f2 = f2_muf_mhz(layers, list(_SKY_HOPS_KM.values()))
    for d, name in enumerate(_SKY_HOPS_KM):
        columns[f"f2_muf_{name}km_mhz"] = by_f2[:, d]
    columns |= {
        "foes_lower_mhz": layers.foes_lower_mhz[:, 0],
        "foes_mhz": layers.foes_mhz[:, 0],
        "foes_upper_mhz": layers.foes_upper_mhz[:, 0],
    }
    reach = one_hop_muf_mhz(layers, MUF_DISTANCES_KM)
    for d, distance in enumerate(MUF_DISTANCES_KM):
        columns[f"muf_{distance:.0f}km_mhz"] = reach[:, d]
    skip = skip_distance_km(layers, [band.planning_mhz for band in bands])
    names = tuple(band.name for band in bands)
    keys = [skip_key(name) for name in names]
    rows = tuple(
        LayersRow(
            utc=utc_text(time),
            **{key: float(values[t]) for key, values in columns.items()},
            skip_km=dict(zip(keys, skip[t].tolist(), strict=True)),
        )
        for t, time in enumerate(times)
    )
    sun = sun_times(place.lat_deg, place.lon_deg, times[0])
    assumed = conditions.words(times, solar.r12)
    return SkyTable(place, times, solar.basis, assumed, names, rows, sun)


def skip_key(band: str) -> str:
    """
    Name the column of a band's skip distance.

    Parameters
    ----------
    band : str
        Name of the band.

    Returns
    -------
    key : str
        Ends in its unit.

    Examples
    --------
    >>> skip_key("20 m")
    'skip_20m_km'
    """
    return f"skip_{band.replace(' ', '')}_km"


def sun_times(lat_deg: float, lon_deg: float, start: np.datetime64) -> SunTimes:
    """
    Sun events at the ground and at the heights of the layers in 24 hours.

    Parameters
    ----------
    lat_deg, lon_deg : float
        Place. [deg]
    start : numpy.datetime64
        Beginning of the 24 hours, UTC.

    Returns
    -------
    events : SunTimes
        For the ground with dawn and dusk too.

    Examples
    --------
    >>> sun_times(78.0, 15.0, np.datetime64("2026-06-21")).ground_always
    'up'
    """
    found: dict[str, str | None] = {}
    for name, height_km in SUN_HEIGHTS_KM.items():
        events = sun_events(lat_deg, lon_deg, start, height_km)
        moments = {"rise": events.rise, "set": events.set}
        if not height_km:
            for twilight in _TWILIGHTS:
                moments[twilight] = getattr(events, twilight)
        for what, moment in moments.items():
            found[f"{name}_{what}"] = None if np.isnat(moment) else utc_text(moment)
        always = "up" if events.always_up else "down" if events.always_down else None
        found[f"{name}_always"] = always
    return SunTimes(**found)
