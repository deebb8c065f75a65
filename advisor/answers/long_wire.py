"""What is said of a band to be on that takes a very long wire, or a very high one."""

from __future__ import annotations

import numpy as np

from advisor.answers.advice import Answer
from advisor.antenna.shapes.dimensions import USUAL_TOP_M
from advisor.antenna.shapes.registry import SHAPES
from advisor.engine.wires import hung_wire
from advisor.station.setup import EACH_BAND

LONG_M = 45.0
"""A wire cut for each band that is longer than this is told of: the half-wave of 80 m
has some 40 m (common practice, no source). [m]"""

AS_GOOD_CHANCE = 0.1
"""A band with a shorter wire is named beside it if it loses no more than one of the
days in ten that are told."""


def long_wire_words(advice: Answer, target: int) -> list[str]:
    """
    Say how long the wire of a band to be on is, or how high, if that is very much.

    A height is told only if nobody gave one.

    Parameters
    ----------
    advice : Answer
        The answer.
    target : int
        Which target.

    Returns
    -------
    sentences : list of str
        One for each such wire, with a band that does as well with less; none if there
        is no such wire.
    """
    question, best, said = advice.question, advice.best, []
    hung = {setup.name: setup for setup in question.station.setups}
    ways = np.stack([best.wire[target], best.band[target]], axis=1)
    for s, b in np.unique(ways[ways[:, 0] >= 0], axis=0):
        told = advice.setups[s]
        setup = hung[told.name]
        if setup.cut != EACH_BAND:
            whole_m = hung_wire(setup, question.bands[b].planning_mhz).length_m
            if whole_m > LONG_M and "length_m" not in dict(setup.dimensions):
                one = (
                    f"{told.name} is {whole_m:.0f} m of wire, cut for {setup.bands[0]}"
                )
                said.append(f"{one}: less with --length-m or fewer bands.")
            continue
        wires = {
            i: hung_wire(setup, band.planning_mhz)
            for i, band in enumerate(question.bands)
            if told.works[i]
        }
        lengths_m = {i: wire.length_m for i, wire in wires.items()}
        is_given = SHAPES[setup.shape].top in dict(setup.dimensions)
        high = {
            i
            for i, wire in wires.items()
            if wire.highest_m > USUAL_TOP_M + 1.0 and not is_given
        }
        if lengths_m[b] <= LONG_M and b not in high:
            continue
        words = f"{question.bands[b].name} takes {lengths_m[b]:.0f} m of wire"
        words += f", {wires[b].highest_m:.0f} m high" if b in high else ""
        mean = told.chance[target, (ways == (s, b)).all(axis=1)].mean(axis=0)
        short = [i for i in wires if lengths_m[i] <= LONG_M and i not in high]
        other = max(short, key=lambda i: mean[i], default=b)
        if other != b and mean[other] >= mean[b] - AS_GOOD_CHANCE:
            words += (
                f"; {question.bands[other].name} with {lengths_m[other]:.0f} m does "
                f"{10 * mean[other]:.1f} days in ten in those hours, not "
                f"{10 * mean[b]:.1f}"
            )
        said.append(f"{words}.")
    return list(dict.fromkeys(said))
