"""The sum from the sender to the ear and the noise there: words and tables."""

from __future__ import annotations

import math
from functools import partial

from advisor.answers.why_facts import GROUND_WAVE_NAME, WAY_SOURCES, Why, source_of
from advisor.propagation.losses import LOSSES
from advisor.show.text.cells import Cell, Column, number

_BUDGET_LABELS = {
    "power_dbw": "power of the sender, dBW",
    "gain_dbi": "my wire at that angle, dBi",
    "hill_db": "  (in it: hills around me, dB)",
    "learned_db": "  (in it: learned of my level, dB)",
    "below_peak_db": "  (below its peak, dB)",
    "far_gain_dbi": "antenna there, dBi",
    "far_learned_db": "  (in it: learned of far ends, dB)",
    "loss_db": "all losses, dB",
    "received_dbw": "received, dBW",
    "noise_dbw": "noise in 2.5 kHz, dBW",
    "snr_db": "signal over noise, dB",
    "needed_snr_db": "needed, dB",
    "margin_db": "margin, dB",
}
"""What the lines of a sum are called; losses are in `LOSSES`."""

NOISE_TITLE = "Noise at that end, dB over thermal noise at 290 K"


def sum_words(why: Why) -> str:
    """
    Say the strongest sum from transmitter to ear.

    Parameters
    ----------
    why : Why
        What was found.

    Returns
    -------
    words : str
        Two sentences; empty if there is no way to sum up.
    """
    if not why.budgets:
        return ""
    sum_ = why.budgets[0]
    sent, heard = sum_.gain_dbi, sum_.far_gain_dbi
    if why.direction == "hear":
        sent, heard = heard, sent
    taken = sorted(
        (
            (loss_db, LOSSES[name.removesuffix("_db")].label)
            for name, loss_db in sum_.losses_db.items()
            if loss_db >= 0.5 and name != "spreading_db"
        ),
        reverse=True,
    )
    parts = [f"{label} {loss_db:.0f}" for loss_db, label in taken[:2]]
    distance = sum_.losses_db["spreading_db"]
    if not math.isnan(distance):
        parts.insert(0, f"distance alone {distance:.0f}")
    most = f", {', '.join(parts)}" if parts else ""
    verdict = "to spare" if sum_.margin_db >= 0.0 else "short"
    return (
        f"By {sum_.way}: {sum_.power_dbw:.0f} dBW of power and {_signed(sent)} dB of "
        f"antenna leave, the way takes {sum_.loss_db:.0f} dB{most}, the antenna "
        f"that listens gives {_signed(heard)}: {sum_.received_dbw:.0f} dBW arrive "
        f"where the noise is {sum_.noise_dbw:.0f}. That is {sum_.snr_db:.0f} dB "
        f"over the noise where {sum_.needed_snr_db:.0f} are needed, "
        f"{abs(sum_.margin_db):.0f} dB {verdict}."
    )


def _signed(value_db: float) -> str:
    """Write whole decibels with their sign; zero has none of its own."""
    return f"{round(value_db) + 0:+d}"


def step_label(name: str) -> str:
    """
    Call a figure of a sum by its name in every table and picture.

    Parameters
    ----------
    name : str
        As `advisor.answers.why_facts.Budget.figures` has it.

    Returns
    -------
    label : str
        Such as ``my wire at that angle, dBi``.
    """
    loss = LOSSES.get(name.removesuffix("_db"))
    return loss.label if loss else _BUDGET_LABELS[name]


def sum_columns(why: Why) -> list[Column[str]]:
    """
    Set the sums side by side, each line with its source.

    Parameters
    ----------
    why : Why
        What was found.

    Returns
    -------
    columns : list of Column
        Of the names that `sum_names` lists.
    """
    sums = [budget.figures() for budget in why.budgets]
    is_one_figure = all(each.way in WAY_SOURCES for each in why.budgets)

    def figure(n: int, name: str) -> Cell:
        is_loss = name == "loss_db" or name not in _BUDGET_LABELS
        return number(-sums[n][name] if is_loss else sums[n][name])

    def source(name: str) -> str:
        is_apart = name == "loss_db" and is_one_figure
        return "one figure, see below" if is_apart else source_of(name)

    return [
        Column(" ", step_label, "of the sum", is_words=True),
        *(
            Column(budget.way, partial(figure, n))
            for n, budget in enumerate(why.budgets)
        ),
        Column("from", lambda name: Cell(source(name), look="words"), is_words=True),
    ]


def sum_names(why: Why) -> list[str]:
    """
    List the lines of the sums.

    Parameters
    ----------
    why : Why
        What was found.

    Returns
    -------
    names : list of str
        Those for which a way has a figure, in order.
    """
    sums = [budget.figures() for budget in why.budgets]
    return [
        name
        for name in (sums[0] if sums else ())
        if not all(math.isnan(figures[name]) for figures in sums)
    ]


def way_notes(why: Why) -> list[str]:
    """
    Say where the loss of the ground wave comes from.

    Parameters
    ----------
    why : Why
        What was found.

    Returns
    -------
    lines : list of str
        Paragraphs; none without such a way.
    """
    if all(budget.way != GROUND_WAVE_NAME for budget in why.budgets):
        return []
    return [
        f"{GROUND_WAVE_NAME}: there every day, over the ground at my end. "
        f"{WAY_SOURCES[GROUND_WAVE_NAME]}."
    ]


def noise_rows(why: Why) -> tuple[list[str], list[list[str]]]:
    """
    Set out the sources of noise at the end that limits.

    Parameters
    ----------
    why : Why
        What was found.

    Returns
    -------
    head, rows : list
        Titles and lines, sources last.
    """
    rows = [
        [
            part.name,
            number(part.factor_db).text,
            f"+{part.upper_db:.1f}",
            f"-{part.lower_db:.1f}",
            source_of(part.name),
        ]
        for part in why.noise
    ]
    if abs(why.receiving_efficiency_db) >= 0.05:
        rows.append(
            [
                "lost in the antenna",
                f"{why.receiving_efficiency_db:.1f}",
                "",
                "",
                source_of("receiving_efficiency_db"),
            ]
        )
    return ["", "median", "1 in 10 over", "1 in 10 under", "from"], rows
