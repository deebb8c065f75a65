"""The layers of a usual month, and of a weak and a strong one."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from advisor.engine.question import Question
from advisor.propagation.muf import MAP_ERROR_DECILE
from geo.ionosphere.conditions import Conditions
from geo.ionosphere.layers import Layers
from geo.paths import Paths

MOST_KEPT = 20_000
"""Places times hours up to which a sky is kept for the next month's. A map is not."""


def month_layers(
    question: Question, r12: NDArray[np.float64], paths: Paths, month: int = 0
) -> Layers:
    """
    Layers over some paths: those of the maps, or of a weak or a strong month.

    Parameters
    ----------
    question : Question
        Holds conditions, hours and the range of solar activity.
    r12 : numpy.ndarray
        Shape (T,), the middle one.
    paths : Paths
        P paths.
    month : int, optional
        0 for a mean over months: the map's error is among the spread of its days. -1
        and 1 for a month in which foF2 stands off the map by the lower and the upper
        decile of what is not known, the index and the map's error added as squares, all
        else at its middle; its days then spread by themselves.

    Returns
    -------
    layers : Layers
        At the stations of the paths.
    """

    def over(index: NDArray[np.float64]) -> Layers:
        lat, lon = paths.control_lat_deg.ravel(), paths.control_lon_deg.ravel()
        if lat.size * question.times.size > MOST_KEPT:
            return question.conditions.over(lat, lon, question.times, index)
        times = question.times.astype("datetime64[s]").view(np.int64)
        given = (each.tobytes() for each in (lat, lon, times, index))
        return _once(question.conditions, *given)

    layers = over(r12)
    if not month:
        return layers
    solar = question.solar
    edge = solar.low if month < 0 else solar.high
    by_sun = np.zeros(layers.fof2_mhz.shape)
    if not np.array_equal(edge, solar.r12):
        by_sun = over(edge).fof2_mhz / layers.fof2_mhz - 1.0
    off = np.hypot(by_sun, MAP_ERROR_DECILE * layers.unsounded)
    return replace(
        layers,
        fof2_mhz=layers.fof2_mhz * (1.0 + month * off),
        unsounded=np.zeros_like(off),
    )


@lru_cache(maxsize=4)
def _once(
    conditions: Conditions, lat: bytes, lon: bytes, times: bytes, index: bytes
) -> Layers:
    """Describe a sky that the next month asks for again: maps, F2 peaks and all."""
    return conditions.over(
        np.frombuffer(lat),
        np.frombuffer(lon),
        np.frombuffer(times, "datetime64[s]"),
        np.frombuffer(index),
    )
