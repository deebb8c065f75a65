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

from advisor.answers.footprint import FAR_KM, NEAR_KM
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.outlines import cell, circle, disc, way
from advisor.answers.pictures.points import PointChances
from advisor.answers.pictures.world import WorldMap
from advisor.answers.reach import Reach
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
        for p in range(target.weight.size):
            about = {
                "target": target.target,
                "setup": target.setup,
                "distance_km": round(float(target.distance_km[p]), 3),
                "bearing_deg": round(float(target.bearing_deg[p]), 3),
                "utc": _utc(target.utc[target.best]),
                "band": target.band[target.best],
                "chance": float(target.chance[p, target.best]),
            }
            features.append(
                _point(
                    float(target.lon_deg[p]),
                    float(target.lat_deg[p]),
                    {
                        "kind": "target point",
                        **about,
                        "weight": float(target.weight[p]),
                        "hours": [
                            {
                                "utc": _utc(time),
                                "band": band,
                                "chance": float(target.chance[p, t]),
                            }
                            for t, (time, band) in enumerate(
                                zip(target.utc, target.band, strict=True)
                            )
                        ],
                    },
                )
            )
            parts = way(
                place, float(target.bearing_deg[p]), float(target.distance_km[p])
            )
            features += _lines(
                parts, {"kind": "path", **about, "is_long_path": long_path}
            )
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
    when = {"utc": _utc(record.utc), "band": record.chances.band}
    features = tonight_features(place, targets, long_path=record.long_path)
    ranges, turns = record.chances.range_edge_km, record.chances.azimuth_edge_deg
    chance = record.chances.chance[0]
    for r, a in np.argwhere(chance >= OPEN_CHANCE):
        edges = [float(each) for each in (*ranges[r : r + 2], *turns[a : a + 2])]
        about = dict(
            zip(("near_km", "far_km", "from_deg", "to_deg"), edges, strict=True)
        )
        about = {key: round(value, 3) for key, value in about.items()}
        features += _areas(
            cell(place, *edges),
            {
                "kind": "chance",
                "setup": record.setup,
                **when,
                **about,
                "chance": float(chance[r, a]),
                "is_long_path": record.long_path,
            },
        )
    if np.isfinite(record.skip_km):
        zone = {
            "kind": "skip zone",
            **when,
            "from_km": record.skip_from_km,
            "radius_km": record.skip_km,
            "bearing_deg": record.skip_deg,
        }
        for begin, end in _sectors(record.skip_deg):
            sector = cell(place, record.skip_from_km, record.skip_km, begin, end)
            features += _areas(sector, zone)
    here = place.lat_deg, place.lon_deg
    lat, lon = destination(*here, record.greyline_deg, record.greyline_km)
    features += _lines(cut_line(lon, lat), {"kind": "grey line", "utc": when["utc"]})
    lat, lon = destination(*here, record.sun_deg, record.sun_km)
    features.append(_point(float(lon), float(lat), {"kind": "sun", "utc": when["utc"]}))
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
        What `advisor.answers.reach.reach` found.

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
        features += _lines(circle(place, km), {"kind": "ring edge", "radius_km": km})
    outlines: dict[float, tuple[Part, ...]] = {}
    for t, time in enumerate(question.times):
        for b, band in enumerate(question.bands):
            nearest = float(reach.nearest_km[t, b])
            if not nearest > 0.0:
                continue
            if nearest not in outlines:
                outlines[nearest] = disc(place, nearest)
            features += _areas(
                outlines[nearest],
                {
                    "kind": "skip zone",
                    "utc": _utc(time),
                    "band": band.name,
                    "radius_km": nearest,
                    "radius_low_km": float(reach.nearest_low_km[t, b]),
                    "radius_high_km": float(reach.nearest_high_km[t, b]),
                },
            )
    return features


def _compact(value: Any) -> str:
    """Write on one line; NaN is null."""
    return json.dumps(
        plain(value), allow_nan=False, ensure_ascii=False, separators=(",", ":")
    )


def _utc(time: np.datetime64) -> str:
    """Write a moment to the minute."""
    return f"{time.astype('datetime64[m]')}Z"


def _feature(geometry: dict[str, Any], properties: Mapping[str, Any]) -> Feature:
    """Put shape and properties together."""
    return {"type": "Feature", "geometry": geometry, "properties": dict(properties)}


def _station(place: Place) -> Feature:
    """Mark the station."""
    about = {"kind": "station", "label": place.label}
    return _point(place.lon_deg, place.lat_deg, about)


def _point(lon_deg: float, lat_deg: float, properties: Mapping[str, Any]) -> Feature:
    """Mark a place."""
    where = [round(lon_deg, 6), round(lat_deg, 6)]
    return _feature({"type": "Point", "coordinates": where}, properties)


def _lines(parts: Sequence[Part], properties: Mapping[str, Any]) -> list[Feature]:
    """Draw a line; one cut in parts is a MultiLineString."""
    lines = [part.tolist() for part in parts]
    return _whole("LineString", lines, properties)


def _areas(parts: Sequence[Part], properties: Mapping[str, Any]) -> list[Feature]:
    """Draw an area; one cut in parts is a MultiPolygon."""
    areas = [[part.tolist()] for part in parts]
    return _whole("Polygon", areas, properties)


def _whole(kind: str, parts: list[Any], properties: Mapping[str, Any]) -> list[Feature]:
    """One feature of one or several parts; none if nothing is left to draw."""
    if not parts:
        return []
    one = {"type": kind, "coordinates": parts[0]}
    many = {"type": f"Multi{kind}", "coordinates": parts}
    return [_feature(one if len(parts) == 1 else many, properties)]
