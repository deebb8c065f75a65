"""
The forms of the JSON answers, as JSON Schema (draft 2020-12).

One file of ``advisor/show/formats/schema/`` for each command, and ``common.json`` for
what several share. They are also where the columns of a table get units and
descriptions.
"""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from geo.errors import InputError, near_matches

COMMANDS = (
    "tonight",
    "aim",
    "compare",
    "reach",
    "hang",
    "activation",
    "wire",
    "why",
    "hops",
    "sky",
    "station show",
)
"""Commands with a JSON answer."""

FORMS = (*COMMANDS, "geojson")
"""Everything that has a schema."""

_COMMON = "common.json#/$defs/"
_HERE = "#/$defs/"
_LOSS = "{loss}_db"


@dataclass(frozen=True)
class Column:
    """
    What is known of one column of a table.

    Attributes
    ----------
    kind : str
        ``number``, ``integer``, ``boolean`` or ``string``.
    unit : str
        Empty if it has none.
    description : str
        What it is.
    """

    kind: str
    unit: str
    description: str


def schema_of(form: str) -> dict[str, Any]:
    """
    Return the schema of one command's JSON, whole in itself.

    Parameters
    ----------
    form : str
        One of `FORMS`.

    Returns
    -------
    schema : dict
        Every reference leads to its own ``$defs``. Besides the words of JSON Schema,
        numbers have ``unit``, an annotation.

    Raises
    ------
    InputError
        If no command with JSON is called that.

    Examples
    --------
    >>> schema_of("wire")["title"]
    'Answer of skiplobe wire'
    """
    if form not in FORMS:
        hint = near_matches(form, FORMS) or "use one of these"
        raise InputError(
            f"no JSON is made by '{form}'; {hint} (there are: {', '.join(FORMS)})"
        )
    schema = with_losses(copy.deepcopy(_read(form.replace(" ", "-"))))
    shared = _read("common")["$defs"]
    wanted = _named(schema)
    while missing := wanted - set(schema.get("$defs", {})):
        for name in sorted(missing):
            schema.setdefault("$defs", {})[name] = copy.deepcopy(shared[name])
        wanted = _named(schema)
    whole: dict[str, Any] = _inward(schema)
    return whole


def columns_of(command: str, names: tuple[str, ...] = ()) -> dict[str, Column]:
    """
    Tell what the columns of a command's rows are.

    Parameters
    ----------
    command : str
        One of `COMMANDS`.
    names : tuple of str, optional
        The columns wanted, in their order; all that every row has if left out.

    Returns
    -------
    columns : dict of str to Column
        By name.

    Raises
    ------
    KeyError
        If the command has no such column.
    """
    schema = schema_of(command)
    row = schema["properties"]["results"]["items"]
    if "$ref" in row:
        row = schema["$defs"][row["$ref"].removeprefix(_HERE)]
    patterns: Mapping[str, Any] = row.get("patternProperties", {})

    def found(name: str) -> Column:
        about = row["properties"].get(name)
        if about is None:
            about = next(
                (each for rule, each in patterns.items() if re.search(rule, name)), None
            )
        if about is None:
            raise KeyError(f"{command} has no column {name}")
        kinds = about["type"] if isinstance(about["type"], list) else [about["type"]]
        real = [kind for kind in kinds if kind != "null"]
        return Column(
            real[0] if len(real) == 1 else "string",
            about.get("unit", ""),
            about["description"],
        )

    return {name: found(name) for name in names or tuple(row["required"])}


@cache
def _read(name: str) -> dict[str, Any]:
    """Read one file."""
    text = (files("advisor.show.formats") / "schema" / f"{name}.json").read_text(
        "utf-8"
    )
    read: dict[str, Any] = json.loads(text)
    return read


def with_losses(part: Any) -> Any:
    """
    Write what is said of ``{loss}_db`` once for every loss there is.

    Parameters
    ----------
    part : object
        A schema as it is shipped, or a part of it.

    Returns
    -------
    part : object
        A copy with the terms of `advisor.propagation.losses.LOSSES` in it.
    """
    from advisor.propagation.losses import LOSSES

    if isinstance(part, list):
        spread = (
            [f"{n}_db" for n in LOSSES] if each == _LOSS else [each] for each in part
        )
        return [with_losses(each) for some in spread for each in some]
    if not isinstance(part, Mapping):
        return part
    found: dict[str, Any] = {}
    for key, each in part.items():
        if key != _LOSS:
            found[key] = with_losses(each)
            continue
        for name, loss in LOSSES.items():
            said = each["description"].format(meaning=loss.meaning)
            found[f"{name}_db"] = {**each, "description": said}
    return found


def _named(part: Any) -> set[str]:
    """Names of the shared parts that a part refers to."""
    if isinstance(part, Mapping):
        found = {
            name for key, each in part.items() if key != "$ref" for name in _named(each)
        }
        if part.get("$ref", "").startswith(_COMMON):
            found.add(part["$ref"].removeprefix(_COMMON))
        return found
    if isinstance(part, list):
        return {name for each in part for name in _named(each)}
    return set()


def _inward(part: Any) -> Any:
    """Turn references to the shared file into ones within the schema."""
    if isinstance(part, Mapping):
        return {
            key: each.replace(_COMMON, _HERE) if key == "$ref" else _inward(each)
            for key, each in part.items()
        }
    if isinstance(part, list):
        return [_inward(each) for each in part]
    return part
