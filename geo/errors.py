"""The one error a user can cause."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class InputError(ValueError):
    """
    What was asked for cannot be: wrong place, time, band, dimension or file.

    The text is one line that says what came, what is allowed and what to try.
    Nothing else in the project raises it, so a caller may show it as it is.
    """


def near_matches(word: str, allowed: Iterable[str], most: int = 3) -> str:
    """
    Say which allowed words are close to a mistyped one.

    Parameters
    ----------
    word : str
        What was typed.
    allowed : iterable of str
        The words that would have been accepted.
    most : int, optional
        How many to name at most.

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
    """
    by_fold = {name.casefold(): name for name in allowed}
    close = difflib.get_close_matches(word.casefold(), by_fold, n=most, cutoff=0.6)
    if not close:
        return ""
    return "did you mean " + ", ".join(f"'{by_fold[name]}'" for name in close) + "?"
