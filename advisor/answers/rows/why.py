"""The rows of one figure laid open: every number with its source."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field, fields
from typing import Any

from advisor.answers.rows.inputs import (
    ConditionsInputs,
    Form,
    LearnedInputs,
    conditions_inputs,
    learned_inputs,
)
from advisor.answers.why_facts import WAY_SOURCES, Budget, Why, source_of
from advisor.engine.question import Question
from advisor.station.emissions import Emission
from advisor.station.station import FarEnd
from geo.fields import LEFT_OUT, Utc, filled, record
from geo.places import Place


@record
class WhyRow:
    """
    One number.

    Attributes
    ----------
    section : str
        What part it belongs to.
    item : str
        What it is, its unit at the end of the name.
    value : float | int | str | bool or None
        The figure, or a text; None where it does not exist.
    source : str
        Where it comes from; empty for what was asked.
    """

    section: str
    item: str
    value: float | int | str | bool | None
    source: str


@record
class WhyDetails:
    """
    What stands beside the rows.

    Attributes
    ----------
    why : Why
        Every number nested.
    """

    why: Why


@record
class WhySolar:
    """
    Solar activity.

    Attributes
    ----------
    basis : str
        Where the solar activity comes from.
    r12 : float
        12-month smoothed sunspot number, old scale.
    ig12 : float
        12-month ionospheric index that goes with it, for which foF2 is read.
    """

    basis: str
    r12: float
    ig12: float


@record
class WhyInputs:
    """
    What was understood.

    Attributes
    ----------
    place : Place
        Where from.
    target : str
        Name of the target.
    utc : str
        The hour, UTC to the minute, such as 2026-12-05T14:00Z.
    band : str
        The band.
    setup : str
        Name of the set-up.
    emission : Emission
        What is sent and what it needs.
    power_w : float
        Power of the radio. [W]
    noise : str
        Noise here, by kind of place.
    noise_trim_db : float
        Added to that noise. [dB]
    ground : str
        Kind of ground.
    horizon_deg : float
        Elevation of the horizon, whose edge weakens flat rays. [deg]
    horizon : tuple of (float, float)
        Profile of the horizon, azimuth and elevation there; empty without one, then
        horizon_deg holds all round.
        [deg]
    far_end : FarEnd
        The station at the other end, an assumption.
    solar : WhySolar
        Solar activity.
    long_path : bool
        Whether the long way round is asked about.
    conditions : ConditionsInputs
        What is known of the sky besides the month.
    assumed : tuple of str
        What else is assumed of sky and station, in words.
    learned : LearnedInputs
        What a log taught of the station, if one did.
    """

    place: Place
    target: str
    utc: Utc
    band: str
    setup: str
    emission: Emission
    power_w: float
    noise: str
    noise_trim_db: float
    ground: str
    horizon_deg: float
    horizon: tuple[tuple[float, float], ...]
    far_end: FarEnd
    solar: WhySolar
    long_path: bool
    conditions: ConditionsInputs
    assumed: tuple[str, ...]
    learned: LearnedInputs = field(default=LEFT_OUT, kw_only=True)


FORM = Form("why", WhyInputs, WhyRow, WhyDetails)


def why_inputs(question: Question, found: Why) -> WhyInputs:
    """
    Write what was understood of the question.

    Parameters
    ----------
    question : Question
        One target, one hour and one band.
    found : Why
        What was found.

    Returns
    -------
    inputs : WhyInputs
        With the set-up shown.
    """
    solar, sky = question.solar, question.conditions
    return filled(
        WhyInputs,
        question,
        question.station,
        found,
        solar=WhySolar(solar.basis, float(solar.r12[0]), float(solar.ig12[0])),
        conditions=conditions_inputs(sky),
        assumed=question.assumed,
        learned=learned_inputs(question.station),
    )


def why_rows(why: Why) -> list[WhyRow]:
    """
    List every number of one figure with its source.

    Parameters
    ----------
    why : Why
        What `advisor.answers.why.explain_chance` found.

    Returns
    -------
    rows : list of WhyRow
        As they are shown.
    """
    return [line for line in _lines(why) if line.value is not LEFT_OUT]


def _lines(why: Why) -> Iterator[WhyRow]:
    """Every number: section, item, value, source."""
    nested = {"whole", "here", "control_points", "layers", "modes", "budgets"}
    nested |= {"noise", "changes", "first_end"}
    nested |= {"opens_utc"} if not why.opens_utc else set()
    for each in fields(why):
        if each.name not in nested:
            value = getattr(why, each.name)
            yield WhyRow("question", each.name, value, source_of(each.name))
    yield from _section("target", why.whole)
    yield from _section("point", why.here)
    for point in why.control_points:
        yield from _section(f"control point: {point.name}", point, "name")
    yield from _section("layers at the middle", why.layers)
    for mode in why.modes:
        yield from _section(f"mode: {mode.name}", mode, "name")
    for budget in why.budgets:
        yield from _sum(budget)
    for part in why.noise:
        for item in ("factor_db", "upper_db", "lower_db"):
            value = getattr(part, item)
            yield WhyRow(f"noise: {part.name}", item, value, source_of(part.name))
    for change in why.changes:
        section = f"change: {change.what}"
        yield WhyRow(section, "chance", change.chance, source_of("chance"))
        yield WhyRow(section, "gain", change.gain, "chance less the one asked about")


def _section(section: str, record: Any, *left_out: str) -> Iterator[WhyRow]:
    """Every field of one record."""
    for each in fields(record):
        if each.name not in left_out:
            value = getattr(record, each.name)
            yield WhyRow(section, each.name, value, source_of(each.name))


def _sum(budget: Budget) -> Iterator[WhyRow]:
    """Every line of one sum; the loss of a way without lines has its own source."""
    for item, value in budget.figures().items():
        own = WAY_SOURCES.get(budget.way) if item == "loss_db" else None
        yield WhyRow(f"sum: {budget.way}", item, value, own or source_of(item))
