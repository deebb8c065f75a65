"""What to hang, as text; nothing is worked out here."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from advisor.answers.hanging.found import (
    HangAnswer,
    Hung,
    gives_up,
    longest,
    sizes_words,
)
from advisor.answers.hanging.starts import not_tried
from advisor.answers.hanging.supports import poles_needed, stakes, tied_off, wire_used_m
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.perturb import WORTH_IT, Change, cheapest
from advisor.answers.runs import run_figures, run_words
from advisor.answers.words import (
    counted,
    days_in_ten,
    headline,
    in_ten,
    what_a_chance_is,
)
from advisor.antenna.shapes.places import Post
from advisor.antenna.shapes.search import AtHand
from advisor.show.text.cells import Cell, Column, mean_chance, number, text_table
from advisor.show.text.layout import paragraph
from advisor.show.text.tonight import cautions_text, heading, target_lines
from advisor.station.setup import EACH_BAND
from advisor.station.written import station_toml

_RUNNERS_UP = 3

Ranked = tuple[int, Hung]
"""A shape behind its place in the ranking, from 1."""


def hang_text(
    found: HangAnswer, declination_deg: float, most: int | None = None
) -> str:
    """
    Write what to hang, what else fits, and why the rest does not.

    Parameters
    ----------
    found : HangAnswer
        What `advisor.answers.hanging.search.HangSearch` found.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]
    most : int, optional
        Shapes ranked at most; else all.

    Returns
    -------
    text : str
        Ready to print.
    """
    advice = found.advice
    at_hand = paragraph(f"At hand: {at_hand_words(found.at_hand)}.")
    targets = target_lines(advice.question, advice.targets)
    blocks = ["\n".join([heading(advice.question), at_hand, *targets])]
    if found.is_stopped:
        so_far = (
            f"Stopped before the search was through; best so far.{_not_reached(found)}"
        )
        blocks.append(paragraph(so_far))
    best = found.found[0]
    if float(best.advice.chance.max()) < OPEN_CHANCE:
        closed = (
            "Nothing opens in these hours on any band, whatever is hung: the best "
            f"chance is {days_in_ten(float(best.advice.chance.max()))}. Ask for other "
            "hours."
        )
        blocks.append(paragraph(closed))
    told = [_verdict(found), *(_to_each(found, k) for k in range(len(targets)))]
    blocks += [
        "\n".join([*map(paragraph, told), *_next_best(found)]),
        _ranking(found, most),
        "\n".join([*_how(best, declination_deg), *_remedies(found)]),
        "\n".join(["Why not more bands, and why not the rest:", *_reasons(found)]),
        paragraph(_notes(found)),
        "Best of them for a station file:",
        station_block(best),
        cautions_text(found.within_reach),
    ]
    return "\n\n".join(blocks)


def at_hand_words(at_hand: AtHand) -> str:
    """
    Say what is at hand.

    Parameters
    ----------
    at_hand : AtHand
        Supports, wire and space.

    Returns
    -------
    words : str
        One sentence without a full stop.

    Examples
    --------
    >>> at_hand_words(AtHand((9.0, 9.0), 14.0, 31.0))
    '2 supports of 9 and 9 m, 14 m apart; 31 m of wire; free all round'
    """
    heights = " and ".join(f"{height:g}" for height in at_hand.heights_m)
    several = len(at_hand.heights_m) > 1
    words = f"{len(at_hand.heights_m)} support{'s' if several else ''} of {heights} m"
    if at_hand.posts:
        words = ", ".join(map(post_words, at_hand.posts))
    elif several:
        words += (
            f", {at_hand.apart_m:g} m apart"
            if at_hand.apart_m is not None
            else ", put where they suit"
        )
    words += f"; {at_hand.wire_m:g} m of wire" if at_hand.wire_m else "; wire enough"
    for pieces, what in ((at_hand.pieces_m, ""), (at_hand.cords_m, "; cord")):
        if pieces:
            words += f"{what} in pieces of {' and '.join(f'{m:g}' for m in pieces)} m"
    sectors = " and ".join(f"{a:03.0f} to {b:03.0f}" for a, b in at_hand.free_deg)
    return f"{words}; free {sectors or 'all round'}"


def post_words(post: Post) -> str:
    """
    Say where a support stands and how high it is.

    Parameters
    ----------
    post : Post
        The support.

    Returns
    -------
    words : str
        In the form that can be typed.

    Examples
    --------
    >>> post_words(Post("oak", 20.0, 12.0, 9.0, -2.0))
    'oak 020deg 12m 9m high 2m down'
    """
    words = f"{post.name} {post.bearing_deg:03g}deg {post.distance_m:g}m"
    words += f" {post.height_m:g}m high"
    way = "up" if post.ground_m > 0.0 else "down"
    return f"{words} {abs(post.ground_m):g}m {way}" if post.ground_m else words


def _to_each(found: HangAnswer, target: int) -> str:
    """Say which band when, with the target's name where there are several."""
    words, targets = headline(found.advice, target), found.advice.targets
    name = targets[target].name
    return f"To {name}: {words}" if len(targets) > 1 and name not in words else words


def _not_reached(found: HangAnswer) -> str:
    """Name the shapes that were not reached."""
    left = ", ".join(found.not_reached)
    return f" Not reached: {left}." if left else ""


def _verdict(found: HangAnswer) -> str:
    """Say what to hang, how good it is, and what equals it."""
    best = found.found[0]
    over = f" ({in_ten(best.low)} to {in_ten(best.high)} over {found.varied})"
    words = (
        f"Hang the {hung_words(best)}. It works "
        f"{in_ten(best.advice.score)} days in ten on the best band of each hour"
        f"{over if found.varied and best.high > best.low else ''}."
    )
    equal = [one.setup.shape for one in found.found if one.is_equal]
    if equal:
        words += (
            f" Equal to it within the uncertainty: {', '.join(equal)}; take what is "
            "easiest to hang."
        )
    elif len(found.found) > 1:
        words += " Nothing else that fits comes level with it."
    return words


def hung_words(one: Hung) -> str:
    """
    Say in a few words what is hung where and which way it runs.

    Parameters
    ----------
    one : Hung
        A shape found.

    Returns
    -------
    words : str
        Such as ``dipole for 20 m between oak and pole, 9 m up, 120-300``.
    """
    parts = [f"{one.setup.shape} for {band_range(one.setup.bands).split(' (')[0]}"]
    if one.rigging is not None:
        names = [post.name for post in one.rigging.posts]
        before = "between" if len(names) > 1 else "from"
        parts[0] += f" {before} {', '.join(names[:-1])}{' and ' if names[1:] else ''}"
        parts[0] += names[-1]
    elif one.wires:
        count = len(poles_needed(longest(one.wires)))
        parts[0] += f" on {counted(count, 'support')}"
    if one.wires:
        parts.append(f"{longest(one.wires).highest_m:.3g} m up")
    bearing = one.advice.bearing.wire_deg
    if bearing is not None:
        parts.append(run_figures(bearing, one.advice.first_end))
    return ", ".join(parts)


def _next_best(found: HangAnswer) -> list[str]:
    """Say what the next ones give up for being hung instead."""
    best = found.found[0]
    told = [
        f"{hung_words(one)}: {'; '.join(gives_up(best, one))}"
        for one in found.found[1 : 1 + _RUNNERS_UP]
    ]
    return [
        paragraph(f"Or a{'n' if each[0] in 'aeiou' else ''} {each}.", "  ")
        for each in told
    ]


def _ranking(found: HangAnswer, most: int | None) -> str:
    """One line a shape: the best and its equals, then the rest."""
    return text_table(shape_columns(), found.ranking[:most], keys=2)


def shape_columns() -> Iterator[Column[Ranked]]:
    """
    Say what is shown of a shape that fits.

    Yields
    ------
    column : Column
        Of a shape behind its place in the ranking, from 1; equals share theirs.
    """

    def runs(row: Ranked) -> str:
        advice = row[1].advice
        bearing = advice.bearing.wire_deg
        return "any" if bearing is None else run_figures(bearing, advice.first_end)

    def hung_as(row: Ranked) -> Cell:
        words = sizes_words(row[1].setup)
        return Cell(words, look="words", short=re.sub(r"(?<=\d) m\b", "", words))

    yield Column(" ", lambda row: str(row[0]), "place")
    yield Column(
        "shape", lambda row: Cell(row[1].setup.shape, look="words"), is_words=True
    )
    yield Column("hung as, metres", hung_as, None, is_words=True)
    yield Column("bands", lambda row: band_range(row[1].setup.bands), is_words=True)
    yield Column("runs", runs)
    yield Column("in ten", lambda row: mean_chance(row[1].advice.score), "days in ten")
    yield Column("range", lambda row: f"{in_ten(row[1].low)}-{in_ten(row[1].high)}")
    yield Column("", lambda row: number(row[1].wire_m, 2, "m"), "wire")
    yield Column("", hung_as, "dimensions")
    yield Column(" ", lambda row: "equal" if row[1].is_equal else "", None, True)


def band_range(bands: tuple[str, ...]) -> str:
    """
    Write a list of bands shortly.

    Parameters
    ----------
    bands : tuple of str
        Names, lowest first.

    Returns
    -------
    words : str
        First and last, and how many they are.

    Examples
    --------
    >>> band_range(("40 m", "30 m", "20 m")), band_range(("20 m",))
    ('40-20 m (3)', '20 m')
    """
    if len(bands) == 1:
        return bands[0]
    return f"{bands[0].removesuffix(' m')}-{bands[-1]} ({len(bands)})"


def _how(best: Hung, declination_deg: float) -> list[str]:
    """Say how the best is hung: bearing, supports, cords, lengths."""
    lines = []
    turn = best.advice.bearing
    if turn.wire_deg is None:
        lines.append("It radiates alike all round: run it as you like.")
    else:
        end = best.advice.first_end
        words = f"Run it {run_words(turn.wire_deg, declination_deg, end)}"
        if turn.good_from_deg is None or turn.good_to_deg is None:
            words += "; any other bearing costs under 1 dB"
        elif turn.best_deg is not None and turn.loss_db < 0.05:
            words += (
                f"; {turn.good_from_deg:03.0f} to {turn.good_to_deg:03.0f} costs under "
                "1 dB"
            )
        elif turn.best_deg is not None:
            words += (
                f"; with room for {run_figures(turn.best_deg, end)} true it would give "
                f"{turn.loss_db:.1f} dB more"
            )
        lines.append(paragraph(f"{words}."))
    if best.wires:
        lines.append(paragraph(held_words(best)))
        lines.append(paragraph(_lengths_words(best)))
    return lines


def held_words(best: Hung) -> str:
    """
    Say which supports and cords a wire needs.

    Parameters
    ----------
    best : Hung
        The wire.

    Returns
    -------
    words : str
        One to four sentences.
    """
    hung = longest(best.wires)
    on = best.rigging
    needed = ", ".join(
        f"{s.name} {s.height_m:.1f} m"
        if on is None
        else f"{s.name} {on.up_m[k]:.1f} m up {on.posts[k].name} "
        f"({on.cords_m[k]:.1f} m of cord)"
        for k, s in enumerate(poles_needed(hung))
    )
    words = f"Supports: {needed}."
    if on is not None and any(post.ground_m for post in on.posts):
        words += " All other heights are over the mean ground of these."
    cords = tied_off(hung)
    if cords:
        ends = ", ".join(f"{cord:.1f} m ({name})" for name, cord in cords.items())
        words += f" Cord from a sloping end on down to a stake: {ends}"
        linked = any(each.on_rest for each in best.wires.values())
        words += ", with what is not linked in between." if linked else "."
    staked = ", ".join(f"{s.name} {s.height_m:.1f} m" for s in stakes(hung))
    if staked:
        words += f" On a stake: {staked}."
    return words


def _lengths_words(best: Hung) -> str:
    """Say what wire is cut to what length."""
    if best.setup.cut != EACH_BAND:
        hung = next(iter(best.wires.values()))
        more = wire_used_m(hung) - hung.length_m
        against = f", and {more:.2f} m to feed it against" if more > 0.005 else ""
        return f"Wire: {hung.length_m:.2f} m for all its bands{against}."
    cuts = ", ".join(
        f"{band} {hung.length_m:.2f} m" for band, hung in best.wires.items()
    )
    return f"Wire, cut or linked for each band: {cuts}."


def _remedies(found: HangAnswer) -> list[str]:
    """Say what holds the best back and what would help."""
    name, cost = found.advice.setups[0].held_back_by()
    held = f"What holds it back most: {name}"
    held += f" ({in_ten(cost)} in ten lost to it)." if cost > 0.0 else "."
    return [paragraph(f"{held} {remedy_words(found.remedies)}")]


def remedy_words(remedies: tuple[Change, ...]) -> str:
    """
    Say which remedy is the cheapest, and what the others bring.

    Parameters
    ----------
    remedies : tuple of Change
        Cheapest first.

    Returns
    -------
    words : str
        One or two sentences.

    Examples
    --------
    >>> turn = Change("bearing", "turn it", 0.4, 0.0)
    >>> remedy_words((turn, Change("power", "twice the power", 0.461, 0.061)))
    'Cheapest fix: twice the power, +0.6 in ten. No help: turn it.'
    """
    pick = cheapest(remedies)
    if pick is None:
        tried = ", ".join(one.what for one in remedies)
        return f"No cheap fix: none of these brings 0.1 in ten ({tried})."
    words = f"Cheapest fix: {pick.what}, +{in_ten(pick.gain)} in ten."
    others = [one for one in remedies if one is not pick and one.gain >= WORTH_IT]
    if others:
        more = ", ".join(f"{one.what} +{in_ten(one.gain)}" for one in others)
        words += f" Else: {more}."
    idle = [one.what for one in remedies if one.gain < WORTH_IT]
    why = ""
    if any(one.kind == "noise" and one.gain < WORTH_IT for one in remedies):
        why = " (what limits is the noise at the far end, or is not man-made)"
    return words + (f" No help: {', '.join(idle)}{why}." if idle else "")


def _reasons(found: HangAnswer) -> list[str]:
    """Why bands are left out and shapes do not fit, one line each."""
    lines = []
    for one in found.found:
        if one.left_out:
            bands = tuple(one.left_out)
            lines.append(
                f"{one.setup.shape}, not on {', '.join(bands)}: on {bands[-1]}, "
                f"{one.left_out[bands[-1]]}"
            )
    lines += [f"{name}, not at all: {text}" for name, text in found.refused.items()]
    lines += [f"{name}, not tried: {text}" for name, text in not_tried().items()]
    return [paragraph(f"  {line}.", "    ") for line in lines]


def _notes(found: HangAnswer) -> str:
    """Explain the figures once."""
    tried = sum(one.tried for one in found.found)
    words = (
        f"{what_a_chance_is(found.advice.question)} "
        f"'in ten' is that of the best band, as a mean over the "
        "hours"
        + (
            " and over the targets, which count alike"
            if len(found.advice.targets) > 1
            else ""
        )
        + f". {counted(tried, 'way')} to hang {counted(len(found.found), 'shape')} "
        f"{'was' if tried == 1 else 'were'} worked out"
    )
    if found.varied:
        words += (
            f"; the range is over {found.varied}, and 'equal' means less apart than "
            "the method can tell, or turned round by one of those"
        )
    return words + "."


def station_block(one: Hung) -> str:
    """
    Write a shape found as a block of a station file.

    Parameters
    ----------
    one : Hung
        The shape.

    Returns
    -------
    text : str
        TOML.
    """
    values = {key: _short(each) for key, each in one.setup.as_mapping().items()}
    return station_toml({"setups": [values]}).strip()


def _short(value: Any) -> Any:
    """Round a figure, or those of a list, as it is shown."""
    if isinstance(value, list):
        return [_short(each) for each in value]
    shown = float(f"{value:g}") if isinstance(value, float) else value
    return int(shown) if isinstance(shown, float) and shown.is_integer() else shown
