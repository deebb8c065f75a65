"""
A timetable of bands and wires: few changes, much contact.

Dynamic programming over the hours: of all ways through bands and wires it finds the
one with most chance less what the changes cost. Targets count by weight.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from advisor.answers.advice import SetUpAdvice
from advisor.answers.limits import OPEN_CHANCE
from geo.arrays import Bools, Floats, Ints
from geo.errors import InputError
from geo.fields import record

CHANGE_MIN = 3.0
"""Time a change of band is taken to cost. [min]"""

SWAP_MIN = 20.0
"""Time a change of wire is taken to cost. [min]"""


@record
class Costs:
    """
    What changes cost, in minutes of the best hour there is.

    Attributes
    ----------
    change_min : float
        A change of band on the same wire. [min]
    swap_min : float
        A change of wire, with or without a change of band. [min]

    Raises
    ------
    geo.errors.InputError
        If a time is not 0 to 240 minutes.
    """

    change_min: float = CHANGE_MIN
    swap_min: float = SWAP_MIN

    def __post_init__(self) -> None:
        for what, value in (("band", self.change_min), ("wire", self.swap_min)):
            if not 0.0 <= value <= 240.0:
                raise InputError(
                    f"a change of {what} of {value:g} minutes is outside 0 to 240"
                )

    def at(self, rate: float) -> Costs:
        """
        Say what they cost where an hour gives so much.

        Parameters
        ----------
        rate : float
            Chance that the best hour is worth, 0 to 1.

        Returns
        -------
        costs : Costs
            In minutes of certain contact.
        """
        return Costs(self.change_min * rate, self.swap_min * rate)

    @property
    def change(self) -> float:
        """Cost of a change of band, in hours."""
        return self.change_min / 60.0

    @property
    def swap(self) -> float:
        """Cost of a change of wire, in hours."""
        return self.swap_min / 60.0


def weights_of(count: int, priorities: Sequence[float] = ()) -> Floats:
    """
    Say what each target counts.

    Parameters
    ----------
    count : int
        Number of targets.
    priorities : sequence of float, optional
        What each counts; left out, the first counts most: 1, 1/2, 1/3 and so on.

    Returns
    -------
    weights : numpy.ndarray
        Shape (count,), together 1.

    Raises
    ------
    InputError
        If the numbers do not match, or one is not positive.

    Examples
    --------
    >>> weights_of(2), weights_of(2, [1.0, 1.0])
    (array([0.667, 0.333]), array([0.5, 0.5]))
    """
    if priorities and len(priorities) != count:
        raise InputError(
            f"{len(priorities)} priorities for {count} targets: give one for each "
            "--to, in the same order, or none"
        )
    for value in priorities:
        if not 0.0 < value <= 1000.0:
            raise InputError(
                f"priority {value:g} is outside 0 to 1000: 2 counts twice as much as 1"
            )
    raw = np.array(priorities) if priorities else 1.0 / np.arange(1.0, count + 1.0)
    return np.asarray(raw / raw.sum(), dtype=np.float64)


def weighted(chance: Floats, weights: Floats) -> Floats:
    """
    Take the mean over the targets by weight.

    Parameters
    ----------
    chance : numpy.ndarray
        Shape (K, T, B).
    weights : numpy.ndarray
        Shape (K,): what each target counts, together 1.

    Returns
    -------
    mean : numpy.ndarray
        Shape (T, B).
    """
    return np.asarray(np.tensordot(weights, chance, 1))


def values(setups: Sequence[SetUpAdvice], weights: Floats) -> Floats:
    """
    Say what each set-up and band is worth each hour.

    Parameters
    ----------
    setups : sequence of SetUpAdvice
        What they give.
    weights : numpy.ndarray
        Shape (K,): what each target counts.

    Returns
    -------
    value : numpy.ndarray
        Shape (S, T, B): weighted mean chance; -1 on bands a set-up does not work on.
    """
    return np.stack(
        [np.where(one.works, weighted(one.chance, weights), -1.0) for one in setups]
    )


def is_open(setups: Sequence[SetUpAdvice]) -> Bools:
    """
    Say in which hours anything opens to any target.

    Parameters
    ----------
    setups : sequence of SetUpAdvice
        What they give.

    Returns
    -------
    opens : numpy.ndarray of bool
        Shape (T,).
    """
    best = np.stack([one.chance.max(axis=(0, 2)) for one in setups])
    return np.asarray(best.max(axis=0) >= OPEN_CHANCE)


def timetable(value: Floats, opens: Bools, costs: Costs) -> Ints:
    """
    Choose wire and band hour by hour so that value less cost of changes is greatest.

    Parameters
    ----------
    value : numpy.ndarray
        Shape (S, T, B), chance that is won in an hour; negative where not possible.
    opens : numpy.ndarray of bool
        Shape (T,): hours that count; in the others nothing is won or lost, and a
        change costs as much.
    costs : Costs
        What changes cost.

    Returns
    -------
    path : numpy.ndarray of int
        Shape (T, 2): set-up and band; -1 where nothing opens.

    Examples
    --------
    A better band for a moment is not worth the change; a much better one is.

    >>> value = np.array([[[0.5, 0.4], [0.5, 0.52], [0.1, 0.6]]])
    >>> timetable(value, np.ones(3, bool), Costs(3.0, 20.0))[:, 1]
    array([0, 1, 1])
    >>> timetable(value, np.ones(3, bool), Costs(60.0, 60.0))[:, 1]
    array([1, 1, 1])
    """
    setups, hours, bands = value.shape
    won = np.where(value < 0.0, -1e6, value).transpose(1, 0, 2).reshape(hours, -1)
    won = np.where(opens[:, None], won, np.where(won < 0.0, won, 0.0))
    cost = _cost(setups, bands, costs)
    total = won[0]
    came_from = np.zeros(won.shape, dtype=np.int64)
    for t in range(1, hours):
        # To each state (column) from every other (row).
        reached = total[:, None] - cost
        # Of equals the one that stays: a change is made as late as it can be.
        stays = reached.diagonal() >= reached.max(axis=0) - 1e-12
        came_from[t] = np.where(stays, np.arange(len(cost)), reached.argmax(axis=0))
        total = reached.max(axis=0) + won[t]
    state = int(total.argmax())
    path = np.empty((hours, 2), dtype=np.int64)
    for t in range(hours - 1, -1, -1):
        path[t] = divmod(state, bands)
        state = int(came_from[t, state])
    path[~opens] = -1
    return path


def _cost(setups: int, bands: int, costs: Costs) -> Floats:
    """Cost of a change from every wire and band to every other."""
    which = np.repeat(np.arange(setups), bands)
    cost = np.where(which[:, None] == which, costs.change, costs.swap)
    np.fill_diagonal(cost, 0.0)
    return cost


def check_enough(enough_h: float) -> None:
    """
    Refuse a number of hours that cannot be enough.

    Parameters
    ----------
    enough_h : float
        As in `shared_out`. [h]

    Raises
    ------
    InputError
        If it is not above 0 and at most 100.
    """
    if not 0.0 < enough_h <= 100.0:
        raise InputError(f"enough after {enough_h:g} hours is outside 0 to 100")


def shared_out(
    path: Ints,
    setups: Sequence[SetUpAdvice],
    weights: Floats,
    opens: Bools,
    costs: Costs,
    enough_h: float,
) -> Ints:
    """
    Change a timetable so that every target gets its share.

    Parameters
    ----------
    path : numpy.ndarray of int
        Shape (T, 2), from `timetable`.
    setups : sequence of SetUpAdvice
        What the wires give.
    weights : numpy.ndarray
        Shape (K,): what each target counts, together 1.
    opens : numpy.ndarray of bool
        Shape (T,), from `is_open`.
    costs : Costs
        What changes cost.
    enough_h : float
        Expected hours of contact after which a target counts half as much. [h]

    Returns
    -------
    path : numpy.ndarray of int
        Shape (T, 2): no run of hours in it would be worth more on another band.

    Raises
    ------
    InputError
        If the hours are not positive.

    Notes
    -----
    With E expected hours a target is worth ``(1 - 2**(-E/enough)) enough / ln 2``: the
    first hour counts in full, each further one less. Runs of hours are put on another
    wire or band for as long as that makes the sum, less the cost of changes, greater.
    """
    check_enough(enough_h)
    chance = np.stack([one.chance for one in setups])
    works = np.stack([one.works for one in setups]).ravel()
    count, targets, hours, bands = chance.shape
    # (T, X, K) over X ways, and its running sum with a zero before.
    won = chance.transpose(2, 0, 3, 1).reshape(hours, count * bands, targets)
    won = np.where(opens[:, None, None], won, 0.0)
    summed = np.concatenate([np.zeros((1, *won.shape[1:])), won.cumsum(axis=0)])
    cost = _cost(count, bands, costs)

    def worth(expected_h: Floats) -> Floats:
        served = -np.expm1(-np.log(2.0) * expected_h / enough_h)
        return np.asarray(served @ weights * enough_h / np.log(2.0))

    state = _filled(path, bands)
    while True:
        now_h = won[np.arange(hours), state].sum(axis=0)
        steps = np.append(0.0, cost[state[:-1], state[1:]])
        best, move = 1e-9, None
        for first in range(hours):
            last = np.arange(first, hours)
            kept = np.cumsum(won[last, state[last]], axis=0)
            moved = summed[last + 1] - summed[first]
            gain = worth(now_h - kept[:, None] + moved) - worth(now_h)
            gain += np.cumsum(steps[last])[:, None]
            gain -= cost[state[first - 1]] if first else 0.0
            after = np.append(state[first + 1 :], -1)
            joins = np.where(after[:, None] >= 0, cost[:, after].T, 0.0)
            leaves = np.append(steps[first + 1 :], 0.0)[:, None]
            gain = np.where(works, gain + leaves - joins, -np.inf)
            place = np.unravel_index(int(gain.argmax()), gain.shape)
            if gain[place] > best:
                best, move = float(gain[place]), (first, int(last[place[0]]), place[1])
        if move is None:
            break
        state[move[0] : move[1] + 1] = move[2]
    shared = np.stack(np.divmod(state, bands), axis=1)
    shared[~opens] = -1
    return np.asarray(shared, dtype=np.int64)


def _filled(path: Ints, bands: int) -> Ints:
    """Ways as single numbers; hours in which nothing opens stay on what was before."""
    state = path[:, 0] * bands + path[:, 1]
    known = np.flatnonzero(path[:, 0] >= 0)
    if not known.size:
        return np.zeros(len(path), dtype=np.int64)
    nearest = np.maximum(np.searchsorted(known, np.arange(len(path)), "right") - 1, 0)
    return np.asarray(state[known[nearest]])
