"""What a page can turn and slide, as plain numbers for its script."""

from __future__ import annotations

import base64
from typing import Any

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.compass import Compass
from advisor.answers.pictures.page import CUT_AZIMUTH_DEG, CUT_ELEVATION_DEG, SheetData
from advisor.answers.pictures.world import land_outline
from advisor.answers.pictures.world_turned import WorldTurned
from advisor.answers.runs import POINTS_OF_THE_COMPASS
from advisor.answers.through import Ways
from advisor.antenna.pattern import gain_in_dbi
from advisor.engine.question import Question
from advisor.show.charts.style import hour_of
from geo.arrays import Bools, Floats
from geo.sun import subsolar_point

CHANCE_PARTS = 10_000
"""Chances are written in whole parts of this many."""

GAIN_PARTS = 100
"""Gains are written in whole parts of a dB of this many."""

ANGLE_PARTS = 100
"""Elevations are written in whole parts of a degree of this many."""

WAY_PARTS, WAY_FAINT_DB = 5, 40.0
"""Shares of ways are written in whole parts of a dB of this many under 0 dB; one that
is fainter for its point is left out. [1], [dB]"""

CHANGE_PARTS = 1000
"""What hills multiply by is written in whole parts of this many."""

WORLD_PARTS = 250
"""Chances all over the world are written in whole parts of this many, a byte each."""

_GOES_BACK = 0x80


def live_mapping(
    advice: Answer, data: SheetData, compass: Compass, zone: str | None
) -> dict[str, Any]:
    """
    Write everything the page's script needs.

    Parameters
    ----------
    advice : Answer
        The answer.
    data : SheetData
        The best set-up turned through every bearing.
    compass : Compass
        For the sectors of the targets, tolerance and declination.
    zone : str or None
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    live : dict
        Lists, texts and finite numbers; None where there is none.
    """
    question = advice.question
    return {
        "schema": 1,
        "setup": data.setup,
        "start": f"{question.times[0].astype('datetime64[m]')}Z",
        "hours": [hour_of(time, zone) for time in question.times],
        "bands": [band.name for band in question.bands],
        "works": [bool(works) for works in advice.setups[0].works],
        "open": OPEN_CHANCE,
        "declination": round(compass.declination_deg, 2),
        "wire": data.wire_deg,
        "end": compass.first_end,
        "points": list(POINTS_OF_THE_COMPASS),
        "turn": data.turn_deg,
        "bearings": data.tried_deg.tolist(),
        "good": [list(each) for each in compass.good_deg],
        "elevations": CUT_ELEVATION_DEG.tolist(),
        "azimuthStep": float(CUT_AZIMUTH_DEG[1]),
        "cut": [
            _parts(cut, GAIN_PARTS) if np.isfinite(cut).all() else None
            for cut in data.cut_dbi
        ],
        "hills": [
            each
            and {
                "free": [_short(GAIN_PARTS * gain_in_dbi(one)) for one in each[0]],
                "change": [_short(CHANGE_PARTS * one) for one in each[1]],
            }
            for each in data.hills
        ],
        "changeParts": CHANGE_PARTS,
        "peakElevation": _parts(data.peak_elevation_deg, ANGLE_PARTS),
        "chanceParts": CHANCE_PARTS,
        "gainParts": GAIN_PARTS,
        "angleParts": ANGLE_PARTS,
        "targets": [
            {
                "name": seen.name,
                "bearing": round(seen.bearing_deg, 2),
                "allRound": seen.is_all_round,
                "from": round(sector.from_deg, 2),
                "to": round(sector.to_deg, 2),
                "points": [
                    [round(bearing, 2), round(weight, 6)]
                    for bearing, weight in zip(
                        direction.bearing_deg, direction.weight, strict=True
                    )
                ],
                "chance": _parts(data.chance[k], CHANCE_PARTS),
                "gain": _parts(data.gain_dbi[k], GAIN_PARTS),
                "low": _parts(seen.takeoff_low_deg, ANGLE_PARTS),
                "middle": _parts(seen.takeoff_deg, ANGLE_PARTS),
                "high": _parts(seen.takeoff_high_deg, ANGLE_PARTS),
                "mode": advice.setups[0].mode[k].tolist(),
                "best": advice.best_band[k].tolist(),
                "ways": _packed(
                    data.ways[k], np.array(direction.weight), data.goes_back[k]
                ),
            }
            for k, (seen, sector, direction) in enumerate(
                zip(advice.targets, compass.sectors, data.directions, strict=True)
            )
        ],
    }


def places_mapping(question: Question) -> dict[str, Any]:
    """
    Write what a map shows besides chances.

    Parameters
    ----------
    question : Question
        What was asked.

    Returns
    -------
    places : dict
        ``here``; ``sun``, the place under it at each hour; ``spots``, of each target
        latitude, longitude and weight. [deg]
    """
    place = question.place
    return {
        "here": [place.lat_deg, place.lon_deg],
        "sun": np.stack(subsolar_point(question.times), axis=-1).round(2).tolist(),
        "spots": [
            np.stack([each.lat_deg, each.lon_deg, each.weight], axis=-1)
            .round(4)
            .tolist()
            for each in question.targets
        ],
    }


def world_mapping(turned: WorldTurned) -> dict[str, Any]:
    """
    Write chances to everywhere for the page's script.

    Parameters
    ----------
    turned : WorldTurned
        Of one or more hours.

    Returns
    -------
    world : dict
        Hours, bands, distances of the rings, number of rays, bearings of the wire and
        their turn; chances and the outline of the land as base64.
    """
    land = np.nan_to_num(100.0 * np.stack(land_outline(), axis=-1), nan=32767.0)
    chance = np.rint(WORLD_PARTS * turned.chance).astype(np.uint8)
    return {
        "hours": list(turned.hour),
        "bands": list(turned.band),
        "rings": turned.grid.ring_km.round(1).tolist(),
        "rays": turned.grid.azimuth_deg.size,
        "wires": turned.wire_deg.tolist(),
        "turn": turned.turn_deg,
        "parts": WORLD_PARTS,
        "chance": base64.b64encode(chance.tobytes()).decode(),
        "land": base64.b64encode(np.rint(land).astype("<i2").tobytes()).decode(),
    }


def _packed(ways: Ways, weight: Floats, goes_back: Bools) -> dict[str, Any]:
    """
    Pack the ways to a target: names, then for each hour and band rows of 6 bytes.

    Point, two bytes; name, with a mark where it goes back; parts of a degree of its
    take-off angle, two bytes; parts of a dB of its share under the whole of its point.
    """
    kinds = sorted(set(ways.names[ways.offered > 0.0].tolist()))
    share = ways.offered / np.maximum(weight, 1e-12)[:, None, None, None]
    kept = share > 10.0 ** (-0.1 * WAY_FAINT_DB)
    row = np.dtype([("p", "<u2"), ("n", "u1"), ("up", "<u2"), ("down", "u1")])

    def cell(t: int, b: int) -> str:
        point, mode = np.nonzero(kept[:, t, b])
        here = point, t, b, mode
        rows = np.zeros(point.size, row)
        rows["p"] = point
        rows["n"] = np.searchsorted(kinds, ways.names[here])
        rows["n"] |= np.where(goes_back[point, t, b], _GOES_BACK, 0).astype(np.uint8)
        rows["up"] = np.rint(ANGLE_PARTS * ways.takeoff_deg[here])
        rows["down"] = np.rint(-10.0 * WAY_PARTS * np.log10(share[here]))
        return base64.b64encode(rows.tobytes()).decode()

    _, hours, bands, _ = kept.shape
    return {
        "names": kinds,
        "parts": WAY_PARTS,
        "rows": [[cell(t, b) for b in range(bands)] for t in range(hours)],
    }


def _short(parts: Floats) -> str:
    """Pack whole parts, two bytes each, row after row."""
    whole = np.clip(np.rint(parts), -32768, 32767).astype("<i2")
    return base64.b64encode(whole.tobytes()).decode()


def _parts(values: Floats, parts: int) -> Any:
    """Whole parts of values, as nested lists; None where there is no number."""
    known = np.isfinite(values)
    whole = np.rint(parts * np.where(known, values, 0.0)).astype(np.int64)
    return np.asarray(np.where(known, whole.astype(object), None)).tolist()
