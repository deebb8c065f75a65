"""How a wire hangs, in words and as columns; nothing is worked out here."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from advisor.answers.one_wire.wire import Hanging, WireWork
from advisor.show.text.cells import Column, number
from advisor.station.setup import EACH_BAND, SetUp

Hangs = tuple[str, Hanging]
"""How a wire hangs, behind what it is cut for."""


def hangings(work: WireWork) -> list[Hangs]:
    """
    List how a set-up hangs, band by band where the lengths differ.

    Parameters
    ----------
    work : WireWork
        The set-up.

    Returns
    -------
    hangings : list of (str, Hanging)
        The first band's alone where one wire serves them all.
    """
    if work.setup.cut == EACH_BAND:
        return [(band.band, band.hanging) for band in work.bands]
    return [("all bands", work.bands[0].hanging)]


def hanging_columns(setup: SetUp) -> Iterator[Column[Hangs]]:
    """
    Make the columns of what to cut and how high it hangs; a row is a band.

    Parameters
    ----------
    setup : SetUp
        The set-up.

    Yields
    ------
    column : Column
        For `hangings`.
    """
    head = "band" if setup.cut == EACH_BAND else ""
    yield Column(head, lambda row: row[0], "cut for")
    yield Column("wire m", lambda row: number(row[1].wire_m, 2))
    yield Column("top m", lambda row: number(row[1].top_m))
    yield Column("low m", lambda row: number(row[1].lowest_m))
    yield Column("feed m", lambda row: number(row[1].feed_m))
    yield Column("below", lambda row: below_words(row[1]), "fed against")
    yield Column("span m", lambda row: number(row[1].span_m))
    # A page says it in a sentence: on paper the table has no room for it.
    yield Column("supports", lambda row: supports_words(row[1]), None, is_words=True)


def span_words(values: Iterable[float]) -> str:
    """
    Write a range of values, or the one they all are.

    Parameters
    ----------
    values : iterable of float
        At least one.

    Returns
    -------
    words : str
        Without trailing zeros.

    Examples
    --------
    >>> span_words([20.31, 5.06]), span_words([0.5, 0.5])
    ('5.06 to 20.31', '0.5')
    """
    low, high = min(known := list(values)), max(known)
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def supports_words(hanging: Hanging) -> str:
    """
    Say how many supports, how high, and how many ends go without one.

    Parameters
    ----------
    hanging : Hanging
        How it hangs.

    Returns
    -------
    words : str
        Such as ``1 of 10.0 m, 2 ends on cords``.
    """
    heights = [f"{each.height_m:.1f} m" for each in hanging.supports]
    counted = [f"{heights.count(each)} of {each}" for each in dict.fromkeys(heights)]
    if n := hanging.corded_n:
        counted.append(f"{n} end{'s' * (n > 1)} on {'cords' if n > 1 else 'a cord'}")
    return ", ".join(counted) or "none above 2 m"


def below_words(hanging: Hanging) -> str:
    """
    Write what a wire is fed against.

    Parameters
    ----------
    hanging : Hanging
        How it hangs.

    Returns
    -------
    words : str
        Number and length; a dash where there is nothing.
    """
    if not hanging.below_n:
        return "-"
    return f"{hanging.below_n} x {hanging.below_m:.2f} m"
