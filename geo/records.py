"""
Records that hold arrays.

Their arrays cannot be written to, and two are never alike by accident: only by being
the same record or, where that is wanted, by what they hold.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, is_dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Any, dataclass_transform

import numpy as np


def _brief(value: Any) -> str:
    """Show a value in a few words: numbers and texts whole, of more how much it is."""
    if isinstance(value, np.ndarray):
        return f"<{value.dtype.name} {value.shape}>"
    if isinstance(value, tuple | MappingProxyType):
        kind = "tuple" if isinstance(value, tuple) else "mapping"
        return f"<{kind} of {len(value)}>"
    return f"<{type(value).__name__}>" if is_dataclass(value) else repr(value)


@dataclass_transform(frozen_default=True, eq_default=False, field_specifiers=(field,))
class ArrayRecord:
    """
    Base of a frozen dataclass whose arrays are read-only; it is made one by that.

    Arrays given, also in a tuple or a mapping, are kept as views that cannot be written
    through. A record is alike to itself alone. Shown, its arrays are no more than their
    shapes.
    """

    def __init_subclass__(cls) -> None:
        dataclass(frozen=True, eq=False, repr=False)(cls)

    def __repr__(self) -> str:
        """Name the record and its fields, briefly."""
        shown = (each.name for each in fields(self) if each.repr)  # type: ignore[arg-type]
        told = (f"{name}={_brief(getattr(self, name))}" for name in shown)
        return f"{type(self).__name__}({', '.join(told)})"

    def __post_init__(self) -> None:
        held = vars(self)
        for name, value in held.items():
            if isinstance(value, np.ndarray | tuple | dict):
                held[name] = _fixed(value)

    def __getstate__(self) -> dict[str, Any]:
        """Give what a copy in another process needs; what can be found again, not."""
        kind = type(self)
        return {
            name: _open(value)
            for name, value in vars(self).items()
            if not isinstance(getattr(kind, name, None), cached_property)
        }

    def __setstate__(self, state: dict[str, Any]) -> None:
        for name, value in state.items():
            object.__setattr__(self, name, _fixed(value))


class ContentRecord(ArrayRecord):
    """
    The same, but alike to every record of its kind that holds the same.

    So two questions put the same way are equal and have one hash.
    """

    def __eq__(self, other: object) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return bool(_content(self) == _content(other))

    def __hash__(self) -> int:
        return hash(_content(self))


def _fixed(value: Any) -> Any:
    """Return a value with every array in it as a read-only view."""
    if isinstance(value, np.ndarray):
        view = value.view()
        view.flags.writeable = False
        return view
    if type(value) is tuple:
        return tuple(_fixed(each) for each in value)
    if isinstance(value, dict):
        return MappingProxyType({key: _fixed(each) for key, each in value.items()})
    return value


def _open(value: Any) -> Any:
    """Return a value with mappings that can be pickled."""
    if type(value) is tuple:
        return tuple(_open(each) for each in value)
    if isinstance(value, MappingProxyType):
        return {key: _open(each) for key, each in value.items()}
    return value


def _content(value: Any) -> Any:
    """Return what is equal, and hashes alike, for values that hold the same."""
    if isinstance(value, ContentRecord):
        held = (getattr(value, field.name) for field in fields(value))
        return (type(value), *(_content(each) for each in held))
    if isinstance(value, np.ndarray):
        return value.dtype.str, value.shape, value.tobytes()
    if type(value) is tuple:
        return tuple(_content(each) for each in value)
    return value
