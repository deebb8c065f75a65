"""What the figures were before something was heard, and what they are after it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.hours import hour_name

WORTH_TELLING = 0.05
"""Half a day in ten: less is no change. The project's choice."""

_MOST_TOLD = 3


def moved_words(advice: Answer, target: int) -> Iterator[str]:
    """
    Say how what was heard moves the figures of a target.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target.

    Yields
    ------
    words : str
        One sentence; none where nothing was heard.
    """
    question, best = advice.question, advice.best
    if question.heard is None:
        return
    is_heard = any(one.is_heard for one in question.heard.receptions)
    what = "What you heard" if is_heard else "Silence"
    chance, month = best.chance[target], best.chance_month[target]
    moved = np.where(best.works, np.abs(chance - month), 0.0)
    hours = moved.argmax(axis=0)
    peaks = moved.max(axis=0)
    bands = [
        int(b)
        for b in np.argsort(-peaks, kind="stable")[:_MOST_TOLD]
        if peaks[b] >= WORTH_TELLING
    ]
    if not bands:
        yield f"{what} moves no figure here by half a day in ten."
        return
    told = ", ".join(
        f"{question.bands[b].name} at {hour_name(question, int(hours[b]))} "
        f"{10 * chance[hours[b], b]:.1f} days in ten (else "
        f"{10 * month[hours[b], b]:.1f})"
        for b in bands
    )
    last = int(np.flatnonzero((moved >= WORTH_TELLING).any(axis=1)).max())
    until = hour_name(question, last)
    yield f"{what} makes it {told}; it moves a figure by half a day until {until}."


def told_by_target(advice: Answer) -> Iterator[str]:
    """
    Say how what was heard moves the figures, target by target.

    Parameters
    ----------
    advice : Answer
        The answer.

    Yields
    ------
    words : str
        One sentence a target, which it names where there are several; none where
        nothing was heard.
    """
    several = len(advice.targets) > 1
    for k, target in enumerate(advice.targets):
        for words in moved_words(advice, k):
            yield f"{target.name}: {words}" if several else words
