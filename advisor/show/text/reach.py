"""Where the power of a wire comes down, as text; nothing is worked out here."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial

import numpy as np

from advisor.answers.far_places.footprint import (
    ABSORBED_DB,
    FAR_KM,
    LANDINGS,
    NEAR_KM,
    SERVED,
)
from advisor.answers.far_places.reach import (
    ALSO,
    DX,
    LEAST_DOWN,
    MID_RANGE,
    NOTHING,
    SHORT_SKIP,
    SPLIT,
    Reach,
    SetUpReach,
)
from advisor.answers.hours import asked_hours, hour_name, span_names
from advisor.answers.rows.reach import ReachDetails, ReachedSetUp
from advisor.answers.runs import run_words
from advisor.answers.words import place_words
from advisor.show.text.cells import Column, hours_of
from advisor.show.text.layout import paragraph
from advisor.station.cautions import CAUTIONS_IN_BRIEF
from geo.arrays import Bools

NEAREST = (
    "Skip zone: nearest distance in km that the layers serve on half of the days, "
    "with any wire. 0: no skip zone; '-': no distance."
)
"""Said of the distances that `nearest_columns` sets out."""

RINGS = (
    f"within {NEAR_KM:.0f} km",
    f"from {NEAR_KM:.0f} to {FAR_KM:.0f} km",
    f"beyond {FAR_KM:.0f} km",
)

_RING_OF = {SHORT_SKIP: 0, MID_RANGE: 1, DX: 2}

_KINDS = {SHORT_SKIP: "short-skip", MID_RANGE: "mid-range", DX: "DX"}

_FATES = {
    "through": "goes through the layers",
    "absorbed": "is absorbed",
    "blocked": "meets the horizon",
}

_BANDS_A_TABLE = 7

_MOST_RUNS = 3


def reach_text(reach: Reach, *, brief: bool = False) -> str:
    """
    Write where the power of each set-up comes down.

    Parameters
    ----------
    reach : Reach
        What `advisor.answers.far_places.reach.reach` found.
    brief : bool, optional
        Whether to leave out reasons and keys, with the cautions in one sentence.

    Returns
    -------
    text : str
        Ready to print.
    """
    asked, *assumed = asked_words(reach)
    lines = [paragraph(asked), *(paragraph(each, "  ") for each in assumed)]
    blocks = ["\n".join(lines)]
    for setup in reach.setups:
        blocks.append(paragraph(hung_words(reach, setup)))
        if setup.works.any():
            told = (
                paragraph(f"  {sentence(reach, setup, b)}", "    ")
                for b in np.flatnonzero(setup.works).tolist()
            )
            blocks += ["\n".join(told), _tables(reach, setup)]
    if brief:
        return "\n\n".join([*blocks, paragraph(CAUTIONS_IN_BRIEF)])
    if _has_several_bands(reach):
        blocks.append(paragraph(NEAREST))
        blocks.append(hours_of(reach.question, nearest_columns(reach)))
    return "\n\n".join([*blocks, paragraph(notes_words(reach))])


def _has_several_bands(reach: Reach) -> bool:
    """Whether a table holds several bands, with room for the rings alone."""
    return any(setup.works.sum() > 1 for setup in reach.setups)


def asked_words(reach: Reach) -> tuple[str, ...]:
    """
    Say what was understood.

    Parameters
    ----------
    reach : Reach
        What was found.

    Returns
    -------
    parts : tuple of str
        What was asked, then what is assumed of the sky.
    """
    question = reach.question
    where = "all round"
    if reach.towards is not None and not reach.towards.is_all_round:
        where = (
            f"towards {reach.towards.name}, bearing {reach.towards.bearing_deg:03.0f} "
            "true"
        )
    return (
        f"From {place_words(question.place, question.station.own_name)}, "
        f"{asked_hours(question.times, question.station.time_zone)}, {where}, "
        f"{question.solar.basis}",
        *question.conditions.words(question.times, question.solar.r12),
    )


def hung_words(reach: Reach, setup: SetUpReach) -> str:
    """
    Name a set-up and say how it is turned.

    Parameters
    ----------
    reach : Reach
        What was found.
    setup : SetUpReach
        The set-up.

    Returns
    -------
    words : str
        Without a full stop.
    """
    if not setup.works.any():
        return f"{setup.name}: not cut for any of these bands."
    if setup.wire_deg is None:
        turned = "" if reach.towards else " (averaged over bearings where it has one)"
        return f"{setup.name}{turned}"
    runs = run_words(setup.wire_deg, end=setup.first_end)
    return f"{setup.name}, running {runs}"


def sentence(reach: Reach, setup: SetUpReach, band: int) -> str:
    """
    Say what kind of wire a set-up is on one band, at noon and at other hours.

    Parameters
    ----------
    reach : Reach
        What was found.
    setup : SetUpReach
        The set-up.
    band : int
        Place of a band it works on.

    Returns
    -------
    words : str
        A few sentences.
    """
    question, noon = reach.question, reach.noon
    hour = hour_name(question, noon)
    at = (
        f"at noon ({hour})"
        if _is_whole_day(reach)
        else f"with the sun highest ({hour})"
    )
    words = f"On {question.bands[band].name} {at} {_verdict(reach, setup, band)}."
    for ring, name in enumerate(RINGS):
        if setup.served[ring, noon, band]:
            continue
        hours = setup.served[ring, :, band]
        if hours.any():
            best = int(np.argmax(np.where(hours, setup.share[ring, :, band], 0.0)))
            peak = _percent(setup, ring, best, band)
            peak += f" at {hour_name(question, best)}" if hours.sum() > 1 else ""
            also = "" if setup.verdict[noon, band] == NOTHING else "also "
            words += f" {_spans(reach, hours)} it {also}serves {name} ({peak})."
    return words + _skip_words(reach, band)


def _skip_words(reach: Reach, band: int) -> str:
    """Say how wide the skip zone is at noon and at its widest."""
    nearest = reach.nearest_km[:, band]
    if not np.isfinite(nearest).any():
        return ""
    widest = int(np.nanargmax(nearest))
    here = nearest[reach.noon]
    noon = "at noon" if _is_whole_day(reach) else "with the sun highest"
    words = "" if math.isnan(here) else f" Skip zone: {_zone(here)} {noon}"
    if widest == reach.noon or nearest[widest] == here:
        return f"{words}." if words else ""
    most = f"{_zone(nearest[widest])} at {hour_name(reach.question, widest)}"
    return f"{words}, {most}." if words else f" Skip zone: {most}."


def _zone(nearest_km: float) -> str:
    """Write the width of a skip zone."""
    return "none" if nearest_km < 5.0 else f"{_km(nearest_km)} km"


def _is_whole_day(reach: Reach) -> bool:
    """Whether the hours go once round, so that the first follows the last."""
    return reach.question.times.size == 24


def _verdict(reach: Reach, setup: SetUpReach, band: int) -> str:
    """Say what the wire is at noon, with its shares."""
    noon = reach.noon
    verdict = str(setup.verdict[noon, band])
    if verdict == NOTHING:
        lost = setup.share[3:, noon, band]
        most = int(lost.argmax())
        fate = _FATES[LANDINGS[3 + most]]
        return f"hardly anything comes down: {100 * lost[most]:.0f} % {fate}"
    if verdict == SPLIT:
        parts = [
            f"{_percent(setup, ring, noon, band)} {name}"
            for ring, name in enumerate(RINGS)
            if setup.served[ring, noon, band]
        ]
        return f"it splits its power: {', '.join(parts)}"
    ring = _RING_OF[verdict]
    words = (
        f"this is a {_KINDS[verdict]} wire: {_percent(setup, ring, noon, band)} "
        f"{_over(reach, setup, ring, band)}of its power comes down {RINGS[ring]}"
    )
    others = [
        f"{_percent(setup, other, noon, band)} {name}"
        for other, name in enumerate(RINGS)
        if other != ring and setup.served[other, noon, band]
    ]
    return ", ".join([words, *others])


def _percent(setup: SetUpReach, landing: int, hour: int, band: int) -> str:
    """Write a share."""
    return f"{100.0 * setup.share[landing, hour, band]:.0f} %"


def _over(reach: Reach, setup: SetUpReach, ring: int, band: int) -> str:
    """Write the range of a share at noon."""
    cell = ring, reach.noon, band
    low, high = (
        round(100.0 * float(each[cell])) for each in (setup.share_low, setup.share_high)
    )
    return f"({low} to {high} over {reach.varied}) " if low != high else ""


def _spans(reach: Reach, hours: Bools) -> str:
    """Write the longest runs of hours, by the clock; empty if there is none."""
    runs = sorted(_runs(hours, wraps=_is_whole_day(reach)), key=lambda run: -len(run))
    told = sorted((run[0], run[-1]) for run in runs[:_MOST_RUNS])
    return " and ".join(span_names(reach.question, told))


def _runs(hours: Bools, *, wraps: bool) -> Iterator[list[int]]:
    """List the runs of true hours; one over the end goes on at the beginning."""
    places = np.flatnonzero(hours)
    if not places.size:
        return
    runs = np.split(places, np.flatnonzero(np.diff(places) > 1) + 1)
    if wraps and len(runs) > 1 and runs[0][0] == 0 and runs[-1][-1] == hours.size - 1:
        runs = [*runs[1:-1], np.concatenate([runs[-1], runs[0]])]
    for run in runs:
        yield run.tolist()


def shares_columns(reach: Reach, setup: SetUpReach) -> list[Column[int]]:
    """
    Set out shares by hour: in full for one band, the three rings for several.

    Parameters
    ----------
    reach : Reach
        What was found.
    setup : SetUpReach
        The set-up.

    Returns
    -------
    columns : list of Column
        Of an hour's place.
    """
    bands = np.flatnonzero(setup.works).tolist()
    if len(bands) == 1:
        return _one_band(reach, setup, bands[0])
    return [
        Column(reach.question.bands[b].name, partial(_rings_cell, setup, b))
        for b in bands
    ]


def _tables(reach: Reach, setup: SetUpReach) -> str:
    """Shares by hour, so many bands a table as have room."""
    columns = shares_columns(reach, setup)
    at_once = len(columns) if setup.works.sum() == 1 else _BANDS_A_TABLE
    return "\n\n".join(
        hours_of(reach.question, columns[first : first + at_once])
        for first in range(0, len(columns), at_once)
    )


def _rings_cell(setup: SetUpReach, band: int, hour: int) -> str:
    """Near, mid and far in per cent; a dot where hardly anything comes down."""
    shares = setup.share[:3, hour, band]
    if shares.sum() < LEAST_DOWN:
        return "."
    return "/".join(f"{100.0 * share:.0f}" for share in shares)


def _one_band(reach: Reach, setup: SetUpReach, band: int) -> list[Column[int]]:
    """Everything that becomes of the power on one band."""

    def share(landing: int, t: int) -> str:
        return f"{100.0 * setup.share[landing, t, band]:.0f}"

    heads = ("near %", "mid %", "far %", "through", "absorbed", "blocked")
    return [
        *(Column(name, partial(share, i)) for i, name in enumerate(heads)),
        Column("nearest km", lambda t: _km(reach.nearest_km[t, band])),
        Column("verdict", lambda t: str(setup.verdict[t, band]), is_words=True),
    ]


def _km(distance_km: float) -> str:
    """Write a distance; a dash where there is none."""
    return "-" if math.isnan(distance_km) else f"{10 * round(distance_km / 10)}"


def nearest_columns(reach: Reach) -> list[Column[int]]:
    """
    Set out the nearest distance served by hour and band, whatever the wire.

    Parameters
    ----------
    reach : Reach
        What was found.

    Returns
    -------
    columns : list of Column
        Of an hour's place.
    """

    def nearest(band: int, t: int) -> str:
        return _km(reach.nearest_km[t, band])

    used = np.flatnonzero(np.any([setup.works for setup in reach.setups], axis=0))
    return [
        Column(reach.question.bands[b].name, partial(nearest, b)) for b in used.tolist()
    ]


def notes_words(reach: Reach) -> str:
    """
    Explain the figures once.

    Parameters
    ----------
    reach : Reach
        What was found.

    Returns
    -------
    words : str
        A few sentences.
    """
    cells = (
        f"a/b/c: per cent of the radiated power that comes down {RINGS[0]}, "
        f"{RINGS[1]} and {RINGS[2]}; '.': under {100 * LEAST_DOWN:.0f} %. "
        if _has_several_bands(reach)
        else ""
    )
    return (
        f"{cells}Shares are means over the days of such a month and over the first hop "
        "alone: what comes down goes on by further hops, so a mid-range wire is heard "
        "far away too. A wire is named after the ring that has more than half of what "
        f"comes down; another is served where it has {100 * ALSO:.0f} % of it. What is "
        "left goes through the layers, or meets the horizon, or loses more than "
        f"{ABSORBED_DB:.0f} dB. Flat rays take little of the power and go farthest: "
        "judge far contacts by 'skiplobe tonight'. Sporadic E is left out. A distance "
        f"is served if it is reached on {10 * SERVED:.0f} days in ten."
    )


def reach_details(reach: Reach) -> ReachDetails:
    """
    List the sentences of each set-up by band, with its bearing.

    Parameters
    ----------
    reach : Reach
        What `advisor.answers.far_places.reach.reach` found.

    Returns
    -------
    details : ReachDetails
        By the set-up's name.
    """
    bands = reach.question.bands
    told = {
        setup.name: ReachedSetUp(
            wire_deg=setup.wire_deg,
            sentences={
                bands[b].name: sentence(reach, setup, b)
                for b in np.flatnonzero(setup.works).tolist()
            },
        )
        for setup in reach.setups
    }
    return ReachDetails(told, reach.varied)
