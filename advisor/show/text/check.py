"""A log held against what is told, as text; nothing is worked out here."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from advisor.answers.check import Checked
from advisor.answers.rows.check import (
    CheckInputs,
    CheckRow,
    Clock,
    Correction,
    Score,
    Surprise,
    Told,
)
from advisor.answers.words import counted, in_ten
from advisor.show.text.layout import paragraph, table

_SURE, _WORTH, _ENOUGH = 3.0, 0.05, 30
_MOST_SAID = 4
_TITLES = {
    "band": "band",
    "hours": "hours",
    "distance": "distance",
    "way": "who heard whom",
}


def check_text(found: Checked, learned: str = "") -> str:
    """
    Write how a log stands against what is told: words first, then figures.

    Parameters
    ----------
    found : Checked
        The answer.
    learned : str, optional
        What became of the corrections, if they are to be shown.

    Returns
    -------
    text : str
        Ready to print.
    """
    inputs, details, rows = found.inputs, found.details, found.rows
    whole = rows[0]
    parts = [paragraph(_about(inputs)), "\n".join(_verdict(found))]
    if details.score is not None:
        parts += [_scores(details.score, details.score_with_levels)]
        parts += ["\n".join(_diagram(details.diagram))]
    for part, title in _TITLES.items():
        those = [row for row in rows if row.part == part]
        if len(those) > 1:
            parts.append(_table(title, those, whole))
    if len(parts) == 2 and not parts[1]:
        parts[1] = "Nothing in it can be held against what is told."
    else:
        parts.append(paragraph(_key(whole)))
    if learned:
        parts += [*_corrections(details.corrections), paragraph(learned)]
    for came, words in (
        (True, "Came, though told unlikely:"),
        (False, "Told likely, and did not come:"),
    ):
        worst = [each for each in details.surprises if each.came == came]
        if worst:
            parts.append("\n".join([words, *_surprises(worst)]))
    parts.append("\n".join(paragraph(each, "  ") for each in _limits(inputs)))
    if details.broken_rows:
        parts.append("\n".join(_broken(found)))
    return "\n\n".join(parts)


def _about(inputs: CheckInputs) -> str:
    """Say what was read."""
    what = [
        counted(count, *name)
        for count, name in (
            (inputs.spots, ("try", "tries") if inputs.names_failures else ("spot",)),
            (inputs.contacts, ("contact",)),
        )
        if count
    ]
    wires = (
        f"wire {', '.join(inputs.wires)}"
        if inputs.wires
        else "the usual dipole, no wire being named"
    )
    first, last = inputs.first[:10], inputs.last[:10]
    when = first if first == last else f"{first} to {last}"
    return (
        f"{' and '.join(what)} with {counted(inputs.far_ends, 'far end')}, {when}, "
        f"{', '.join(inputs.bands)}; told for {inputs.place}, {wires}."
    )


def _verdict(found: Checked) -> Iterator[str]:
    """Say first how true it is."""
    whole, details = found.rows[0], found.details
    if details.clock is not None and details.clock.is_off:
        yield paragraph(_clock(details.clock))
    if whole.tried:
        yield paragraph(
            f"Told {in_ten(whole.said)} times in ten, came {in_ten(whole.came)} times "
            f"in ten ({whole.tried} times on {_days(whole)})"
            f"{_judged(whole)}"
        )
    if whole.contacts:
        bands = (
            f", its band above {_hundred(whole.band_rank, whole.band_rank_error)} "
            "other bands in that hour"
            if math.isfinite(whole.band_rank)
            else ""
        )
        yield paragraph(
            f"The hour of a contact was told above "
            f"{_hundred(whole.hour_rank, whole.hour_rank_error)} other hours of its "
            f"day{bands} (50 is no knowledge); its own chance {in_ten(whole.chance)} "
            "in ten in the mean."
        )
    off = [
        row
        for row in found.rows
        if row.part == "band and hours"
        and row.tried >= _ENOUGH
        and abs(row.off) > max(_SURE * row.off_error, _WORTH)
    ]
    for row in sorted(off, key=lambda row: -abs(row.off))[:_MOST_SAID]:
        side = "high" if row.off > 0 else "low"
        yield paragraph(
            f"{row.name}: told {abs(row.off):.2f} too {side} (error "
            f"{row.off_error:.2f}), {in_ten(row.said)} in ten for {in_ten(row.came)}."
        )
    for each in details.levels:
        much = abs(each.constant_db)
        side = "weaker" if each.constant_db > 0 else "stronger"
        yield paragraph(
            f"Levels, {each.way}: {much:.0f} dB {side} than told (error "
            f"{_plain(each.error_db, 1)}); with that taken off, {each.rms_db:.1f} dB "
            "are left (rms)."
        )


def _judged(whole: CheckRow) -> str:
    """Say whether the difference is more than chance."""
    if not math.isfinite(whole.off_error):
        return ": too few days to say whether that is chance."
    # Of the figures as they are shown, so that the difference is theirs.
    off = round(10.0 * whole.said, 1) - round(10.0 * whole.came, 1)
    much = f"{abs(off):.1f} too {'high' if whole.off > 0 else 'low'}"
    if abs(whole.off) <= 2.0 * whole.off_error:
        return f": {much}, which may be chance (error {10.0 * whole.off_error:.1f})."
    return f": {much} (error {10.0 * whole.off_error:.1f})."


def _clock(clock: Clock) -> str:
    """Say that the clock of the log is off."""
    return (
        f"The times look {abs(clock.hours)} h "
        f"{'early' if clock.hours > 0 else 'late'}: moved by {clock.hours:+d} h the "
        "log fits the sky far better. Is it in local time? Times must be UTC."
    )


def _hundred(share: float, error: float) -> str:
    """Write a share in hundredths, with its error where there is one."""
    known = f" (error {100.0 * error:.0f})" if math.isfinite(error) else ""
    return f"{100.0 * share:.0f}{known} of 100"


def _days(row: CheckRow) -> str:
    """Count days."""
    return f"{row.days} day{'s' if row.days != 1 else ''}"


def _scores(score: Score, levelled: Score | None) -> str:
    """Write the scores side by side."""
    lines = [("as told", score)]
    if levelled is not None:
        lines.append(("with levels brought right", levelled))
    head = ["", "Brier", "reliability", "resolution", "uncertainty"]
    head += ["skill: band", "band and hour"]
    rows = [
        [
            name,
            *(
                f"{value:.3f}"
                for value in (
                    each.brier,
                    each.reliability,
                    each.resolution,
                    each.uncertainty,
                )
            ),
            _plain(each.skill_of_band),
            _plain(each.skill_of_hours),
        ]
        for name, each in lines
    ]
    return table(head, rows, left=frozenset({0}))


def _diagram(told: Sequence[Told]) -> Iterator[str]:
    """Draw said against came in letters: one mark a twentieth."""
    yield table(
        ["told", "came", "error", "times", "0 . . . . 5 . . . . 10"],
        [
            [
                f"{each.said:.2f}",
                f"{each.came:.2f}",
                _plain(each.error),
                str(each.count),
                _scale(each),
            ]
            for each in told
            if each.count
        ],
        left=frozenset({4}),
    )


def _scale(each: Told) -> str:
    """Put o where it should be and X where it came, * for both."""
    letters = [" "] * 21
    letters[round(20 * each.said)] = "o"
    came = round(20 * each.came)
    letters[came] = "*" if letters[came] == "o" else "X"
    return "".join(letters).rstrip()


def _table(title: str, rows: Sequence[CheckRow], whole: CheckRow) -> str:
    """Write one way of parting."""
    head = [title]
    if whole.tried:
        head += ["times", "told", "came", "off", "error", "Brier", "skill"]
    if whole.levels:
        head += ["levels", "off dB", "error"]
    if whole.contacts:
        head += ["contacts", "chance", "hour", "band"]
    body = []
    for row in rows:
        line = [row.name]
        if whole.tried:
            line += [str(row.tried), _plain(row.said), _plain(row.came)]
            line += [_signed(row.off), _plain(row.off_error)]
            line += ["-" if math.isnan(row.brier) else f"{row.brier:.3f}"]
            line += [_plain(row.skill)]
        if whole.levels:
            line += [str(row.levels), _signed(row.level_off_db, 1)]
            line += [_plain(row.level_error_db, 1)]
        if whole.contacts:
            line += [str(row.contacts), _plain(row.chance)]
            line += [_plain(row.hour_rank), _plain(row.band_rank)]
        body.append(line)
    return table(head, body, left=frozenset({0}))


def _key(whole: CheckRow) -> str:
    """Explain the columns."""
    said = []
    if whole.tried:
        said.append(
            "told, came: chance told and share that came; off: the first less the "
            "second; error: its standard error, hours of a day going together; Brier: "
            "mean squared error; skill: over what is usual of the band at that hour on "
            "the other days, 1 is perfect"
        )
    if whole.levels:
        said.append("off dB: level told less that heard")
    if whole.contacts:
        said.append(
            "hour, band: share of the other hours and bands told lower than that of "
            "the contact"
        )
    return "; ".join(said) + "."


def _corrections(proposed: Sequence[Correction]) -> Iterator[str]:
    """Write what the levels teach, with the evidence."""
    if not proposed:
        yield paragraph(
            "Nothing to learn: no band's levels are off by more than their errors "
            "explain. They are learned from signal-to-noise ratios: spots, and reports "
            "in decibels."
        )
        return
    head = ["learned", "dB", "error", "seen", "error", "levels", "days", "far ends"]
    body = [
        [
            ", ".join(filter(None, (each.what, each.setup, each.band))),
            *(_signed(each.learned_db, 1), _plain(each.error_db, 1)),
            *(_signed(each.seen_db, 1), _plain(each.seen_error_db, 1)),
            *(str(n) for n in (each.levels, each.days, each.far_ends)),
        ]
        for each in proposed
    ]
    yield table(head, body, left=frozenset({0}))
    yield paragraph(
        "dB: what is seen, drawn towards none by how little was, with its error; seen: "
        "what the levels say alone. More noise weakens what you hear, more level or "
        "far end strengthens. Rows do not name the wire: of several, --set-up says "
        "which. What is weaker both ways may be the far ends or the sky."
    )


def _plain(value: float, decimals: int = 2) -> str:
    """Write a figure; a dash for none."""
    return "-" if math.isnan(value) else f"{value:.{decimals}f}"


def _signed(value: float, decimals: int = 2) -> str:
    """Write a figure with its sign; a dash for none."""
    return "-" if math.isnan(value) else f"{value:+.{decimals}f}"


def _surprises(worst: Sequence[Surprise]) -> Iterator[str]:
    """Write surprises, each with its command."""
    for each in worst:
        yield (
            f"  {each.utc} {each.band}, {each.distance_km:.0f} km, {each.way}, told "
            f"{each.said:.2f}"
        )
        yield f"    {each.why}"


def _limits(inputs: CheckInputs) -> Iterator[str]:
    """Say what the files cannot show."""
    yield "What this cannot show:"
    if inputs.contacts and not inputs.names_failures:
        yield (
            "- A log holds contacts and no failures: whether a chance is true cannot "
            "be seen, only whether hours and bands are ranked right. When you were on "
            "the air, and where people are, is in the ranks too."
        )
    if inputs.spots and not inputs.names_failures:
        yield (
            "- Silence is taken from the file: an hour counts in which anybody was "
            "heard on the band, for far ends heard there in another hour of that day. "
            "They are on the air in some slots only; told chances are lowered by that. "
            "A band on which nobody was heard all day is left out."
        )
    if not inputs.wires:
        yield (
            "- No wire was named: levels hold the difference between yours and the "
            "usual dipole. --station or --shape tells it."
        )
    if inputs.taken < 1.0:
        yield (
            f"- {100.0 * inputs.taken:.1f} % of the far ends, others for every ten "
            "days, were worked out; --all takes every one."
        )


def _broken(found: Checked) -> Iterator[str]:
    """Name the first broken rows."""
    count, shown = found.details.broken_rows, found.details.broken
    yield paragraph(
        f"Rows left out: {count} of {count + found.inputs.rows}"
        + (f"; the first {len(shown)}:" if count > len(shown) else ":")
    )
    for each in shown:
        yield paragraph(f"  {each.file}, {each.line}: {each.why}", "    ")
