"""Which way to run a wire, as text; nothing is worked out here."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial

from advisor.answers.aim import (
    MAIN_LOBE_DB,
    Aim,
    SetUpAim,
    TargetAim,
    TriedBearing,
    TwoBearings,
)
from advisor.answers.bearings import TOLERANCE_CHANCE, TOLERANCE_DB
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.runs import run_figures, run_words
from advisor.answers.spots import HERE, SpotAdvice
from advisor.answers.uncertainty import LEAST_DIFFERENCE
from advisor.answers.words import days_in_ten, in_ten, what_a_chance_is
from advisor.engine.targets import TargetAdvice
from advisor.show.text.cells import Cell, Column, mean_chance, number, text_table
from advisor.show.text.layout import paragraph
from advisor.show.text.plan_words import target_letter
from advisor.show.text.tonight import cautions_text, heading, target_lines
from advisor.station.cautions import CAUTIONS_IN_BRIEF

_MOST_LOBES = 4

_MOST_WITH_LEVEL = 3
"""Up to so many targets have room for chance and level in the table."""


def aim_text(aim: Aim, spots: Sequence[SpotAdvice] = (), *, brief: bool = False) -> str:
    """
    Write which way to run each wire.

    Parameters
    ----------
    aim : Aim
        What `advisor.answers.aim.aim` found.
    spots : sequence of SpotAdvice, optional
        What `advisor.answers.spots.rank_spots` found.
    brief : bool, optional
        Whether to leave out reasons and keys, with the cautions in one sentence.

    Returns
    -------
    text : str
        Ready to print.
    """
    declination = aim.question.declination_deg
    asked = [heading(aim.question), *target_lines(aim.question, aim.targets)]
    blocks = ["\n".join([*asked, *map(paragraph, aim.moved)])]
    if spots:
        shown = text_table(SPOT_COLUMNS, spots, keys=1)
        blocks.append(f"{paragraph(spots_words(aim, spots))}\n{shown}")
    blocks += [_setup(aim, setup, declination) for setup in aim.setups]
    if brief:
        return "\n\n".join([*blocks, paragraph(CAUTIONS_IN_BRIEF)])
    notes = (
        f"{what_a_chance_is(aim.question)} "
        f"Here it is that of the best band, as a mean over the "
        f"hours asked{_and_targets(aim)}."
    )
    if any(setup.is_open and not _is_free_for_all(setup) for setup in aim.setups):
        notes += (
            " dB: mean level where there is something to win, against the target's own "
            "best bearing. '*' the best bearing, '=' as it hangs. Lobes within "
            f"{MAIN_LOBE_DB:g} dB of the strongest are main lobes; they are not "
            "where the wire runs."
        )
    return "\n\n".join([*blocks, paragraph(notes), cautions_text()])


def spots_words(aim: Aim, spots: Sequence[SpotAdvice]) -> str:
    """
    Say where to hang a wire, and what that is worth.

    Parameters
    ----------
    aim : Aim
        What `advisor.answers.aim.aim` found.
    spots : sequence of SpotAdvice
        Best first.

    Returns
    -------
    sentence : str
        One sentence.
    """
    first, own = spots[0], next(spot for spot in spots if spot.name == HERE)
    if first.chance - own.chance < LEAST_DIFFERENCE:
        return "Where to hang it: here; no spot named is clearly better."
    names = " and ".join(target.name for target in aim.targets)
    gains = ""
    if abs(first.gain_db) >= _LEAST_TOLD_DB:
        verb = "gains" if first.gain_db > 0.0 else "loses"
        gains = (
            f"{first.band} to {names} {verb} {abs(first.gain_db):.1f} dB at "
            f"{first.takeoff_deg:.0f} deg: "
        )
    return (
        f"Where to hang it: from {first.name}, {gains}{in_ten(own.chance)} days in "
        f"ten become {in_ten(first.chance)}."
    )


def _lies(spot: SpotAdvice) -> str:
    """Write where a spot is."""
    at = f"{spot.distance_m:.0f} m {round(spot.azimuth_deg) % 360:03d}"
    return at if spot.distance_m else "-"


_LEAST_TOLD_DB = 0.5
"""Less gain is not told in words."""

SPOT_COLUMNS: tuple[Column[SpotAdvice], ...] = (
    Column("spot", lambda spot: spot.name, is_words=True),
    Column("away, true", _lies),
    Column("set-up", lambda spot: spot.setup, is_words=True),
    Column(
        "runs true",
        lambda spot: "any" if spot.wire_deg is None else f"{spot.wire_deg:03.0f}",
    ),
    Column("days in ten", lambda spot: mean_chance(spot.chance)),
    Column("dB over here", lambda spot: number(spot.gain_db)),
    Column("at", lambda spot: f"{spot.band} {spot.takeoff_deg:.0f} deg"),
)


def _is_free_for_all(setup: SetUpAim) -> bool:
    """Whether no bearing costs anything that counts."""
    return setup.bearing.good_from_deg is None and setup.good_from_deg is None


def _and_targets(aim: Aim) -> str:
    """Say that the targets are averaged where there are several."""
    return " and over the targets, which count alike" if len(aim.targets) > 1 else ""


def _words(setup: SetUpAim, wire_deg: float, declination_deg: float) -> str:
    """Say which way a set-up runs."""
    return run_words(wire_deg, declination_deg, setup.first_end)


def _setup(aim: Aim, setup: SetUpAim, declination_deg: float) -> str:
    """Say all about one set-up."""
    turn = setup.bearing
    if not setup.is_open:
        asked = [band.name for band in aim.question.bands]
        wires = {each.name: each for each in aim.question.station.setups}
        if not set(asked) & set(wires[setup.name].bands):
            return paragraph(f"{setup.name}: not cut for {', '.join(asked)}.")
        least = ""
        if turn.best_deg is not None:
            least = f"; least bad {_words(setup, turn.best_deg, declination_deg)}"
        return paragraph(
            f"{setup.name}: nothing opens in these hours on any band and any bearing"
            f"{least}. Ask for other hours, or try another set-up."
        )
    if turn.best_deg is None:
        return paragraph(
            f"{setup.name}: radiates alike all round, so no bearing is better than "
            f"another: {_range(aim, setup)}."
        )
    if _is_free_for_all(setup):
        return paragraph(
            f"{setup.name}: run it as you like: no bearing costs {TOLERANCE_DB:g} dB "
            f"or {10 * TOLERANCE_CHANCE:g} in ten. {_range(aim, setup)} days in ten "
            "on the best band, mean of the hours.",
            "  ",
        )
    verb = "run it" if turn.is_free else "it would best run"
    lines = [
        f"{setup.name}: {verb} {_words(setup, turn.best_deg, declination_deg)}.",
        f"  Days in ten on the best band, mean of the hours: {_range(aim, setup)}.",
        *_as_it_hangs(setup, declination_deg),
        f"  {_tolerance(setup)}",
        *_lobes(setup),
        *_losses(aim, setup),
    ]
    said = "\n".join(paragraph(line, "  ") for line in lines)
    return f"{said}\n\n{_rows_table(aim, setup, declination_deg)}"


def _range(aim: Aim, setup: SetUpAim) -> str:
    """Write a mean chance with its range."""
    return in_ten(setup.chance) + _over(aim, setup.chance_low, setup.chance_high)


def _over(aim: Aim, low: float, high: float) -> str:
    """Write a range, in brackets, where there is one to be seen."""
    ends = in_ten(low), in_ten(high)
    return f" ({ends[0]} to {ends[1]} over {aim.varied})" if ends[0] != ends[1] else ""


def _as_it_hangs(setup: SetUpAim, declination_deg: float) -> list[str]:
    """Say what the bearing that is given costs."""
    turn = setup.bearing
    if setup.given_chance is None or turn.wire_deg is None:
        return []
    lost = setup.chance - setup.given_chance
    return [
        f"  It hangs {_words(setup, turn.wire_deg, declination_deg)}, which gives "
        f"{in_ten(setup.given_chance)}: {in_ten(max(lost, 0.0))} less, "
        f"{turn.loss_db:.1f} dB."
    ]


def _tolerance(setup: SetUpAim) -> str:
    """Say how far off one may be."""
    turn = setup.bearing
    words = []
    told = [(turn.good_from_deg, turn.good_to_deg, f"{TOLERANCE_DB:g} dB")]
    if setup.chance > TOLERANCE_CHANCE:
        in_days = f"{10 * TOLERANCE_CHANCE:g} in ten"
        told.append((setup.good_from_deg, setup.good_to_deg, in_days))
    for low, high, cost in told:
        span = "any bearing" if low is None else f"{low:03.0f} to {high:03.0f} true"
        words.append(f"{span} costs under {cost}")
    said = "; ".join(words)
    return f"{said[0].upper()}{said[1:]}."


def _lobes(setup: SetUpAim) -> list[str]:
    """Say where the lobes point on the best bearing."""
    best = next(row for row in setup.rows if row.is_best)
    if not best.lobes_deg:
        return [
            f"  On {setup.lobe_band} at {setup.lobe_takeoff_deg:.0f} deg, the angle "
            "mostly asked for, it radiates nearly alike all round."
        ]
    where = " and ".join(f"{round(deg) % 360:03d}" for deg in sorted(best.lobes_deg))
    lobe = "lobe points" if len(best.lobes_deg) == 1 else "lobes point"
    return [
        f"  On {setup.lobe_band} at {setup.lobe_takeoff_deg:.0f} deg, the angle mostly "
        f"asked for, its main {lobe} to {where} true."
    ]


def _losses(aim: Aim, setup: SetUpAim) -> list[str]:
    """Say what each of several targets loses by the compromise, and of two bearings."""
    if setup.two is None:
        best = _best_hour(setup, setup.targets[0])
        return [f"  {best[0].upper()}{best[1:]}."]
    lines = []
    for target in setup.targets:
        if not target.is_open:
            lines.append(f"  {target.name}: closed on every bearing.")
            continue
        lost = (
            "nothing lost"
            if target.lost_chance < 0.005 and target.lost_db < 0.1
            else f"{in_ten(max(target.lost_chance, 0.0))} less and "
            f"{max(0.0, target.lost_db):.1f} dB less than with its own best, "
            f"{run_figures(target.best_deg, setup.first_end)} true"
        )
        best = ""
        if target.highest - target.peak >= TOLERANCE_CHANCE:
            best = f"; {_best_hour(setup, target)}"
        lines.append(f"  {target.name}: {in_ten(target.chance)}, {lost}{best}.")
    two = setup.two
    over = _over(aim, two.gain_low, two.gain_high)
    if two.is_worth_it:
        first, second = (
            f"{run_figures(deg, setup.first_end)} true for {' and '.join(names)}"
            for deg, names in (
                (two.first_deg, two.first_for),
                (two.second_deg, two.second_for),
            )
        )
        lines.append(
            f"  Two bearings beat one: {first}, {second}. That gains "
            f"{in_ten(two.gain)} in ten in the mean{over}."
        )
    else:
        lines.append(f"  {_one_bearing(setup, two)}")
    return lines


def _one_bearing(setup: SetUpAim, two: TwoBearings) -> str:
    """Say whom one bearing serves where a second gains little in the mean."""
    for target in setup.targets:
        if target.peak < OPEN_CHANCE <= target.highest - TOLERANCE_CHANCE:
            return (
                f"One bearing does not serve all: {target.name} opens only near its "
                f"own, {run_figures(target.highest_deg, setup.first_end)} true."
            )
    shut = [target.name for target in setup.targets if not target.is_open]
    if len(setup.targets) - len(shut) == 1:
        return f"A second bearing opens nothing to {' or '.join(shut)} either."
    served = " for those that open" if shut else ""
    return (
        f"One bearing is enough{served}: two, each target on the better, would gain "
        f"{10 * two.gain:.2f} in ten in the mean, too little to be told apart."
    )


def _best_hour(setup: SetUpAim, target: TargetAim) -> str:
    """Say what the best hour gives, and which bearing would make more of one."""
    words = f"at best {days_in_ten(target.peak)} ({target.peak_when})"
    if target.highest - target.peak >= TOLERANCE_CHANCE:
        words += (
            f", {days_in_ten(target.highest)} ({target.highest_when}) with "
            f"{run_figures(target.highest_deg, setup.first_end)} true"
        )
    return words


def _rows_table(aim: Aim, setup: SetUpAim, declination_deg: float) -> str:
    """Chance and level against bearing."""
    columns = bearing_columns(aim, setup, declination_deg)
    shown = text_table(columns, setup.rows, keys=2)
    if len(aim.targets) == 1:
        return shown
    names = [
        f"({k + 1}) {target.name}, bearing {_target_bearing(target)}"
        for k, target in enumerate(aim.targets)
    ]
    return f"{shown}\n{paragraph('; '.join(names))}"


def bearing_columns(
    aim: Aim, setup: SetUpAim, declination_deg: float
) -> Iterator[Column[TriedBearing]]:
    """
    Make the columns of chance and level; a row is a bearing.

    Parameters
    ----------
    aim : Aim
        What `advisor.answers.aim.aim` found.
    setup : SetUpAim
        One of its set-ups.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]

    Yields
    ------
    column : Column
        Several targets by their numbers on a terminal, by letters on a page.
    """

    def run(deg: float) -> str:
        return run_figures(deg, setup.first_end)

    several = len(aim.targets) > 1
    yield Column(" ", _mark, None, is_words=True)
    yield Column("wire true", lambda row: run(row.wire_deg), None)
    yield Column("", lambda row: f"{run(row.wire_deg)}{_mark(row)}", "wire true")
    yield Column("by compass", lambda row: run(row.wire_deg - declination_deg))
    yield Column("main lobes", _lobe_cell, None)
    if several:
        yield Column("mean", lambda row: in_ten(row.mean), None)
    else:
        yield Column("off lobe", _off_lobe, None)
    yield Column("best hour", lambda row: mean_chance(max(row.peak)))
    for k in range(len(aim.targets)):
        behind = f", {target_letter(k)}" if several else ""
        yield Column(
            f"({k + 1})" if several else "days in ten",
            partial(_chance_cell, k),
            f"days in ten{behind}",
        )
        is_told = len(aim.targets) <= _MOST_WITH_LEVEL
        yield Column("dB" if is_told else "", partial(_level_cell, k), f"dB{behind}")


def _chance_cell(k: int, row: TriedBearing) -> Cell:
    """Set the chance to a target in a cell."""
    return mean_chance(row.chance[k])


def _level_cell(k: int, row: TriedBearing) -> Cell:
    """Set the level at a target in a cell."""
    return number(row.level_db[k])


def _off_lobe(row: TriedBearing) -> str:
    """Write how far the only target is off the nearest main lobe."""
    off = row.off_lobe_deg[0]
    return "-" if math.isnan(off) else f"{off:.0f} deg"


def _target_bearing(target: TargetAdvice) -> str:
    """Write where a target lies."""
    return "all round" if target.is_all_round else f"{target.bearing_deg:03.0f}"


def _mark(row: TriedBearing) -> str:
    """Mark the best bearing, and the one it hangs on."""
    return ("*" if row.is_best else "") + ("=" if row.is_given else "")


def _lobe_cell(row: TriedBearing) -> str:
    """List the main lobes."""
    shown = sorted(round(deg) % 360 for deg in row.lobes_deg[:_MOST_LOBES])
    return " ".join(f"{deg:03d}" for deg in shown) or "-"
