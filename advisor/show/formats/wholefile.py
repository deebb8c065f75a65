"""
Files that are written whole or not at all.

An ordinary file is written under another name beside its own and then given its name.
What is no ordinary file (a device, a pipe, an open descriptor such as ``/dev/stdout``)
is written to and stays what it is.
"""

from __future__ import annotations

import contextlib
import os
import re
import stat
import tempfile
from pathlib import Path

_NAME_KEPT = 40
"""Letters of a file's name that its part carries: names have a greatest length."""

_PART = ".partial"

ABANDONED_S = 3600.0
"""A part this much older than the file was left by a process that died. [s]"""

_DESCRIPTORS = re.compile(r"/proc/\d+/(task/\d+/)?fd|/dev/fd")
"""Directories whose entries are open files."""

_MOST_LINKS = 40


def is_there(path: Path) -> bool:
    """
    Tell whether writing would replace something.

    Parameters
    ----------
    path : pathlib.Path
        The name.

    Returns
    -------
    there : bool
        True for a link to nothing too; False for a device, a pipe or an open
        descriptor, and where nothing can be looked at, which writing will then find
        out.
    """
    return os.path.lexists(path) and not _is_stream(path)


def why_not(path: Path) -> str:
    """
    Look whether a file can be written, before there is anything to write.

    Parameters
    ----------
    path : pathlib.Path
        Where to.

    Returns
    -------
    reason : str
        Why it will fail; empty if nothing speaks against it.
    """
    if _is_stream(path):
        return "" if os.access(path, os.W_OK) else "it may not be written to"
    folder = os.path.dirname(os.path.realpath(path))  # noqa: PTH120 - never raises
    if not os.path.isdir(folder):  # noqa: PTH112 - never raises
        return f"there is no directory '{folder if path.is_symlink() else path.parent}'"
    if not os.access(folder, os.W_OK | os.X_OK):
        return f"nothing may be written in the directory '{path.parent}'"
    return ""


def write_whole(path: Path, content: bytes) -> None:
    """
    Write a file beside its name, then give it the name.

    Parameters
    ----------
    path : pathlib.Path
        Where to; a file there is replaced and its mode kept. A symbolic link is
        followed: what it leads to is replaced. A device, a pipe or an open
        descriptor is written to.
    content : bytes
        All of it.

    Raises
    ------
    OSError
        If it cannot be written; then all is as it was.
    """
    if _is_stream(path):
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_APPEND), "wb") as stream:
            stream.write(content)
        return
    target = Path(os.path.realpath(path))
    name = f".{target.name[:_NAME_KEPT]}."
    handle, part = tempfile.mkstemp(_PART, name, target.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            _like_the_old(handle, target)
            file.write(content)
        Path(part).replace(target)
    finally:
        # Gone if all went well.
        Path(part).unlink(missing_ok=True)
    _clear(target.parent, name, target.stat().st_mtime)


def _like_the_old(handle: int, target: Path) -> None:
    """Give a new file the mode and the owner of the one it replaces."""
    try:
        old = target.stat()
    except OSError:
        umask = os.umask(0)
        os.umask(umask)
        os.fchmod(handle, 0o666 & ~umask)
        return
    with contextlib.suppress(OSError):
        os.fchown(handle, old.st_uid, old.st_gid)
    os.fchmod(handle, stat.S_IMODE(old.st_mode))


def _clear(folder: Path, name: str, newest: float) -> None:
    """Delete the parts of a name that processes left when they were killed."""
    with contextlib.suppress(OSError):
        for entry in os.scandir(folder):
            is_part = entry.name.startswith(name) and entry.name.endswith(_PART)
            if is_part and newest - entry.stat().st_mtime > ABANDONED_S:
                Path(entry.path).unlink(missing_ok=True)


def _is_stream(path: Path) -> bool:
    """Whether something is there that is no file to be replaced, links followed."""
    name = os.fspath(path)
    for _ in range(_MOST_LINKS):
        folder, last = os.path.split(os.path.abspath(name))  # noqa: PTH100 - links stay
        if _DESCRIPTORS.fullmatch(os.path.realpath(folder)) and last.isdigit():
            return True
        try:
            name = os.path.join(folder, os.readlink(name))  # noqa: PTH115, PTH118
        except OSError:
            break
    try:
        mode = os.stat(name).st_mode  # noqa: PTH116 - the name as it was read
    except (OSError, ValueError):
        return False
    return not (stat.S_ISREG(mode) or stat.S_ISDIR(mode))
