"""Every name of a record that ends in a unit is explained in the nomenclature."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import pkgutil
import re
from pathlib import Path

PAGE = Path(__file__).resolve().parents[1] / "docs" / "nomenclature.md"


def part(title):
    """Text of one section of the page."""
    text = PAGE.read_text(encoding="utf-8")
    return text.split(f"\n## {title}\n", 1)[1].partition("\n## ")[0]


def first_column(text):
    """Names in code of the first cell of each row."""
    cells = re.findall(r"^\| ([^|]+) \|", text, re.M)
    return {name for cell in cells for name in re.findall(r"`(\w+)`", cell)}


def fields():
    """Every public field of every public record, with where it stands."""
    for package in ("geo", "advisor"):
        paths = importlib.import_module(package).__path__
        for info in pkgutil.walk_packages(paths, f"{package}."):
            if info.name.endswith("__main__"):
                continue
            module = importlib.import_module(info.name)
            for name, thing in vars(module).items():
                own = getattr(thing, "__module__", "") == module.__name__
                if not (inspect.isclass(thing) and dataclasses.is_dataclass(thing)):
                    continue
                if own and not name.startswith("_"):
                    for field in dataclasses.fields(thing):
                        if not field.name.startswith("_"):
                            yield field.name, f"{module.__name__}.{name}"


def stem(name, suffixes):
    """Name without its unit; None if it has none."""
    for suffix in sorted(suffixes, key=len, reverse=True):
        if name.endswith(suffix):
            return name.removesuffix(suffix)
    return None


def test_units_are_found():
    suffixes = first_column(part("Unit suffixes"))
    assert {"_deg", "_mhz", "_db", "_s_m"} <= suffixes
    assert stem("conductivity_s_m", suffixes) == "conductivity"
    assert stem("takeoff_high_deg", suffixes) == "takeoff_high"
    assert stem("efficiency", suffixes) is None


def test_every_name_with_a_unit_is_explained():
    """A line of its own, or words that are in the table of words."""
    suffixes = first_column(part("Unit suffixes"))
    words = first_column(part("Words in names"))
    named = set(re.findall(r"`(\w+)`", PAGE.read_text(encoding="utf-8")))
    missing, seen = {}, 0
    for name, where in fields():
        base = stem(name, suffixes)
        if base is None:
            continue
        seen += 1
        unknown = set(base.split("_")) - words
        if name not in named and unknown:
            missing[f"{name} ({where})"] = sorted(unknown)
    assert seen > 300
    assert not missing, "add a line or a word to docs/nomenclature.md"
