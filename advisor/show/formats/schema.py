"""
The forms of the JSON answers, as JSON Schema (draft 2020-12), made from the records.

What a field means stands in the docstring of its record (`geo.fields`), its type in
the annotation. Here the two are put into a schema.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from functools import cache
from inspect import cleandoc
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from advisor.answers.rows.inputs import Provenance
from advisor.show.formats import schemas
from advisor.show.formats.exports import SCHEMA_VERSION
from geo.errors import InputError, near_matches
from geo.fields import KEYS, LEFT_OUT, sentence_inside

_KINDS = {float: "number", int: "integer", bool: "boolean", str: "string"}
_UNITS = {"dB-Hz": "dB(Hz)", "dBW": "dB(W)", "ohm": "Ohm"}
"""Units of docstrings that astropy writes in another way."""

_HERE = "#/$defs/"
_NOTHING = {"type": "null", "description": "there is none"}

Schema = dict[str, Any]


@dataclass(frozen=True)
class Form:
    """
    What the JSON of one command is made of.

    Attributes
    ----------
    inputs, row : type
        Records of what was understood and of one row of the results.
    details : type or None
        Record of what stands beside the rows.
    """

    inputs: type
    row: type
    details: type | None = None


@cache
def forms() -> Mapping[str, Form | None]:
    """
    List everything that has a schema.

    Returns
    -------
    forms : dict of str to Form
        By the words of the command; None where the schema is a file yet.
    """
    from advisor.answers.rows import aim, compare, inputs, reach, sky, tonight

    asked = inputs.QuestionInputs
    return {
        "tonight": Form(asked, tonight.AdviceRow, tonight.AdviceDetails),
        "aim": Form(asked, aim.AimRow, aim.AimDetails),
        "compare": Form(asked, compare.CompareRow, compare.CompareDetails),
        "reach": Form(asked, reach.ReachRow, reach.ReachDetails),
        **dict.fromkeys(("hang", "activation", "wire", "why")),
        "hops": Form(sky.HopInputs, sky.HopRow),
        "sky": Form(sky.SkyInputs, sky.SkyRow, sky.SkyDetails),
        "station show": Form(inputs.NoInputs, inputs.ValueRow),
        "geojson": None,
    }


def schema_of(name: str) -> Schema:
    """
    Return the schema of one command's JSON, whole in itself.

    Parameters
    ----------
    name : str
        One of `forms`.

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
    >>> schema_of("hops")["title"]
    'Answer of skiplobe hops'
    """
    known = forms()
    if name not in known:
        hint = near_matches(name, known) or "use one of these"
        raise InputError(
            f"no JSON is made by '{name}'; {hint} (there are: {', '.join(known)})"
        )
    form = known[name]
    if form is None:
        return schemas.schema_of(name)
    parts: Schema = {}
    version = {
        "const": SCHEMA_VERSION,
        "description": "version of this form, see docs/formats.md",
    }
    properties: Schema = {
        "schema_version": version,
        "inputs": _of_type(form.inputs, {}, parts),
        "provenance": _of_type(Provenance, {}, parts),
        "results": _of_type(
            tuple[form.row, ...],  # type: ignore[name-defined]
            {"description": f"a row is {_summary(form.row)}"},
            parts,
        ),
    }
    required = list(properties)
    if form.details is not None:
        more = _of_record(form.details, parts)
        properties |= more["properties"]
        required += more["required"]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:skiplobe:{name.replace(' ', '-')}:{SCHEMA_VERSION}",
        "title": title_of(name),
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
        "$defs": dict(sorted(parts.items())),
    }


def title_of(name: str) -> str:
    """
    Name the answer of a command.

    Parameters
    ----------
    name : str
        Words of the command.

    Returns
    -------
    title : str
        For its schema and the header of its table.
    """
    if name == "geojson":
        return "GeoJSON of skiplobe tonight, reach and chart map"
    return f"Answer of skiplobe {name}"


def columns_of(name: str, names: Iterable[str] = ()) -> dict[str, Schema]:
    """
    Tell what the columns of a command's rows are.

    Parameters
    ----------
    name : str
        One of `forms`.
    names : iterable of str, optional
        The columns wanted, in their order; all that every row has if left out.

    Returns
    -------
    columns : dict of str to dict
        Schema of each: ``type``, ``unit`` of a number, ``description``.

    Raises
    ------
    KeyError
        If the command has no such column.
    """
    form = forms()[name]
    if form is None:
        return {
            column: {
                "type": each.kind,
                "unit": each.unit,
                "description": each.description,
            }
            for column, each in schemas.columns_of(name, tuple(names)).items()
        }
    row = _of_record(form.row, {})

    def found(column: str) -> Schema:
        patterns = row.get("patternProperties", {}).items()
        fits = (each for rule, each in patterns if re.search(rule, column))
        about: Schema | None = row["properties"].get(column) or next(fits, None)
        if about is None:
            raise KeyError(f"{name} has no column {column}")
        return about

    return {column: found(column) for column in names or row["required"]}


def kinds(part: Schema) -> list[str]:
    """
    List the types that a value may have, but for none.

    Parameters
    ----------
    part : dict
        Schema of the value.

    Returns
    -------
    kinds : list of str
        Such as ``number``.
    """
    named = part["type"]
    return [
        each
        for each in ([named] if isinstance(named, str) else named)
        if each != "null"
    ]


def _summary(cls: type) -> str:
    """First sentence of a record's docstring, within another."""
    text = cleandoc(cls.__doc__ or "").partition("\n\n")[0]
    return sentence_inside(" ".join(text.split()).replace("`", ""))


def _of_record(cls: type, parts: Schema) -> Schema:
    """Make the schema of a record; the records within it go to ``parts``."""
    hints = get_type_hints(cls, include_extras=True)
    schema: Schema = {"type": "object", "description": _summary(cls), "properties": {}}
    schema |= {"required": [], "additionalProperties": False}
    for each in fields(cls):
        about = each.metadata
        said = {key: about[key] for key in ("description", "unit") if about.get(key)}
        hint = hints[each.name]
        part = _of_type(get_args(hint)[1] if KEYS in about else hint, said, parts)
        part = _or_null(part) if about.get("is_nullable") else part
        if about.get(KEYS):
            schema["patternProperties"] = {about[KEYS]: part}
        elif KEYS in about:
            schema["additionalProperties"] = part
        else:
            schema["properties"][each.name] = part
            schema["required"] += [each.name] if each.default is not LEFT_OUT else []
    return schema


def _of_type(hint: Any, said: Schema, parts: Schema) -> Schema:
    """Make the schema of a value, with what is said of it."""
    about = {"description": said["description"]} if "description" in said else {}
    limits: Schema = {}
    if get_origin(hint) is Annotated:
        hint, *pairs = get_args(hint)
        limits = dict(pairs)
    origin, args = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        real = [each for each in args if each is not NoneType]
        several = [_of_type(each, said, parts) for each in real]
        if len(several) == 1:
            part = several[0]
        elif all("$ref" in each for each in several):
            part = {**about, "oneOf": several}
        else:
            part = {"type": [kind for each in several for kind in kinds(each)], **about}
        return _or_null(part) if len(real) < len(args) else part
    if origin is Literal:
        return (
            {"enum": list(args), **about} if args[1:] else {"const": args[0], **about}
        )
    if origin in (dict, Mapping):
        # Without a unit: then the key ends in it.
        held = _each(args[1], {"unit": "", **said}, parts)
        return {"type": "object", **about, "additionalProperties": held}
    if origin in (tuple, list, Sequence):
        part = {"type": "array", **about, "items": _each(args[0], said, parts)}
        if args[1:] and args[1] is not ...:
            part |= {"minItems": len(args), "maxItems": len(args)}
        return part | limits
    if isinstance(hint, type) and is_dataclass(hint):
        name = re.sub(r"(?<!^)([A-Z])", r"_\1", hint.__name__).lower()
        if name not in parts:
            parts[name] = {}
            parts[name] = _of_record(hint, parts)
        return {"$ref": _HERE + name, **about}
    if hint is Any:
        return about
    part = {"type": _KINDS[hint]}
    unit = said.get("unit", "1" if hint is float else "")
    if unit:
        part["unit"] = _UNITS.get(unit, unit)
    return {**part, **about, **limits}


def _each(hint: Any, said: Schema, parts: Schema) -> Schema:
    """Make the schema of what a list holds; a record there speaks for itself."""
    part = _of_type(hint, said, parts)
    return {"$ref": part["$ref"]} if "$ref" in part else part


def _or_null(part: Schema) -> Schema:
    """Allow for nothing."""
    if "anyOf" in part:
        return part
    if "$ref" in part or "oneOf" in part:
        return {"description": part["description"], "anyOf": [part, _NOTHING]}
    named = part["type"]
    each = [named] if isinstance(named, str) else named
    return part if "null" in each else {**part, "type": [*each, "null"]}
