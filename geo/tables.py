"""
The one door to the data files in ``tables/``.

Tables are ECSV: comma-separated values under a commented YAML header that names
each column's unit. astropy reads them with units and pandas with
``comment='#'``; this reader needs neither, so that a command starts quickly.
Large coefficient sets are compressed ``.npz``. Everything returned is read-only.
"""

from __future__ import annotations

import csv
import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar, get_type_hints

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from geo.arrays import Floats

T = TypeVar("T")

_COLUMN = re.compile(r"^# - \{name: (?P<name>[^,}]+),(?P<rest>.*)\}\s*$")
_FIELD = re.compile(r"(?P<key>unit|datatype): (?P<value>[^,}]+)")


def table_root() -> Path:
    """
    Directory that holds the data files.

    Returns
    -------
    root : pathlib.Path
        ``geo/_tables`` in an installed wheel, ``tables`` beside ``geo`` in a
        checkout.
    """
    package = Path(str(files("geo")))
    root = package / "_tables"
    return root if root.is_dir() else package.parent / "tables"


@dataclass(frozen=True)
class Table:
    """
    One ECSV file: text columns as they stand and the unit of each.

    Attributes
    ----------
    name : str
        File name without its ending.
    columns : mapping of str to tuple of str
        The cells of each column as text, in file order.
    units : mapping of str to str
        Unit of each column that has one.
    """

    name: str
    columns: Mapping[str, tuple[str, ...]]
    units: Mapping[str, str]

    def __len__(self) -> int:
        return len(next(iter(self.columns.values())))

    def numbers(self, column: str) -> Floats:
        """
        Return one column as read-only floats; an empty cell is NaN.

        Parameters
        ----------
        column : str
            Column name.

        Returns
        -------
        values : numpy.ndarray
            One float per row, in the column's unit.
        """
        import numpy as np

        cells = self.columns[column]
        values = np.array([float(cell) if cell else np.nan for cell in cells])
        values.flags.writeable = False
        return values

    def rows(self) -> list[dict[str, str]]:
        """
        Return the rows as dictionaries of text.

        Returns
        -------
        rows : list of dict
            One dictionary per row, keyed by column name.
        """
        names = list(self.columns)
        return [
            dict(zip(names, cells, strict=True))
            for cells in zip(*self.columns.values(), strict=True)
        ]

    def records(self, kind: type[T], **titles: str) -> list[T]:
        """
        Make a record of each row.

        Parameters
        ----------
        kind : type
            A dataclass: its fields are read from the columns of their names and turned
            into what they hold. An empty cell, or no such column, is the default.
        **titles : str
            Columns by the names of fields that are called otherwise.

        Returns
        -------
        records : list
            In the order of the file.
        """
        known, hints = fields(kind), get_type_hints(kind)  # type: ignore[arg-type]
        columns = {each.name: titles.get(each.name, each.name) for each in known}
        return [
            kind(
                **{
                    name: hints[name](row[column])
                    for name, column in columns.items()
                    if row.get(column)
                }
            )
            for row in self.rows()
        ]


@cache
def read_table(name: str) -> Table:
    """
    Read ``tables/<name>.ecsv``.

    Parameters
    ----------
    name : str
        File name without its ending.

    Returns
    -------
    table : Table
        The parsed file; the same object on every call.
    """
    path = table_root() / f"{name}.ecsv"
    lines = path.read_text(encoding="utf-8").splitlines()
    units: dict[str, str] = {}
    for line in lines:
        column = _COLUMN.match(line)
        if column is None:
            continue
        fields = {m["key"]: m["value"] for m in _FIELD.finditer(column["rest"])}
        if "unit" in fields:
            units[column["name"]] = fields["unit"].strip()
    body = list(csv.reader(line for line in lines if not line.startswith("#")))
    header, cells = body[0], [row for row in body[1:] if row]
    columns = {title: tuple(row[i] for row in cells) for i, title in enumerate(header)}
    return Table(name, MappingProxyType(columns), MappingProxyType(units))


@cache
def read_arrays(name: str) -> Mapping[str, NDArray[Any]]:
    """
    Read ``tables/<name>.npz``.

    Parameters
    ----------
    name : str
        File name without its ending.

    Returns
    -------
    arrays : mapping of str to numpy.ndarray
        The arrays of the file, read-only; the same object on every call.
    """
    import numpy as np

    with np.load(table_root() / f"{name}.npz", allow_pickle=False) as archive:
        arrays = {key: archive[key] for key in archive.files}
    for array in arrays.values():
        array.flags.writeable = False
    return MappingProxyType(arrays)


def checksums() -> dict[str, str]:
    """
    SHA-256 of every data file, so that an answer can be traced to its tables.

    Returns
    -------
    digests : dict of str to str
        Hexadecimal digest by file name, in order of names.
    """
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(table_root().iterdir())
        if path.is_file()
    }
