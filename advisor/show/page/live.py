"""The page that `skiplobe live` serves: its frame, and the parts that change."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from advisor.answers.pictures.ribbon import Ribbon
from advisor.show.page.ribbon import ribbon_view
from advisor.show.page.shades import colour_css, shade_css
from advisor.show.page.sheet import json_in_html, page_of, template

FILES: Mapping[str, str] = {
    "sheet.js": "text/javascript",
    "live.js": "text/javascript",
    "sketch.js": "text/javascript",
    "map.js": "text/javascript",
    "live.css": "text/css",
}
"""What the page asks for besides itself, with its kind."""


def live_html(
    start: Mapping[str, Any], choices: Mapping[str, Any], made_by: str, writes: str
) -> str:
    """
    Write the frame of the live page.

    Parameters
    ----------
    start : mapping
        What its fields are set to.
    choices : mapping of str to list of str
        What can be chosen by name.
    made_by : str
        Program and version.
    writes : str
        Name of the files it may ask to be written; empty for none.

    Returns
    -------
    html : str
        The page, without an answer.
    """
    from markupsafe import Markup

    return page_of(
        "live",
        start=start,
        choices=choices,
        made_by=made_by,
        writes=writes,
        said=Markup(json_in_html({"start": start, "choices": choices})),
    )


def ribbon_html(record: Ribbon) -> str:
    """
    Write a ribbon alone.

    Parameters
    ----------
    record : Ribbon
        What is shown.

    Returns
    -------
    html : str
        A section of a page.
    """
    return page_of("ribbon", band=ribbon_view(record))


def live_file(name: str) -> str:
    """
    Read what the page asks for.

    Parameters
    ----------
    name : str
        One of `FILES`.

    Returns
    -------
    text : str
        Script or style.
    """
    text = template(name)
    if name.endswith(".css"):
        text = colour_css(()) + shade_css() + template("sheet.css") + text
    return text
