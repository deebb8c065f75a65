"""What one set-up does, as text; nothing is worked out here."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from functools import partial

from advisor.answers.one_wire.feed import Resonance, Sweep
from advisor.answers.one_wire.line import LineWork
from advisor.answers.one_wire.site import SiteWork
from advisor.answers.one_wire.sky import LOW_ANGLE_DEG, LobeReach, SkyWork
from advisor.answers.one_wire.wire import (
    BandWork,
    WireWork,
    own_cautions,
    true_bearings,
)
from advisor.answers.runs import run_title
from advisor.antenna.shapes.upright import LYING_RADIALS_N
from advisor.engine.wires import feed_parts
from advisor.show.text.cells import Cell, Column, number, text_table
from advisor.show.text.exposure import exposure_cell, method_words
from advisor.show.text.hanging import hanging_columns, hangings, span_words
from advisor.show.text.layout import paragraph
from advisor.show.text.site import site_text
from advisor.show.text.tonight import cautions_text
from advisor.station.setup import EACH_BAND, SetUp

Reaching = tuple[BandWork | None, LobeReach | None]
"""A line of a band: its first tells of the band too; a lobe, if it has one."""

# Lobes this far under the strongest are not named, nor are shallower dips. [dB]
_LOBE_DB, _DIP_DB = 3.0, 6.0
_TABLED_ANGLES = 9
_BESIDE_ANGLES = 5
_HIGHEST_BESIDE_DEG = 60.0
_MOST_DIRECTIONS = 6
_OFF_SCALE_SWR = 99.5
_EVERYWHERE_DBI = -50.0

# Radials under this height lie in the grass, and may be trodden into the soil. [m]
_LYING_M = 0.1


def wire_text(work: WireWork) -> str:
    """
    Write what one set-up does: verdicts, tables, dimensions, feed, cautions.

    Parameters
    ----------
    work : WireWork
        What `advisor.answers.one_wire.wire.wire_work` found.

    Returns
    -------
    text : str
        Ready to print, the cautions left out.
    """
    setup = work.setup
    title = setup.name if setup.name == setup.shape else f"{setup.name}: {setup.shape}"
    first = [
        paragraph(
            f"{title}, {_cut_words(work)}, over {work.ground} ground, "
            f"{work.emission.name} {work.power_w:g} W, {_bearing_words(work)}."
        ),
        text_table(verdict_columns(), work.bands),
        *(paragraph(f"{band}: not hung: {why}", "  ") for band, why in work.refused),
    ]
    tables = (_gains, _beside, _directions, _power, _feed, _line, _resonances, _hanging)
    blocks = ["\n".join(first), *(made(work) for made in tables)]
    return "\n\n".join(filter(None, blocks))


def whole_text(works: Sequence[WireWork], sites: Sequence[SiteWork] = ()) -> str:
    """
    Write several set-ups below one another, the cautions once.

    Parameters
    ----------
    works : sequence of WireWork
        One or more.
    sites : sequence of SiteWork, optional
        The same over the ground around, if asked for.

    Returns
    -------
    text : str
        Ready to print.
    """
    rule = f"\n\n{'-' * 40}\n\n"
    texts = rule.join([*map(wire_text, works), *map(site_text, sites)])
    note = paragraph(
        "What a band is good for goes by angle alone, as if the layers returned every "
        "band: what they do at an hour, and so where a band really reaches, is for "
        "'skiplobe reach' and 'skiplobe tonight'."
    )
    return "\n\n".join([texts, note, cautions_text(own_cautions(works))])


def verdict_columns() -> Iterator[Column[BandWork]]:
    """
    Make the columns of what each band is good for; a row is a band.

    Yields
    ------
    column : Column
        With the figures the verdict rests on.
    """

    def over(band: BandWork) -> Cell:
        level_db = band.sky.low.over_vertical_db
        return Cell(f"{level_db:+.1f} dB", repr(level_db))

    def swr(band: BandWork) -> Cell:
        sweep = band.feed.sweep
        best = sweep.radio_swr[sweep.best]
        return Cell(_swr(float(best)), repr(float(best)))

    yield Column("band", lambda band: band.band)
    yield Column("good for", _good_for, is_words=True)
    for i, head in enumerate(("0-800 km", "to 2500", "beyond")):
        yield Column(head, partial(_zone, i))
    yield Column("at 10 deg", lambda band: _dbi(band.sky.low.gain_dbi, " dBi"))
    yield Column("vs vertical", over)
    yield Column("SWR", swr, "best SWR")
    yield Column("to sky", lambda band: _share(_into(band) * band.sky.efficiency))


def _good_for(band: BandWork) -> Cell:
    """Spell the verdict of a band out."""
    words = verdict_words(band.sky.verdict, band.sky.reaches_far)
    return Cell(words, look="words")


def _zone(i: int, band: BandWork) -> Cell:
    """Share of the power that lands in a zone."""
    return _share(band.sky.zones[i])


def _gain_at(i: int, band: BandWork) -> Cell:
    """Gain at one of the take-off angles."""
    return _dbi(band.sky.angles[i].gain_dbi)


def _into(band: BandWork) -> float:
    """Part of the radio's power that gets into the wire."""
    return float(10.0 ** (-band.feed.loss_db / 10.0))


def verdict_words(verdict: str, reaches_far: bool) -> str:
    """
    Spell a verdict out.

    Parameters
    ----------
    verdict : str
        One of `advisor.answers.one_wire.sky.VERDICTS`.
    reaches_far : bool
        Whether the wire keeps up with a vertical at 5 degrees.

    Returns
    -------
    words : str
        What the band is good for.

    Examples
    --------
    >>> verdict_words("split", True)
    'split: short skip, DX'
    """
    if verdict == "split":
        return f"split: short skip, {'DX' if reaches_far else 'mid range'}"
    if verdict == "short skip" and reaches_far:
        return "short skip, some DX"
    return verdict


def _cut_words(work: WireWork) -> str:
    """How long the wire is."""
    if work.setup.cut == EACH_BAND:
        return "cut for each band"
    return f"{work.bands[0].hanging.wire_m:.2f} m of wire"


def _bearing_words(work: WireWork) -> str:
    """How the wire runs."""
    bearing, end = work.setup.bearing_deg, work.first_end
    if bearing is None and not work.setup.is_free_to_turn:
        return "alike all round"
    if bearing is None:
        start = f" from its {end}" if end else ""
        return f"directions clockwise from the way the wire runs{start}"
    return f"running {run_title(bearing, end)}, directions clockwise from that"


def _gains(work: WireWork) -> str:
    """Gain by take-off angle in the best direction of each."""
    note = paragraph(
        "Gain in dBi by take-off angle, in the best direction at each, for power into "
        "the wire"
    )
    return f"{note}\n{text_table(gain_columns(work), work.bands)}"


def gain_columns(work: WireWork) -> Iterator[Column[BandWork]]:
    """
    Make the columns of gain by take-off angle; a row is a band.

    Parameters
    ----------
    work : WireWork
        The set-up.

    Yields
    ------
    column : Column
        High angles stand only on a page.
    """
    yield Column("band", lambda band: band.band)
    for i, each in enumerate(work.bands[0].sky.angles):
        name = f"{each.takeoff_deg:g} deg"
        head = name if i < _TABLED_ANGLES else ""
        yield Column(head, partial(_gain_at, i), name)
    yield Column(
        "peak",
        lambda band: (
            f"{band.sky.peak.gain_dbi:.1f} at {band.sky.peak.takeoff_deg:.0f} deg"
        ),
    )


def _beside(work: WireWork) -> str:
    """Decibels over the three yardsticks at low and middle angles."""
    note = paragraph(
        "The same over three yardsticks, dB: a quarter-wave vertical on this ground "
        f"({LYING_RADIALS_N} radials in the grass), a half-wave dipole as high as the "
        "wire's top, one half a wave up"
    )
    return f"{note}\n{text_table(_beside_columns(work), work.bands)}"


def _beside_columns(work: WireWork) -> Iterator[Column[BandWork]]:
    """Say what is shown over the yardsticks, angle by angle."""

    def over(i: int, band: BandWork) -> str:
        each = band.sky.angles[i]
        levels = each.over_vertical_db, each.over_dipole_db, each.over_high_dipole_db
        return " ".join(f"{level:+.1f}" for level in levels)

    yield Column("band", lambda band: band.band)
    angles = [each.takeoff_deg for each in work.bands[0].sky.angles]
    told = [i for i, deg in enumerate(angles) if deg <= _HIGHEST_BESIDE_DEG]
    for i in told[:_BESIDE_ANGLES]:
        yield Column(f"{angles[i]:g} deg", partial(over, i))


def _directions(work: WireWork) -> str:
    """Lobes round the horizon and over elevation, and how far they go."""
    known = work.setup.bearing_deg is not None
    which = "true bearings" if known else "clockwise from the wire"
    note = paragraph(
        f"Lobes and nulls at {LOW_ANGLE_DEG:g} deg ({which}), how much of the power "
        "there is vertically polarised; lobes over elevation to half power, and how "
        "far one hop takes them (E at 110 km, F2 at 250 to 350 km)"
    )
    rows = [
        (band if n == 0 else None, reach)
        for band in work.bands
        for n, reach in enumerate(band.sky.reach or [None])
    ]
    return f"{note}\n{text_table(_direction_columns(work.setup), rows)}"


def _direction_columns(setup: SetUp) -> Iterator[Column[Reaching]]:
    """Say what is shown of a band, on its first line, and of each of its lobes."""

    def first(told: Callable[[BandWork], str]) -> Callable[[Reaching], str]:
        return lambda row: told(row[0]) if row[0] else ""

    def lobe(told: Callable[[LobeReach], str]) -> Callable[[Reaching], str]:
        return lambda row: told(row[1]) if row[1] else "-"

    def lobes(band: BandWork) -> str:
        found = band.sky.lobes
        edge = max(found.maxima_dbi, default=0.0) - _LOBE_DB
        pairs = zip(found.maxima_deg, found.maxima_dbi, strict=True)
        return _degrees(setup, [deg for deg, dbi in pairs if dbi > edge]) or "all round"

    def nulls(band: BandWork) -> str:
        found = band.sky.lobes
        edge = max(found.maxima_dbi, default=0.0) - _DIP_DB
        pairs = zip(found.minima_deg, found.minima_dbi, strict=True)
        return _degrees(setup, [deg for deg, dbi in pairs if dbi < edge]) or "-"

    yield Column("band", first(lambda band: band.band))
    yield Column("lobes", first(lobes), is_words=True)
    yield Column("nulls", first(nulls), is_words=True)
    yield Column("vertical", first(lambda band: _percent(band.sky.vertical_share)))
    yield Column("take-off", lobe(lambda at: f"{at.low_deg:.0f}-{at.high_deg:.0f} deg"))
    yield Column("E km", lobe(lambda at: f"{_km(at.e_near_km)}-{_km(at.e_far_km)}"))
    yield Column("F2 km", lobe(lambda at: f"{_km(at.f2_near_km)}-{_km(at.f2_far_km)}"))


def _power(work: WireWork) -> str:
    """Where a hundred watts go, and what the ground does to the gain."""
    note = paragraph(
        "Where the radio's power goes; mean power at the wire and how far to keep "
        f"people off it. {method_words(band.exposure for band in work.bands)}"
    )
    return f"{note}\n{text_table(_power_columns(), work.bands)}"


def _power_columns() -> Iterator[Column[BandWork]]:
    """Say what is shown of the power of a band."""

    def kept(part: Callable[[SkyWork], float]) -> Callable[[BandWork], str]:
        return lambda band: _percent(_into(band) * part(band.sky))

    def moved(band: BandWork) -> str:
        if not band.grounds:
            return "-"
        least, most = (
            pick(band.grounds, key=lambda each: each.gain_dbi) for pick in (min, max)
        )
        return (
            f"{band.ground_spread_db:.1f} dB: {least.gain_dbi:.1f} {least.ground} "
            f"to {most.gain_dbi:.1f} {most.ground}"
        )

    yield Column("band", lambda band: band.band)
    yield Column("feed", lambda band: _percent(1.0 - _into(band)))
    yield Column("wire", kept(lambda sky: sky.conductor_share + sky.load_share))
    yield Column("ground", kept(lambda sky: sky.ground_share))
    yield Column("sky", kept(lambda sky: sky.efficiency))
    yield Column("mean W", lambda band: f"{band.mean_w:.2g}")
    yield Column("keep off m", lambda band: exposure_cell(band.exposure))
    yield Column("the ground moves 10 deg by", moved, is_words=True)


def _feed(work: WireWork) -> str:
    """Tell what the radio sees."""
    first = work.bands[0].feed
    line = f"{first.line_m:g} m of {first.line}" if first.line != "none" else "no line"
    ratio = "no transformer"
    if first.transformer != "none":
        ratio = f"transformer {first.transformer}"
    tuner = "a tuner at the radio" if first.tuner else "no tuner"
    note = paragraph(
        f"Feed: {ratio}, {line}, {tuner}. SWR at the radio before any tuner, at the "
        "band's edges and at best; losses in dB at the planning frequency: of the "
        "transformer, of the line, by its standing wave, by mismatch; rms at the feed"
    )
    return f"{note}\n{text_table(feed_columns(), work.bands)}"


def line_columns() -> Iterator[Column[tuple[str, LineWork]]]:
    """
    Make the columns of what runs on the outside of the line; a row is a band.

    Yields
    ------
    column : Column
        Of the band's name and what was found.
    """
    yield Column("band", lambda row: row[0])
    yield Column("feed A", lambda row: number(row[1].feed_a, 3))
    yield Column("most A", lambda row: number(row[1].most_a, 3))
    yield Column("radio V", lambda row: number(row[1].radio_v, 0))
    yield Column("choke W", lambda row: number(row[1].choke_w))
    yield Column("10 deg", lambda row: f"{row[1].gain_db:+.1f} dB")
    yield Column("noise", lambda row: f"{row[1].pickup_db:.0f} dB")


def lines_of(work: WireWork) -> tuple[str, list[tuple[str, LineWork]]]:
    """
    Gather what runs on the outside of the line.

    Parameters
    ----------
    work : WireWork
        What `advisor.answers.one_wire.wire.wire_work` found.

    Returns
    -------
    note : str
        What the columns say.
    rows : list of (str, LineWork)
        By band; empty where the set-up does not say.
    """
    rows = [(band.band, band.line) for band in work.bands]
    known = [(name, each) for name, each in rows if each is not None]
    ohm, at_m = work.setup.choke_ohm, work.setup.choke_at_m
    choke = f"a choke of {ohm:g} ohm {at_m:g} m along" if ohm else "without a choke"
    note = (
        f"On the outside of the line, {choke}: rms at the feedpoint, where it is "
        "most, and at the radio's case if it is not earthed; what heats the choke; "
        "what it adds at 10 deg in the best direction; how much weaker noise from "
        "beside the line comes in than from beside the wire"
    )
    return note, known


def _line(work: WireWork) -> str:
    """Tell what runs on the outside of the line, or that nothing is counted there."""
    note, rows = lines_of(work)
    if rows:
        return f"{paragraph(note)}\n{text_table(line_columns(), rows)}"
    line = feed_parts(work.setup)[1]
    first = work.bands[0].hung
    if line is None or not line.is_coaxial or not (first.below_wires or first.earth):
        return ""
    words = (
        "Nothing is counted on the outside of the coax, as with a good choke at the "
        "feedpoint. Without one it is a part of the antenna: it radiates, brings in "
        "noise from beside it and voltage to the radio; choke_ohm = 0 works it out."
    )
    return paragraph(words)


def feed_columns() -> Iterator[Column[BandWork]]:
    """
    Make the columns of what the radio sees; a row is a band.

    Yields
    ------
    column : Column
        On a page the losses are one sum, and the sweep is a picture.
    """

    def swept(read: Callable[[Sweep], str]) -> Callable[[BandWork], str]:
        return lambda band: read(band.feed.sweep)

    def loss(name: str) -> Callable[[BandWork], str]:
        return lambda band: f"{round(getattr(band.feed, name), 1) + 0.0:.1f}"

    yield Column("band", lambda band: band.band)
    yield Column("MHz", lambda band: f"{band.frequency_mhz:g}", None)
    yield Column("feed ohm", lambda band: _ohm(band.feed.wire_ohm), "wire ohm")
    yield Column("", lambda band: number(band.feed.radio_swr), "SWR at planning MHz")
    yield Column("SWR low", swept(lambda sweep: _swr(float(sweep.radio_swr[0]))), None)
    yield Column(
        "best", swept(lambda sweep: _swr(float(sweep.radio_swr[sweep.best]))), None
    )
    yield Column(
        "at MHz", swept(lambda sweep: f"{sweep.frequency_mhz[sweep.best]:.3f}"), None
    )
    yield Column("high", swept(lambda sweep: _swr(float(sweep.radio_swr[-1]))), None)
    yield Column("", lambda band: band.feed.transformer, "transformer")
    yield Column("", lambda band: number(band.feed.loss_db), "feed loss dB")
    yield Column("xfmr", loss("transformer_loss_db"), None)
    yield Column("line", loss("matched_line_loss_db"), None)
    yield Column("+SWR", loss("added_line_loss_db"), None)
    yield Column("mism", loss("mismatch_loss_db"), None)
    yield Column("V", lambda band: number(band.feed.voltage_v, 0), "feedpoint V")
    yield Column("A", lambda band: number(band.feed.current_a, 2), "feedpoint A")
    yield Column(
        "best ratio",
        lambda band: band.feed.best.name,
        None,
    )
    yield Column("", lambda band: exposure_cell(band.exposure), "keep clear")


def _resonances(work: WireWork) -> str:
    """Where it resonates, and how much to trim."""
    found = [(band.band, band.feed.resonance) for band in work.bands]
    rows = [
        (name, each)
        for name, each in found
        if not (math.isnan(each.frequency_mhz) and math.isnan(each.highest_mhz))
    ]
    if not rows:
        return "No resonance within 6 % of any of these bands."
    note = paragraph(
        "Resonance within 6 % of the band, where the resistance is highest (for a wire "
        "fed at its end), and the trim of the whole wire: do half of it, measure again"
    )
    columns: list[Column[tuple[str, Resonance]]] = [
        Column("band", lambda row: row[0]),
        Column("MHz", lambda row: number(row[1].frequency_mhz, 3)),
        Column("ohm", lambda row: number(row[1].resistance_ohm, 0)),
        Column("highest R at MHz", lambda row: number(row[1].highest_mhz, 3)),
        Column("ohm", lambda row: number(row[1].highest_ohm, 0)),
        Column("trim for planning", lambda row: _trim(row[1].add_mm)),
        Column("a kHz", lambda row: f"{row[1].mm_per_khz:.1f} mm"),
    ]
    return f"{note}\n{text_table(columns, rows)}"


def _trim(add_mm: float) -> str:
    """Say what to do to the wire."""
    if math.isnan(add_mm):
        return "-"
    return f"{'add' if add_mm >= 0.0 else 'cut'} {abs(add_mm):.0f} mm"


def _hanging(work: WireWork) -> str:
    """Lengths, heights, supports; by band if they differ."""
    what = "wire to cut, highest and lowest point, height of the feedpoint, supports"
    lines = [
        paragraph(f"How it hangs: {what}"),
        text_table(hanging_columns(work.setup), hangings(work)),
    ]
    if earth := _earth_words(work):
        lines.append(paragraph(earth))
    if work.bands[0].hanging.by_default:
        lines.append(paragraph(f"Left to their defaults: {_defaults(work)}.", "  "))
    return "\n".join(lines)


def _earth_words(work: WireWork) -> str:
    """Say what goes into the soil under the feed and where the wires below lie."""
    setup, words = work.setup, []
    if setup.stake_m:
        words.append(f"a stake {setup.stake_m:g} m deep under the feedpoint")
    if (at_m := setup.radials_at_m) is not None:
        what = "radials" if work.bands[0].hanging.below_n > 1 else "counterpoise"
        up = f"{100.0 * abs(at_m):.3g} cm {'under' if at_m < 0.0 else 'above'}"
        words.append(f"{what} {up if at_m else 'on'} the ground")
        if 0.0 < at_m <= _LYING_M:
            words.append(
                "trodden into usual soil they lose up to 2 dB more, which "
                "radials_at_m = -0.01 shows"
            )
    elif words:
        words.append("no radials or counterpoise")
    told = "; ".join(words)
    return f"{told[:1].upper()}{told[1:]}." if told else ""


def _defaults(work: WireWork) -> str:
    """Dimensions that were not given, with the range of their values."""
    words = []
    for key in work.bands[0].hanging.by_default:
        values = [dict(band.hanging.sizes)[key] for band in work.bands]
        words.append(f"{key} {span_words(values)}")
    return ", ".join(words)


def _dbi(gain_dbi: float, unit: str = "") -> Cell:
    """Write a gain; a dash where next to nothing is radiated."""
    figures = "-" if gain_dbi < _EVERYWHERE_DBI else number(gain_dbi).text
    return Cell(f"{figures}{unit}", repr(float(gain_dbi)))


def _swr(swr: float) -> str:
    """Write an SWR."""
    if not swr < _OFF_SCALE_SWR:
        return "99+"
    return f"{swr:.1f}" if swr < 10.0 else f"{swr:.0f}"


def _ohm(z_ohm: complex) -> str:
    """Write an impedance in whole ohms."""
    return f"{z_ohm.real:.0f}{z_ohm.imag:+.0f}j"


def _percent(share: float) -> str:
    """Write a share."""
    if math.isnan(share):
        return "-"
    percent = 100.0 * share
    return f"{percent:.1f} %" if 0.05 <= percent < 0.95 else f"{percent:.0f} %"


def _share(share: float) -> Cell:
    """Set a share in a cell, the percentage in full behind it."""
    return Cell(_percent(share), repr(100.0 * share))


def _degrees(setup: SetUp, directions_deg: Sequence[float]) -> str:
    """Write the first directions in whole degrees, rising, and how many more."""
    turned = true_bearings(setup, directions_deg) or directions_deg
    first = sorted(round(each) % 360 for each in turned[:_MOST_DIRECTIONS])
    words = " ".join(str(each) for each in first)
    more = len(turned) - len(first)
    return f"{words} +{more}" if more else words


def _km(distance_km: float) -> str:
    """Write a distance to two figures."""
    step = 10.0 if distance_km < 1000.0 else 50.0
    return f"{step * round(distance_km / step):.0f}"
