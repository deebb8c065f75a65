"""The tables of an outing, made once for the terminal and for a page."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from advisor.answers.limits import LIMITS, OPEN_CHANCE
from advisor.answers.one_wire.wire import BandWork, WireWork
from advisor.answers.outing.plan import Activation, Slot
from advisor.answers.outing.twilight import GreyBoth, SunAt, take_down_by, turn_back_by
from advisor.answers.rows.activation import Outing
from advisor.answers.words import angle_range, in_ten
from advisor.show.text.cells import Cell, Column, chance_look, mean_chance, number
from advisor.show.text.exposure import exposure_cell
from advisor.show.text.hanging import below_words
from advisor.show.text.layout import (
    hour_cell,
    local_hour,
    local_hours,
    local_minute,
    minute,
)
from advisor.show.text.plan_words import (
    backup_words,
    range_head,
    slot_hours,
    target_letter,
    wire_number,
)
from advisor.station.setup import EACH_BAND

_HIGH_SWR = 20.0


def slot_columns(plan: Activation, zone: str | None) -> Iterator[Column[Slot]]:
    """
    Make the columns of the timetable; a row is a slot.

    Parameters
    ----------
    plan : Activation
        The plan.
    zone : str or None
        IANA time zone whose local time stands beside UTC.

    Yields
    ------
    column : Column
        Targets by their letters.
    """
    question, several = plan.advice.question, len(plan.advice.targets) > 1

    def opened(
        cell: Callable[[Slot], Cell | str], closed: Cell | None = None
    ) -> Callable[[Slot], Cell | str]:
        return lambda slot: cell(slot) if slot.setup >= 0 else closed or Cell("-")

    def wire(slot: Slot) -> Cell:
        place = str(wire_number(plan, slot.setup))
        name = plan.setups[slot.setup].name
        return Cell(f"{place} {name}", look="words", short=place)

    def needs(slot: Slot) -> str:
        seen, t, b = plan.advice.targets[slot.target], slot.hour, slot.band
        return angle_range(seen.takeoff_low_deg[t, b], seen.takeoff_high_deg[t, b])

    def gain(slot: Slot) -> Cell:
        gains = plan.advice.setups[slot.setup].gain_dbi
        return number(float(gains[slot.target, slot.hour, slot.band]))

    def limit(slot: Slot) -> Cell:
        limits = plan.advice.setups[slot.setup].limit
        name = LIMITS[int(limits[slot.target, slot.hour, slot.band])]
        return Cell(name, look="words")

    yield Column("UTC", lambda slot: slot_hours(plan, slot))
    if zone:
        begins = [slot.first for slot in plan.slots]
        texts = local_hours(question.times[begins], zone)
        if sum(" " in each for each in texts) == 1:
            # One day, which the heading names.
            texts = [each.split()[-1] for each in texts]
        here = dict(zip(begins, texts, strict=True))
        yield Column("local", lambda slot: here[slot.first])
    yield Column(
        "band", opened(lambda slot: Cell(question.bands[slot.band].name, look="key"))
    )
    for k in range(len(plan.advice.targets)):
        letter = target_letter(k)
        yield Column(letter, partial(_mean, k), f"days in ten, {letter}")
    for place, sent in enumerate(question.station.also_sent):
        head = f"{sent.name} all" if several else sent.name
        yield Column(head, opened(partial(_also, place)))
    # Behind the figures, for on a phone a name pushes what comes after it aside.
    yield Column("wire", opened(wire, Cell("nothing opens", look="words", short="-")))
    yield Column(
        range_head(plan), opened(lambda slot: f"{in_ten(slot.low)}-{in_ten(slot.high)}")
    )
    yield Column("or else", opened(lambda slot: backup_words(plan, slot)))
    if several:
        yield Column("for", opened(lambda slot: target_letter(slot.target)))
    yield Column("needs", opened(needs))
    yield Column("dBi", opened(gain), "wire dBi")
    yield Column("held back by", opened(limit), is_words=True)


def _mean(target: int, slot: Slot) -> Cell:
    """Set the mean chance of a slot in a cell."""
    chance = float(slot.chance[target])
    return chance_look(chance) if chance < OPEN_CHANCE else mean_chance(chance)


def _also(place: int, slot: Slot) -> Cell:
    """Write what another emission would do."""
    chance = slot.also[place]
    if np.isnan(chance):
        return Cell("-", "")
    return chance_look(chance) if chance < OPEN_CHANCE else mean_chance(chance)


WireBand = tuple[int, WireWork, BandWork]
"""Number of a wire in the plan, the wire, and one of its bands."""


def wires_by_band(outing: Outing) -> list[WireBand]:
    """
    List the wires of an outing band by band.

    Parameters
    ----------
    outing : Outing
        What is shown.

    Returns
    -------
    rows : list of (int, WireWork, BandWork)
        For `feed_columns`.
    """
    return [
        (wire_number(outing.plan, s), work, one)
        for work, s in zip(outing.works, outing.plan.used, strict=False)
        for one in work.bands
    ]


def feed_columns(rows: list[WireBand]) -> Iterator[Column[WireBand]]:
    """
    Make the columns of what to cut and what the feed sees; a row is a wire and band.

    Parameters
    ----------
    rows : list of (int, WireWork, BandWork)
        From `wires_by_band`.

    Yields
    ------
    column : Column
        Heights stand only on a page.
    """
    yield Column("wire", lambda row: str(row[0]), None)
    yield Column("band", lambda row: row[2].band, None)
    yield Column("", lambda row: f"{row[0]}, {row[2].band}", "wire, band")
    yield Column("cut m", lambda row: number(row[2].hanging.wire_m, 2))
    yield Column("each side m", _side)
    yield Column("trim", _trim)
    if any(one.hanging.below_n for _, _, one in rows):
        yield Column("", lambda row: below_words(row[2].hanging), "fed against")
    yield Column("", lambda row: number(row[2].hanging.top_m), "top m")
    yield Column("", lambda row: number(row[2].hanging.lowest_m), "lowest m")
    yield Column("", lambda row: number(row[2].hanging.span_m), "span m")
    yield Column("SWR feed", lambda row: _swr(row[2].feed.line_swr), "SWR at feed")
    yield Column("at radio", lambda row: _swr(row[2].feed.radio_swr), "SWR at radio")
    yield Column(
        "feed V", lambda row: number(row[2].feed.voltage_v, 0), "feed voltage V"
    )
    yield Column("A", lambda row: number(row[2].feed.current_a, 2), "feed current A")
    yield Column("exposure m", lambda row: exposure_cell(row[2].exposure), "exposure")


def _side(row: WireBand) -> Cell:
    """Length of either half of a wire fed in its middle."""
    side_m = row[2].hanging.side_m
    return Cell("-") if np.isnan(side_m) else number(side_m, 2)


def _trim(row: WireBand) -> Cell:
    """Length to add to a wire cut for the band."""
    _, work, one = row
    found = one.feed.resonance
    if np.isnan(found.add_mm) or work.setup.cut != EACH_BAND:
        return Cell("-")
    return Cell(f"{found.add_mm / 10.0:+.0f} cm", repr(found.add_mm))


def _swr(value: float) -> Cell:
    """Write a standing-wave ratio; beyond 20 it is only high."""
    if not value <= _HIGH_SWR:
        return Cell(">20", repr(float(value)) if np.isfinite(value) else "")
    return number(value)


def sun_columns(outing: Outing) -> Iterator[Column[SunAt]]:
    """
    Make the columns of sun and civil twilight; a row is a place.

    Parameters
    ----------
    outing : Outing
        What is shown.

    Yields
    ------
    column : Column
        Times of day, UTC.
    """
    yield Column(
        "sun, UTC",
        lambda sun: "here" if sun is outing.suns[0] else _name_of(outing, sun),
        "where",
        is_words=True,
    )
    yield Column("civil dawn", lambda sun: minute(sun.events.civil_dawn))
    yield Column("rise", lambda sun: minute(sun.events.rise))
    yield Column("set", lambda sun: minute(sun.events.set))
    yield Column("civil dusk", lambda sun: minute(sun.events.civil_dusk))


def sun_words(outing: Outing, zone: str | None) -> str:
    """
    Say when the grey line is at both ends at once, and when to take down.

    Parameters
    ----------
    outing : Outing
        What is shown.
    zone : str or None
        IANA time zone whose offset is said too.

    Returns
    -------
    words : str
        Up to two sentences; empty where no target has a middle and no sun sets.
    """
    zoned = ""
    if zone:
        first = outing.plan.advice.question.times[0]
        at = f"{local_hour(first, zone)} at {hour_cell(first)}Z"
        zoned = f" (local time of {zone} is {at})"
    words = []
    if outing.greys:
        spans = "; ".join(
            f"{_name_of(outing, grey)} {minute(grey.begin)}-{minute(grey.end)}"
            for grey in outing.greys
        )
        words.append(f"Grey line at both ends at once: {spans}Z{zoned}.")
    elif len(outing.suns) > 1:
        words.append(f"Grey line is never at both ends in these 24 hours{zoned}.")
    here, question = outing.suns[0].events, outing.plan.advice.question
    walk_min = question.station.walk_min
    begin = take_down_by(here, walk_min)

    def clock(moment: np.datetime64) -> str:
        local = f" ({local_minute(moment, zone)})" if zone else ""
        return f"{minute(moment)}Z{local}"

    ends = question.times[-1] + np.timedelta64(1, "h")
    is_dark = here.rise < here.set
    if is_dark and here.rise > question.times[0]:
        words.append(
            "The plan begins before sunrise, which is here at "
            f"{clock(here.rise)}: take lamps."
        )
    if not np.isnat(begin) and not (is_dark and here.set > ends):
        words.append(f"Sunset here {clock(here.set)}:")
        if walk_min:
            words.append(
                f"turn back by {clock(turn_back_by(here, walk_min))}, {walk_min:g} min "
                f"before it, and begin to take down by {clock(begin)}."
            )
        else:
            words.append(
                f"begin to take down by {clock(begin)}, and earlier by the way back, "
                "to be down by daylight (--walk-min tells when)."
            )
        if turn_back_by(here, walk_min) <= question.times[0]:
            words.append(
                f"The way back of {walk_min:g} min is longer than the daylight left: "
                "you come back after dark: take lamps."
            )
        elif ends > begin:
            words.append(
                "The plan goes on after sunset: take lamps."
                if ends > here.set
                else "The plan ends later than that: take lamps, or end it then."
            )
    return " ".join(words)


def _name_of(outing: Outing, end: SunAt | GreyBoth) -> str:
    """Write a far end by its letter."""
    names = [target.name for target in outing.plan.advice.targets]
    return f"middle of {target_letter(names.index(end.name))}"
