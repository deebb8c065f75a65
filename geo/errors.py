"""The one error a user can cause."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable, Mapping
from types import MappingProxyType

_LONGEST_WORD, _LONGEST_LINE = 200, 1000

_LONGEST_COMPARED = 100
"""Letters of a mistyped word that are compared; the search is slow for long ones."""


class InputError(ValueError):
    """
    What was asked for cannot be: wrong place, time, band, dimension or file.

    The text is one line that says what came, what is allowed and what to try.
    Nothing else in the project raises it, so a caller may show it as it is.

    Parameters
    ----------
    text : str
        What to say; made to `one_line`, for it may quote what was typed.
    """

    def __init__(self, text: str) -> None:
        super().__init__(one_line(text))


def one_line(text: str) -> str:
    r"""
    Make a text safe to show: one line, no control characters, not too long.

    Parameters
    ----------
    text : str
        What is to be said, perhaps quoting what was typed.

    Returns
    -------
    line : str
        The same with each character that cannot be shown written as an escape, and
        whatever is endless cut short.

    Examples
    --------
    >>> print(one_line("place 'a\nb' is unknown"))
    place 'a\nb' is unknown
    """
    shown = "".join(
        letter if letter.isprintable() else ascii(letter)[1:-1] for letter in text
    )
    shown = re.sub(
        rf"\S{{{_LONGEST_WORD + 1},}}",
        lambda word: word[0][: _LONGEST_WORD - 3] + "...",
        shown,
    )
    return shown if len(shown) <= _LONGEST_LINE else shown[: _LONGEST_LINE - 3] + "..."


def near_matches(
    word: str,
    allowed: Iterable[str],
    meant: Mapping[str, tuple[str, ...]] = MappingProxyType({}),
) -> str:
    """
    Say which allowed words are close to a mistyped one.

    Parameters
    ----------
    word : str
        What was typed.
    allowed : iterable of str
        The words that would have been accepted.
    meant : mapping of str to tuple of str, optional
        Other words, in small letters with single blanks, and which allowed words they
        may mean; looked at for near ones too where no allowed word is near.

    Returns
    -------
    hint : str
        ``"did you mean 'a', 'b'?"``, or an empty string if nothing is close.

    Examples
    --------
    >>> near_matches("heigth_m", ["height_m", "bearing_deg"])
    "did you mean 'height_m'?"
    >>> near_matches("zzz", ["height_m"])
    ''
    >>> near_matches("rokc", ["dry", "poor"], {"rock": ("poor",)})
    "did you mean 'poor'?"
    """
    if len(word) > _LONGEST_COMPARED:
        return ""
    by_fold = {name.casefold(): name for name in allowed}
    plain = " ".join(re.split(r"[-_\s]+", word.casefold().strip()))
    others = {
        other: names
        for other, every in meant.items()
        if (names := [name for name in every if name.casefold() in by_fold])
    }
    near = _close(word.casefold(), by_fold)
    close = others.get(plain) or [by_fold[each] for each in near]
    if not close:
        close = [name for each in _close(plain, others) for name in others[each]]
    if not close:
        return ""
    told = ", ".join(f"'{name}'" for name in dict.fromkeys(close))
    return f"did you mean {told}?"


def _close(word: str, others: Collection[str]) -> list[str]:
    """List the words near in spelling, nearest first; swapped letters above all."""
    swapped = [each for each in others if sorted(each) == sorted(word)]
    return swapped or difflib.get_close_matches(word, others, n=3, cutoff=0.6)
