"""When a storm is too strong, or a path too near the aurora, to trust the figures."""

from __future__ import annotations

import numpy as np

from advisor.engine.question import Question
from geo.ionosphere.conditions import unsafe_latitude_deg
from geo.ionosphere.storm import exceeds_published_range
from geo.magnetic import decimal_year_of, geomagnetic_latitude_deg
from geo.paths import paths_to

DOUBT_FROM_KP = 7.0
"""From here on a path that touches the auroral zone is doubted, not only warned of."""

_MOST_OF_IT = 0.5


def storm_doubt(question: Question, target: int) -> str:
    """
    Say why the figures for a target are not to be relied on in the storm assumed.

    Parameters
    ----------
    question : Question
        What is asked.
    target : int
        Which target.

    Returns
    -------
    why : str
        Half a sentence; empty if nothing speaks against them.

    Notes
    -----
    Two reasons: Kp is past what the storm curves were drawn for, or, from Kp 7 on, the
    paths to at least half of the target by weight touch the geomagnetic latitude of
    `geo.ionosphere.conditions.unsafe_latitude_deg`. Both limits are the project's
    choice.
    """
    kp = question.conditions.strongest_kp(question.times)
    if kp is None or kp < DOUBT_FROM_KP:
        return ""
    if exceeds_published_range(kp):
        return f"Kp {kp:g} is past what the storm curves were drawn for"
    here, points = question.place, question.targets[target]
    paths = paths_to(
        here.lat_deg,
        here.lon_deg,
        points.lat_deg,
        points.lon_deg,
        long_path=question.long_path,
    )
    count = paths.lat_deg.size
    lat = np.column_stack(
        [np.full(count, here.lat_deg), paths.control_lat_deg, paths.lat_deg]
    )
    lon = np.column_stack(
        [np.full(count, here.lon_deg), paths.control_lon_deg, paths.lon_deg]
    )
    year = decimal_year_of(question.times[0])
    touched = np.abs(geomagnetic_latitude_deg(lat, lon, year)).max(axis=1)
    unsafe_deg = unsafe_latitude_deg(kp)
    if points.weight[touched >= unsafe_deg].sum() < _MOST_OF_IT:
        return ""
    return f"at Kp {kp:g} the way touches geomagnetic latitude {unsafe_deg:.0f}"
