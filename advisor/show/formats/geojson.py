"""
Answers as GeoJSON (RFC 7946), for any map program; nothing is worked out here.

Positions are longitude, latitude in degrees on WGS 84, as the standard wants. What the
answer is about and where it is from stands beside the features as in JSON.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from advisor.answers.far_places.footprint import FAR_KM, NEAR_KM
from advisor.answers.far_places.reach import Reach
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.outlines import cell, circle, disc, way
from advisor.answers.pictures.points import PointChances
from advisor.answers.pictures.world import WorldMap
from advisor.answers.rows.features import (
    FEATURES,
    ChanceCell,
    GreyLine,
    Here,
    MapSkipZone,
    PointHour,
    RingEdge,
    SkipZone,
    SunOverhead,
    TargetPoint,
    WayThere,
)
from advisor.answers.rows.inputs import utc_text
from advisor.show.formats.exports import SCHEMA_VERSION, plain
from geo.antimeridian import Part, cut_line
from geo.places import Place
from geo.sphere import destination

_SECTOR_DEG = 30.0
"""Width of the sectors that a skip zone is drawn in. [deg]"""

Feature = dict[str, Any]


def collection(
    features: Iterable[Feature],
    inputs: Any,
    provenance: Mapping[str, Any],
) -> str:
    """
    Write features as one GeoJSON object.

    Parameters
    ----------
    features : iterable of dict
        What is on the map.
    inputs, provenance : record or mapping
        What was asked and what the answer was made from: foreign members, which
        section 6.1 of RFC 7946 allows.

    Returns
    -------
    text : str
        One feature a line.
    """
    head = {
        "type": "FeatureCollection",
        "schema_version": SCHEMA_VERSION,
        "inputs": inputs,
        "provenance": provenance,
    }
    opening = _compact(head).removesuffix("}")
    body = ",\n".join(_compact(feature) for feature in features)
    return f'{opening},"features":[\n{body}\n]}}\n'


def tonight_features(
    place: Place, targets: Sequence[PointChances], *, long_path: bool = False
) -> list[Feature]:
    """
    List station, sample points and the ways there.

    Parameters
    ----------
    place : Place
        The station.
    targets : sequence of PointChances
        The targets point by point.
    long_path : bool, optional
        Whether the ways go the long way round.

    Returns
    -------
    features : list of dict
        ``station``, ``target point`` and ``path``.
    """
    features = [_station(place)]
    for target in targets:
        best = target.best
        for p in range(target.weight.size):
            bearing, distance = target.bearing_deg[p], target.distance_km[p]
            about: dict[str, Any] = {
                "target": target.target,
                "setup": target.setup,
                "distance_km": round(float(distance), 3),
                "bearing_deg": round(float(bearing), 3),
                "utc": utc_text(target.utc[best]),
                "band": target.band[best],
                "chance": float(target.chance[p, best]),
            }
            hours = tuple(
                PointHour(utc_text(time), band, float(target.chance[p, t]))
                for t, (time, band) in enumerate(
                    zip(target.utc, target.band, strict=True)
                )
            )
            weight = float(target.weight[p])
            told = TargetPoint(**about, weight=weight, hours=hours)
            features.append(
                _point(float(target.lon_deg[p]), float(target.lat_deg[p]), told)
            )
            parts = way(place, float(bearing), float(distance))
            features += _cut(parts, WayThere(**about, is_long_path=long_path))
    return features


def map_features(
    place: Place, record: WorldMap, targets: Sequence[PointChances]
) -> list[Feature]:
    """
    List all that is on the map around a station.

    Parameters
    ----------
    place : Place
        The station.
    record : WorldMap
        The map.
    targets : sequence of PointChances
        The targets point by point, at the map's hour and on its band.

    Returns
    -------
    features : list of dict
        Those of `tonight_features`, ``chance`` cells from one day in twenty on,
        ``skip zone`` if there is one, ``grey line`` and ``sun``.
    """
    utc, band = utc_text(record.utc), record.chances.band
    features = tonight_features(place, targets, long_path=record.long_path)
    ranges, turns = record.chances.range_edge_km, record.chances.azimuth_edge_deg
    chance = record.chances.chance[0]
    for r, a in np.argwhere(chance >= OPEN_CHANCE):
        edges = [float(each) for each in (*ranges[r : r + 2], *turns[a : a + 2])]
        near, far, first, last = (round(edge, 3) for edge in edges)
        features += _cut(
            cell(place, *edges),
            ChanceCell(
                setup=record.setup,
                utc=utc,
                band=band,
                near_km=near,
                far_km=far,
                from_deg=first,
                to_deg=last,
                chance=float(chance[r, a]),
                is_long_path=record.long_path,
            ),
        )
    if np.isfinite(record.skip_km):
        begins, ends = record.skip_from_km, record.skip_km
        zone = MapSkipZone(utc, band, begins, ends, record.skip_deg)
        for sector in _sectors(record.skip_deg):
            features += _cut(cell(place, begins, ends, *sector), zone)
    here = place.lat_deg, place.lon_deg
    lat, lon = destination(*here, record.greyline_deg, record.greyline_km)
    features += _cut(cut_line(lon, lat), GreyLine(utc))
    lat, lon = destination(*here, record.sun_deg, record.sun_km)
    features.append(_point(float(lon), float(lat), SunOverhead(utc)))
    return features


def _sectors(bearing_deg: float) -> list[tuple[float, float]]:
    """Sector about a bearing, or sectors all round where it is NaN."""
    if np.isnan(bearing_deg):
        return [
            (turn, turn + _SECTOR_DEG) for turn in np.arange(0.0, 360.0, _SECTOR_DEG)
        ]
    return [(bearing_deg - 0.5 * _SECTOR_DEG, bearing_deg + 0.5 * _SECTOR_DEG)]


def reach_features(reach: Reach) -> list[Feature]:
    """
    List the rings that power is counted in and the skip zone of each hour and band.

    Parameters
    ----------
    reach : Reach
        What `advisor.answers.far_places.reach.reach` found.

    Returns
    -------
    features : list of dict
        ``station``, ``ring edge`` and ``skip zone``; no skip zone where there is
        none.
    """
    question = reach.question
    place = question.place
    features = [_station(place)]
    for km in (NEAR_KM, FAR_KM):
        features += _cut(circle(place, km), RingEdge(km))
    outlines: dict[float, tuple[Part, ...]] = {}
    for t, time in enumerate(question.times):
        for b, band in enumerate(question.bands):
            nearest = float(reach.nearest_km[t, b])
            if not nearest > 0.0:
                continue
            if nearest not in outlines:
                outlines[nearest] = disc(place, nearest)
            zone = SkipZone(
                utc_text(time),
                band.name,
                nearest,
                float(reach.nearest_low_km[t, b]),
                float(reach.nearest_high_km[t, b]),
            )
            features += _cut(outlines[nearest], zone)
    return features


def _compact(value: Any) -> str:
    """Write on one line; NaN is null."""
    return json.dumps(
        plain(value), allow_nan=False, ensure_ascii=False, separators=(",", ":")
    )


def _feature(shape: str, coordinates: Any, told: Any) -> Feature:
    """Put shape and properties together."""
    geometry = {"type": shape, "coordinates": coordinates}
    return {"type": "Feature", "geometry": geometry, "properties": told}


def _station(place: Place) -> Feature:
    """Mark the station."""
    return _point(place.lon_deg, place.lat_deg, Here(place.label))


def _point(lon_deg: float, lat_deg: float, told: Any) -> Feature:
    """Mark a place."""
    return _feature("Point", [round(lon_deg, 6), round(lat_deg, 6)], told)


def _cut(parts: Sequence[Part], told: Any) -> list[Feature]:
    """Draw a line or an area, in one or several parts; none if nothing is left."""
    shape = FEATURES[type(told)]
    each = [[part.tolist()] if shape == "Polygon" else part.tolist() for part in parts]
    if len(each) > 1:
        return [_feature(f"Multi{shape}", each, told)]
    return [_feature(shape, one, told) for one in each]
