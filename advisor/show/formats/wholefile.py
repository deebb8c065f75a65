"""Files that are written whole or not at all."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

_NAME_KEPT = 40
"""Letters of a file's name that its part carries: names have a greatest length."""


def is_there(path: Path) -> bool:
    """
    Tell whether something of a name exists.

    Parameters
    ----------
    path : pathlib.Path
        The name.

    Returns
    -------
    there : bool
        True for a link to nothing too; False where nothing can be looked at, which
        writing will then find out.
    """
    return os.path.lexists(path)


def write_whole(path: Path, content: bytes) -> None:
    """
    Write a file beside its name, then give it the name.

    Parameters
    ----------
    path : pathlib.Path
        Where to; what is there is replaced.
    content : bytes
        All of it.

    Raises
    ------
    OSError
        If it cannot be written; then all is as it was.
    """
    partial = path.with_name(f".{path.name[:_NAME_KEPT]}.{os.getpid()}.partial")
    try:
        partial.write_bytes(content)
        partial.replace(path)
    finally:
        # Gone if all went well; not to be had at all in a directory that is none.
        with contextlib.suppress(OSError):
            partial.unlink(missing_ok=True)
