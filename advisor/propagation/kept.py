"""
Rays and ground waves kept in memory and on disk, so that no sky is searched twice.

What is kept does not know of any wire, power, noise or emission: turning or lifting a
wire asks for no ray anew. Its name is a hash of all that decides the answer, of the
tables and of the source that works it out, so that nothing stale is ever read; files
are shared and checked as in `advisor.antenna.solver.cache_files`.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from advisor.antenna.solver.cache_files import fetch, keep
from geo import paths
from geo.tables import checksums

MOST_BYTES = 64_000_000
"""What stays in memory; the answers not asked for longest go. [bytes]"""

MOST_EACH_BYTES = 16_000_000
"""Larger answers, those of whole maps, are not kept. [bytes]"""

Arrays = dict[str, NDArray[Any]]

_held: OrderedDict[str, tuple[int, Arrays]] = OrderedDict()
"""Size of each answer in memory, and the answer."""


def kept(
    kind: str,
    question: Iterable[NDArray[Any]],
    work: Callable[[], Arrays],
    cache_dir: Path | None = None,
) -> Arrays:
    """
    Return an answer, from memory, from disk, or worked out.

    Parameters
    ----------
    kind : str
        What is kept, in a word.
    question : iterable of numpy.ndarray
        All that decides the answer.
    work : callable
        Works it out.
    cache_dir : pathlib.Path, optional
        Directory of the files; without it memory alone is used.

    Returns
    -------
    arrays : dict of str to numpy.ndarray
        Not to be written to; the same to the last bit from wherever they come.
    """
    digest = hashlib.sha256()
    for array in question:
        digest.update(f"{array.dtype.str}{array.shape}".encode())
        digest.update(array.tobytes())
    name = f"{kind}\n{_version()}\n{digest.hexdigest()}"
    _, found = _held.pop(name, (0, None))
    if found is None:
        found = fetch(cache_dir, name)
    if found is None:
        found = work()
        if _bytes(found) > MOST_EACH_BYTES:
            return found
        keep(cache_dir, name, found)
    for array in found.values():
        array.flags.writeable = False
    _held[name] = _bytes(found), found
    while sum(size for size, _ in _held.values()) > MOST_BYTES:
        _held.popitem(last=False)
    return found


def _bytes(arrays: Arrays) -> int:
    """Size of some arrays."""
    return sum(array.nbytes for array in arrays.values())


@cache
def _version() -> str:
    """Name the search by its source and tables, so that no edit is forgotten."""
    digest = hashlib.sha256(repr(checksums()).encode())
    geo = Path(paths.__file__).parent
    for folder in (geo, geo / "ionosphere", Path(__file__).parent):
        for file in sorted(folder.glob("*.py")):
            digest.update(file.read_bytes())
    return digest.hexdigest()[:16]
