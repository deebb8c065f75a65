"""What every sheet ends with: cautions, inputs, sources, and words explained."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from advisor.answers.pictures.keepclear import KeepClear
from advisor.antenna.exposure import LEAST_DISTANCE_M
from advisor.show.page.sheet import Section
from advisor.show.text.cells import Cell, Table
from advisor.show.text.exposure import (
    exposure_cell,
    least_words,
    method_words,
    metres_up,
)
from advisor.station.cautions import CAUTIONS_IN_BRIEF, Caution, cautions

GLOSSARY = (
    ("take-off angle", "Elevation above the horizon at which the ray leaves the wire."),
    ("dBi", "Gain in decibels over a source that radiates alike in all directions."),
    ("true, by compass", "Bearing from the north pole, and as the needle shows it."),
    ("wire bearing", "The way the wire runs; a dipole radiates across it."),
    ("hop", "2F2 is two bounces off the F2 layer, 1E one off the E layer."),
    (
        "days and power of a hop",
        "By which hop a contact comes is counted in days; its per cent are of the "
        "power added up over all days, of which a few strong ones may bring most.",
    ),
    ("Z", "Hours are UTC: 18Z is 18:00 UTC."),
)
"""Words of a sheet that not everybody knows."""


def cautions_section(
    clear: Sequence[KeepClear], power: str, also: Sequence[Caution] = ()
) -> Section:
    """
    Set out every caution, and how far people have to keep from the wires.

    Parameters
    ----------
    clear : sequence of KeepClear
        The set-ups and bands the page names.
    power : str
        What is sent, such as ``CW 10 W``.
    also : sequence of Caution, optional
        Those of these very wires; they stand first.

    Returns
    -------
    section : Section
        The deference to local rules last.
    """
    return Section(
        "cautions",
        "Cautions",
        lines=(keep_clear_words(clear, power),),
        items=tuple((c.topic, c.text) for c in (*also, *cautions())),
        tables=(_clear_table(clear, power),) if clear else (),
        front=True,
        stays=True,
    )


def brief_cautions_section() -> Section:
    """
    Say the cautions in one sentence, where a page is not about hanging a wire.

    Returns
    -------
    section : Section
        The same as at the end of a text.
    """
    words = CAUTIONS_IN_BRIEF.partition(": ")[2]
    lines = (f"{words[0].upper()}{words[1:]}",)
    return Section("cautions", "Cautions", lines, stays=True)


def keep_clear_words(clear: Sequence[KeepClear], power: str) -> str:
    """
    Say how far everybody has to keep from the wires.

    Parameters
    ----------
    clear : sequence of KeepClear
        Set-ups and bands; those by a formula count only where all are.
    power : str
        What is sent, such as ``CW 10 W``.

    Returns
    -------
    words : str
        One sentence; never less than 3 m.
    """
    counted = [each for each in clear if each.exposure.solved] or list(clear)
    least = max([LEAST_DISTANCE_M, *(each.exposure.distance_m for each in counted)])
    which = ", ".join(dict.fromkeys(each.setup for each in counted))
    who = f" with {which}" if which else ""
    words = (
        f"Sending {power}{who}, keep everybody {metres_up(least)} m or "
        f"more from every part of wire and feed. "
        f"{least_words(each.exposure.distance_m for each in counted)}"
    )
    return words.rstrip()


def _clear_table(clear: Sequence[KeepClear], power: str) -> Table:
    """Exposure distances by band and set-up; a formula's are marked."""
    setups = tuple(dict.fromkeys(each.setup for each in clear))
    found = {(each.setup, each.band): each.exposure for each in clear}

    def cell(setup: str, band: str) -> Cell:
        exposure = found.get((setup, band))
        return Cell("-") if exposure is None else exposure_cell(exposure)

    return Table(
        f"Exposure: where public reference levels are met, sending {power}",
        ("band", *setups),
        tuple(
            (Cell(band), *(cell(setup, band) for setup in setups))
            for band in sorted({each.band for each in clear}, key=_by_wavelength)
        ),
        key="exposure",
        note=f"{method_words(found.values())} No measurement, and your national limits "
        "come first. Keep 3 m even where less is estimated.",
    )


def _by_wavelength(band: str) -> float:
    """Order of a band by its name, longest wave first; others last."""
    size, _, unit = band.partition(" ")
    metres = {"m": 1.0, "cm": 0.01}.get(unit, 0.0)
    return -metres * float(size) if metres and size.isdigit() else 0.0


def inputs_sections(
    inputs: Mapping[str, Any], provenance: Mapping[str, Any]
) -> tuple[Section, Section]:
    """
    Set out what was asked and what it was answered from.

    Parameters
    ----------
    inputs : mapping
        What was understood, as in the JSON.
    provenance : mapping
        Version and checksums of tables.

    Returns
    -------
    sections : tuple of Section
        Inputs, then sources.
    """
    tables = provenance["tables_sha256"]
    return (
        Section("inputs", "Inputs", items=tuple(_flat(inputs)), folded=True),
        Section(
            "sources",
            "Sources",
            lines=(
                f"Worked out by {provenance['program']} {provenance['version']} from "
                f"the {len(tables)} files below, each with the beginning of its "
                "SHA-256. tables/README.md says where each was taken from, "
                "docs/method.md how they are used and docs/validation.md what was "
                "checked against what.",
            ),
            items=tuple((name, tables[name][:16]) for name in sorted(tables)),
            folded=True,
        ),
    )


def _flat(values: Mapping[str, Any], under: str = "") -> list[tuple[str, str]]:
    """Nested inputs as words and what they stand for; what is not set is left out."""
    found: list[tuple[str, str]] = []
    for key, value in values.items():
        name = f"{under}{key}".replace("_", " ")
        if isinstance(value, Mapping):
            found += _flat(value, f"{name}: ")
        elif isinstance(value, list | tuple) and any(
            isinstance(each, Mapping) for each in value
        ):
            for place, each in enumerate(value, start=1):
                found += _flat(each, f"{name} {place}: ")
        elif value not in (None, "", [], ()):
            found.append((name, _shown(value)))
    return found


def _shown(value: Any) -> str:
    """Write an input; a list with commas between."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list | tuple):
        return ", ".join(_shown(each) for each in value)
    return str(value)
