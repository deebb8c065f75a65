"""What to take along, worked out from the wires of a plan."""

from __future__ import annotations

import math
from collections.abc import Sequence

from advisor.answers.hanging.supports import poles_needed, tied_off
from advisor.answers.low_wires import HEAD_M, open_ends
from advisor.answers.one_wire.wire import BandWork, WireWork
from advisor.antenna.shapes.parts import HungWire
from advisor.antenna.shapes.registry import SHAPES
from advisor.engine.wires import hung_wire
from advisor.station.bands import band_by_name
from advisor.station.setup import EACH_BAND
from geo.fields import record

TUNER_FROM_SWR = 2.0
"""A radio without a tuner is usually content up to here (common practice, no source).
[1]"""

LOW_WIRE_M = 2.5
"""Wire lower than a raised hand is flagged (common practice, no source). [m]"""

SPARE = 0.03
"""Wire is cut so much longer than worked out, then trimmed (common practice, no
source)."""

_HALYARD_SPARE_M = 3.0


@record
class Item:
    """
    One thing to take along.

    Attributes
    ----------
    kind : str
        What sort of thing.
    what : str
        How many, how long, what for.
    """

    kind: str
    what: str


def packing_list(works: Sequence[WireWork], declination_deg: float) -> tuple[Item, ...]:
    """
    List what to take along.

    Parameters
    ----------
    works : sequence of WireWork
        The wires of the plan on the bands of the plan.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]

    Returns
    -------
    items : tuple of Item
        What follows from the wires first, then what every outing with a wire needs.
    """
    items = [item for work in works for item in _for_wire(work)]
    low = sum(_low_places(work) for work in works)
    if low:
        items.append(Item("flags", f"{low}, for wire and cords below {LOW_WIRE_M:g} m"))
    items += [
        Item("throwing", "weight and line for trees, gloves, eye cover"),
        Item(
            "measuring",
            f"SWR meter, tape of 10 m, compass ({abs(declination_deg):.0f} deg "
            f"{'more' if declination_deg < 0 else 'less'} than true), clock on UTC",
        ),
        Item("repair", "knife, tape, lamp, spare wire, connector, this sheet on paper"),
    ]
    return tuple(items)


def _for_wire(work: WireWork) -> list[Item]:
    """Everything that one set-up asks for."""
    longest = max(work.bands, key=lambda one: one.hanging.wire_m)
    name = work.setup.name
    items = [Item("wire", f"{name}: {_wire(work, longest)}")]
    hanging = longest.hanging
    if hanging.below_n:
        what = "radials" if hanging.below_n > 1 else "counterpoise"
        lengths = sorted(
            {round(b.hanging.below_m, 2) for b in work.bands}, reverse=True
        )
        shown = ", ".join(f"{length:.2f}" for length in lengths)
        held = _held_words(longest)
        items.append(Item(what, f"{name}: {hanging.below_n} of {shown} m{held}"))
    items += [
        Item(what, f"{name}: {_parts(parts)}")
        for what, parts in (("traps", work.setup.traps), ("coils", work.setup.coils))
        if parts
    ]
    if work.setup.stake_m:
        items.append(Item("earth", f"{name}: stake of {work.setup.stake_m:g} m"))
    items += _supports(work)
    ends = max(len(open_ends(one.hung)) for one in work.bands)
    sides = 2 if SHAPES[work.setup.shape].is_centre_fed else 1
    links = (len(work.bands) - 1) * sides
    if work.setup.cut != EACH_BAND:
        links = 0
    insulators = f"{name}: at every corner"
    if ends:
        insulators = f"{name}: {ends} at the ends, where the voltage is highest"
    if links:
        insulators += f", {links} with links"
    volts = max(one.feed.voltage_v for one in work.bands)
    items.append(Item("insulators", f"{insulators}; {_kilovolts(volts)} at the feed"))
    items.append(Item("feed", f"{name}: {_feed(work)}"))
    return items


def _parts(parts: Sequence[tuple[float, ...]]) -> str:
    """Say how many there are, and where along the wire they go."""
    places = " and ".join(f"{part[0]:.2f} m" for part in parts)
    return f"{len(parts)}, {places} along the wire from its first end"


def _held_words(one: BandWork) -> str:
    """Say that what a wire is fed against must be held up, where it is in the air."""
    if one.hanging.feed_m < HEAD_M:
        return ""
    return f"; held out by cord, {one.hanging.feed_m:.1f} m up as worked out"


def _wire(work: WireWork, longest: BandWork) -> str:
    """Say how much wire, and its cuts."""
    cut = longest.hanging.wire_m * (1.0 + SPARE)
    words = f"{math.ceil(10.0 * cut) / 10.0:.1f} m with {100.0 * SPARE:.0f} % to trim"
    if work.setup.cut == EACH_BAND and len(work.bands) > 1:
        words += ", links for " + ", ".join(
            one.band for one in work.bands if one is not longest
        )
    return words


def _supports(work: WireWork) -> list[Item]:
    """Say which supports, halyards, cords and stakes."""
    name = work.setup.name
    heights: dict[str, float] = {}
    cords: dict[str, float] = {}
    spans_m = []
    for one in work.bands:
        held = one.hung
        needed, span_m = one.hanging.supports, one.hanging.span_m
        if held.on_rest:
            held = _whole(work)
            needed, span_m = poles_needed(held), held.span_m
        tied = tied_off(held)
        spans_m.append(span_m)
        for support in needed:
            heights[support.name] = max(
                heights.get(support.name, 0.0), support.height_m
            )
        for end, cord_m in tied.items():
            cords[end] = max(cords.get(end, 0.0), cord_m)
    items = []
    if heights:
        shown = ", ".join(f"{end} {height:.1f} m" for end, height in heights.items())
        span = max(spans_m) if len(heights) > 1 else 0.0
        apart = f"; {span:.1f} m apart or more" if span else ""
        items.append(Item("supports", f"{name}: {shown}{apart}"))
        lines = ", ".join(
            f"{2.0 * height + _HALYARD_SPARE_M:.0f} m" for height in heights.values()
        )
        items.append(Item("halyards", f"{name}: {lines}; guys and 3 stakes a mast"))
    rests = _rests_m(work)
    tails = {end: cord for end, cord in cords.items() if end not in heights} | {
        end: rest + cords.get(end, 0.0) for end, rest in rests.items()
    }
    if tails:
        shown = ", ".join(
            f"{end} {math.ceil(10.0 * cord) / 10.0:.1f} m"
            + (" out to its support" if end in heights else "")
            for end, cord in tails.items()
        )
        staked = ", each with a stake" if not heights.keys() & tails.keys() else ""
        items.append(Item("cords", f"{name}: {shown}{staked}"))
    return items


def _whole(work: WireWork) -> HungWire:
    """Hang the longest wire of a set-up, on whose line its shorter ones stay."""
    bands = [band_by_name(name).planning_mhz for name in work.setup.bands]
    return hung_wire(work.setup, min(bands))


def _rests_m(work: WireWork) -> dict[str, float]:
    """Cord in place of what is not taken along of that longest wire, by its end."""
    taken = max(work.bands, key=lambda one: one.hanging.wire_m).hung
    if taken is None or not taken.on_rest:
        return {}
    ends = {s.name: (s.east_m, s.north_m, s.height_m) for s in _whole(work).supports}
    return {
        s.name: math.dist(ends[s.name], (s.east_m, s.north_m, s.height_m))
        for s in taken.supports
        if s.name in taken.on_rest
    }


def _feed(work: WireWork) -> str:
    """Say what stands between wire and radio."""
    feed = work.bands[0].feed
    parts = []
    if feed.transformer not in ("none", "1:1"):
        parts.append(f"{feed.transformer} transformer")
    balanced = feed.line.startswith("open")
    if feed.line != "none":
        if not balanced and work.setup.choke_ohm != 0.0:
            alone = work.bands[0].hanging.below_n or work.setup.stake_m
            why = " (else the coax radiates)" if alone else ""
            parts.append(f"choke on the line at the feed{why}")
        parts.append(f"{feed.line_m:g} m of {feed.line}")
    high = [one for one in work.bands if one.feed.radio_swr > TUNER_FROM_SWR]
    if balanced:
        parts.append("tuner for open line")
    elif high and work.setup.tuner:
        parts.append(f"tuner (for {', '.join(one.band for one in high)})")
    return ", ".join(parts) or "straight to the radio"


def _low_places(work: WireWork) -> int:
    """Count what somebody could run into: low ends, radials, stakes, the line."""
    places = 0
    for one in work.bands:
        tied = len(tied_off(one.hung))
        masts = len(poles_needed(one.hung))
        low = 1 if one.hanging.lowest_m < LOW_WIRE_M else 0
        places = max(places, tied + masts + one.hanging.below_n + low)
    return places


def _kilovolts(volts: float) -> str:
    """Write a voltage in two figures."""
    return f"{volts / 1000.0:.1f} kV rms" if volts >= 1000.0 else f"{volts:.0f} V rms"
