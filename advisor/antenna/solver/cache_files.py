"""
Answers kept on disk under a hash of their question, whole or not at all.

Several processes may share a directory: a file is written beside its final name and
renamed, so that no reader ever sees half of one, and what is in it is checked against
the question. A directory that is damaged, full or cannot be written is done without;
what was wrong is kept for whoever wants to tell, see `take_trouble`.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import struct
import tempfile
import tokenize
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

MOST_BYTES = 200_000_000
"""Beyond this the files not used for longest go."""

LEFT_FREE_BYTES = 50_000_000
"""Nothing is kept that would leave less than this free on the disk."""

_ROOM = 0.9
"""Share of `MOST_BYTES` that pruning leaves, so that not every file prunes anew."""

ABANDONED_S = 3600.0
"""A file still being written when another is so much newer was left by a process that
died. [s]"""

DAMAGE = (
    OSError,
    ValueError,
    KeyError,
    EOFError,
    MemoryError,
    NotImplementedError,
    RuntimeError,
    struct.error,
    tokenize.TokenError,
    zlib.error,
    zipfile.BadZipFile,
)
"""What reading a damaged file may raise."""

Arrays = dict[str, NDArray[np.generic]]

_troubles: list[str] = []

_filled: dict[Path, int] = {}
"""Bytes in each directory: looked up once, then counted along, in this process."""


def take_trouble() -> str | None:
    """
    Tell what first kept the cache from being used since this was last asked.

    Returns
    -------
    trouble : str or None
        In words; None if there was none. It is forgotten once told.
    """
    first = _troubles[0] if _troubles else None
    _troubles.clear()
    return first


def fetch(cache_dir: Path | None, name: str) -> Arrays | None:
    """
    Read the answer to a question.

    Parameters
    ----------
    cache_dir : pathlib.Path or None
        Directory of the files.
    name : str
        The question: its kind, a line break, and all that decides the answer.

    Returns
    -------
    arrays : dict of str to numpy.ndarray or None
        None if it is not there, damaged, or not the answer to this question.
    """
    if cache_dir is None:
        return None
    path = path_of(cache_dir, name)
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as stored:
            is_answer = str(stored["identity"]) == name
            arrays = {key: stored[key] for key in stored.files if key != "identity"}
    except OSError:
        # Not there or not to be read: writing it will tell if something is wrong.
        return None
    except DAMAGE:
        is_answer = False
    if not is_answer:
        _troubles.append(f"damaged file in the cache, worked out anew: {path}")
        return None
    with contextlib.suppress(OSError):
        # Reading counts as use; a directory that is only read has no need of it.
        os.utime(path)
    return arrays


def keep(cache_dir: Path | None, name: str, arrays: Mapping[str, Any]) -> None:
    """
    Write the answer to a question, whole or not at all, and make room for it.

    Parameters
    ----------
    cache_dir : pathlib.Path or None
        Directory of the files; made if it is not there.
    name : str
        The question, as for `fetch`.
    arrays : mapping of str to array_like
        The answer.
    """
    if cache_dir is None:
        return
    try:
        cache_dir.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=cache_dir, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                np.savez(file, identity=np.array(name), **arrays)
                size = file.tell()
            free = shutil.disk_usage(cache_dir).free
            if free < LEFT_FREE_BYTES:
                raise OSError(f"only {free // 1_000_000} MB are free on that disk")
            Path(temporary).replace(path_of(cache_dir, name))
        finally:
            Path(temporary).unlink(missing_ok=True)
        if cache_dir in _filled:
            _filled[cache_dir] += size
        if _filled.get(cache_dir, MOST_BYTES + 1) > MOST_BYTES:
            _filled[cache_dir] = prune(cache_dir, MOST_BYTES)
    except OSError as error:
        _troubles.append(
            f"wires and rays cannot be kept in {cache_dir} ({error.strerror or error})"
        )


def prune(cache_dir: Path, most_bytes: float) -> int:
    """
    Delete what was abandoned; if too much is left, what was not used for longest.

    Parameters
    ----------
    cache_dir : pathlib.Path
        Directory of the files.
    most_bytes : float
        What may stay. If there is more, a tenth of it is freed besides.

    Returns
    -------
    total_bytes : int
        What is left.
    """
    seen = []
    for entry in os.scandir(cache_dir):
        # Another process may have deleted it since.
        with contextlib.suppress(OSError):
            if entry.name.endswith((".npz", ".part")):
                state = entry.stat()
                seen.append((state.st_mtime, state.st_size, entry.path))
    total = sum(size for _, size, _ in seen)
    goal = _ROOM * most_bytes if total > most_bytes else most_bytes
    newest = max((when for when, _, _ in seen), default=0.0)
    for when, size, path in sorted(seen):
        is_abandoned = path.endswith(".part") and newest - when > ABANDONED_S
        if is_abandoned or total > goal:
            Path(path).unlink(missing_ok=True)
            total -= size
    return total


def path_of(cache_dir: Path, name: str) -> Path:
    """
    Name the file of an answer.

    Parameters
    ----------
    cache_dir : pathlib.Path
        Directory of the files.
    name : str
        The question, as for `fetch`.

    Returns
    -------
    path : pathlib.Path
        Its kind, and a hash of the question.
    """
    kind = name.partition("\n")[0]
    return cache_dir / f"{kind}-{hashlib.sha256(name.encode()).hexdigest()[:32]}.npz"
