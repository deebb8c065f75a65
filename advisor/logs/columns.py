"""Tables of what was heard: a plain one with titled columns, the WSPR archive's."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path

from advisor.logs.adif import adif_rows, is_adif
from advisor.logs.sightings import HEARD, HEARD_ME, Broken, Row
from geo.errors import InputError
from geo.tables import table_root

COLUMNS = {
    "time": "UTC, such as 2026-12-05T14:02Z",
    "band": "name such as 20 m, or the frequency in MHz",
    "where": "far end: locator or LAT,LON",
    "way": "heard (I heard them), heard me, contact; with 'not ' before it: in vain",
    "who": "any name or number that tells one from another; is not kept",
    "from": "my place, if it changes",
    "mode": "emission, such as CW or FT8",
    "snr_db": "signal over noise in 2.5 kHz, of me in 'heard me' [dB]",
    "power_w": "power of the sender [W]",
}
"""Columns of the plain table; the first four are needed."""

NEEDED = ("time", "band", "where", "way")

_ARCHIVE_COLUMNS = 15
_ALSO = {"freq_mhz": "band", "frequency_mhz": "band", "time_utc": "time"}


def demo_log() -> Path:
    """
    Return the log of the demonstration, an invented scenario.

    Returns
    -------
    path : pathlib.Path
        A plain table.
    """
    return table_root() / "demo_log.csv"


def rows_of(text: str, name: str, call: str = "") -> Iterator[Row | Broken]:
    """
    Read a file of any of the three kinds.

    Parameters
    ----------
    text : str
        What is in it.
    name : str
        Its name.
    call : str, optional
        Which sender and reporter of the archive's table is meant by "I".

    Returns
    -------
    rows : iterator of (Row or Broken)
        Its rows.

    Raises
    ------
    InputError
        If it is none of the three.
    """
    if is_adif(text):
        return adif_rows(text, name)
    first = text.lstrip().partition("\n")[0]
    if first.count(",") == _ARCHIVE_COLUMNS - 1 and first.partition(",")[0].isdigit():
        return _archive_rows(text, name, call)
    titles = _titles(first)
    missing = [each for each in NEEDED if each not in titles]
    if missing:
        raise InputError(
            f"'{name}' is no ADIF log, no WSPR archive and no table with the columns "
            f"{', '.join(NEEDED)}: {', '.join(missing)} not found in its first line"
        )
    return _plain_rows(text, name, titles)


def _titles(first: str) -> list[str]:
    """Titles of a table's columns."""
    plain = [each.strip().lower() for each in first.split(_divider(first))]
    return [_ALSO.get(each, each) for each in plain]


def _divider(first: str) -> str:
    """Return what divides the columns."""
    return max(",;\t", key=first.count)


def _plain_rows(text: str, name: str, titles: Sequence[str]) -> Iterator[Row | Broken]:
    """Rows of a table with titles."""
    body = text.lstrip()
    place = {title: n for n, title in enumerate(titles)}
    reader = csv.reader(body.splitlines(), delimiter=_divider(body.partition("\n")[0]))
    next(reader)
    for cells in _unbroken(reader, name):
        if isinstance(cells, Broken):
            yield cells
            continue
        if not any(cells):
            continue
        if len(cells) != len(titles):
            why = f"{len(cells)} columns instead of {len(titles)}"
            yield Broken(name, reader.line_num, why)
            continue

        def of(
            title: str, place: dict[str, int] = place, cells: list[str] = cells
        ) -> str:
            return cells[place[title]] if title in place else ""

        is_mine = of("way").strip().lower().endswith(HEARD_ME)
        is_theirs = of("way").strip().lower().endswith(HEARD)
        yield Row(
            line=reader.line_num,
            time=of("time"),
            band=of("band"),
            own=of("from"),
            far=of("where"),
            who=of("who"),
            way=of("way"),
            emission=of("mode"),
            hear_db="" if is_mine else of("snr_db"),
            heard_db=of("snr_db") if is_mine else "",
            own_power_w="" if is_theirs else of("power_w"),
            far_power_w=of("power_w") if is_theirs else "",
        )


def _unbroken(reader: Iterator[list[str]], name: str) -> Iterator[list[str] | Broken]:
    """Go on where a line is no row."""
    while True:
        try:
            yield next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            yield Broken(name, max(getattr(reader, "line_num", 1), 1), str(error))


def _archive_rows(text: str, name: str, call: str) -> Iterator[Row | Broken]:
    """
    Rows of the public WSPR archive, one receiver's or one sender's.

    Its columns, without titles (as the archive describes them, from memory): number,
    time in seconds, reporter, its locator, ratio in 2.5 kHz, MHz, sender, its locator,
    dBm, drift, km, azimuth, band, version, code.
    """
    reader = csv.reader(text.splitlines())
    rows: list[tuple[int, list[str]]] = []
    for cells in _unbroken(reader, name):
        if isinstance(cells, Broken):
            yield cells
        elif len(cells) == _ARCHIVE_COLUMNS:
            rows.append((reader.line_num, cells))
        elif any(cells):
            why = f"{len(cells)} columns instead of {_ARCHIVE_COLUMNS}"
            yield Broken(name, reader.line_num, why)
    mine = call.strip().upper() or _own_call([cells for _, cells in rows], name)
    make: Callable[[str], str] = lambda each: each.strip().upper()  # noqa: E731
    for line, cells in rows:
        reporter, sender = make(cells[2]), make(cells[6])
        if mine not in (reporter, sender):
            yield Broken(name, line, "neither sent nor heard by the station asked for")
            continue
        try:
            moment = datetime.fromtimestamp(int(cells[1]), UTC)
            power_w = f"{10.0 ** (0.1 * float(cells[8]) - 3.0):g}"
        except (ValueError, OverflowError, OSError):
            yield Broken(name, line, "time or power is no number")
            continue
        heard = reporter == mine
        yield Row(
            line=line,
            time=f"{moment:%Y-%m-%dT%H:%M}Z",
            band=cells[5],
            own=cells[3] if heard else cells[7],
            far=cells[7] if heard else cells[3],
            who=sender if heard else reporter,
            way=HEARD if heard else HEARD_ME,
            emission="WSPR",
            hear_db=cells[4] if heard else "",
            heard_db="" if heard else cells[4],
            own_power_w="" if heard else power_w,
            far_power_w=power_w if heard else "",
        )


def _own_call(rows: Sequence[Sequence[str]], name: str) -> str:
    """Find the call that is in every row."""
    seen = Counter(
        each.strip().upper() for cells in rows for each in {cells[2], cells[6]}
    )
    common = [each for each, count in seen.items() if count == len(rows)]
    if rows and len(common) != 1:
        raise InputError(
            f"'{name}' holds several senders and several receivers: say which call "
            "sign is yours with --call"
        )
    return common[0] if common else ""
