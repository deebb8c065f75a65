"""Beacons to listen for, as text and on a page; nothing is worked out here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from advisor.answers.listen import tells
from advisor.answers.rows.tonight import BeaconRow
from advisor.answers.words import in_ten
from advisor.show.text.cells import Column, text_table
from advisor.show.text.layout import paragraph

BEACONS: tuple[Column[BeaconRow], ...] = (
    Column("beacon", lambda row: f"{row.beacon}, {row.place}", is_words=True),
    Column("MHz", lambda row: f"{row.frequency_mhz:.3f}"),
    Column("minute:second", lambda row: f"{row.start_s // 60}:{row.start_s % 60:02d}"),
    Column("heard", lambda row: in_ten(row.heard)),
    Column("if heard", lambda row: in_ten(row.if_heard)),
    Column("if not", lambda row: in_ten(row.if_silent)),
)
"""Which, where, when, and what it would mean."""

NO_BEACON = (
    "No beacon near the way to a target can be heard now on one day in twenty, on a "
    "band of your wires."
)
NONE_TELLS = (
    "It may be heard but tells nothing of {}: a beacon says whether the layers return "
    "a frequency, not how strong a signal is. "
)


def listen_text(rows: Sequence[BeaconRow]) -> str:
    """
    Write which beacons to listen for.

    Parameters
    ----------
    rows : sequence of BeaconRow
        Target by target, those that tell most first.

    Returns
    -------
    text : str
        A table for each target, and how to read it.
    """
    if not rows:
        return paragraph(NO_BEACON)
    parts = []
    for words, those in by_target(rows):
        parts += [paragraph(f"Listen for beacons first: {words}.")]
        parts += [text_table(BEACONS, those)]
    return "\n".join([*parts, paragraph(how_to_read(rows))])


def by_target(rows: Sequence[BeaconRow]) -> Iterator[tuple[str, list[BeaconRow]]]:
    """
    Part beacons by the target that they tell of.

    Parameters
    ----------
    rows : sequence of BeaconRow
        As `listen_text` takes them.

    Yields
    ------
    words : str
        The target with its chance as it stands.
    those : list of BeaconRow
        Its beacons.
    """
    for target in dict.fromkeys(row.target for row in rows):
        those = [row for row in rows if row.target == target]
        first = those[0]
        yield (
            f"{target} on {first.band} at {first.utc[11:13]}Z is "
            f"{in_ten(first.chance)} days in ten",
            those,
        )


def how_to_read(rows: Sequence[BeaconRow]) -> str:
    """
    Explain the columns.

    Parameters
    ----------
    rows : sequence of BeaconRow
        At least one.

    Returns
    -------
    words : str
        Whole sentences.
    """
    first = rows[0]
    dumb = dict.fromkeys(row.target for row in rows if not tells(row))
    nothing = NONE_TELLS.format(", ".join(dumb)) if dumb else ""
    spoken = f"'{first.beacon_band.replace(' ', '')} beacon {first.beacon}'"
    return (
        f"{nothing}Each sends for ten seconds from that minute and second on, and "
        "again every three minutes of the hour, UTC: its call, then dashes of 100, 10, "
        "1 and 0.1 W. heard: days in ten on which it is; if heard, if not: what "
        f"becomes of the figure, and of all others with --heard {spoken} or "
        "--silent. Sites as of before 2026; some are off the air for long, so silence "
        "counts half."
    )
