"""The answer as plain text for a terminal; nothing is worked out here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from advisor.answers.advice import Advice
from advisor.answers.closed import closed_words, uncut_words
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.sky import MUF_DISTANCES_KM, skip_key
from advisor.answers.storm_doubt import storm_doubt
from advisor.answers.words import (
    WHAT_A_CHANCE_IS,
    angle_range,
    bearing_words,
    headline,
    hour_name,
    limit_words,
    place_words,
    reasons,
)
from advisor.engine.question import Question
from advisor.engine.targets import TargetAdvice
from advisor.show.text.layout import day_lines, hour_cell, paragraph, table
from advisor.station.cautions import CAUTIONS_IN_BRIEF, Caution, cautions

if TYPE_CHECKING:
    from advisor.answers.path_sky import SkyPath
    from advisor.answers.rows.sky import HopRow, SunTimes
    from advisor.answers.sky import SkyTable


def cautions_text(own: Sequence[Caution] = ()) -> str:
    """
    Write out every caution.

    Parameters
    ----------
    own : sequence of Caution, optional
        What the wires of this answer call for; goes first.

    Returns
    -------
    text : str
        One paragraph each, the deference to local rules last.
    """
    return "\n".join(
        paragraph(f"  {each.topic}: {each.text}", "    ")
        for each in (*own, *cautions())
    )


def chance_cell(
    chance: float, works: bool, is_best: bool, is_doubtful: bool = False
) -> str:
    """
    Write one chance in days in ten.

    Parameters
    ----------
    chance : float
        0 to 1.
    works : bool
        Whether the set-up works on the band.
    is_best : bool
        Whether it is the best band of the hour; marked with a star.
    is_doubtful : bool, optional
        Whether it is not to be relied on; marked with a question mark.

    Returns
    -------
    cell : str
        ``-`` for a band the set-up is not cut for, ``.`` for a closed one.

    Examples
    --------
    >>> chance_cell(0.74, True, True), chance_cell(0.01, True, False)
    ('7*', '. ')
    """
    if not works:
        return "- "
    doubt = "?" if is_doubtful else ""
    if chance < OPEN_CHANCE:
        return f".{doubt} "
    return f"{max(round(10 * chance), 1)}{doubt}{'*' if is_best else ' '}"


def advice_text(
    advice: Advice,
    declination_deg: float,
    zone: str | None = None,
    *,
    brief: bool = False,
) -> str:
    """
    Write the whole answer: answer, table, reasons, cautions.

    Parameters
    ----------
    advice : Advice
        The answer.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]
    zone : str, optional
        IANA time zone whose local time stands beside UTC.
    brief : bool, optional
        Whether to leave out reasons and keys, with the cautions in one sentence.

    Returns
    -------
    text : str
        Ready to print.
    """
    question = advice.question
    parts = [heading(question)]
    best = advice.setups[0]
    for k, target in enumerate(advice.targets):
        parts += [
            "",
            target_line(question, target, k),
            paragraph(headline(advice, k)),
        ]
        if k == 0 and best.works.any():
            parts.append(
                paragraph(bearing_words(best, declination_deg, advice.targets))
            )
        parts += ["", _hour_table(advice, k, zone)]
        if not brief:
            parts += ["", *(paragraph(line, "  ") for line in reasons(advice, k))]
    if brief:
        return "\n".join([*parts, "", paragraph(CAUTIONS_IN_BRIEF)])
    parts += [
        "",
        paragraph(
            f"{WHAT_A_CHANCE_IS} (-3) behind a limit: three days in ten are lost to "
            f"it. '.' is less than one in twenty"
            f"{_dash_note(advice)}{_doubt_note(advice)}, '*' the band to be on, kept "
            "while no other gains half a day in ten."
        ),
    ]
    others = [_other_setup(advice, i) for i in range(1, len(advice.setups))]
    if others:
        parts += ["", f"Figures are for {best.name}. Your other set-ups:", *others]
    parts += ["", "Cautions", cautions_text()]
    return "\n".join(parts)


def heading(question: Question) -> str:
    """
    Say what was understood of a question, the targets left out.

    Parameters
    ----------
    question : Question
        What was asked.

    Returns
    -------
    text : str
        Place, hours, emission, noise, sun, and what is assumed of the sky.
    """
    station = question.station
    first, last = (
        t.astype("datetime64[h]").astype(str) for t in question.times[[0, -1]]
    )
    asked = paragraph(
        f"From {place_words(question.place, station.own_name)}, "
        f"{first}Z to {last}Z, "
        f"{question.emission.name} {station.power_w:g} W, noise {station.noise} "
        f"here and {station.far_end.noise} there, {question.solar.basis}"
        + (", long path" if question.long_path else "")
    )
    assumed = question.conditions.words(question.times, question.solar.r12)
    return "\n".join([asked, *(paragraph(each, "  ") for each in assumed)])


def target_line(question: Question, target: TargetAdvice, place: int) -> str:
    """
    Say where a target lies and how it is sampled.

    Parameters
    ----------
    question : Question
        What was asked.
    target : TargetAdvice
        The target as seen from the station.
    place : int
        Its place among the targets.

    Returns
    -------
    text : str
        One paragraph.
    """
    points = f"{target.points} sample point{'s' if target.points > 1 else ''}"
    if question.targets[place].by_operators:
        points += f" weighted by {target.weight_source}"
    return paragraph(
        f"To {target.name}: {_distance(target.nearest_km, target.farthest_km)}, "
        f"{_direction(target)}, {points}"
    )


def _direction(target: TargetAdvice) -> str:
    """Write the bearing of a target; a target around me has none."""
    if target.is_all_round:
        return "all round"
    return f"bearing {target.bearing_deg:03.0f} true"


def _dash_note(advice: Advice) -> str:
    """Explain the dash only where there is one."""
    return (
        "" if advice.setups[0].works.all() else ", '-' a band the set-up is not cut for"
    )


def _doubt_note(advice: Advice) -> str:
    """Explain the question mark only where there is one."""
    targets = range(len(advice.targets))
    if any(storm_doubt(advice.question, k) for k in targets):
        return ", '?' a figure not to be relied on in this storm"
    return ""


def _distance(nearest_km: float, farthest_km: float) -> str:
    """Write a distance or a range of distances."""
    if farthest_km - nearest_km < 1.0:
        return f"{farthest_km:.0f} km"
    return f"{nearest_km:.0f} to {farthest_km:.0f} km"


def _hour_table(advice: Advice, target: int, zone: str | None) -> str:
    """Chance by hour and band, with what the best band needs and gets."""
    question = advice.question
    best = advice.setups[0]
    seen = advice.targets[target]
    head = ["UTC", *([_zone_title(zone)] if zone else [])]
    # Bands that stay closed are told in one line under the table.
    shown = [i for i in range(len(question.bands)) if not _is_closed(advice, target, i)]
    shown = shown or list(range(len(question.bands)))
    head += [question.bands[i].name for i in shown] + ["needs", "wire dBi", "limit"]
    doubtful = bool(storm_doubt(question, target))
    rows = []
    for t, time in enumerate(question.times):
        b = int(advice.best_band[target, t])
        row = [hour_cell(time)]
        if zone:
            row.append(local_hour(time, zone))
        row += [
            chance_cell(
                float(best.chance[target, t, i]),
                bool(best.works[i]),
                i == b,
                doubtful,
            )
            for i in shown
        ]
        if b < 0:
            row += ["-", "-", "all closed" if best.works.any() else "not cut for"]
        else:
            row += [
                angle_range(seen.takeoff_low_deg[t, b], seen.takeoff_high_deg[t, b]),
                f"{best.gain_dbi[target, t, b]:.1f}",
                limit_words(advice, best, target, t, b),
            ]
        rows.append(row)
    text = table(
        head,
        rows,
        left=frozenset({len(head) - 1}),
        keys=2 if zone else 1,
        above=day_lines(question.times),
    )
    return "\n".join(
        [text, *(paragraph(each) for each in closed_words(advice, target))]
    )


def _is_closed(advice: Advice, target: int, band: int) -> bool:
    """Whether the best set-up never reaches the target on a band."""
    best = advice.setups[0]
    return bool((best.chance[target, :, band] < OPEN_CHANCE).all())


def _zone_title(zone: str) -> str:
    """Last part of a zone's name: Africa/Johannesburg is Johannesburg."""
    return zone.rsplit("/", maxsplit=1)[-1].replace("_", " ")


def local_hour(time: np.datetime64, zone: str) -> str:
    """
    Write the hour and minute of a moment in a time zone.

    Parameters
    ----------
    time : numpy.datetime64
        UTC.
    zone : str
        IANA name of the zone.

    Returns
    -------
    text : str
        Such as ``16:00``.
    """
    moment = time.astype("datetime64[s]").item()
    return f"{moment.replace(tzinfo=ZoneInfo('UTC')).astimezone(ZoneInfo(zone)):%H:%M}"


def _other_setup(advice: Advice, place: int) -> str:
    """One line on a set-up that came second or later."""
    other, question = advice.setups[place], advice.question
    uncut = uncut_words(question, other)
    if not other.works.any():
        return paragraph(f"  {other.name}: {uncut}.", "    ")
    # Mean of the targets at each hour and band.
    mean = other.chance.mean(axis=0)
    hour, band = np.unravel_index(int(mean.argmax()), mean.shape)
    peak = float(mean[hour, band])
    at_best = "closed in these hours"
    if peak >= OPEN_CHANCE:
        at_best = (
            f"at best {10 * peak:.0f} on {question.bands[band].name} at "
            f"{hour_name(question, int(hour))}"
        )
    return paragraph(
        f"  {other.name}: {10 * other.score:.1f} in ten over all hours on its best "
        f"band against {10 * advice.setups[0].score:.1f}; {at_best}"
        f"{'; ' if uncut else ''}{uncut}.",
        "    ",
    )


def hop_text(rows: Sequence[HopRow]) -> str:
    """
    Write the hop table: distances down, heights across.

    Parameters
    ----------
    rows : sequence of HopRow
        From `advisor.answers.sky.hop_rows`.

    Returns
    -------
    text : str
        Ready to print.
    """
    heights = list(dict.fromkeys(row.height_km for row in rows))
    distances = list(dict.fromkeys(row.distance_km for row in rows))
    found = {(row.height_km, row.distance_km): row for row in rows}
    body = []
    for distance in distances:
        cells = (found[height, distance] for height in heights)
        body.append([f"{distance:.0f}", *(_angle_and_secant(cell) for cell in cells)])
    longest = [found[height, distances[0]].longest_hop_km for height in heights]
    body.append(["longest", *(f"{km:.0f} km" for km in longest)])
    head = ["km", *(f"{height:.0f} km" for height in heights)]
    return "\n\n".join(
        [
            paragraph(
                "Take-off angle in degrees of one hop, by mirror height (in brackets: "
                "MUF over critical frequency)"
            ),
            table(head, body),
            paragraph(
                "110 km is the E layer; F2 is lowest by day in winter, highest by "
                "night. '-' is below the horizon."
            ),
        ]
    )


def _angle_and_secant(cell: HopRow) -> str:
    """Write an angle with its secant factor."""
    if np.isnan(cell.takeoff_deg):
        return "-"
    return f"{cell.takeoff_deg:.1f} ({cell.sec_incidence:.2f})"


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
        What `advisor.answers.sky.sky_table` found.
    zone : str, optional
        IANA time zone whose local time stands beside UTC.
    by_distance : bool, optional
        Whether MUF over distance and skip distances are wanted.
    path : SkyPath, optional
        What `advisor.answers.path_sky.sky_path` found, if a path is wanted.

    Returns
    -------
    text : str
        Ready to print.
    """
    place = seen.place
    local = f" Local time is {zone}." if zone else ""
    parts = [
        paragraph(
            f"Sky over {place_words(place)}, {seen.solar_basis}. Monthly medians in "
            f"MHz.{local}"
        ),
        *(paragraph(each, "  ") for each in seen.assumed),
        "",
        _sky_layers(seen, zone),
        "",
        paragraph(
            "8 in 10: eight days in ten lie between. MUF is that of one F2 hop of the "
            "length given; foEs is sporadic E."
        ),
        paragraph(f"Sunrise and sunset: {_sun_words(seen.sun)}."),
    ]
    if by_distance:
        parts += ["", *_sky_distances(seen, zone)]
    if path is not None:
        parts += ["", *_sky_path(seen, path, zone)]
    return "\n".join(parts)


def _sky_hours(seen: SkyTable, zone: str | None) -> tuple[list[str], list[list[str]]]:
    """Begin a table with the hours."""
    head = ["UTC", *(["local"] if zone else [])]
    return head, [
        [
            hour_cell(time),
            *([local_hour(time, zone)] if zone else []),
        ]
        for time in seen.times
    ]


def _sky_table(
    seen: SkyTable,
    zone: str | None,
    head: Sequence[str],
    body: Sequence[Sequence[str]],
    left: frozenset[int] = frozenset(),
) -> str:
    """Set out a table of hours."""
    return table(head, body, left, keys=2 if zone else 1, above=day_lines(seen.times))


def _sky_layers(seen: SkyTable, zone: str | None) -> str:
    """Write the layers hour by hour."""
    head, body = _sky_hours(seen, zone)
    head += ["sun deg", "foE", "foF1", "foF2", "8 in 10", "M(3000)"]
    head += ["MUF 0 km", "1000 km", "3000 km", "foEs", "8 in 10"]
    for cells, row in zip(body, seen.rows, strict=True):
        cells += [
            f"{round(row.sun_elevation_deg)}",
            _mhz(row.foe_mhz),
            _mhz(row.fof1_mhz),
            _mhz(row.fof2_mhz),
            f"{_mhz(row.fof2_low_mhz)}-{_mhz(row.fof2_high_mhz)}",
            f"{row.m3000f2:.2f}",
            _mhz(row.f2_muf_0km_mhz),
            _mhz(row.f2_muf_1000km_mhz),
            _mhz(row.f2_muf_3000km_mhz),
            _mhz(row.foes_mhz),
            f"{_mhz(row.foes_low_mhz)}-{_mhz(row.foes_high_mhz)}",
        ]
    return _sky_table(seen, zone, head, body)


def _sky_distances(seen: SkyTable, zone: str | None) -> list[str]:
    """Write MUF over distance and the skip distance of each band."""
    head, body = _sky_hours(seen, zone)
    for cells, row in zip(body, seen.rows, strict=True):
        cells += [_mhz(getattr(row, f"muf_{km:.0f}km_mhz")) for km in MUF_DISTANCES_KM]
    head += [f"{km:.0f} km" for km in MUF_DISTANCES_KM]
    muf = _sky_table(seen, zone, head, body)
    head, body = _sky_hours(seen, zone)
    for cells, row in zip(body, seen.rows, strict=True):
        cells += [_skip(row.skip_km[skip_key(band)]) for band in seen.bands]
    return [
        paragraph(
            "MUF in MHz over distance, one hop off E or F2 with its middle over the "
            "place ('-' too far)"
        ),
        "",
        muf,
        "",
        paragraph(
            "Skip distance in km: nearest that E or F2 reaches on half of the days"
        ),
        "",
        _sky_table(seen, zone, [*head, *seen.bands], body),
        "",
        paragraph(
            "'-': none, returned straight down; 'closed': returned over no distance."
        ),
    ]


def _skip(distance_km: float) -> str:
    """Write a skip distance."""
    if np.isnan(distance_km):
        return "closed"
    return f"{distance_km:.0f}" if distance_km else "-"


def _sky_path(seen: SkyTable, path: SkyPath, zone: str | None) -> list[str]:
    """Write usable frequencies over a path and the sun along it."""
    facts = path.facts
    head, body = _sky_hours(seen, zone)
    head += ["MUF", "by", "9 in 10", "LUF", "sun here", "middle", "there"]
    for cells, row in zip(body, path.rows, strict=True):
        cells += [
            _mhz(row.path_muf_mhz),
            row.path_muf_mode or "-",
            _mhz(row.path_fot_mhz),
            _mhz(row.path_luf_mhz),
            f"{round(row.sun_here_deg)}",
            f"{round(row.sun_middle_deg)}",
            f"{round(row.sun_far_deg)}",
        ]
    return [
        paragraph(
            f"Path to {facts.target}: {facts.lat_deg:.2f}, {facts.lon_deg:.2f}, "
            f"{facts.distance_km:.0f} km, bearing {facts.bearing_deg:03.0f} true. "
            "Frequencies in MHz, sun in degrees."
        ),
        "",
        _sky_table(seen, zone, head, body, left=frozenset({len(head) - 6})),
        "",
        paragraph(
            "MUF: returned on half of the days; 9 in 10: on nine days in ten (FOT). "
            "LUF: lowest at which the median signal meets the need ('-': none does), "
            f"for {facts.circuit}."
        ),
        "",
        _sun_table(facts.sun),
        "",
        paragraph(
            "Rise and set, UTC. Twilight: dawn and dusk with the sun 6 degrees down."
        ),
    ]


def _sun_table(sun: Mapping[str, SunTimes]) -> str:
    """Write sun events place by place."""
    rows = []
    for name, events in sun.items():
        dawn, dusk = _clock(events.ground_civil_dawn), _clock(events.ground_civil_dusk)
        layers = [
            _up_and_down(events, key) for key in ("ground", "e_layer", "f2_layer")
        ]
        rows.append([name, layers[0], f"{dawn} {dusk}", *layers[1:]])
    head = ["", "ground", "twilight", "E layer", "F2 layer"]
    return table(head, rows, left=frozenset(range(len(head))))


def _sun_words(sun: SunTimes) -> str:
    """Say when the sun rises and sets at the ground and at the layers."""
    return ", ".join(
        f"{layer} {_up_and_down(sun, key, ' to ')}"
        for layer, key in (
            ("ground", "ground"),
            ("E layer", "e_layer"),
            ("F2 layer", "f2_layer"),
        )
    )


def _up_and_down(sun: SunTimes, key: str, between: str = " ") -> str:
    """Write rise and set at one height; in words where the sun does neither."""
    rise, down, always = (
        getattr(sun, f"{key}_{what}") for what in ("rise", "set", "always")
    )
    return f"{always} all day" if always else f"{_clock(rise)}{between}{_clock(down)}"


def _mhz(value: float) -> str:
    """Write a frequency; a dash where there is no layer."""
    return "-" if np.isnan(value) else f"{value:.1f}"


def _clock(moment: str | None) -> str:
    """Write the time of day of an event; a dash where it does not happen."""
    return "-" if moment is None else moment[-6:]
