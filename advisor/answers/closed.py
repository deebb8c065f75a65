"""Bands that the best set-up never opens: closed by the sky, or not cut for."""

from __future__ import annotations

import math

from advisor.answers.advice import Answer, SetUpAdvice
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.words import days_in_ten
from advisor.engine.question import Question
from geo.errors import InputError
from geo.fields import Share, record


@record
class ClosedBand:
    """
    A band that the best set-up never opens to a target.

    Attributes
    ----------
    band : str
        Band name.
    is_cut : bool
        Whether the best set-up works on it, so that the sky keeps it closed.
    other_setup : str
        The other set-up that does best there, if it opens the band; else empty.
    other_chance : float
        Its greatest chance in the hours asked about; NaN if there is none.
    """

    band: str
    is_cut: bool
    other_setup: str
    other_chance: Share


def closed_bands(advice: Answer, target: int) -> tuple[ClosedBand, ...]:
    """
    List the bands that the best set-up never opens to a target.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target.

    Returns
    -------
    bands : tuple of ClosedBand
        In the order of the question.
    """
    best, *others = advice.setups
    found = []
    for b, band in enumerate(advice.question.bands):
        if (best.chance[target, :, b] >= OPEN_CHANCE).any():
            continue
        peaks = [(float(each.chance[target, :, b].max()), each.name) for each in others]
        # The first of equals, as ranked.
        peak, name = max(peaks, key=lambda each: each[0], default=(math.nan, ""))
        is_open = peak >= OPEN_CHANCE
        found.append(
            ClosedBand(
                band=band.name,
                is_cut=bool(best.works[b]),
                other_setup=name if is_open else "",
                other_chance=peak if is_open else math.nan,
            )
        )
    return tuple(found)


def closed_words(advice: Answer, target: int) -> list[str]:
    """
    Say which bands the best set-up never opens, why, and which other set-up does.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target.

    Returns
    -------
    lines : list of str
        One sentence each; none if every band opens.
    """
    never = closed_bands(advice, target)
    name = f" with {advice.setups[0].name}" if len(advice.setups) > 1 else ""
    lines = []
    closed = [each.band for each in never if each.is_cut]
    if closed:
        lines.append(f"Closed all the time{name}: {', '.join(closed)}.")
    uncut = [each.band for each in never if not each.is_cut]
    if uncut:
        lines.append(f"{advice.setups[0].name}: not cut for {', '.join(uncut)}.")
    return lines + [
        f"{each.band}: with {each.other_setup}, up to {days_in_ten(each.other_chance)}."
        for each in never
        if each.other_setup
    ]


def check_is_cut(advice: Answer) -> None:
    """
    Refuse to draw an answer that has nothing in it.

    Parameters
    ----------
    advice : Answer
        The answer.

    Raises
    ------
    InputError
        If no set-up is cut for any band asked about.
    """
    # The best has no band, so no set-up has one.
    if not advice.setups[0].works.any():
        asked = ", ".join(band.name for band in advice.question.bands)
        raise InputError(
            f"no set-up here is cut for {asked}, so there is nothing to draw: ask "
            "for another --band, or give a wire cut for it"
        )


def uncut_words(question: Question, setup: SetUpAdvice) -> str:
    """
    Say which of the bands asked about a set-up is not cut for.

    Parameters
    ----------
    question : Question
        Holds the bands.
    setup : SetUpAdvice
        The set-up.

    Returns
    -------
    words : str
        Such as ``not cut for 40 m, 20 m``; empty if it works on all.
    """
    uncut = [
        band.name
        for band, works in zip(question.bands, setup.works, strict=True)
        if not works
    ]
    return f"not cut for {', '.join(uncut)}" if uncut else ""
