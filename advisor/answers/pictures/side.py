"""A path seen from the side: its strongest hop modes and the sun along it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from advisor.answers.bearings import worse_margin_db
from advisor.answers.pictures.fan import named, scene_ways
from advisor.answers.pictures.scene import (
    Moment,
    Scene,
    best_moment,
    middle_point,
    narrowed,
)
from advisor.answers.through import ways_at
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.link import Link
from advisor.propagation.mode_axis import ES_RANKED, MIXED, mode_name
from geo.arrays import Floats
from geo.ionosphere.along import profile_along
from geo.ionosphere.profile import Profile
from geo.ionosphere.rays import drawn
from geo.records import ArrayRecord
from geo.sphere import destination
from geo.sun import subsolar_point, zenith_deg

MOST_RAYS = 3
"""Ways shown at once, what gets through most first."""

_SAMPLES, _POINTS = 121, 41


class SideRay(ArrayRecord):
    """
    One hop mode along one path.

    Attributes
    ----------
    name : str
        Such as 2F2.
    hops : int
        Number of hops.
    takeoff_deg : float
        Take-off angle. [deg]
    height_km : float
        Greatest height of the ray. [km]
    along_km, up_km : numpy.ndarray
        Shape (K,), the ray itself: distance along the path and height. [km]
    through : float
        Its part of what gets through to the whole target.
    support : float
        Share of days on which it exists.
    gain_dbi : float
        What the wire gives over this way to the whole target. [dBi]
    margin_db : float
        Median signal over what is needed in the worse direction. [dB]
    """

    name: str
    hops: int
    takeoff_deg: float
    height_km: float
    along_km: Floats
    up_km: Floats
    through: float
    support: float
    gain_dbi: float
    margin_db: float


class SideView(ArrayRecord):
    """
    A path seen from the side with its strongest hop modes.

    Attributes
    ----------
    setup, target, band : str
        Names.
    utc : numpy.datetime64
        The hour.
    distance_km : float
        Length of the path to the middle of the target. [km]
    rays : tuple of SideRay
        What gets through to the target most first, as far as it comes to its middle;
        empty where no mode exists.
    along_km, sun_deg : numpy.ndarray
        Shape (N,), distance along the path and elevation of the sun on the ground
        there. [km], [deg]
    """

    setup: str
    target: str
    band: str
    utc: np.datetime64
    distance_km: float
    rays: tuple[SideRay, ...]
    along_km: Floats
    sun_deg: Floats


def _drawn(link: Link, mode: int) -> dict[str, Floats]:
    """
    Draw a mode, hop by hop through the layers over its middle.

    A layer that does not return the band on the middle day is taken as on a day on
    which it does.
    """
    modes, place = link.modes, (0, 0, 0, mode)
    count = int(modes.hops[place])
    parts = (np.arange(count) + 0.5) / count
    profile = profile_along(link.layers, parts)[0, 0]
    elevation = np.interp(
        parts, [0.0, 1.0], [modes.takeoff_deg[place], modes.landing_deg[place]]
    )
    whole = float(link.paths.distance_km[0]) / count
    # Of hops of both layers the mean height is that of none.
    mixed = MIXED <= mode < ES_RANKED.start
    along, up = [], []
    for n in range(count):
        x, y = _bent(
            profile[n],
            float(modes.frequency_mhz[0]),
            float(elevation[n]),
            float(modes.height_km[place]),
            0.0 if mixed else 0.6,
        )
        along.append(n * whole + x * whole / x[-1])
        up.append(y)
    return {"along_km": np.concatenate(along), "up_km": np.concatenate(up)}


def _bent(
    profile: Profile,
    frequency_mhz: float,
    elevation_deg: float,
    height_km: float,
    share: float,
) -> tuple[Floats, Floats]:
    """One hop; straight up and down where a thin sheet or nothing turns the ray."""
    used = frequency_mhz
    while used > 0.3 * frequency_mhz:
        x, y = drawn(profile, used, elevation_deg, _POINTS)
        if np.isfinite(x[-1]) and y.max() > share * height_km:
            return x, y
        used *= 0.98
    return np.array([0.0, 0.5, 1.0]), np.array([0.0, height_km, 0.0])


def side_view(
    scene: Scene, target: int = 0, setup: int = 0, moment: Moment | None = None
) -> SideView:
    """
    Look at the path to the middle of a target from the side.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    target, setup : int, optional
        Which target, which set-up in order of rank.
    moment : Moment, optional
        Hour and band looked at; that of the greatest chance if not given.

    Returns
    -------
    record : SideView
        The strongest hop modes.
    """
    advice = scene.advice
    one = advice.setups[setup]
    at = moment or best_moment(advice, target, setup)
    question = narrowed(advice.question, target, at.hour, at.band)
    lat, lon = (np.array([angle]) for angle in middle_point(question.targets[0]))
    middle = replace(question.targets[0], lat_deg=lat, lon_deg=lon, weight=np.ones(1))
    question = replace(question, targets=(middle,))
    link = link_for(
        question,
        question.solar.r12,
        scene.far_patterns,
        own_way=True,
        cache_dir=scene.cache_dir,
    )
    wire = one.bearing.wire_deg or 0.0
    gains = wire_gains(question, link, scene.patterns[one.name], wire)
    margin = worse_margin_db(link, gains)[0, 0, 0, 0]
    modes = link.modes
    power = modes.mean_power[0, 0, 0]
    # Of several rays of one name the strongest.
    places = {
        mode_name(m, int(modes.hops[0, 0, 0, m])): m
        for m in np.argsort(power, kind="stable").tolist()
        if power[m] > 0.0
    }
    whole = ways_at(scene_ways(scene, target, setup), at.hour, at.band)
    shown = [(way, places[way.name]) for way in named(whole) if way.name in places]
    along = np.linspace(0.0, float(link.paths.distance_km[0]), _SAMPLES)
    place = question.place
    path_lat, path_lon = destination(
        place.lat_deg, place.lon_deg, float(link.paths.bearing_deg[0]), along
    )
    sun_lat, sun_lon = subsolar_point(question.times)
    return SideView(
        setup=one.name,
        target=advice.targets[target].name,
        band=question.bands[0].name,
        utc=question.times[0],
        distance_km=float(link.paths.distance_km[0]),
        rays=tuple(
            SideRay(
                name=way.name,
                hops=int(modes.hops[0, 0, 0, m]),
                takeoff_deg=float(modes.takeoff_deg[0, 0, 0, m]),
                height_km=float(modes.height_km[0, 0, 0, m]),
                **_drawn(link, m),
                through=way.through,
                support=float(modes.support[0, 0, 0, m]),
                gain_dbi=way.gain_dbi,
                margin_db=float(margin[m]),
            )
            for way, m in shown[:MOST_RAYS]
        ),
        along_km=along,
        sun_deg=90.0 - zenith_deg(path_lat, path_lon, sun_lat[0], sun_lon[0]),
    )
