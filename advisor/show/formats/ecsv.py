"""
Rows as ECSV: comma-separated values under a header with units and what they are.

astropy writes it and reads it with units; pandas reads it with ``comment='#'``. Units
and descriptions are those of the JSON schema.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from advisor.answers.rows.inputs import Form
from advisor.show.formats.exports import SCHEMA_VERSION, is_missing, plain
from advisor.show.formats.schema import columns_of, kinds
from geo.fields import as_mapping

_TYPES = {"number": float, "integer": int, "boolean": bool, "string": str}
_NONE = {"number": 0.0, "integer": 0, "boolean": False, "string": ""}
"""Stands under the mask where there is no value."""


def rows_ecsv(form: Form, rows: Sequence[Any], inputs: Any, provenance: Any) -> str:
    r"""
    Write the rows of a command as ECSV.

    Parameters
    ----------
    form : Form
        What the JSON of the command is made of.
    rows : sequence of record or mapping
        Rows with the same fields.
    inputs, provenance : record or mapping
        What was asked and what the answer was made from, for the header.

    Returns
    -------
    text : str
        Header, a line of names and one line a row. What does not exist is an empty
        cell.

    Raises
    ------
    KeyError
        If a column is not in the schema of the command.

    Examples
    --------
    >>> rows = [{"key": "ground", "value": "average", "origin": "default"}]
    >>> from advisor.answers.rows.inputs import STATION_FORM
    >>> print(rows_ecsv(STATION_FORM, rows, {}, {}).splitlines()[-1])
    ground,average,default
    """
    from astropy.table import MaskedColumn, Table

    told = [as_mapping(row) for row in rows]
    table = Table()
    for column, about in columns_of(form, told[0] if told else ()).items():
        kind, *others = kinds(about)
        if others:
            kind = "string"
        cells = [row[column] for row in told]
        unit = about.get("unit", "")
        table[column] = MaskedColumn(
            [_NONE[kind] if is_missing(cell) else _TYPES[kind](cell) for cell in cells],
            mask=[is_missing(cell) for cell in cells],
            dtype=_TYPES[kind],
            # astropy has no dBi and calls a plain number by no name.
            unit={"1": None, "": None, "dBi": "dB"}.get(unit, unit),
            description=about.get("description"),
        )
    table.meta = {
        "title": form.title,
        "schema_version": SCHEMA_VERSION,
        "inputs": plain(inputs),
        "provenance": plain(provenance),
    }
    sink = io.StringIO()
    table.write(sink, format="ascii.ecsv", delimiter=",")
    lines = sink.getvalue().split("\n")
    names = next(place for place, line in enumerate(lines) if line[:1] != "#")
    # A row that began with '#' would be read as a comment.
    for place, line in enumerate(lines[names + 1 :], names + 1):
        if line.startswith("#"):
            first, comma, rest = line.partition(",")
            lines[place] = f'"{first}"{comma}{rest}'
    return "\n".join(lines)
