"""The charts of an answer as pictures of a sheet, each with its data as a table."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np

from advisor.answers.pictures.angles import NEAR_DB, Angles
from advisor.answers.pictures.angles import angles as angles_of
from advisor.answers.pictures.compass import Compass
from advisor.answers.pictures.fan import EDGE_DEG, Fan
from advisor.answers.pictures.fan import fan as fan_of
from advisor.answers.pictures.scene import Scene
from advisor.answers.pictures.side import SideView, side_view
from advisor.answers.pictures.world_turned import DRAWN, Worlds
from advisor.answers.words import angle_range, days_in_ten
from advisor.show.charts import angles as angles_chart
from advisor.show.charts import compass as compass_chart
from advisor.show.charts import fan as fan_chart
from advisor.show.charts import sideview as side_chart
from advisor.show.charts import worlds as worlds_chart
from advisor.show.charts.style import hour_of, plain
from advisor.show.page.sheet import Picture, picture
from advisor.show.text.cells import Cell, Table, chance_look, number

_ROUND_STEP_DEG, _SECTORS = 15, 8

_REACH_KM = (0.0, 1000.0, 3000.0, 10000.0, float(DRAWN.edge_km[-1]))
"""Between these the data of the small maps are told. [km]"""


def chart_pictures(
    scene: Scene, around: Compass, small: Worlds, zone: str | None
) -> tuple[Picture, ...]:
    """
    Draw the charts of an answer.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    around : Compass
        The best set-up round the compass.
    small : Worlds
        The world over the hours.
    zone : str or None
        IANA time zone whose local time stands beside UTC.

    Returns
    -------
    pictures : tuple of Picture
        Fan, angles, compass and side view of the first target, the world.
    """
    kinds: tuple[tuple[str, str, Any, Any, Callable[[Any], Table]], ...] = (
        ("Offered, given, got through", "fan", fan_of(scene), fan_chart, _fan_table),
        ("Angle by hour", "angles", angles_of(scene), angles_chart, _angles_table),
        ("Round the compass", "compass", around, compass_chart, _compass_table),
        ("From the side", "side", side_view(scene), side_chart, _side_table),
        ("All over the world", "map", small, worlds_chart, _map_table),
    )
    return tuple(
        picture(
            title,
            partial(chart.figure, record, zone),
            chart.alt_text(record),
            key,
            table(record),
        )
        for title, key, record, chart, table in kinds
    )


def _fan_table(record: Fan) -> Table:
    """Tell what is offered, given and got through by angle, then the ways named."""
    ways = "; ".join(
        f"{way.name} {100.0 * way.through:.1f} % of what gets through, "
        f"{100.0 * way.offered:.1f} % of what the sky offers, "
        f"{angle_range(way.low_deg, way.high_deg)}, wire {plain(way.gain_dbi)} dBi, "
        f"there {days_in_ten(way.support)}"
        for way in record.ways
    )
    middle = 0.5 * (EDGE_DEG[:-1] + EDGE_DEG[1:])
    gain = np.interp(middle, record.takeoff_deg, record.gain_dbi)
    return Table(
        f"{record.setup} to {record.target} on {record.band} at {hour_of(record.utc)} "
        "by take-off angle",
        ("angle", "wire dBi", "sky offers, %", "gets through, %"),
        tuple(
            (
                Cell(f"{EDGE_DEG[n]:.0f}-{EDGE_DEG[n + 1]:.0f} deg"),
                number(float(gain[n])),
                number(100.0 * float(record.offered[n])),
                number(100.0 * float(record.through[n])),
            )
            for n in range(middle.size)
        ),
        note=f"{ways}." if ways else "",
    )


def _angles_table(record: Angles) -> Table:
    """Tell what the sky offers by hour and band, and how much of it the wire meets."""
    met = "; ".join(
        f"{band.band} {100.0 * band.strong:.0f} % within {NEAR_DB:g} dB of its best"
        for band in record.bands
    )
    return Table(
        f"Take-off angles that the sky offers to {record.target}, 8 in 10",
        ("UTC", *(band.band for band in record.bands)),
        tuple(
            (
                Cell(hour_of(time)),
                *(
                    Cell(angle_range(band.low_deg[t], band.high_deg[t]))
                    for band in record.bands
                ),
            )
            for t, time in enumerate(record.question.times)
        ),
        note=f"{met}." if met else "",
    )


def _compass_table(record: Compass) -> Table:
    """Gain by bearing."""
    return Table(
        f"Gain of {record.setup} on {record.band} by true bearing, dBi",
        ("bearing", "gain"),
        tuple(
            (Cell(f"{azimuth:03d}"), number(float(record.gain_dbi[azimuth])))
            for azimuth in range(0, 360, _ROUND_STEP_DEG)
        ),
    )


def _map_table(record: Worlds) -> Table:
    """Chance by hour, distance and eighth of the compass."""
    cells = record.chance
    edges = [int(np.searchsorted(DRAWN.edge_km, km)) for km in _REACH_KM]
    eighth = cells.shape[2] // _SECTORS
    # Sectors about north, north-east and so on.
    turned = np.roll(cells, eighth // 2, axis=2)
    return Table(
        f"Mean chance of {record.setup} by distance and bearing, days in ten",
        ("UTC, band, km", *(f"{45 * k:03d}" for k in range(_SECTORS))),
        tuple(
            (
                Cell(
                    f"{hour_of(record.times[m])}, {record.bands[m]}, "
                    f"{_REACH_KM[r]:.0f} to {_REACH_KM[r + 1]:.0f}"
                ),
                *(
                    chance_look(
                        float(turned[m, low:high, eighth * k : eighth * (k + 1)].mean())
                    )
                    for k in range(_SECTORS)
                ),
            )
            for m in range(record.times.size)
            for r, (low, high) in enumerate(pairwise(edges))
        ),
    )


def _side_table(record: SideView) -> Table:
    """Describe the hops drawn."""
    return Table(
        f"Hops to the middle of {record.target}, {record.distance_km:.0f} km, on "
        f"{record.band} at {hour_of(record.utc)}",
        (
            "hops",
            "through",
            "take-off",
            "turns at",
            "exists",
            "wire dBi",
            "to spare",
        ),
        tuple(
            (
                Cell(ray.name),
                number(100.0 * ray.through, 0, "%"),
                number(ray.takeoff_deg, 1, "deg"),
                number(ray.height_km, 0, "km"),
                Cell(days_in_ten(ray.support), repr(ray.support)),
                number(ray.gain_dbi),
                number(ray.margin_db, 0, "dB"),
            )
            for ray in record.rays
        ),
    )
