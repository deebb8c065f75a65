"""A log held against what is told, as text; nothing is worked out here."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from advisor.answers.rows.check import (
    CheckDetails,
    CheckInputs,
    CheckRow,
    Clock,
    Correction,
    LevelOff,
    Score,
    Surprise,
    Told,
)
from advisor.answers.verification.check import Checked
from advisor.answers.words import counted, in_ten
from advisor.show.text.cells import Column, text_table
from advisor.show.text.layout import paragraph

_SURE, _WORTH, _ENOUGH = 3.0, 0.05, 30
_MOST_SAID = 4
_FEW = 2
_TITLES = {
    "band": "band",
    "hours": "hours",
    "distance": "distance",
    "way": "who heard whom",
}
NOTHING = "Nothing in it can be held against what is told."
LIMITS = "What this cannot show"
SURPRISES = (
    (True, "Came, though told unlikely"),
    (False, "Told likely, and did not come"),
)
"""Headings of both kinds of surprise."""


MOST_WANTED = (
    *("The times ", "Told ", "The hour ", "Levels, ", NOTHING),
    "Rows left out",
    "learned",
    "Nothing to learn",
    "Nothing is written",
    "Written: ",
    "told  came",
    "contact ",
    SURPRISES[0][1],
    SURPRISES[1][1],
    LIMITS,
    "band ",
)
"""How the parts begin that are worth most where one screen has no room for all."""


def check_text(found: Checked, learned: str = "", *, in_full: bool = True) -> str:
    """
    Write how a log stands against what is told: words first, then figures.

    Parameters
    ----------
    found : Checked
        The answer.
    learned : str, optional
        What became of the corrections, if they are to be shown.
    in_full : bool, optional
        Whether all surprises and broken rows are listed, not the first few.

    Returns
    -------
    text : str
        Ready to print.
    """
    inputs, details, rows = found.inputs, found.details, found.rows
    whole = rows[0]
    told = "\n".join(paragraph(f"{much}{rest}") for _, much, rest in verdict(found))
    parts = [paragraph(about_words(inputs)), told or NOTHING]
    if details.score is not None:
        parts.append(text_table(score_columns(), named_scores(details)))
        parts.append(text_table(DIAGRAM, [e for e in details.diagram if e.count]))
    parts += [
        text_table(part_columns(title, whole), those) for title, those in parts_of(rows)
    ]
    if told:
        parts.append(paragraph(key_words(whole)))
    if learned:
        parts += [*_corrections(details.corrections), paragraph(learned)]
        if details.corrections and not inputs.spots:
            parts.append(paragraph(CONTACTS_ALONE))
    for came, words in SURPRISES:
        worst = [each for each in details.surprises if each.came == came]
        shown = worst if in_full else worst[:_FEW]
        if worst:
            of = _of_how_many(len(shown), len(worst))
            parts.append("\n".join([f"{words}{of}:", *_surprises(shown)]))
    limits = [paragraph(f"- {each}", "  ") for each in limits_words(inputs)]
    if limits:
        parts.append("\n".join([f"{LIMITS}:", *limits]))
    if details.broken_rows:
        first, *rest = broken_words(found, None if in_full else _FEW)
        parts.append(
            "\n".join([first, *(paragraph(f"  {each}", "    ") for each in rest)])
        )
    return "\n\n".join(parts)


def _of_how_many(shown: int, count: int) -> str:
    """Say in brackets that not all are listed."""
    return f" ({shown} of {count}; all: --more)" if shown < count else ""


def parts_of(rows: Sequence[CheckRow]) -> list[tuple[str, list[CheckRow]]]:
    """
    Part the rows as they are shown.

    Parameters
    ----------
    rows : sequence of CheckRow
        All.

    Returns
    -------
    parts : list of (str, list of CheckRow)
        Each way of parting that has more than one part, with its title.
    """
    found = [
        (title, [row for row in rows if row.part == part])
        for part, title in _TITLES.items()
    ]
    return [(title, those) for title, those in found if len(those) > 1]


def about_words(inputs: CheckInputs) -> str:
    """
    Say what was read.

    Parameters
    ----------
    inputs : CheckInputs
        What was understood.

    Returns
    -------
    words : str
        One sentence.
    """
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


def verdict(found: Checked) -> Iterator[tuple[str, str, str]]:
    """
    Say first how true it is.

    Parameters
    ----------
    found : Checked
        The answer.

    Yields
    ------
    about : str
        What a sentence is about; empty for one band and part of the day.
    finding, rest : str
        The sentence, in two pieces.
    """
    whole, details = found.rows[0], found.details
    if details.clock is not None and details.clock.is_off:
        yield "The clock", *_clock(details.clock)
    if whole.tried:
        yield (
            "Chances",
            f"Told {in_ten(whole.said)} times in ten, came {in_ten(whole.came)} times "
            "in ten",
            f" ({whole.tried} times on {_days(whole)}){_judged(whole)}",
        )
    if whole.contacts:
        bands = (
            f", its band above {_hundred(whole.band_rank, whole.band_rank_error)} "
            "other bands in that hour"
            if math.isfinite(whole.band_rank)
            else ""
        )
        yield (
            "Contacts",
            f"The hour of a contact was told above "
            f"{_hundred(whole.hour_rank, whole.hour_rank_error)} other hours of its "
            f"day{bands}",
            f" (50 is no knowledge); its own chance {in_ten(whole.chance)} in ten in "
            "the mean.",
        )
    for each in details.levels:
        much = abs(each.constant_db)
        side = "weaker" if each.constant_db > 0 else "stronger"
        yield (
            f"Levels, {each.way}",
            f"Levels, {each.way}: {much:.0f} dB {side} than told",
            f" ({_error_of(found, each)}); with that taken off, "
            f"{each.rms_db:.1f} dB are left (rms).",
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
        yield (
            "",
            f"{row.name}: told {abs(_off(row)):.2f} too {side}",
            f" (error {row.off_error:.2f}), {row.said:.2f} for {row.came:.2f}.",
        )


def _error_of(found: Checked, level: LevelOff) -> str:
    """Tell the error of a way's levels, or of how few reports they are."""
    if math.isfinite(level.error_db):
        return f"error {_plain(level.error_db, 1)}"
    own = (e.levels for e in found.rows if (e.part, e.name) == ("way", level.way))
    return f"from {counted(sum(own), 'report')}, no error told"


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


def _clock(clock: Clock) -> tuple[str, str]:
    """Say that the clock of the log is off."""
    return (
        f"The times look {abs(clock.hours)} h {'early' if clock.hours > 0 else 'late'}",
        f": moved by {clock.hours:+d} h the log fits the sky far better. Is it in "
        "local time? Times must be UTC.",
    )


def _off(row: CheckRow) -> float:
    """Take what came from what was told, of the figures as they are shown."""
    return round(row.said, 2) - round(row.came, 2)


def _hundred(share: float, error: float) -> str:
    """Write a share in hundredths, with its error where there is one."""
    known = f" (error {100.0 * error:.0f})" if math.isfinite(error) else ""
    return f"{100.0 * share:.0f}{known} of 100"


def _days(row: CheckRow) -> str:
    """Count days."""
    return f"{row.days} day{'s' if row.days != 1 else ''}"


def score_columns() -> list[Column[tuple[str, Score]]]:
    """
    Set the scores side by side.

    Returns
    -------
    columns : list of Column
        Of a name and its scores.
    """
    return [
        Column("scores", lambda each: each[0], is_words=True),
        Column("Brier", lambda each: _plain(each[1].brier, 3)),
        Column("reliability", lambda each: _plain(each[1].reliability, 3)),
        Column("resolution", lambda each: _plain(each[1].resolution, 3)),
        Column("uncertainty", lambda each: _plain(each[1].uncertainty, 3)),
        Column("skill: band", lambda each: _plain(each[1].skill_of_band)),
        Column("band and hour", lambda each: _plain(each[1].skill_of_hours)),
    ]


def named_scores(details: CheckDetails) -> list[tuple[str, Score]]:
    """
    Name the scores there are.

    Parameters
    ----------
    details : CheckDetails
        What stands beside the rows.

    Returns
    -------
    named : list of (str, Score)
        For `score_columns`.
    """
    both = (
        ("as told", details.score),
        ("with levels brought right", details.score_with_levels),
    )
    return [(name, each) for name, each in both if each is not None]


DIAGRAM: tuple[Column[Told], ...] = (
    Column("told", lambda each: f"{each.said:.2f}"),
    Column("came", lambda each: f"{each.came:.2f}"),
    Column("error", lambda each: _plain(each.error)),
    Column("times", lambda each: str(each.count)),
    Column("0 . . . . 5 . . . . 10", lambda each: _scale(each), None, is_words=True),
)
"""What came by tenths of what was told; on a terminal one mark a twentieth."""


def _scale(each: Told) -> str:
    """Put o where it should be and X where it came, * for both."""
    letters = [" "] * 21
    letters[round(20 * each.said)] = "o"
    came = round(20 * each.came)
    letters[came] = "*" if letters[came] == "o" else "X"
    return "".join(letters).rstrip()


def part_columns(title: str, whole: CheckRow) -> list[Column[CheckRow]]:
    """
    Set out one way of parting.

    Parameters
    ----------
    title : str
        What the parts are.
    whole : CheckRow
        All of it: columns of which it has nothing are left out.

    Returns
    -------
    columns : list of Column
        Of a part.
    """
    columns: list[Column[CheckRow]] = [
        Column(title, lambda row: row.name, is_words=True)
    ]
    if whole.tried:
        columns += [
            Column("times", lambda row: str(row.tried)),
            Column("told", lambda row: _plain(row.said)),
            Column("came", lambda row: _plain(row.came)),
            Column("off", lambda row: _signed(_off(row))),
            Column("error", lambda row: _plain(row.off_error)),
            Column("Brier", lambda row: _plain(row.brier, 3)),
            Column("skill", lambda row: _plain(row.skill)),
        ]
    if whole.levels:
        columns += [
            Column("levels", lambda row: str(row.levels)),
            Column("off dB", lambda row: _signed(row.level_off_db, 1)),
            Column("error", lambda row: _plain(row.level_error_db, 1), "error dB"),
        ]
    if whole.contacts:
        columns += [
            Column("contacts", lambda row: str(row.contacts)),
            Column("chance", lambda row: _plain(row.chance)),
            Column("hour", lambda row: _plain(row.hour_rank)),
            Column("band", lambda row: _plain(row.band_rank)),
        ]
    return columns


def key_words(whole: CheckRow) -> str:
    """
    Explain the columns.

    Parameters
    ----------
    whole : CheckRow
        All of it.

    Returns
    -------
    words : str
        One sentence.
    """
    said = []
    if whole.tried:
        said.append(
            "told, came: chance told and share that came; off: the first less the "
            "second; error: its standard error, hours of a day going together; Brier: "
            "mean squared error; skill: over what is usual of the band at that hour on "
            "the other days, 1 is perfect"
        )
    if whole.levels:
        said.append(
            "off dB: level told of what was heard less that heard; what was too weak "
            "to be heard is not in it, so that levels are off by more on the whole, "
            "as said above"
        )
    if whole.contacts:
        said.append(
            "hour, band: share of the other hours and bands told lower than that of "
            "the contact"
        )
    return "; ".join(said) + "."


NOTHING_LEARNED = (
    "Nothing to learn: no band's levels are off by more than their errors explain. "
    "They are learned from signal-to-noise ratios: spots, and reports in decibels."
)
LEARNED_NOTE = (
    "dB: what is seen, drawn towards none by how little was, with its error; seen: "
    "what the levels say alone. More noise weakens what you hear, more level or far "
    "end strengthens. Rows do not name the wire: of several, --set-up says which. What "
    "is weaker both ways may be the far ends or the sky."
)
CONTACTS_ALONE = (
    "A log of contacts cannot show whether they would come with so much less level, "
    "and reports in decibels level off where signals are strong or the band is full: "
    "see what 'tonight' says with it before you trust more than some 10 dB."
)
LEARNED: tuple[Column[Correction], ...] = (
    Column(
        "learned",
        lambda each: ", ".join(filter(None, (each.what, each.setup, each.band))),
        is_words=True,
    ),
    Column("dB", lambda each: _signed(each.learned_db, 1)),
    Column("error", lambda each: _plain(each.error_db, 1)),
    Column("seen", lambda each: _signed(each.seen_db, 1)),
    Column("error", lambda each: _plain(each.seen_error_db, 1)),
    Column("levels", lambda each: str(each.levels)),
    Column("days", lambda each: str(each.days)),
    Column("far ends", lambda each: str(each.far_ends)),
)
"""What the levels teach, with the evidence."""


def _corrections(proposed: Sequence[Correction]) -> Iterator[str]:
    """Write what the levels teach."""
    if not proposed:
        yield paragraph(NOTHING_LEARNED)
        return
    yield text_table(LEARNED, proposed)
    yield paragraph(LEARNED_NOTE)


def _plain(value: float, decimals: int = 2) -> str:
    """Write a figure; a dash for none."""
    return "-" if math.isnan(value) else f"{value:.{decimals}f}"


def _signed(value: float, decimals: int = 2) -> str:
    """Write a figure with its sign; a dash for none."""
    return "-" if math.isnan(value) else f"{value:+.{decimals}f}"


def _surprises(worst: Sequence[Surprise]) -> Iterator[str]:
    """Write surprises, each with its command."""
    for each in worst:
        yield f"  {surprise_words(each)}"
        yield f"    {each.why}"


def surprise_words(each: Surprise) -> str:
    """
    Say what came otherwise than told.

    Parameters
    ----------
    each : Surprise
        It.

    Returns
    -------
    words : str
        Hour, band, distance, way and chance told.
    """
    return (
        f"{each.utc} {each.band}, {each.distance_km:.0f} km, {each.way}, told "
        f"{each.said:.2f}"
    )


def limits_words(inputs: CheckInputs) -> Iterator[str]:
    """
    Say what the files cannot show.

    Parameters
    ----------
    inputs : CheckInputs
        What was understood.

    Yields
    ------
    words : str
        Whole sentences.
    """
    if inputs.contacts and not inputs.names_failures:
        yield (
            "A log holds contacts and no failures: whether a chance is true cannot "
            "be seen, only whether hours and bands are ranked right. When you were on "
            "the air, and where people are, is in the ranks too."
        )
    if inputs.spots and not inputs.names_failures:
        yield (
            "Silence is taken from the file: an hour counts in which anybody was "
            "heard on the band, for far ends heard there in another hour of that day. "
            "They are on the air in some slots only; told chances are lowered by that. "
            "A band on which nobody was heard all day is left out."
        )
    if not inputs.wires:
        yield (
            "No wire was named: levels hold the difference between yours and the "
            "usual dipole. --station or --shape tells it."
        )
    if inputs.taken < 1.0:
        yield (
            f"{100.0 * inputs.taken:.1f} % of the far ends, others for every ten "
            "days, were worked out; --all takes every one."
        )


def broken_words(found: Checked, most: int | None = None) -> Iterator[str]:
    """
    Name the first broken rows.

    Parameters
    ----------
    found : Checked
        The answer.
    most : int, optional
        How many are named; left out, all that are known.

    Yields
    ------
    words : str
        How many, then each.
    """
    count, shown = found.details.broken_rows, found.details.broken[:most]
    yield (
        f"Rows left out: {count} of {count + found.inputs.rows}"
        + (f"; the first {len(shown)}:" if count > len(shown) else ":")
    )
    for each in shown:
        yield f"{each.file}, {each.line}: {each.why}"
