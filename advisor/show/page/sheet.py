"""
A sheet: one page in one file, that works on a phone, on paper and without a network.

The records here are what any page is made of; `sheet_html` sets them out. Every text is
escaped by the template engine, the scripts are ours and pinned by their hash, and
nothing is fetched.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from advisor.show.charts.files import svg_text
from advisor.show.page.ribbon import RibbonView
from advisor.show.page.shades import colour_css, shade_css, with_names
from advisor.show.text.cells import Table

if TYPE_CHECKING:
    from jinja2 import Environment
    from matplotlib.figure import Figure

_SPARE = re.compile(
    r"<style.*?</style>|(?<=>)\s+(?=<)| transform=\"rotate\(-0 [^)]*\)\"(?=>)",
    re.DOTALL,
)
"""What a page need not repeat of a chart: a style that is its own too, blanks between
elements, turns by nothing. In a text there is no bare bracket to take for a tag's."""

_PATH = re.compile(r' d="[^"]*"')
_TOO_FINE = re.compile(r"(?<=\.\d\d)\d+|(?<= )\n")
"""Of a path: what is finer than a hundredth of a point, and ends of lines."""


@dataclass(frozen=True)
class Picture:
    """
    A chart with what it says and its data.

    Attributes
    ----------
    title : str
        What it is, in a few words.
    finding : str
        The sentence it is there for.
    svg : str
        The picture, made here and not escaped again.
    table : Table
        Its data.
    """

    title: str
    finding: str
    svg: str
    table: Table


@dataclass(frozen=True)
class Heading:
    """
    The strongest part of the answer, in large letters.

    Attributes
    ----------
    label : str
        What it is about.
    large : str
        The answer.
    small : str
        What else belongs to it.
    span : str
        Between what it may lie, and what it cannot be relied on for; may be empty.
    """

    label: str
    large: str
    small: str
    span: str = ""


@dataclass(frozen=True)
class Section:
    """
    A part of a page.

    Attributes
    ----------
    key, title : str
        Name in the page, and heading.
    lines : tuple of str
        Paragraphs.
    items : tuple of (str, str)
        Words and what they stand for.
    tables : tuple of Table
        Tables.
    pictures : tuple of Picture
        Charts.
    folded : bool
        Whether it is shut until asked for; printed only while it is open.
    stays : bool
        Whether it cannot be shut; what can be is shut on a phone at first.
    heading : Heading or None
        What of it belongs into the answer on top.
    front : bool
        Whether it stands on the first printed pages; the rest begins on a new one.
    """

    key: str
    title: str
    lines: tuple[str, ...] = ()
    items: tuple[tuple[str, str], ...] = ()
    tables: tuple[Table, ...] = ()
    pictures: tuple[Picture, ...] = ()
    folded: bool = False
    stays: bool = False
    heading: Heading | None = None
    front: bool = False


@dataclass(frozen=True)
class Sheet:
    """
    A whole page.

    Attributes
    ----------
    title : str
        From where to where, when.
    about : tuple of str
        What was understood of the question.
    headings : tuple of Heading
        The answer.
    sections : tuple of Section
        In reading order.
    command : str
        What makes the same page again.
    made_by : str
        Program and version.
    live : mapping or None
        What the page can turn and slide, see `advisor.show.page.script_data`.
    ribbon : RibbonView or None
        The hours at a glance.
    """

    title: str
    about: tuple[str, ...]
    headings: tuple[Heading, ...]
    sections: tuple[Section, ...]
    command: str
    made_by: str
    live: Mapping[str, Any] | None = None
    ribbon: RibbonView | None = None


def sheet_html(sheet: Sheet) -> str:
    """
    Write a page as one HTML file.

    Parameters
    ----------
    sheet : Sheet
        The page.

    Returns
    -------
    html : str
        Whole and by itself; the same page gives the same text.
    """
    from markupsafe import Markup

    parts = ("fold.js", *(("map.js",) if sheet.live else ()), "sheet.js")
    script = "".join(template(each) for each in parts)
    svgs = [each.svg for section in sheet.sections for each in section.pictures]
    return page_of(
        "sheet",
        sheet=sheet,
        style=Markup(colour_css(svgs) + shade_css() + template("sheet.css")),
        script=Markup(script),
        script_hash=_hash(script),
        live=Markup(json_in_html(sheet.live)) if sheet.live else None,
        svg=Markup,
    )


def page_of(name: str, **values: Any) -> str:
    """
    Fill one of the templates; every text is escaped.

    Parameters
    ----------
    name : str
        File of templates without its endings.
    **values : object
        What it names.

    Returns
    -------
    html : str
        Filled.
    """
    return str(_pages().get_template(name).render(**values))


@cache
def _pages() -> Environment:
    """Set the template engine up, once: it compiles what it fills."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    return Environment(
        loader=FunctionLoader(lambda each: template(f"{each}.html.j2")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


@cache
def template(name: str) -> str:
    """
    Read a file of templates, styles or scripts.

    Parameters
    ----------
    name : str
        Its name.

    Returns
    -------
    text : str
        What it holds.
    """
    found = files("advisor.show.page") / "templates" / name
    return found.read_text(encoding="utf-8")


def _hash(script: str) -> str:
    """Hash of a script as a content security policy names it."""
    return base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


def json_in_html(value: Any) -> str:
    r"""
    Write JSON that can stand inside a script element.

    Parameters
    ----------
    value : object
        Nesting of mappings, lists, texts and finite numbers.

    Returns
    -------
    text : str
        Without any character that HTML or a script would take as its own.

    Examples
    --------
    >>> json_in_html({"name": "</script>"})
    '{"name":"\\u003c/script\\u003e"}'
    """
    text = json.dumps(value, allow_nan=False, separators=(",", ":"))
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def picture(
    title: str, draw: Callable[[], Figure], finding: str, key: str, table: Table
) -> Picture:
    """
    Put a chart into a page.

    Parameters
    ----------
    title : str
        What it is.
    draw : callable
        Draws the chart.
    finding : str
        The sentence it is there for.
    key : str
        Its name in the page; one of its own for each.
    table : Table
        Its data.

    Returns
    -------
    picture : Picture
        For a `Section`.
    """
    with warnings.catch_warnings():
        # Text stays text: a letter our font lacks is set in one the reader's has.
        warnings.filterwarnings("ignore", "Glyph .* missing from font")
        svg = svg_text(draw(), finding, f"chart-{key}")
    spare = _PATH.sub(lambda path: _TOO_FINE.sub("", path[0]), _SPARE.sub("", svg))
    return Picture(title, finding, with_names(spare), table)
