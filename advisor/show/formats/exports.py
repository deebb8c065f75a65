"""Rows and what stands beside them as JSON and CSV; nothing is worked out here."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from geo.fields import as_mapping

SCHEMA_VERSION = 1
"""Of JSON and GeoJSON; docs/formats.md says what raises it."""


def rows_csv(rows: Sequence[Any], names: Iterable[str] = ()) -> str:
    r"""
    Write rows as comma-separated values; NaN and infinity are empty cells.

    A text that a spreadsheet would take for a formula has an apostrophe before it.

    Parameters
    ----------
    rows : sequence of record or mapping
        Rows with the same fields.
    names : iterable of str, optional
        Columns to name where there is no row.

    Returns
    -------
    text : str
        A header line and one line a row.

    Examples
    --------
    >>> rows_csv([{"band": "20 m", "muf_mhz": float("nan")}])
    'band,muf_mhz\n20 m,\n'
    """
    sink = io.StringIO()
    told = [as_mapping(row) for row in rows]
    columns = list(told[0]) if told else list(names)
    if columns:
        writer = csv.DictWriter(sink, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(
            {key: _cell(value) for key, value in row.items()} for row in told
        )
    return sink.getvalue()


def _cell(value: Any) -> Any:
    """Write one value for a program that may run what begins like a formula."""
    if isinstance(value, str) and value[:1] in tuple("=+-@\t\r") and len(value) > 1:
        # Figures alone, as of a place, run nothing.
        return value if set(value) <= set("+-.,; 0123456789") else f"'{value}"
    return "" if is_missing(value) else value


def to_json(inputs: Any, results: Any, provenance: Any, details: Any = None) -> str:
    """
    Write one JSON object: what was asked, what came out, and from what.

    Parameters
    ----------
    inputs : record or mapping
        What was understood of the question.
    results : sequence of record or mapping
        The rows.
    provenance : record or mapping
        Version and checksums of tables.
    details : record, optional
        What stands beside the rows.

    Returns
    -------
    text : str
        JSON; NaN is null; keys in a fixed order.
    """
    whole = {
        "schema_version": SCHEMA_VERSION,
        "inputs": inputs,
        "provenance": provenance,
        "results": results,
        **(as_mapping(details) if details is not None else {}),
    }
    return (
        json.dumps(plain(whole), indent=1, allow_nan=False, ensure_ascii=False) + "\n"
    )


def is_missing(value: object) -> bool:
    """
    Tell whether a value is written as none.

    Parameters
    ----------
    value : object
        The value.

    Returns
    -------
    is_missing : bool
        True for None and a float that is no finite number.
    """
    return value is None or (isinstance(value, float) and not math.isfinite(value))


def plain(value: Any) -> Any:
    """
    Make a value fit for JSON.

    Parameters
    ----------
    value : object
        Any nesting of records, mappings, lists and plain values.

    Returns
    -------
    value : object
        The same with text for keys and nothing for NaN and infinity.

    Examples
    --------
    >>> plain({"muf_mhz": [float("nan"), 7.1]})
    {'muf_mhz': [None, 7.1]}
    """
    value = as_mapping(value)
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, list):
        return [plain(each) for each in value]
    return None if is_missing(value) else value
