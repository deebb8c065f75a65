"""Charts as files and as text to put into a page: same chart, same bytes."""

from __future__ import annotations

import html
import io
import os
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.show.charts.style import PAPER, look
from advisor.show.formats.wholefile import is_there, write_whole
from geo.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SUFFIXES = (".png", ".svg")
"""Endings of a file that say which kind of picture it is."""

PNG_DPI = 200
"""Dots per inch of a PNG: 1000 across."""

SVG_DPI = 144
"""Dots per inch of the shaded parts within an SVG."""

_FONT = "'DejaVu Sans'"
_FONTS = "'DejaVu Sans', Verdana, sans-serif"
"""Where the first is not at hand, one as wide, else any without serifs."""

_TAG = re.compile(r"<[^<>]*>")
_ID = re.compile(r'(?P<before> id="|url\(#|href="#)(?P<id>[^")]+)')
_SVG_OPEN = re.compile(r"<svg ([^>]*)>")


def svg_text(figure: Figure, alt_text: str, prefix: str = "chart") -> str:
    """
    Write a chart as SVG to put into a page: text as text, and what it says.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The chart.
    alt_text : str
        One sentence that states the finding.
    prefix : str, optional
        Put before every id, so that several charts can share a page.

    Returns
    -------
    svg : str
        From ``<svg`` to ``</svg>``, an image with title for screen readers.
    """
    sink = io.StringIO()
    with look():
        figure.savefig(
            sink,
            format="svg",
            dpi=SVG_DPI,
            facecolor=PAPER,
            metadata={"Date": None, "Creator": None, "Format": None, "Type": None},
        )
    whole = sink.getvalue()
    # Only within tags: a name in a text may look like an id.
    svg = _TAG.sub(
        lambda tag: _ID.sub(rf"\g<before>{prefix}-\g<id>", tag[0]),
        whole[whole.index("<svg") :],
    )
    svg = svg.replace(_FONT, _FONTS)
    said = html.escape(alt_text)
    return _SVG_OPEN.sub(
        lambda tag: (
            f'<svg {tag[1]} role="img" aria-labelledby="{prefix}-title">\n'
            f' <title id="{prefix}-title">{said}</title>'
        ),
        svg,
        count=1,
    )


def svg_bytes(figure: Figure, alt_text: str) -> bytes:
    """
    Write a chart as a file of its own.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The chart.
    alt_text : str
        One sentence that states the finding; kept as the picture's title.

    Returns
    -------
    svg : bytes
        The whole file.
    """
    svg = svg_text(figure, alt_text)
    return f'<?xml version="1.0" encoding="utf-8"?>\n{svg}'.encode()


def png_bytes(figure: Figure, alt_text: str) -> bytes:
    """
    Write a chart as PNG.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The chart.
    alt_text : str
        One sentence that states the finding; kept as the picture's description.

    Returns
    -------
    png : bytes
        The picture.
    """
    sink = io.BytesIO()
    with look():
        figure.savefig(
            sink,
            format="png",
            dpi=PNG_DPI,
            facecolor=PAPER,
            metadata={"Software": None, "Description": alt_text},
        )
    return sink.getvalue()


def check_file(path: Path, overwrite: bool = False) -> None:
    """
    Refuse a file that could not be written, before anything is worked out.

    Parameters
    ----------
    path : pathlib.Path
        File to write; its ending says which kind: .png or .svg.
    overwrite : bool, optional
        Replace an existing file.

    Raises
    ------
    InputError
        If the ending is another one, or the file exists and may not be replaced.
    """
    if path.suffix.lower() not in SUFFIXES:
        raise InputError(
            f"'{path}' does not end in {' or '.join(SUFFIXES)}: the ending says "
            "which kind of picture to write"
        )
    if is_there(path) and not overwrite:
        raise InputError(f"'{path}' exists: add --overwrite to replace it")


def save_figure(
    figure: Figure, path: Path, overwrite: bool = False, alt_text: str = ""
) -> None:
    """
    Write a chart to a file, whole or not at all.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The chart.
    path : pathlib.Path
        File to write; its ending says which kind: .png or .svg.
    overwrite : bool, optional
        Replace an existing file.
    alt_text : str, optional
        One sentence that states the finding, kept in the file.

    Raises
    ------
    InputError
        If the ending is another one, or the file exists and may not be replaced.
    OSError
        If it cannot be written.
    """
    check_file(path, overwrite)
    if path.suffix.lower() == ".png":
        picture = png_bytes(figure, alt_text)
    else:
        picture = svg_bytes(figure, alt_text)
    write_whole(path, picture)


def check_files(directory: Path, names: Iterable[str], overwrite: bool = False) -> None:
    """
    Refuse a set of files that could not be written, before anything is worked out.

    Parameters
    ----------
    directory : pathlib.Path
        Where they are to stand.
    names : iterable of str
        File names.
    overwrite : bool, optional
        Replace existing files.

    Raises
    ------
    InputError
        If one exists and may not be replaced, or is no file.
    """
    paths = [directory / name for name in names]
    if there := [path for path in paths if is_there(path) and not overwrite]:
        more = f" and {len(there) - 1} more" if len(there) > 1 else ""
        raise InputError(f"'{there[0]}'{more} exists: add --overwrite to replace it")
    for path in paths:
        if path.is_dir():
            raise InputError(f"'{path}' is a directory: a picture cannot replace it")


def save_files(
    directory: Path, files: Mapping[str, bytes], overwrite: bool = False
) -> None:
    """
    Write several files to a directory, all of them or none.

    Parameters
    ----------
    directory : pathlib.Path
        Where they are to stand; made if it is not there.
    files : mapping of str to bytes
        By file name.
    overwrite : bool, optional
        Replace existing files.

    Raises
    ------
    InputError
        If one exists and may not be replaced, or is no file.
    OSError
        If one cannot be written; then all are as they were.
    """
    check_files(directory, files, overwrite)
    made = not directory.exists()
    directory.mkdir(parents=True, exist_ok=True)
    mark = f"{os.getpid()}.partial"
    before: dict[Path, bytes | None] = {}
    try:
        for name, content in files.items():
            (directory / f".{name}.{mark}").write_bytes(content)
        for name in files:
            path = directory / name
            before[path] = path.read_bytes() if path.exists() else None
            (directory / f".{name}.{mark}").replace(path)
    except OSError:
        for path, content_before in before.items():
            if content_before is None:
                path.unlink(missing_ok=True)
            else:
                path.write_bytes(content_before)
        raise
    finally:
        for name in files:
            (directory / f".{name}.{mark}").unlink(missing_ok=True)
        if made and not any(directory.iterdir()):
            directory.rmdir()
