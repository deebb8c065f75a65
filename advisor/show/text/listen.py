"""Beacons to listen for, as text; nothing is worked out here."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.answers.rows.tonight import BeaconRow
from advisor.answers.words import in_ten
from advisor.show.text.layout import paragraph, table


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
        return paragraph("No beacon that may be heard now tells of a target.")
    parts = []
    for target in dict.fromkeys(row.target for row in rows):
        those = [row for row in rows if row.target == target]
        first = those[0]
        parts.append(
            paragraph(
                f"Listen for beacons first: {target} on {first.band} at "
                f"{first.utc[11:13]}Z is {in_ten(first.chance)} days in ten."
            )
        )
        head = ["beacon", "MHz", "minute:second", "heard", "if heard", "if not"]
        body = [
            [
                f"{row.beacon}, {row.place}",
                f"{row.frequency_mhz:.3f}",
                f"{row.start_s // 60}:{row.start_s % 60:02d}",
                *(in_ten(each) for each in (row.heard, row.if_heard, row.if_silent)),
            ]
            for row in those
        ]
        parts.append(table(head, body, left=frozenset({0})))
    first = rows[0]
    spoken = f"'{first.beacon_band.replace(' ', '')} beacon {first.beacon}'"
    parts.append(
        paragraph(
            "Each sends for ten seconds from that minute and second on, and again "
            "every three minutes of the hour, UTC: its call, then dashes of 100, 10, 1 "
            "and 0.1 W. heard: days in ten on which it is; if heard, if not: what "
            "becomes of the figure, and of all others with "
            f"--heard {spoken} or --silent. Sites as of before 2026; some are off the "
            "air for long, so silence counts half."
        )
    )
    return "\n".join(parts)
