"""Charts as files and as text to put into a page: same chart, same bytes."""

from __future__ import annotations

import html
import io
import os
import re
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.show.charts.style import PAPER, look
from geo.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SUFFIXES = (".png", ".svg")
"""Endings of a file that say which kind of picture it is."""

PNG_DPI = 200
"""Dots per inch of a PNG: 1000 across."""

SVG_DPI = 144
"""Dots per inch of the shaded parts within an SVG."""

_ID = re.compile(r'(?P<before>\bid="|url\(#|href="#)(?P<id>[^")]+)')
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
    svg = _ID.sub(rf"\g<before>{prefix}-\g<id>", whole[whole.index("<svg") :])
    said = html.escape(alt_text)
    return _SVG_OPEN.sub(
        lambda tag: (
            f'<svg {tag[1]} role="img" aria-labelledby="{prefix}-title">\n'
            f' <title id="{prefix}-title">{said}</title>'
        ),
        svg,
        count=1,
    )


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
    if path.exists() and not overwrite:
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
        svg = svg_text(figure, alt_text)
        picture = f'<?xml version="1.0" encoding="utf-8"?>\n{svg}'.encode()
    partial = path.with_name(f".{path.name}.{os.getpid()}.partial")
    try:
        partial.write_bytes(picture)
        partial.replace(path)
    finally:
        partial.unlink(missing_ok=True)
