"""
Write the lists of fields in docs/formats.md from the JSON schemas.

Run ``python docs/studies/build_formats.py`` after a change of
``advisor/show/formats/schema/*.json``. What stands above the mark in the page is kept.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from advisor.show.formats.schemas import FORMS, with_losses

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "formats.md"
SCHEMAS = ROOT / "advisor" / "show" / "formats" / "schema"
MARK = "<!-- From here on made by docs/studies/build_formats.py. -->\n"
SHARED = "common.json#/$defs/"
HEAD = "| field | type | unit | what it is |\n|---|---|---|---|\n"


def schema(name: str) -> dict[str, Any]:
    """Read one schema as it is shipped, with every loss there is."""
    text = (SCHEMAS / f"{name.replace(' ', '-')}.json").read_text(encoding="utf-8")
    read: dict[str, Any] = with_losses(json.loads(text))
    return read


def kind(part: Mapping[str, Any]) -> str:
    """Name the type of a value."""
    if "const" in part:
        return f"`{json.dumps(part['const'])}`"
    if "enum" in part:
        return " or ".join(f"`{each}`" for each in part["enum"])
    if "anyOf" in part:
        return " or ".join(kind(each) for each in part["anyOf"])
    if "$ref" in part:
        name = part["$ref"].removeprefix(SHARED)
        return "position" if name.startswith("#") else f"[{name}](#{name})"
    names = part["type"] if isinstance(part["type"], list) else [part["type"]]
    if "array" in names and "$ref" in part.get("items", {}):
        return f"list of {kind(part['items'])}"
    rest = part.get("additionalProperties")
    if isinstance(rest, Mapping) and "$ref" in rest:
        return f"object of {kind(rest)} by name"
    words = {"array": "list"}
    return " or ".join(words.get(each, each) for each in names)


def said(part: Mapping[str, Any]) -> str:
    """Description of a value, or of the shared part that it is."""
    if "description" in part:
        return str(part["description"])
    name = part["$ref"].removeprefix(SHARED)
    return str(schema("common")["$defs"][name]["description"])


def row(path: str, part: Mapping[str, Any], *, always: bool = True) -> str:
    """Write one field."""
    about = said(part).replace("|", "\\|")
    about += "" if always else " (not always there)"
    unit = part.get("unit", "")
    return f"| `{path}` | {kind(part)} | {'' if unit == '1' else unit} | {about} |\n"


def inside(path: str, part: Mapping[str, Any]) -> Iterator[str]:
    """List what an object or a list holds."""
    dot = f"{path}." if path else ""
    for name, each in part.get("properties", {}).items():
        yield row(f"{dot}{name}", each, always=name in part["required"])
        yield from inside(f"{dot}{name}", each)
    for rule, each in part.get("patternProperties", {}).items():
        shown = rule.strip("^$").replace("[0-9.e+-]+", "N").replace("[0-9]+", "N")
        yield row(f"{dot}{shown}", each)
    rest = part.get("additionalProperties")
    if isinstance(rest, Mapping) and "$ref" not in rest:
        yield row(f"{dot}NAME", rest)
        yield from inside(f"{dot}NAME", rest)
    items = part.get("items")
    if isinstance(items, Mapping) and "$ref" not in items:
        if "properties" not in items and "oneOf" not in items:
            yield row(f"{path}[]", items)
        yield from inside(f"{path}[]", items)


def forms() -> str:
    """List every field of every command, then the shared parts."""
    text = ""
    for name in FORMS:
        whole = schema(name)
        title = "GeoJSON" if name == "geojson" else f"JSON of {name}"
        text += f"\n### {title}\n\n{HEAD}"
        text += "".join(inside("", whole))
        if name == "geojson":
            for one in whole["properties"]["features"]["items"]["oneOf"]:
                about = one["properties"]["properties"]
                word = about["properties"]["kind"]["const"]
                text += f"\n**{word}**: {one['description']} ({shapes(one)}).\n\n{HEAD}"
                text += "".join(inside("properties", about))
    text += "\n## Parts that several share\n"
    for name, part in schema("common")["$defs"].items():
        text += f"\n### {name}\n\n{part['description'][0].upper()}"
        text += f"{part['description'][1:]}.\n\n{HEAD}{''.join(inside('', part))}"
    return text


def shapes(feature: Mapping[str, Any]) -> str:
    """Name the shapes a feature may have."""
    geometry = feature["properties"]["geometry"]
    each = geometry.get("oneOf", [geometry])
    return " or ".join(one["properties"]["type"]["const"] for one in each)


def page(old: str) -> str:
    """Put the lists behind what is written by hand."""
    return old.partition(MARK)[0] + MARK + forms()


if __name__ == "__main__":
    PAGE.write_text(page(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
