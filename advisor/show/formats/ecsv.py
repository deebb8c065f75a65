"""
Rows as ECSV: comma-separated values under a header with units and what they are.

astropy reads it with units, pandas with ``comment='#'``; neither is needed to write
it. Units and descriptions are those of the JSON schema.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from advisor.show.formats.schemas import columns_of, schema_of

_DATATYPES = {
    "number": "float64",
    "integer": "int64",
    "boolean": "bool",
    "string": "string",
}
_UNITS = {"1": "", "dBi": "dB"}
"""Units that astropy has not or need not be told."""

_NOT_IN_YAML = re.compile("[\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")


def rows_ecsv(
    command: str,
    rows: Sequence[Mapping[str, Any]],
    inputs: Mapping[str, Any],
    provenance: Mapping[str, Any],
) -> str:
    r"""
    Write the rows of a command as ECSV.

    Parameters
    ----------
    command : str
        One of `advisor.show.formats.schemas.COMMANDS`.
    rows : sequence of mapping
        Rows with the same keys.
    inputs, provenance : mapping
        What was asked and what the answer was made from, for the header.

    Returns
    -------
    text : str
        Header, a line of names and one line a row. What does not exist is an empty
        cell, an empty text a pair of quotes.

    Raises
    ------
    KeyError
        If a column is not in the schema of the command.

    Examples
    --------
    >>> rows = [{"key": "ground", "value": "average", "origin": ""}]
    >>> print(rows_ecsv("station show", rows, {}, {}).splitlines()[-1])
    "ground","average",""
    """
    schema = schema_of(command)
    columns = columns_of(command, tuple(rows[0]) if rows else ())
    head = ["%ECSV 1.0", "---", "datatype:"]
    for name, column in columns.items():
        about = {"name": name}
        unit = _UNITS.get(column.unit, column.unit)
        if unit:
            about["unit"] = unit
        about["datatype"] = _DATATYPES[column.kind]
        about["description"] = column.description
        head.append(f"- {_yaml(about)}")
    head.append("meta: !!omap")
    meta = {
        "title": schema["title"],
        "schema_version": schema["properties"]["schema_version"]["const"],
        "inputs": inputs,
        "provenance": provenance,
    }
    head += [f"- {_yaml({key: value})}" for key, value in meta.items()]
    head += ["delimiter: ','", "schema: astropy-2.0"]
    lines = [f"# {line}" for line in head]
    lines.append(",".join(columns))
    for row in rows:
        lines.append(
            ",".join(_cell(row[name], each.kind) for name, each in columns.items())
        )
    return "\n".join(lines) + "\n"


def _cell(value: Any, kind: str) -> str:
    """Write one cell; nothing if there is no value."""
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return ""
    if kind == "number":
        return repr(float(value))
    if kind == "integer":
        return str(int(value))
    if kind == "boolean":
        return str(bool(value))
    text = value if isinstance(value, str) else json.dumps(value)
    return '"' + text.replace('"', '""') + '"'


def _yaml(value: Any) -> str:
    """Write a value as YAML on one line, readable by YAML 1.1 and 1.2 alike."""
    if isinstance(value, Mapping):
        pairs = (f"{_yaml(str(key))}: {_yaml(each)}" for key, each in value.items())
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_yaml(each) for each in value) + "]"
    if isinstance(value, bool) or value is None:
        return json.dumps(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            return "null"
        # YAML 1.1 takes 1e-05 for a text: it wants the point and the sign.
        mantissa, e, exponent = repr(float(value)).partition("e")
        point = mantissa if "." in mantissa else f"{mantissa}.0"
        sign = "" if not e or exponent.startswith("-") else "+"
        return f"{point}{e}{sign}{exponent.removeprefix('+')}"
    if isinstance(value, int):
        return str(value)
    quoted = json.dumps(str(value), ensure_ascii=False)
    return _NOT_IN_YAML.sub(lambda found: f"\\u{ord(found[0]):04x}", quoted)
