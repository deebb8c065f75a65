"""One figure laid open, as text and as rows; nothing is worked out here."""

from __future__ import annotations

import math

from advisor.answers.perturb import Change
from advisor.answers.states import (
    FAR_TOO_WEAK,
    OPEN,
    SHORT,
    STATES,
    WEAK_SIGNAL,
)
from advisor.answers.uncertainty import range_words
from advisor.answers.why_facts import (
    GROUND_WAVE_NAME,
    WAY_SOURCES,
    Chances,
    ControlPoint,
    ModeFacts,
    Why,
    source_of,
)
from advisor.answers.words import days_in_ten, in_ten, run_words, what_a_chance_is
from advisor.engine.question import Question
from advisor.propagation.above_muf import MOST_DB
from advisor.propagation.losses import LOSSES
from advisor.show.text.cells import Column, number, text_table
from advisor.show.text.layout import paragraph, table
from advisor.station.cautions import CAUTIONS_IN_BRIEF

_BUDGET_LABELS = {
    "power_dbw": "power of the sender, dBW",
    "gain_dbi": "my wire at that angle, dBi",
    "hill_db": "  (in it: hills around me, dB)",
    "below_peak_db": "  (below its peak, dB)",
    "far_gain_dbi": "antenna there, dBi",
    "loss_db": "all losses, dB",
    "received_dbw": "received, dBW",
    "noise_dbw": "noise in 2.5 kHz, dBW",
    "snr_db": "signal over noise, dB",
    "needed_snr_db": "needed, dB",
    "margin_db": "margin, dB",
}
"""What the lines of a sum are called; losses are in `LOSSES`."""

_SELDOM = 0.05
"""Share of days below which a mode that the MUF allows wants explaining."""

_DIRECTIONS = {
    "heard": "they copy me; the far end's noise counts",
    "hear": "I copy them; the noise here counts",
}


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
    if brief:
        parts = [*_heading(why, question, band_chosen), "", _budgets(why), ""]
        return "\n".join([*parts, paragraph(CAUTIONS_IN_BRIEF)])
    parts = [*_heading(why, question, band_chosen), "", *_path(why), ""]
    parts += [_layers(why), "", _modes(why), *_mode_notes(why), ""]
    parts += [
        paragraph(
            "Sum of the ways with most chance, in the worse direction: "
            f"{_DIRECTIONS[why.direction]}."
        ),
        *_in_words(why),
        _budgets(why),
        *_way_notes(why),
        "",
        "Noise at that end, dB over thermal noise at 290 K:",
        _noise(why),
        "",
        paragraph(_result(why)),
        "",
        f"What would change it (now {10 * why.whole.chance:.1f} days in ten):",
        _changes(why),
        "",
        paragraph(
            f"{what_a_chance_is(question)} "
            f"(-1) behind a limit: a day in ten is lost to it."
        ),
    ]
    return "\n".join(parts)


def _heading(why: Why, question: Question, band_chosen: bool) -> list[str]:
    """Write what was asked, and the answer."""
    station, place = question.station, question.place
    is_open = why.whole.state == _OPEN
    chosen = " (the best at that hour)" if is_open else " (none opens; this is nearest)"
    chosen = chosen if band_chosen else ""
    asked = (
        f"Why {why.band}{chosen} at {why.utc}: from {question.here} "
        f"({place.lat_deg:.2f}, {place.lon_deg:.2f}) to {why.target}"
        f"{', the long way round' if why.is_long_path else ''}, "
        f"{question.emission.name} {station.power_w:g} W, noise {station.noise} here "
        f"and {station.far_end.noise} with {station.far_end.words} there, "
        f"{question.solar.basis}"
    )
    whole = why.whole
    answer = f"{_sure(whole)}. {_limit(whole)}."
    assumed = question.assumed
    lines = [asked, *assumed, answer, _wire(why)]
    return [paragraph(line, "  " if line in assumed else "") for line in lines]


def _sure(chances: Chances) -> str:
    """Write a chance with both directions and its range."""
    words = (
        f"{10 * chances.chance:.1f} days in ten: they copy me "
        f"{10 * chances.chance_heard:.1f}, I copy them {10 * chances.chance_hear:.1f}"
    )
    words += range_words(chances.chance_low, chances.chance_high)
    return words


_OPEN = STATES[OPEN]


def _limit(chances: Chances) -> str:
    """Say what keeps it shut, as everywhere else, then what stands in the way most."""
    if chances.state == _OPEN:
        return f"Limit: {chances.limit}"
    lacks = ""
    if chances.state in (STATES[WEAK_SIGNAL], STATES[SHORT], STATES[FAR_TOO_WEAK]):
        lacks = f", {-chances.margin_db:.0f} dB short on a middling day"
    return f"Shut: {chances.state}{lacks}. Limit: {chances.limit}"


def _wire(why: Why) -> str:
    """Write the set-up, how it hangs and where it is strongest."""
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


def _path(why: Why) -> list[str]:
    """Write distance, bearings and places along the path."""
    lines = []
    if why.points > 1:
        lines.append(
            paragraph(
                f"Of {why.points} sample points the one of median distance is shown: "
                f"{why.lat_deg:.2f}, {why.lon_deg:.2f}. There {_sure(why.here)}. "
                f"{_limit(why.here)}."
            )
        )
    lines.append(
        paragraph(
            f"Path {why.distance_km:.0f} km, bearing {why.bearing_deg:03.0f} true "
            f"({why.magnetic_bearing_deg:03.0f} by compass); from there back "
            f"{why.far_bearing_deg:03.0f} true "
            f"({why.far_magnetic_bearing_deg:03.0f} by compass)."
        )
    )
    columns: list[Column[ControlPoint]] = [
        Column(" ", lambda at: at.name, is_words=True),
        Column("km", lambda at: f"{at.along_km:.0f}"),
        Column("lat", lambda at: number(at.lat_deg)),
        Column("lon", lambda at: number(at.lon_deg)),
        Column("local mean time", lambda at: _clock(at.local_hour)),
        Column("sun deg", lambda at: f"{round(at.sun_elevation_deg)}"),
    ]
    return [*lines, text_table(columns, why.control_points)]


def _clock(hour: float) -> str:
    """Write hours as a time of day."""
    minutes = round(60.0 * hour) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _layers(why: Why) -> str:
    """Write the layers at the middle."""
    sky = why.layers
    return paragraph(
        f"Layers at the middle, MHz (in brackets: 8 days in ten): foE "
        f"{_number(sky.foe_mhz)}, foF1 {_number(sky.fof1_mhz)}, foF2 "
        f"{sky.fof2_mhz:.1f} ({sky.fof2_lower_mhz:.1f} to {sky.fof2_upper_mhz:.1f}), "
        f"hmF2 {sky.hmf2_km:.0f} km, M(3000)F2 {sky.m3000f2:.2f}, foEs "
        f"{sky.foes_mhz:.1f} ({sky.foes_lower_mhz:.1f} to {sky.foes_upper_mhz:.1f})."
    )


def _number(value: float) -> str:
    """Write a number; a dash where there is none."""
    return number(value).text


def _modes(why: Why) -> str:
    """Write the hop modes: geometry, days, and how much of the signal each is."""
    columns: list[Column[ModeFacts]] = [
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
    if not why.modes:
        return paragraph(
            "No ray of any layer comes down there on this band, not even weakly."
        )
    return text_table(columns, why.modes)


def _mode_notes(why: Why) -> list[str]:
    """Explain the columns, and what does not count."""
    if not why.modes:
        return []
    notes = (
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
    return [paragraph(notes)]


def _in_words(why: Why) -> list[str]:
    """Say the strongest sum from transmitter to ear."""
    if not why.budgets:
        return []
    sum_ = why.budgets[0]
    sent, heard = sum_.gain_dbi, sum_.far_gain_dbi
    if why.direction == "hear":
        sent, heard = heard, sent
    taken = sorted(
        (
            (loss_db, LOSSES[name.removesuffix("_db")].label)
            for name, loss_db in sum_.losses_db.items()
            if loss_db >= 0.5 and name != "spreading_db"
        ),
        reverse=True,
    )
    parts = [f"{label} {loss_db:.0f}" for loss_db, label in taken[:2]]
    distance = sum_.losses_db["spreading_db"]
    if not math.isnan(distance):
        parts.insert(0, f"distance alone {distance:.0f}")
    most = f", {', '.join(parts)}" if parts else ""
    verdict = "to spare" if sum_.margin_db >= 0.0 else "short"
    return [
        paragraph(
            f"By {sum_.way}: {sum_.power_dbw:.0f} dBW of power and {sent:+.0f} dB of "
            f"antenna leave, the way takes {sum_.loss_db:.0f} dB{most}, the antenna "
            f"that listens gives {heard:+.0f}: {sum_.received_dbw:.0f} dBW arrive "
            f"where the noise is {sum_.noise_dbw:.0f}. That is {sum_.snr_db:.0f} dB "
            f"over the noise where {sum_.needed_snr_db:.0f} are needed, "
            f"{abs(sum_.margin_db):.0f} dB {verdict}."
        )
    ]


def _budgets(why: Why) -> str:
    """Write the sums side by side, each line with its source."""
    if not why.budgets:
        return "(there is no way above the horizon to sum up)"
    head = ["", *(budget.way for budget in why.budgets), "from"]
    labels = _BUDGET_LABELS | {f"{n}_db": loss.label for n, loss in LOSSES.items()}
    sums = [budget.figures() for budget in why.budgets]
    rows = []
    for field in sums[0]:
        name, values = labels[field], [figures[field] for figures in sums]
        if all(math.isnan(value) for value in values):
            continue
        is_loss = field == "loss_db" or field not in _BUDGET_LABELS
        cells = [_number(-value if is_loss else value) for value in values]
        source = source_of(field)
        if field == "loss_db" and all(each.way in WAY_SOURCES for each in why.budgets):
            source = "one figure, see below"
        rows.append([name, *cells, source])
    return table(head, rows, left=frozenset({0, len(head) - 1}))


def _way_notes(why: Why) -> list[str]:
    """Say where the loss of the ground wave comes from."""
    notes = []
    if any(budget.way == GROUND_WAVE_NAME for budget in why.budgets):
        notes.append(
            f"{GROUND_WAVE_NAME}: there every day, over the ground at my end. "
            f"{WAY_SOURCES[GROUND_WAVE_NAME]}."
        )
    return [paragraph(note, "  ") for note in notes]


def _noise(why: Why) -> str:
    """Write the sources of noise."""
    rows = [
        [
            part.name,
            _number(part.factor_db),
            f"+{part.upper_db:.1f}",
            f"-{part.lower_db:.1f}",
            source_of(part.name),
        ]
        for part in why.noise
    ]
    if abs(why.receiving_efficiency_db) >= 0.05:
        rows.append(
            [
                "lost in the antenna",
                f"{why.receiving_efficiency_db:.1f}",
                "",
                "",
                source_of("receiving_efficiency_db"),
            ]
        )
    head = ["", "median", "1 in 10 over", "1 in 10 under", "from"]
    return table(head, rows, left=frozenset({0, 4}))


def _result(why: Why) -> str:
    """Write margin, spread, support and the standard's reliability."""
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


def _changes(why: Why) -> str:
    """Write what would change the chance."""
    columns: list[Column[Change]] = [
        Column(" ", lambda change: change.what, is_words=True),
        Column("days in ten", lambda change: in_ten(change.chance)),
        Column("change", lambda change: f"{round(10 * change.gain, 1) + 0.0:+.1f}"),
    ]
    return text_table(columns, why.changes)
