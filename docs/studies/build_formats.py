"""
Write the lists of fields in docs/formats.md from the JSON schemas.

Run ``python docs/studies/build_formats.py`` after a change of a record that is written
out. What stands above the mark in the page is kept.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from advisor.commands.schema import forms as all_forms
from advisor.show.formats.schema import schema_of

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "formats.md"
MARK = "<!-- From here on made by docs/studies/build_formats.py. -->\n"
HERE = "#/$defs/"
HEAD = "| field | type | unit | what it is |\n|---|---|---|---|\n"

FORMS = {name: schema_of(form) for name, form in all_forms().items()}
PARTS = {name: part for form in FORMS.values() for name, part in form["$defs"].items()}
TIMES = Counter(name for form in FORMS.values() for name in form["$defs"])
SHARED = sorted(name for name, count in TIMES.items() if count > 1)
"""Parts that several forms have: they are listed once, behind them."""


def referred(part: Mapping[str, Any]) -> str | None:
    """Name the part that a value is, or that it is unless it is null."""
    whole = next((each for each in part.get("anyOf", []) if "$ref" in each), part)
    return whole["$ref"].removeprefix(HERE) if "$ref" in whole else None


def opened(part: Mapping[str, Any]) -> Mapping[str, Any]:
    """Put a part that only one form has in the place of the reference to it."""
    name = referred(part)
    if name is None or name in SHARED or name == "position":
        return part
    kinds = ["object", "null"] if "anyOf" in part else "object"
    return {**PARTS[name], "type": kinds, "description": said(part)}


def kind(part: Mapping[str, Any]) -> str:
    """Name the type of a value."""
    if "const" in part:
        return f"`{json.dumps(part['const'])}`"
    if "enum" in part:
        return " or ".join(f"`{each}`" for each in part["enum"])
    if name := referred(part):
        link = "position" if name == "position" else f"[{name}](#{name})"
        return f"{link} or null" if "anyOf" in part else link
    if "type" not in part:
        return "any"
    names = part["type"] if isinstance(part["type"], list) else [part["type"]]
    items = opened(part.get("items", {}))
    if "array" in names and "properties" not in items:
        return f"list of {kind(items)}" if items else "list"
    rest = part.get("additionalProperties") or {}
    if rest and not {"properties"} & {*part, *opened(rest)}:
        return f"object of {kind(rest)} by name"
    words = {"array": "list"}
    return " or ".join(words.get(each, each) for each in names)


def said(part: Mapping[str, Any]) -> str:
    """Description of a value, or of the part that it is."""
    return str(part.get("description") or PARTS[referred(part) or ""]["description"])


def row(path: str, part: Mapping[str, Any], *, always: bool = True) -> str:
    """Write one field."""
    about = said(part).replace("|", "\\|")
    about += "" if always else " (not always there)"
    inner = part
    while "unit" not in inner and "items" in inner:
        inner = inner["items"] or {}
    unit = inner.get("unit", "")
    return f"| `{path}` | {kind(part)} | {'' if unit == '1' else unit} | {about} |\n"


def inside(path: str, part: Mapping[str, Any]) -> Iterator[str]:
    """List what an object or a list holds."""
    dot = f"{path}." if path else ""
    for name, each in part.get("properties", {}).items():
        each = opened(each)
        yield row(f"{dot}{name}", each, always=name in part["required"])
        yield from inside(f"{dot}{name}", each)
    for rule, each in part.get("patternProperties", {}).items():
        shown = rule.strip("^$").replace("[0-9.e+-]+", "N").replace("[0-9]+", "N")
        yield row(f"{dot}{shown}", each)
    rest = part.get("additionalProperties")
    if isinstance(rest, Mapping):
        rest = opened(rest)
        if "properties" in part:
            yield row(f"{dot}NAME", rest)
        yield from inside(f"{dot}NAME", rest)
    items = part.get("items")
    if isinstance(items, Mapping):
        yield from inside(f"{path}[]", opened(items))


def forms() -> str:
    """List every field of every command, then the shared parts."""
    text = ""
    for name, whole in FORMS.items():
        title = "GeoJSON" if name == "geojson" else f"JSON of {name}"
        text += f"\n### {title}\n\n{HEAD}"
        text += "".join(inside("", whole))
        if name == "geojson":
            for one in whole["properties"]["features"]["items"]["oneOf"]:
                one = opened(one)
                about = opened(one["properties"]["properties"])
                word = about["properties"]["kind"]["const"]
                text += f"\n**{word}**: {one['description']} ({shapes(one)}).\n\n{HEAD}"
                text += "".join(inside("properties", about))
    text += "\n## Parts that several share\n"
    for name in SHARED:
        part = PARTS[name]
        text += f"\n### {name}\n\n{part['description'][0].upper()}"
        text += f"{part['description'][1:]}.\n\n{HEAD}{''.join(inside('', part))}"
    return text


def shapes(feature: Mapping[str, Any]) -> str:
    """Name the shapes a feature may have."""
    geometry = opened(feature["properties"]["geometry"])
    each = [opened(one) for one in geometry.get("oneOf", [geometry])]
    return " or ".join(one["properties"]["type"]["const"] for one in each)


def page(old: str) -> str:
    """Put the lists behind what is written by hand."""
    return old.partition(MARK)[0] + MARK + forms()


if __name__ == "__main__":
    PAGE.write_text(page(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
