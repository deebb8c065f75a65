"""What other commands find besides chances, as sections of a sheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from advisor.answers.aim import Aim, SetUpAim
from advisor.answers.compare import Comparison, Lead
from advisor.answers.hanging.found import HangAnswer, Hung
from advisor.answers.hanging.ground_plan import Standing, ground_plan
from advisor.answers.rows.tonight import BeaconRow
from advisor.answers.runs import run_words
from advisor.answers.spots import SpotAdvice
from advisor.answers.words import in_ten
from advisor.show.charts import groundplan, ranked, rose
from advisor.show.page.sheet import Heading, Picture, Section, picture
from advisor.show.text.aim import SPOT_COLUMNS, bearing_columns, spots_words
from advisor.show.text.cells import Cell, Column, Table, number, page_table
from advisor.show.text.compare import ranking_columns
from advisor.show.text.hang import held_words, hung_words, shape_columns
from advisor.show.text.listen import BEACONS, NO_BEACON, by_target, how_to_read
from advisor.show.text.plan_words import target_letter

TIMETABLE = "timetable"
"""Key of the section that plans the hours."""

BEARINGS = "bearings"
"""Key of the section that says which way wires run."""

SHAPES = "shapes"
"""Key of the section that says what fits between the supports."""


def bearing_sections(
    aim: Aim, declination_deg: float, spots: Sequence[SpotAdvice] = ()
) -> tuple[Section, Section]:
    """
    Set out the best bearing of every set-up, then the rose of all bearings.

    Parameters
    ----------
    aim : Aim
        What `advisor.answers.aim.aim` found.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]
    spots : sequence of SpotAdvice, optional
        Where else to hang a wire, best first.

    Returns
    -------
    sections : tuple of Section
        The best of each, for the first printed pages; one rose a set-up that can be
        turned.
    """
    legend: tuple[tuple[str, str], ...] = ()
    if len(aim.targets) > 1:
        legend = tuple(
            (target_letter(k), target.name) for k, target in enumerate(aim.targets)
        )
    return (
        Section(
            BEARINGS,
            "The best bearings",
            items=tuple(
                (one.name, _best_words(one, declination_deg)) for one in aim.setups
            ),
            lines=(spots_words(aim, spots),) if spots else (),
            tables=(page_table("Spots on the plot", SPOT_COLUMNS, spots),)
            if spots
            else (),
            front=True,
            stays=True,
        ),
        Section(
            "every-bearing",
            "Every bearing",
            items=legend,
            pictures=tuple(
                picture(
                    f"{setup.name} on every bearing",
                    partial(rose.figure, aim, setup),
                    rose.alt_text(aim, setup),
                    f"rose-{place}",
                    _bearings(aim, setup, declination_deg),
                )
                for place, setup in enumerate(aim.setups)
                if setup.rows
            ),
        ),
    )


def _best_words(setup: SetUpAim, declination_deg: float) -> str:
    """Say the best bearing of one set-up and what it is worth."""
    best = setup.bearing.best_deg
    if not setup.is_open:
        return "opens nothing in these hours on any bearing."
    if best is None:
        return "turning it changes nothing."
    return (
        f"best {run_words(best, declination_deg, setup.first_end)}, "
        f"{10 * setup.chance:.1f} days in ten as a mean over the hours."
    )


def _bearings(aim: Aim, setup: SetUpAim, declination_deg: float) -> Table:
    """Chance and level by bearing, target by target."""
    return page_table(
        f"{setup.name} on every bearing",
        bearing_columns(aim, setup, declination_deg),
        setup.rows,
        note="A chance is that of the best band, as a mean over the hours; dB is the "
        "mean level against the target's own best bearing. '*' the best bearing, '=' "
        "as it hangs.",
    )


def ranking_section(comparison: Comparison) -> Section:
    """
    Set out the ranking of set-ups and what each is worth over two yardsticks.

    Parameters
    ----------
    comparison : Comparison
        What `advisor.answers.compare.compare` found.

    Returns
    -------
    section : Section
        The ranking, then what puts the first before the others.
    """
    return Section(
        "ranking",
        "Ranking",
        tables=(
            page_table(
                "Set-ups, best first: days in ten on the best band, mean of the hours",
                ranking_columns(comparison),
                list(enumerate(comparison.setups, start=1)),
                note="Above vertical and above dipole: gain at the angles the sky asks "
                "for over a quarter-wave vertical on the same ground and a half-wave "
                "dipole as high as the set-up's top.",
            ),
            *((_leads(comparison),) if comparison.leads else ()),
        ),
        heading=_ranking_heading(comparison),
        front=True,
        stays=True,
    )


def _ranking_heading(comparison: Comparison) -> Heading | None:
    """Say which set-up comes first, and how sure that is; nothing to say of one."""
    if not comparison.leads:
        return None
    first, lead = comparison.setups[0].advice, comparison.leads[0]
    if not lead.is_clear:
        return Heading(
            "Best of your set-ups",
            f"{first.name} or {lead.name}: too close to tell",
            f"{10 * lead.lead:.1f} days in ten apart as a mean of the hours, "
            f"{10 * lead.lead_low:.1f} to {10 * lead.lead_high:.1f} over what is not "
            "known.",
        )
    return Heading(
        "Best of your set-ups",
        f"{first.name}, before {lead.name}",
        f"{10 * first.score:.1f} days in ten as a mean of the hours, "
        f"{10 * lead.lead:.1f} more than {lead.name}.",
    )


def _leads(comparison: Comparison) -> Table:
    """Set out what puts the first set-up before each other."""

    def part(told: Callable[[Lead], float]) -> Callable[[Lead], Cell]:
        return lambda lead: number(10.0 * told(lead))

    columns: list[Column[Lead]] = [
        Column("against", lambda lead: lead.name),
        Column("lead", lambda lead: Cell(in_ten(lead.lead), repr(lead.lead))),
        Column(
            "range", lambda lead: f"{in_ten(lead.lead_low)} to {in_ten(lead.lead_high)}"
        ),
        Column("sure", lambda lead: "yes" if lead.is_clear else "too close to tell"),
        Column("bands", part(lambda lead: lead.bands)),
        Column("angles", part(lambda lead: lead.angle)),
        Column("efficiency", part(lambda lead: lead.efficiency)),
        Column("feed", part(lambda lead: lead.feed)),
    ]
    return page_table(
        f"{comparison.setups[0].advice.name} against the others, days in ten",
        columns,
        comparison.leads,
        note="The last four: what the other would gain if it were as good as the first "
        "in that one thing; such parts need not add up.",
    )


def beacons_section(rows: Sequence[BeaconRow]) -> Section:
    """
    Set out which beacons to listen for.

    Parameters
    ----------
    rows : sequence of BeaconRow
        Target by target, those that tell most first.

    Returns
    -------
    section : Section
        A table for each target, and how to read it.
    """
    return Section(
        "beacons",
        "Beacons to listen for",
        lines=(how_to_read(rows) if rows else NO_BEACON,),
        tables=tuple(
            page_table(words, BEACONS, those) for words, those in by_target(rows)
        ),
    )


def _fits(found: HangAnswer) -> Picture:
    """Draw every shape that fits, ranked."""
    columns: list[Column[Hung]] = [
        Column("shape", lambda one: one.setup.shape),
        Column("in ten", lambda one: in_ten(one.advice.score)),
        Column("low", lambda one: in_ten(one.low)),
        Column("high", lambda one: in_ten(one.high)),
    ]
    shapes = page_table("Shapes, best first: days in ten", columns, found.found)
    draw, finding = partial(ranked.figure, found), ranked.alt_text(found)
    return picture("What fits, ranked", draw, finding, "fits", shapes)


def shapes_sections(found: HangAnswer) -> tuple[Section, Section]:
    """
    Say what fits between the supports, and what does not; then draw both.

    Parameters
    ----------
    found : HangAnswer
        What the search found.

    Returns
    -------
    sections : tuple of Section
        For the first printed pages; the ranking and the ground as pictures.
    """
    best = found.found[0]
    told = Section(
        SHAPES,
        "What fits",
        tables=(
            page_table(
                "Shapes, best first: days in ten on the best band, mean of the hours",
                shape_columns(),
                found.ranking,
            ),
        ),
        lines=(held_words(best),) if best.wires else (),
        items=tuple(
            (f"{shape} does not fit", reason) for shape, reason in found.refused.items()
        ),
        heading=Heading(
            "What to hang",
            hung_words(best),
            f"{best.wire_m:.2f} m of wire; {10 * best.advice.score:.1f} days in "
            f"ten as a mean of the hours; best of {len(found.found)} that fit.",
        ),
        front=True,
        stays=True,
    )
    pictures = (*_plan(found), _fits(found))
    return told, Section("ground", "On the ground, and ranked", pictures=pictures)


def _plan(found: HangAnswer) -> tuple[Picture, ...]:
    """Draw the best on the ground, if it is a wire of ours."""
    best = found.found[0]
    plan = ground_plan(best, found.at_hand)
    if plan is None:
        return ()
    finding = groundplan.alt_text(best)
    supports = page_table("Supports", _support_columns(), plan.supports)
    draw = partial(groundplan.figure, plan, finding)
    return (picture("On the ground", draw, finding, "plan", supports),)


def _support_columns() -> list[Column[Standing]]:
    """Say where supports stand."""
    return [
        Column("support", lambda one: one.name),
        Column("east m", lambda one: number(one.east_m)),
        Column("north m", lambda one: number(one.north_m)),
        Column("height m", lambda one: number(one.height_m)),
        Column("used", lambda one: "yes" if one.is_used else "no"),
    ]
