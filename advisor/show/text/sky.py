"""Hops off layers and the sky over a place as text; nothing is worked out here."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from advisor.answers.rows.sky import HopRow, HopSky, SunTimes
from advisor.answers.skies.path_sky import SkyPath
from advisor.answers.skies.sky import MUF_DISTANCES_KM, SkyTable, skip_key
from advisor.answers.words import place_words
from advisor.show.text.cells import Column, hours_table, number
from advisor.show.text.layout import paragraph, table

_WEAK_DB = 10.0
"""A ray so far below the strongest is not shown. [dB]"""

LAYERS_NOTE = (
    "sun: its elevation in degrees; 8 in 10: eight days in ten lie between; "
    "hmF2: height of the F2 peak in km; MUF is that of one F2 hop of 0, 1000 "
    "and 3000 km; foEs is sporadic E."
)
MUF_TITLE = (
    "MUF in MHz over distance, one hop off E or F2 with its middle over the "
    "place ('-' too far)"
)
SKIP_TITLE = "Skip distance in km: nearest that E or F2 reaches on half of the days"
SKIP_NOTE = "'-': none, returned straight down; 'closed': returned over no distance."
SUN_NOTE = "Rise and set, UTC. Twilight: dawn and dusk with the sun 6 degrees down."


def hop_text(skies: Sequence[HopSky], rows: Sequence[HopRow]) -> str:
    """
    Write a table of angles for each sky: distances down, bands across.

    Parameters
    ----------
    skies : sequence of HopSky
        The layers.
    rows : sequence of HopRow
        From `advisor.answers.skies.hops.hop_rows`.

    Returns
    -------
    text : str
        Ready to print.
    """
    parts = [paragraph("Take-off angle in degrees of one hop, and the layer it is off")]
    for sky in skies:
        layers = [
            f"{name} {_mhz(value)}"
            for name, value in zip(
                ("foE", "foF1", "foF2"),
                (sky.foe_mhz, sky.fof1_mhz, sky.fof2_mhz),
                strict=True,
            )
        ]
        about = f"{', '.join(layers)} MHz, F2 peak at {sky.hmf2_km:.0f} km"
        title = paragraph(f"{sky.name[0].upper()}{sky.name[1:]}: {about}")
        shown = _hop_table([row for row in rows if row.sky == sky.name])
        parts.append(f"{title}\n{shown}")
    parts.append(
        paragraph(
            "Low rays that are within 10 dB of the strongest; '-': none lands there. "
            "skip: the nearest distance that one reaches; '-': returned straight down; "
            "'closed': returned over no distance. F1 is what lies between E and F2, "
            "also where it is no layer of its own."
        )
    )
    return "\n\n".join(parts)


def _hop_table(rows: Sequence[HopRow]) -> str:
    """Write the table of one sky."""
    bands = list(dict.fromkeys(row.band for row in rows))
    body = []
    for distance in dict.fromkeys(row.distance_km for row in rows):
        here = [row for row in rows if row.distance_km == distance]
        cells = (_angles([row for row in here if row.band == band]) for band in bands)
        body.append([f"{distance:.0f}", *cells])
    skips = {row.band: row.skip_km for row in rows}
    body.append(["skip", *(_skip(skips[band]) for band in bands)])
    return table(["km", *bands], body)


def _angles(rays: Sequence[HopRow]) -> str:
    """Write the strongest low ray of each layer, flattest first."""
    best: dict[str, HopRow] = {}
    for ray in sorted(rays, key=lambda ray: ray.gathered_db):
        if ray.ray == "low":
            best[ray.layer] = ray
    most = max((ray.gathered_db for ray in best.values()), default=0.0)
    strong = (ray for ray in best.values() if ray.gathered_db > most - _WEAK_DB)
    shown = sorted(strong, key=lambda ray: ray.takeoff_deg)
    return ", ".join(f"{ray.takeoff_deg:.0f} {ray.layer}" for ray in shown) or "-"


def sky_text(
    seen: SkyTable,
    zone: str | None = None,
    *,
    by_distance: bool = False,
    path: SkyPath | None = None,
) -> str:
    """
    Write the sky over a place.

    Parameters
    ----------
    seen : SkyTable
        What `advisor.answers.skies.sky.sky_table` found.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.
    by_distance : bool, optional
        Whether MUF over distance and skip distances are wanted.
    path : SkyPath, optional
        What `advisor.answers.skies.path_sky.sky_path` found, if a path is wanted.

    Returns
    -------
    text : str
        Ready to print.
    """
    place = seen.place
    local = f" Local time is {zone}." if zone else ""
    asked = [
        paragraph(
            f"Sky over {place_words(place)}, {seen.solar_basis}. Monthly medians in "
            f"MHz.{local}"
        ),
        *(paragraph(each, "  ") for each in seen.assumed),
    ]
    sun = paragraph(f"Sunrise and sunset: {sun_words(seen.sun)}.")
    blocks = [
        "\n".join(asked),
        hours_table(seen.times, layers_columns(seen), zone),
        f"{paragraph(LAYERS_NOTE)}\n{sun}",
    ]
    if by_distance:
        blocks += _sky_distances(seen, zone)
    if path is not None:
        blocks += _sky_path(seen, path, zone)
    return "\n\n".join(blocks)


def layers_columns(seen: SkyTable) -> list[Column[int]]:
    """
    Set out the layers hour by hour.

    Parameters
    ----------
    seen : SkyTable
        The sky.

    Returns
    -------
    columns : list of Column
        Of an hour's place.
    """
    rows = seen.rows

    def mhz(*names: str) -> Callable[[int], str]:
        return lambda t: "-".join(_mhz(getattr(rows[t], name)) for name in names)

    return [
        Column[int]("sun", lambda t: f"{round(rows[t].sun_elevation_deg)}"),
        Column("foE", mhz("foe_mhz")),
        Column("foF1", mhz("fof1_mhz")),
        Column("foF2", mhz("fof2_mhz")),
        Column("8 in 10", mhz("fof2_lower_mhz", "fof2_upper_mhz")),
        Column("hmF2", lambda t: f"{rows[t].hmf2_km:.0f}"),
        Column("M(3000)", lambda t: f"{rows[t].m3000f2:.2f}"),
        Column("MUF 0", mhz("f2_muf_0km_mhz")),
        Column("1000", mhz("f2_muf_1000km_mhz")),
        Column("3000", mhz("f2_muf_3000km_mhz")),
        Column("foEs", mhz("foes_mhz")),
        Column("8 in 10", mhz("foes_lower_mhz", "foes_upper_mhz")),
    ]


def muf_columns(seen: SkyTable) -> list[Column[int]]:
    """
    Set out the MUF over distance.

    Parameters
    ----------
    seen : SkyTable
        The sky.

    Returns
    -------
    columns : list of Column
        Of an hour's place.
    """

    def muf(km: float) -> Callable[[int], str]:
        return lambda t: _mhz(getattr(seen.rows[t], f"muf_{km:.0f}km_mhz"))

    return [Column(f"{km:.0f} km", muf(km)) for km in MUF_DISTANCES_KM]


def skip_columns(seen: SkyTable) -> list[Column[int]]:
    """
    Set out the skip distance of each band.

    Parameters
    ----------
    seen : SkyTable
        The sky.

    Returns
    -------
    columns : list of Column
        Of an hour's place.
    """

    def skip(band: str) -> Callable[[int], str]:
        return lambda t: _skip(seen.rows[t].skip_km[skip_key(band)])

    return [Column(band, skip(band)) for band in seen.bands]


def _sky_distances(seen: SkyTable, zone: str | None) -> list[str]:
    """Write MUF over distance and the skip distance of each band."""
    return [
        paragraph(MUF_TITLE),
        hours_table(seen.times, muf_columns(seen), zone),
        paragraph(SKIP_TITLE),
        hours_table(seen.times, skip_columns(seen), zone),
        paragraph(SKIP_NOTE),
    ]


def _skip(distance_km: float) -> str:
    """Write a skip distance."""
    if np.isnan(distance_km):
        return "closed"
    return f"{distance_km:.0f}" if distance_km else "-"


def path_columns(path: SkyPath) -> list[Column[int]]:
    """
    Set out usable frequencies over a path and the sun along it.

    Parameters
    ----------
    path : SkyPath
        The path.

    Returns
    -------
    columns : list of Column
        Of an hour's place.
    """
    rows = path.rows
    return [
        Column[int]("MUF", lambda t: _mhz(rows[t].path_muf_mhz)),
        Column("by", lambda t: rows[t].path_muf_mode or "-", is_words=True),
        Column("9 in 10", lambda t: _mhz(rows[t].path_fot_mhz)),
        Column("LUF", lambda t: _mhz(rows[t].path_luf_mhz)),
        Column("sun here", lambda t: f"{round(rows[t].sun_here_deg)}"),
        Column("middle", lambda t: f"{round(rows[t].sun_middle_deg)}"),
        Column("there", lambda t: f"{round(rows[t].sun_far_deg)}"),
    ]


def path_words(path: SkyPath) -> tuple[str, str]:
    """
    Say where a path leads, and what its columns are.

    Parameters
    ----------
    path : SkyPath
        The path.

    Returns
    -------
    where, columns : str
        A few sentences each.
    """
    facts = path.facts
    return (
        f"Path to {facts.target}: {facts.lat_deg:.2f}, {facts.lon_deg:.2f}, "
        f"{facts.distance_km:.0f} km, bearing {facts.bearing_deg:03.0f} true. "
        "Frequencies in MHz, sun in degrees.",
        "MUF: returned on half of the days; 9 in 10: on nine days in ten (FOT); "
        "'-': no frequency is. LUF: lowest at which the median signal meets the "
        f"need ('-': none does), for {facts.circuit}.",
    )


def _sky_path(seen: SkyTable, path: SkyPath, zone: str | None) -> list[str]:
    """Write usable frequencies over a path and the sun along it."""
    where, columns = path_words(path)
    head, rows = sun_rows(path.facts.sun)
    return [
        paragraph(where),
        hours_table(seen.times, path_columns(path), zone),
        paragraph(columns),
        table(head, rows, left=frozenset(range(len(head)))),
        paragraph(SUN_NOTE),
    ]


def sun_rows(sun: Mapping[str, SunTimes]) -> tuple[list[str], list[list[str]]]:
    """
    Set out rise and set of the sun place by place.

    Parameters
    ----------
    sun : mapping of str to SunTimes
        By the place's name.

    Returns
    -------
    head, rows : list
        Titles and lines.
    """
    rows = [
        [
            name,
            _up_and_down(events, "ground"),
            f"{_clock(events.ground_civil_dawn)} {_clock(events.ground_civil_dusk)}",
            _up_and_down(events, "e_layer"),
            _up_and_down(events, "f2_layer"),
        ]
        for name, events in sun.items()
    ]
    return ["", "ground", "twilight", "E layer", "F2 layer"], rows


def sun_words(sun: SunTimes) -> str:
    """
    Say when the sun rises and sets at the ground and at the layers.

    Parameters
    ----------
    sun : SunTimes
        At one place.

    Returns
    -------
    words : str
        Without a full stop.
    """
    layers = {"ground": "ground", "E layer": "e_layer", "F2 layer": "f2_layer"}
    return ", ".join(
        f"{layer} {_up_and_down(sun, key, ' to ')}" for layer, key in layers.items()
    )


def _up_and_down(sun: SunTimes, key: str, between: str = " ") -> str:
    """Write rise and set at one height; in words where the sun does neither."""
    rise, down, always = (
        getattr(sun, f"{key}_{what}") for what in ("rise", "set", "always")
    )
    return f"{always} all day" if always else f"{_clock(rise)}{between}{_clock(down)}"


def _mhz(value: float) -> str:
    """Write a frequency; a dash where there is no layer."""
    return number(value).text


def _clock(moment: str | None) -> str:
    """Write the time of day of an event; a dash where it does not happen."""
    return "-" if moment is None else moment[-6:]
