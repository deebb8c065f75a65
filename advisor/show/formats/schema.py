"""
The forms of the JSON answers, as JSON Schema (draft 2020-12), made from the records.

What a field means stands in the docstring of its record (`geo.fields`), its type in
the annotation. Here the two are put into a schema.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from inspect import cleandoc
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from advisor.answers.rows.inputs import Form, Provenance
from advisor.show.formats.exports import SCHEMA_VERSION
from geo.fields import KEYS, LEFT_OUT, UNWRITTEN, sentence_inside

_KINDS = {float: "number", int: "integer", bool: "boolean", str: "string"}
_UNITS = {"dB-Hz": "dB(Hz)", "dBW": "dB(W)", "ohm": "Ohm"}
"""Units of docstrings that astropy writes in another way."""

_HERE = "#/$defs/"
_STANDARD = "what the standard wants"
_NOTHING = {"type": "null", "description": "there is none"}

Schema = dict[str, Any]


def schema_of(form: Form) -> Schema:
    """
    Return the schema of one command's JSON, whole in itself.

    Parameters
    ----------
    form : Form
        What it is made of.

    Returns
    -------
    schema : dict
        Every reference leads to its own ``$defs``. Besides the words of JSON Schema,
        numbers have ``unit``, an annotation.
    """
    parts: Schema = {}
    version = {
        "const": SCHEMA_VERSION,
        "description": "version of this form, see docs/formats.md",
    }
    properties: Schema = {
        "schema_version": version,
        "inputs": _of_type(form.inputs, {}, parts),
        "provenance": _of_type(Provenance, {}, parts),
    }
    if form.row is None:
        collection = {"type": _const("FeatureCollection", _STANDARD)}
        properties = collection | properties | {"features": _features(parts)}
    else:
        about = {"description": f"a row is {_summary(form.row)}"}
        rows = tuple[form.row, ...]  # type: ignore[name-defined]
        properties["results"] = _of_type(rows, about, parts)
    required = list(properties)
    if form.details is not None:
        more = _of_record(form.details, parts)
        properties |= more["properties"]
        required += more["required"]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:skiplobe:{form.name.replace(' ', '-')}:{SCHEMA_VERSION}",
        "title": form.title,
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
        "$defs": dict(sorted(parts.items())),
    }


def columns_of(form: Form, names: Iterable[str] = ()) -> dict[str, Schema]:
    """
    Tell what the columns of a command's rows are.

    Parameters
    ----------
    form : Form
        What its JSON is made of.
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
    row = _of_record(form.row, {}) if form.row else {"properties": {}, "required": []}

    def found(column: str) -> Schema:
        patterns = row.get("patternProperties", {}).items()
        fits = (each for rule, each in patterns if re.search(rule, column))
        about: Schema | None = row["properties"].get(column) or next(fits, None)
        if about is None:
            raise KeyError(f"{form.name} has no column {column}")
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
        if UNWRITTEN in about:
            continue
        said = {key: about[key] for key in ("description", "unit") if about.get(key)}
        hint = hints[each.name]
        if isinstance(about.get(KEYS), tuple):
            behind, held = about[KEYS]
            named = _of_record(held, parts)["properties"].items()
            schema["patternProperties"] = {
                f"^{key}{behind}$": one for key, one in named
            }
            continue
        if callable(about.get(KEYS)):
            for key, meaning in about[KEYS]().items():
                schema["properties"][key] = _or_null(
                    _of_type(
                        get_args(hint)[1],
                        {**said, "description": meaning},
                        parts,
                    )
                )
                schema["required"].append(key)
            continue
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
        limits = {
            key: list(each) if isinstance(each, tuple) else each for key, each in pairs
        }
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


def _features(parts: Schema) -> Schema:
    """Make the schema of all that can be put on a map (RFC 7946)."""
    from advisor.answers.rows.features import FEATURES

    degrees = {"type": "number", "unit": "deg"}
    parts["position"] = {
        "type": "array",
        "description": "longitude, then latitude, WGS 84",
        "unit": "deg",
        "prefixItems": [
            {**degrees, "description": name, "minimum": -most, "maximum": most}
            for name, most in (("longitude", 180), ("latitude", 90))
        ],
        "items": False,
        "minItems": 2,
    }
    each = [
        _object(
            _summary(told),
            type=_const("Feature", _STANDARD),
            geometry=_geometry(shape),
            properties=_of_record(told, parts),
        )
        for told, shape in FEATURES.items()
    ]
    items = {"description": "one thing on the map", "oneOf": each}
    return {"type": "array", "description": "what is on the map", "items": items}


def _geometry(shape: str) -> Schema:
    """Make the schema of a shape, whole or cut into several parts."""
    place: Schema = {"$ref": f"{_HERE}position"}
    if shape == "Point":
        return _shape(shape, {**place, "description": "its positions"})
    if shape == "LineString":
        one = _list(place, "points of a line", 2)
    else:
        outline = _list(place, "closed outline, counterclockwise", 4)
        one = _list(outline, "outline of an area, without holes", 1) | {"maxItems": 1}
    several = _list(one, "parts, cut at 180 degrees or over a pole", 2)
    both = [_shape(shape, one), _shape(f"Multi{shape}", several)]
    return {"description": "the shape", "oneOf": both}


def _shape(name: str, coordinates: Schema) -> Schema:
    """Make the schema of one geometry."""
    kind = _const(name, "kind of shape")
    return _object("the shape", type=kind, coordinates=coordinates)


def _list(items: Schema, description: str, least: int) -> Schema:
    """Make the schema of a list."""
    return {
        "type": "array",
        "description": description,
        "items": items,
        "minItems": least,
    }


def _const(value: str, description: str) -> Schema:
    """Make the schema of a word that is always the same."""
    return {"const": value, "description": description}


def _object(description: str, **properties: Schema) -> Schema:
    """Make the schema of an object that has all of its properties and no others."""
    return {
        "type": "object",
        "description": description,
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }
