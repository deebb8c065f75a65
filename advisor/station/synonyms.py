"""Words people use for what has another name here, to offer the name; common usage."""

from __future__ import annotations

from collections.abc import Mapping

_NOISE: Mapping[str, tuple[str, ...]] = {
    "urban": ("city", "residential"),
    "town": ("city", "residential"),
    "downtown": ("city",),
    "business": ("city",),
    "industrial": ("city",),
    "suburban": ("residential",),
    "suburb": ("residential",),
    "suburbs": ("residential",),
    "village": ("residential", "rural"),
    "countryside": ("rural",),
    "country": ("rural",),
    "farm": ("rural",),
    "field": ("rural",),
    "quiet": ("quiet rural",),
    "remote": ("quiet rural",),
    "wilderness": ("quiet rural",),
}

_GROUND: Mapping[str, tuple[str, ...]] = {
    "sea": ("sea water",),
    "salt water": ("sea water",),
    "saltwater": ("sea water",),
    "ocean": ("sea water",),
    "lake": ("fresh water",),
    "freshwater": ("fresh water",),
    "marsh": ("wet ground",),
    "good": ("rich", "very good land"),
    "normal": ("average",),
    "medium": ("average", "medium dry"),
    "sand": ("dry", "very dry"),
    "desert": ("very dry",),
    "rock": ("poor", "very dry"),
    "rocky": ("poor", "very dry"),
    "snow": ("ice",),
}

_SHAPES: Mapping[str, tuple[str, ...]] = {
    "efhw": ("end-fed half-wave",),
    "end fed": ("end-fed half-wave", "random wire"),
    "endfed": ("end-fed half-wave", "random wire"),
    "half wave end fed": ("end-fed half-wave",),
    "efrw": ("random wire",),
    "rw": ("random wire",),
    "long wire": ("random wire",),
    "longwire": ("random wire",),
    "vee": ("inverted V",),
    "v": ("inverted V",),
    "inv v": ("inverted V",),
    "inverted vee": ("inverted V",),
    "l": ("inverted L",),
    "inv l": ("inverted L",),
    "vertical": (
        "quarter-wave vertical",
        "half-wave vertical",
        "ground-mounted vertical",
    ),
    "ground plane": ("quarter-wave vertical",),
    "groundplane": ("quarter-wave vertical",),
    "gp": ("quarter-wave vertical",),
    "whip": ("quarter-wave vertical", "ground-mounted vertical"),
    "half wave dipole": ("dipole",),
    "sloping dipole": ("sloper",),
    "slope": ("sloper",),
    "ladder line dipole": ("doublet",),
    "loop": ("horizontal loop", "delta loop"),
    "delta": ("delta loop",),
}

MEANT: Mapping[str, tuple[str, ...]] = {**_NOISE, **_GROUND, **_SHAPES}
"""For each such word, in small letters with single blanks, what it may mean."""
