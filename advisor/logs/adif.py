"""Contacts of a station's log in the Amateur Data Interchange Format (ADIF 3.1)."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from advisor.logs.sightings import CONTACT, HEARD, Broken, Row

_END_OF_HEADER = re.compile(r"<eoh>", re.IGNORECASE)
_END_OF_RECORD = re.compile(r"<eor>", re.IGNORECASE)
_RATIO = re.compile(r"[+-]\d{1,2}")
_DATE, _TIME = re.compile(r"\d{8}"), re.compile(r"\d{4}(?:\d\d)?")
_DEGREES = re.compile(r"([NSEW])(\d{3}) (\d\d\.\d{3})")


def is_adif(text: str) -> bool:
    """
    Tell whether a file is a log of this kind.

    Parameters
    ----------
    text : str
        What is in it.

    Returns
    -------
    is_adif : bool
        True if a record or a header ends in it.
    """
    return bool(_END_OF_RECORD.search(text) or _END_OF_HEADER.search(text))


def adif_rows(text: str, name: str) -> Iterator[Row | Broken]:
    """
    Read the contacts of a log.

    Parameters
    ----------
    text : str
        The log (ADI form), one letter a byte or as UTF-8.
    name : str
        Name of the file, for what is wrong with it.

    Yields
    ------
    row : Row or Broken
        A contact; one that was only heard if it says so (SWL). Reports that are
        decibels are the ratio in 2.5 kHz, as the modes with such reports give it.

    Notes
    -----
    Fields used: QSO_DATE, TIME_ON, FREQ or BAND, MODE and SUBMODE, CALL (only to tell
    one from another), GRIDSQUARE, LAT and LON or COUNTRY, MY_GRIDSQUARE, RST_SENT,
    RST_RCVD, TX_PWR, RX_PWR, SWL. One record that cannot be read costs no other.
    """
    from adif_io import AdifError, read_from_string

    header = _END_OF_HEADER.search(text)
    body = text[header.end() :] if header else text
    # What stands before the first field would be taken for a header.
    _, start, rest = body.partition("<")
    body = start + rest
    if not body:
        return
    try:
        records: list[Mapping[str, str] | None] = list(read_from_string(body)[0])
    except (AdifError, ValueError, IndexError):
        records = []
        for part in _END_OF_RECORD.split(body)[:-1]:
            try:
                (one,), _ = read_from_string("".join(part.partition("<")[1:]) + "<eor>")
            except (AdifError, ValueError, IndexError):
                records.append(None)
            else:
                records.append(one)
    for number, each in enumerate(records, 1):
        if each is None:
            yield Broken(name, number, "not a record of fields")
        else:
            yield _row(number, each)


def _row(number: int, fields: Mapping[str, str]) -> Row:
    """One record."""
    date, time = fields.get("QSO_DATE", ""), fields.get("TIME_ON", "")
    if _DATE.fullmatch(date) and _TIME.fullmatch(time):
        date = f"{date[:4]}-{date[4:6]}-{date[6:]}"
        moment = f"{date}T{time[:2]}:{time[2:4]}Z"
    else:
        moment = f"{date} {time}".strip()
    is_heard = fields.get("SWL", "").upper() == "Y"
    mode = fields.get("SUBMODE") or fields.get("MODE", "")
    reports = [fields.get(key, "").strip() for key in ("RST_SENT", "RST_RCVD")]
    hear, heard = (each if _RATIO.fullmatch(each) else "" for each in reports)
    return Row(
        line=number,
        time=moment,
        band=fields.get("FREQ") or fields.get("BAND", ""),
        own=fields.get("MY_GRIDSQUARE", "")[:8],
        far=fields.get("GRIDSQUARE", "")[:8]
        or _coordinates(fields)
        or fields.get("COUNTRY", ""),
        who=fields.get("CALL", "").upper(),
        way=HEARD if is_heard else CONTACT,
        emission=mode,
        hear_db=hear,
        heard_db="" if is_heard else heard,
        own_power_w=fields.get("TX_PWR", ""),
        far_power_w=fields.get("RX_PWR", ""),
    )


def _coordinates(fields: Mapping[str, str]) -> str:
    """Degrees of LAT and LON, such as N052 30.000; empty without them."""
    found = [_DEGREES.fullmatch(fields.get(key, "")) for key in ("LAT", "LON")]
    degrees = [
        (-1.0 if each[1] in "SW" else 1.0) * (int(each[2]) + float(each[3]) / 60.0)
        for each in found
        if each
    ]
    return f"{degrees[0]:.4f},{degrees[1]:.4f}" if len(degrees) == 2 else ""
