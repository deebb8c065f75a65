"""What a page can turn and slide, as plain numbers for its script."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.compass import Compass
from advisor.answers.pictures.page import CUT_AZIMUTH_DEG, CUT_ELEVATION_DEG, SheetData
from advisor.answers.words import POINTS_OF_THE_COMPASS
from advisor.show.charts.style import hour_of
from geo.arrays import Floats

CHANCE_PARTS = 10_000
"""Chances are written in whole parts of this many."""

GAIN_PARTS = 10
"""Gains are written in whole parts of a dB of this many."""

ANGLE_PARTS = 100
"""Elevations are written in whole parts of a degree of this many."""


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
                "mode": seen.modes.tolist(),
                "best": advice.best_band[k].tolist(),
            }
            for k, (seen, sector, direction) in enumerate(
                zip(advice.targets, compass.sectors, data.directions, strict=True)
            )
        ],
    }


def _parts(values: Floats, parts: int) -> Any:
    """Whole parts of values, as nested lists; None where there is no number."""
    known = np.isfinite(values)
    whole = np.rint(parts * np.where(known, values, 0.0)).astype(np.int64)
    return np.asarray(np.where(known, whole.astype(object), None)).tolist()
