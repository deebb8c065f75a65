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


def meant() -> Mapping[str, tuple[str, ...]]:
    """
    Gather the words, those of the shapes too.

    Returns
    -------
    meant : mapping of str to tuple of str
        For each word, in small letters with single blanks, what it may mean.
    """
    from advisor.antenna.shapes.registry import SHAPES

    words: dict[str, tuple[str, ...]] = {**_NOISE, **_GROUND}
    for name, spec in SHAPES.items():
        for word in spec.synonyms:
            words[word] = (*words.get(word, ()), name)
    return words
