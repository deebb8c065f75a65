"""One figure laid open, as text and as rows; nothing is worked out here."""

from __future__ import annotations

import math

from advisor.answers.hours import zone_title
from advisor.answers.perturb import Change
from advisor.answers.runs import run_words
from advisor.answers.states import FAR_TOO_WEAK, OPEN, SHORT, STATES, WEAK_SIGNAL
from advisor.answers.uncertainty import range_words
from advisor.answers.why_facts import Chances, ControlPoint, ModeFacts, Why, source_of
from advisor.answers.words import days_in_ten, in_ten, what_a_chance_is
from advisor.engine.question import Question
from advisor.propagation.above_muf import MOST_DB
from advisor.show.text.cells import Column, number, text_table
from advisor.show.text.layout import local_hours, paragraph, table
from advisor.show.text.way_sum import (
    NOISE_TITLE,
    noise_rows,
    sum_columns,
    sum_names,
    sum_words,
    way_notes,
)
from advisor.station.cautions import CAUTIONS_IN_BRIEF
from geo.fields import LEFT_OUT

_SELDOM = 0.05
"""Share of days below which a mode that the MUF allows wants explaining."""

DIRECTIONS = {
    "heard": "they copy me; the far end's noise counts",
    "hear": "I copy them; the noise here counts",
}
"""Which of the two directions is the worse one."""

NO_MODE = "No ray of any layer comes down there on this band, not even weakly."


def why_text(
    why: Why, question: Question, *, band_chosen: bool = False, brief: bool = False
) -> str:
    """
    Write one figure laid open.

    Parameters
    ----------
    why : Why
        What `advisor.answers.why.explain_chance` found.
    question : Question
        What was asked.
    band_chosen : bool, optional
        Whether the band was chosen as the best of the hour rather than named.
    brief : bool, optional
        Whether to leave out reasons and keys, with the cautions in one sentence.

    Returns
    -------
    text : str
        Ready to print.
    """
    asked = "\n".join(_heading(why, question, band_chosen))
    if brief:
        return "\n\n".join([asked, _budgets(why), paragraph(CAUTIONS_IN_BRIEF)])
    path = [*map(paragraph, path_words(why))]
    path.append(text_table(place_columns(), why.control_points))
    title = "Sum of the ways with most chance, in the worse direction"
    added_up = [
        paragraph(f"{title}: {DIRECTIONS[why.direction]}."),
        *_paragraphs(sum_words(why)),
        _budgets(why),
        *(paragraph(each, "  ") for each in way_notes(why)),
    ]
    changes = text_table(change_columns(), why.changes)
    blocks = [
        asked,
        "\n".join(path),
        paragraph(layers_words(why)),
        "\n".join([_modes(why), *_paragraphs(mode_notes(why))]),
        "\n".join(added_up),
        f"{NOISE_TITLE}:\n{_noise(why)}",
        paragraph(result_words(why)),
        f"{changes_title(why)}:\n{changes}",
        paragraph(
            f"{what_a_chance_is(question)} "
            f"(-1) behind a limit: a day in ten is lost to it."
        ),
    ]
    return "\n\n".join(blocks)


def _paragraphs(words: str) -> list[str]:
    """Break words into lines; none at all if there are no words."""
    return [paragraph(words)] if words else []


def asked_words(why: Why, question: Question) -> str:
    """
    Say from where to where, with what, under which sun.

    Parameters
    ----------
    why, question
        What was found, and what was asked.

    Returns
    -------
    words : str
        Without a full stop.
    """
    station, place = question.station, question.place
    return (
        f"from {question.here} ({place.lat_deg:.2f}, {place.lon_deg:.2f}) to "
        f"{why.target}"
        f"{', the long way round' if why.is_long_path else ''}, "
        f"{question.emission.name} {station.power_w:g} W, noise {station.noise} here "
        f"and {station.far_end.noise} with {station.far_end.words} there, "
        f"{question.solar.basis}"
    )


def _heading(why: Why, question: Question, band_chosen: bool) -> list[str]:
    """Write what was asked, and the answer."""
    is_open = why.whole.state == _OPEN
    chosen = " (the best at that hour)" if is_open else " (none opens; this is nearest)"
    chosen = chosen if band_chosen else ""
    whole, assumed = why.whole, question.assumed
    zone = question.station.time_zone
    here = (
        f" ({zone_title(zone)} {local_hours(question.times, zone)[0]})" if zone else ""
    )
    asked = f"Why {why.band}{chosen} at {why.utc}{here}: {asked_words(why, question)}"
    answer = f"{sure_words(whole)}. {limit_words(whole)}.{opening_words(why)}"
    lines = [asked, *assumed, answer, wire_words(why)]
    return [paragraph(line, "  " if line in assumed else "") for line in lines]


def opening_words(why: Why) -> str:
    """
    Say when a shut band opens next.

    Parameters
    ----------
    why : Why
        What was found.

    Returns
    -------
    words : str
        A sentence with a blank before it; empty of a band that is open.
    """
    if why.whole.state == _OPEN:
        return ""
    if not why.opens_utc:
        return " It does not open in the next 24 hours."
    day = "" if why.opens_utc[:10] == why.utc[:10] else "the next day "
    hour = f"{why.opens_utc[11:13]}Z"
    return f" It opens next at {hour} {day}({days_in_ten(why.opens_chance)})."


def sure_words(chances: Chances) -> str:
    """
    Write a chance with both directions and its range.

    Parameters
    ----------
    chances : Chances
        For the target or one point of it.

    Returns
    -------
    words : str
        Without a full stop.
    """
    month = chances.chance_month
    known = "" if month is LEFT_OUT else f" ({10 * month:.1f} but for what was heard)"
    words = (
        f"{10 * chances.chance:.1f} days in ten{known}: they copy me "
        f"{10 * chances.chance_heard:.1f}, I copy them {10 * chances.chance_hear:.1f}"
    )
    spread = range_words(chances.chance_low, chances.chance_high)
    return f"{words}; {spread}" if spread else words


_OPEN = STATES[OPEN]


def limit_words(chances: Chances) -> str:
    """
    Say what keeps it shut, as everywhere else, then what stands in the way most.

    Parameters
    ----------
    chances : Chances
        For the target or one point of it.

    Returns
    -------
    words : str
        Without a full stop.
    """
    if chances.state == _OPEN:
        return f"Limit: {chances.limit}"
    lacks = ""
    if chances.state in (STATES[WEAK_SIGNAL], STATES[SHORT], STATES[FAR_TOO_WEAK]):
        lacks = f", {-chances.margin_db:.0f} dB short on a middling day"
    said = f"Shut: {chances.state}{lacks}"
    same = chances.limit == chances.state
    return said if same else f"{said}. Limit: {chances.limit}"


def wire_words(why: Why) -> str:
    """
    Write the set-up, how it hangs and where it is strongest.

    Parameters
    ----------
    why : Why
        What was found.

    Returns
    -------
    words : str
        A sentence.
    """
    words = f"{why.setup}: "
    if why.wire_deg is None:
        words += "radiates alike all round"
    else:
        magnetic = why.bearing_deg - why.magnetic_bearing_deg
        words += f"hung {run_words(why.wire_deg, magnetic, why.first_end)}"
        words += (
            ", best for this hour; --bearing-deg for another"
            if why.is_free
            else ", as given"
        )
    return (
        f"{words}; strongest {why.peak_dbi:.1f} dBi at {why.peak_takeoff_deg:.0f} deg."
    )


def path_words(why: Why) -> list[str]:
    """
    Write which point is shown, distance and bearings.

    Parameters
    ----------
    why : Why
        What was found.

    Returns
    -------
    lines : list of str
        Paragraphs.
    """
    lines = []
    if why.points > 1:
        lines.append(
            f"Of {why.points} sample points the one of median distance is shown: "
            f"{why.lat_deg:.2f}, {why.lon_deg:.2f}. There {sure_words(why.here)}. "
            f"{limit_words(why.here)}."
        )
    lines.append(
        f"Path {why.distance_km:.0f} km, bearing {why.bearing_deg:03.0f} true "
        f"({why.magnetic_bearing_deg:03.0f} by compass); from there back "
        f"{why.far_bearing_deg:03.0f} true "
        f"({why.far_magnetic_bearing_deg:03.0f} by compass)."
    )
    return lines


def place_columns() -> list[Column[ControlPoint]]:
    """
    Set out places along the path.

    Returns
    -------
    columns : list of Column
        For a terminal and for a page.
    """
    return [
        Column(" ", lambda at: at.name, "place", is_words=True),
        Column("km", lambda at: f"{at.along_km:.0f}"),
        Column("lat", lambda at: number(at.lat_deg)),
        Column("lon", lambda at: number(at.lon_deg)),
        Column("local mean time", lambda at: _clock(at.local_hour)),
        Column("sun deg", lambda at: f"{round(at.sun_elevation_deg)}"),
    ]


def _clock(hour: float) -> str:
    """Write hours as a time of day."""
    minutes = round(60.0 * hour) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def layers_words(why: Why) -> str:
    """
    Write the layers at the middle.

    Parameters
    ----------
    why : Why
        What was found.

    Returns
    -------
    words : str
        A sentence.
    """
    sky = why.layers
    return (
        f"Layers at the middle, MHz (in brackets: 8 days in ten): foE "
        f"{_number(sky.foe_mhz)}, foF1 {_number(sky.fof1_mhz)}, foF2 "
        f"{sky.fof2_mhz:.1f} ({sky.fof2_lower_mhz:.1f} to {sky.fof2_upper_mhz:.1f}), "
        f"hmF2 {sky.hmf2_km:.0f} km, M(3000)F2 {sky.m3000f2:.2f}, foEs "
        f"{sky.foes_mhz:.1f} ({sky.foes_lower_mhz:.1f} to {sky.foes_upper_mhz:.1f})."
    )


def _number(value: float) -> str:
    """Write a number; a dash where there is none."""
    return number(value).text


def mode_columns() -> list[Column[ModeFacts]]:
    """
    Set out hop modes: geometry, days, and how much of the signal each is.

    Returns
    -------
    columns : list of Column
        For a terminal and for a page.
    """
    return [
        Column("mode", lambda mode: mode.name, is_words=True),
        Column("leaves", lambda mode: f"{mode.takeoff_deg:.1f}"),
        Column("lands", lambda mode: f"{mode.landing_deg:.1f}"),
        Column("turns at km", lambda mode: f"{mode.height_km:.0f}"),
        Column("MUF MHz", lambda mode: number(mode.muf_mhz)),
        Column("days in 10", lambda mode: f"{10 * mode.support:.1f}"),
        Column(
            "above MUF dB",
            lambda mode: "none" if mode.above_db >= MOST_DB else number(mode.above_db),
        ),
        Column(
            "margin dB",
            lambda mode: f"{round(mode.margin_db)}" if mode.is_clear else "hidden",
        ),
        Column("alone", lambda mode: in_ten(mode.chance)),
        Column("share", lambda mode: f"{100 * mode.share:.0f} %"),
    ]


def _modes(why: Why) -> str:
    """Write the hop modes."""
    return text_table(mode_columns(), why.modes) if why.modes else NO_MODE


def mode_notes(why: Why) -> str:
    """
    Explain the columns of the modes, and what does not count.

    Parameters
    ----------
    why : Why
        What was found.

    Returns
    -------
    words : str
        A few sentences; none if there is no mode.
    """
    if not why.modes:
        return ""
    notes = (
        f"To the point of median distance, {why.lat_deg:.2f}, {why.lon_deg:.2f}. "
        if why.points > 1
        else ""
    )
    notes += (
        "Angles in degrees; days in 10 on which the layer returns the band so; on the "
        "others a weak signal is scattered, on the middle day by so much weaker; "
        "margin when it is there ('hidden' below the horizon); alone: days in ten were "
        "it the only way; share of the mean power received. The one that does "
        "most alone carries the contact."
    )
    names = {mode.name for mode in why.modes if mode.support < _SELDOM}
    above = {m.name for m in why.modes if m.muf_mhz > why.frequency_mhz}
    if any("Es" in name for name in names & above):
        notes += " Es counts on days on which the E layer does not turn the band."
    if any("F1" in m.name for m in why.modes) and math.isnan(why.layers.fof1_mhz):
        notes += " F1 is here the foot of the F2 layer: the ledge is gone."
    if all(mode.share == 0.0 for mode in why.modes):
        notes += " No mode gets through."
    return notes


def _budgets(why: Why) -> str:
    """Write the sums side by side."""
    if not why.budgets:
        return "(there is no way above the horizon to sum up)"
    return text_table(sum_columns(why), sum_names(why))


def _noise(why: Why) -> str:
    """Write the sources of noise."""
    head, rows = noise_rows(why)
    return table(head, rows, left=frozenset({0, 4}))


def result_words(why: Why) -> str:
    """
    Write margin, spread, support and the standard's reliability.

    Parameters
    ----------
    why : Why
        What was found.

    Returns
    -------
    words : str
        Two sentences.
    """
    here = why.here
    words = (
        f"Result: the best way is there {days_in_ten(here.path_support)}; margin on a "
        f"middling day {_number(here.margin_db)} dB, moving by "
        f"+{why.spread_upper_db:.1f} and -{why.spread_lower_db:.1f} dB to its deciles"
        if math.isfinite(here.margin_db)
        else "Result: no layer carries it on a middling day"
    )
    if not math.isnan(why.reliability):
        words += f", which is a reliability of {why.reliability:.2f} by "
        words += source_of("reliability")
    return f"{words}. Averaged over the days with their layers: {here.chance:.3f}."


def changes_title(why: Why) -> str:
    """
    Say over the changes what they start from.

    Parameters
    ----------
    why : Why
        What was found.

    Returns
    -------
    words : str
        Without a full stop.
    """
    now = f"{10 * why.whole.chance:.1f} days in ten"
    to = f" to {why.target}" if why.points > 1 else ""
    return f"What would change it (now {now}{to})"


def change_columns() -> list[Column[Change]]:
    """
    Set out what would change the chance.

    Returns
    -------
    columns : list of Column
        For a terminal and for a page.
    """
    return [
        Column(" ", lambda change: change.what, "what", is_words=True),
        Column("days in ten", lambda change: in_ten(change.chance)),
        Column("change", lambda change: f"{round(10 * change.gain, 1) + 0.0:+.1f}"),
    ]
