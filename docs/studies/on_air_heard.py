"""
Does an hour's hearing tell of the next hours? Decodes in Georgia, as in on_air_spots.

Usage, from the root of the checkout, with the folder of the public records:
``python docs/studies/on_air_heard.py FOLDER``. On some days, every four hours, four
senders of each band that were heard or silent in that hour are told to the program; all
others of the band are asked about one and two hours later. Printed for each: how
many, the Brier score by the month and after what was heard. Some minutes.
"""

import sys
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import on_air_links as links
import on_air_spots as spots

from advisor.answers.verification.trials import day_cells, shown_shares
from advisor.engine import hearing
from advisor.engine.contact import contact_chance, routes_and_ends
from advisor.engine.heard import Heard, Reception, turned_at
from geo.locator import locator_to_latlon

CONSTANT_DB = 6.0
"""Of the receiver, as on_air_spots finds it."""

EVERY_DAYS, EVERY_HOURS, TOLD, LATER = 3, 4, 4, (1, 2)
CELL_AXES = {"hop_gain_db": -2, "ground_gain_db": -1}


def one_cell(routes, cell):
    """The routes of one cell."""
    return replace(
        routes,
        **{
            each.name: np.take(
                getattr(routes, each.name), [cell], CELL_AXES.get(each.name, 0)
            )
            for each in fields(routes)
            if each.name != "today"
        },
    )


def after(link, gains, times, told):
    """Chances (P, T) after what was told: path, hour and whether heard of each."""
    routes, ends = routes_and_ends(link, gains)
    receptions = tuple(Reception(None, None, times[t], was) for _, t, was in told)
    turned = [turned_at(link.paths, layer) for layer in range(3)]
    path = [p for p, *_ in told]
    lat, lon = (np.stack([each[k][path] for each in turned]) for k in (0, 1))
    days = hearing._of_the_month(receptions, lat, lon)
    weight = np.ones(days.shape[-1])
    for k, (p, t, was) in enumerate(told):
        cell = p * times.size + t
        each = hearing.heard_on(
            days[:, k],
            one_cell(routes, cell),
            ends.of(np.array([cell])),
            receptions[k],
            None,
        )
        weight *= (
            hearing.MISTAKEN + (1.0 - hearing.MISTAKEN) * each
            if was
            else 1.0 - hearing.ON_THE_AIR * each
        )
    kept = days[..., hearing._evenly(days, weight)]
    heard = Heard(receptions, np.ones(len(told)), lat, lon, kept)
    today = heard.over(link.paths, times, 1)
    return contact_chance(replace(link, today=today), gains).hear[0, ..., 0]


def rows_of(day, rows, shows, receiver, rng):
    """Hours later, said by the month and after, shown, came, of all that is asked."""
    cells = [cell for cell in day_cells(rows, shows) if cell.counts]
    times = links.hours_of(day) + np.timedelta64(1800, "s")
    for band in sorted({cell.channel for cell in cells}):
        mine = [cell for cell in cells if cell.channel == band]
        senders = sorted({cell.who for cell in mine})
        lat, lon = np.array([locator_to_latlon(where) for _, where in senders]).T
        link, gains = links.link_to(
            receiver,
            lat,
            lon,
            times,
            [spots.PLANNING_MHZ[band]],
            links.far_end("usual"),
        )
        power = np.array(
            [next(c.power_dbw for c in mine if c.who == who) for who in senders]
        )
        need = spots.LEAST_DB + CONSTANT_DB + links.PER_HZ_DB
        level = link.hear_db + power[:, None, None] - need
        link = replace(link, hear_db=level, heard_db=level)
        month = contact_chance(link, gains).hear[0, ..., 0]
        at = [(senders.index(c.who), c.hour, np.isfinite(c.ratio_db)) for c in mine]
        for hour in range(0, 24 - max(LATER), EVERY_HOURS):
            here = [each for each in at if each[1] == hour]
            if len(here) < TOLD:
                continue
            told = [here[n] for n in rng.choice(len(here), TOLD, replace=False)]
            names = {path for path, *_ in told}
            given = after(link, gains, times, told)
            for (path, when, came), cell in zip(at, mine, strict=True):
                if when - hour in LATER and path not in names:
                    yield (
                        when - hour,
                        month[path, when],
                        given[path, when],
                        cell.shown,
                        came,
                    )


def main(folder):
    """Print the scores."""
    by_day = spots.decodes(folder / spots.DECODES)
    shows = shown_shares(by_day.values())
    receiver = links.Receiver(*locator_to_latlon("EM73vu"), links.far_end("dipole"))
    rng = np.random.default_rng(1)
    found = [
        row
        for day in sorted(by_day)[::EVERY_DAYS]
        for row in rows_of(day, by_day[day], shows, receiver, rng)
    ]
    later, month, given, shown, came = np.array(found, dtype=float).T
    for hours in (*LATER, 0):
        some = later == hours if hours else later > 0
        scores = [np.mean((each * shown - came)[some] ** 2) for each in (month, given)]
        print(
            f"{hours or 'all'} h later, {some.sum()} trials: Brier score by the month "
            f"{scores[0]:.4f}, after what was heard {scores[1]:.4f}"
        )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
