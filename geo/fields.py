"""
Records that say what their fields are: description, unit, whether there may be none.

All of it stands once, where a reader looks first: in the docstring of the record. From
there `record` puts it into the metadata of the fields, from which tables, files, frames
and schemas are made.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from enum import Enum
from inspect import cleandoc
from types import MappingProxyType
from typing import Annotated, Any, Final, TypeVar, dataclass_transform

T = TypeVar("T")


class _Nothing(Enum):
    LEFT_OUT = "left out"


LEFT_OUT: Final[Any] = _Nothing.LEFT_OUT
"""Default of a field that is not always there: then it is not written either."""

# What JSON Schema calls the limits of a type, in pairs.
Share = Annotated[float, ("minimum", 0), ("maximum", 1)]
"""A chance or another share, 0 to 1."""

Whole = Annotated[int, ("minimum", 0)]
"""A number of things that may be none."""

Count = Annotated[int, ("minimum", 1)]
"""A number of things or a place in a list, from 1."""

OrNothing = Annotated[float, ("type", ("number", "null"))]
"""A number in a list that may be no finite one."""

_UTC = "^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}Z$"

Utc = Annotated[str, ("pattern", _UTC)]
"""A moment, UTC to the minute, such as 2026-12-05T14:00Z."""

UNWRITTEN = "unwritten"
"""In the metadata of a field that files and their schemas leave out."""

KEYS = "keys"
"""In the metadata of a field that is a mapping: what it holds stands beside the other
fields, under keys of this pattern; any keys if the pattern is empty. A function: under
the keys it lists, which mean what it says of them. A pair of a pattern and a record:
under the names of its fields with that pattern behind."""

_UNIT = re.compile(r" \[[^]]+\](?:, \[[^]]+\])*$")
_NOTHING = re.compile(r"\b(?:NaN|None)\b")


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def record(plain: type[T]) -> type[T]:
    """
    Make a frozen dataclass whose fields carry what the docstring says of them.

    Parameters
    ----------
    plain : type
        A class with numpydoc ``Attributes``: each says its unit in brackets, and when
        it is NaN or None if it can be.

    Returns
    -------
    made : type
        The dataclass. The ``metadata`` of each field hold ``description``, as files
        have it, ``unit``, empty without one, and ``is_nullable``.

    Examples
    --------
    >>> @record
    ... class Row:
    ...     '''
    ...     One band.
    ...
    ...     Attributes
    ...     ----------
    ...     muf_mhz : float
    ...         Median MUF; NaN where there is none. [MHz]
    ...     '''
    ...
    ...     muf_mhz: float
    >>> dict(fields(Row)[0].metadata)["description"]
    'median MUF; null where there is none'
    """
    made = dataclass(frozen=True)(plain)
    about = _attributes(made.__doc__ or "")
    for each in fields(made):  # type: ignore[arg-type]
        if each.name in about:
            told = {**each.metadata, **about[each.name]}
            each.metadata = MappingProxyType(told)
    return made


def _attributes(doc: str) -> dict[str, dict[str, Any]]:
    """Read what a docstring says of each field."""
    _, _, section = cleandoc(doc).partition("Attributes\n----------\n")
    items: list[tuple[list[str], list[str]]] = []
    for line in section.partition("\n---")[0].splitlines():
        if line and not line.startswith(" "):
            items.append((line.split(" : ")[0].split(", "), []))
        elif items:
            items[-1][1].append(line.strip())
    found = {}
    for names, lines in items:
        text = " ".join(lines).strip().replace("`", "")
        end = _UNIT.search(text)
        units = re.findall(r"\[([^]]+)\]", end[0]) if end else []
        said = sentence_inside(_UNIT.sub("", text))
        for i, name in enumerate(names):
            found[name] = {
                "description": _NOTHING.sub("null", said),
                "unit": units[min(i, len(units) - 1)] if units else "",
                "is_nullable": bool(_NOTHING.search(said)),
            }
    return found


def filled(kind: type[T], /, *sources: object, **given: Any) -> T:
    """
    Make a record of what others hold under the same names.

    Parameters
    ----------
    kind : type
        The record wanted.
    *sources : object
        Where to look for its fields; the first that has one of that name counts.
    **given : object
        Fields that are called otherwise there, or have to be worked out.

    Returns
    -------
    record : object
        Of that kind.

    Raises
    ------
    TypeError
        If a field is neither given nor held by any source.
    """
    for each in fields(kind):  # type: ignore[arg-type]
        holder = next((one for one in sources if hasattr(one, each.name)), None)
        if holder is not None:
            given.setdefault(each.name, getattr(holder, each.name))
    return kind(**given)


def sentence_inside(text: str) -> str:
    """
    Write a sentence as it stands within another: no capital, no full stop.

    Parameters
    ----------
    text : str
        The sentence.

    Returns
    -------
    text : str
        A first word that is written with capitals or figures within keeps them.

    Examples
    --------
    >>> sentence_inside("Height of the wire."), sentence_inside("MUF of one hop.")
    ('height of the wire', 'MUF of one hop')
    """
    first = re.match(r"[A-Z][a-z'-]*\b(?![(\d])", text)
    text = text.removesuffix(".")
    return text[0].lower() + text[1:] if first else text


def as_mapping(value: Any) -> Any:
    """
    Turn a record into plain values, with all that it holds.

    Parameters
    ----------
    value : object
        A record, or any nesting of lists, mappings and records.

    Returns
    -------
    value : object
        Dicts by the names of the fields and lists; what is left out is not there.
    """
    if is_dataclass(value) and not isinstance(value, type):
        return dict(_pairs(value))
    if isinstance(value, Mapping):
        return {key: as_mapping(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [as_mapping(each) for each in value]
    return value


def _pairs(value: Any) -> Iterator[tuple[str, Any]]:
    """List the fields of a record as they are written."""
    for each in fields(value):
        held = getattr(value, each.name)
        if held is LEFT_OUT or UNWRITTEN in each.metadata:
            continue
        if KEYS in each.metadata:
            yield from as_mapping(held).items()
        else:
            yield each.name, as_mapping(held)
