"""
How wrong can a chance be? One assumption at a time, then all of them at random.

Usage, from the root of the checkout: ``python docs/studies/how_wrong.py`` prints two
tables; with ``--write`` they are put between two markers of docs/validation.md, and
what each draw came to into how_wrong.json, so that a test need not do all of them.

The demonstration is asked again with one thing different: the sun, the map of foF2, the
noise, the far end, the ground, the losses. The sizes of the differences are those that
method.md states, or else the project's guess; each is named in `ASSUMPTIONS`. Then all
are drawn together, ``DRAWS`` times from one seed, which says between which figures four
of five evenings would lie if the sizes are right. Deterministic.
"""

import json
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from unittest import mock

import numpy as np

from advisor.answers.ask import question_for
from advisor.answers.uncertainty import on_ground
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.targets import over_targets
from advisor.engine.wires import far_end_patterns, patterns_of
from advisor.propagation import noise_sources
from advisor.propagation.muf import MAP_RMS
from advisor.station.file import demo_station, resolve_station
from geo.ionosphere.conditions import Conditions

PAGE = Path(__file__).resolve().parents[1] / "validation.md"
BEGIN = "<!-- Made by docs/studies/how_wrong.py: do not edit. -->"
END = "<!-- End of what how_wrong.py makes. -->"

KEPT = Path(__file__).with_suffix(".json")

DRAWS, SEED = 100, 20261205
DECILE = 1.2816
QUANTILES = (0.1, 0.5, 0.9)
LIGHTNING_DB = 10.0
OWN_NOISE_DB = 6.8
LOSS_DB = 3.0
# Torres, Hernando and Tutor, IEEE Trans. Broadcasting 38, 167 (1992), abstract: medians
# of months against the parent of P.533, 10.1 dB rms, 7.7 after 2040 corrections fitted.
METHOD_DB = 8.0
ABSORPTION = 1.3
LOW_BANDS_MHZ, LOW_BANDS_DB = 4.0, 6.0


@dataclass(frozen=True)
class Sky(Conditions):
    """The medians with foF2 off by a factor, known or not."""

    factor: float = 1.0
    error_known: bool = False
    wider: float = 1.0

    def over(self, lat_deg, lon_deg, times, r12):
        """Move foF2 and its spread."""
        layers = super().over(lat_deg, lon_deg, times, r12)
        return replace(
            layers,
            fof2_mhz=layers.fof2_mhz * self.factor,
            fof2_lower_ratio=1.0 - self.wider * (1.0 - layers.fof2_lower_ratio),
            fof2_upper_ratio=1.0 + self.wider * (layers.fof2_upper_ratio - 1.0),
            unsounded=layers.unsounded * (0.0 if self.error_known else 1.0),
        )


@dataclass(frozen=True)
class Assumed:
    """What is different from the question as asked; as it stands, nothing."""

    sun: float = 0.0
    sky: Sky = Sky()
    lightning_db: float = 0.0
    signal_db: float = 0.0
    absorption: float = 1.0
    low_bands_db: float = 0.0
    own_noise_db: float = 0.0
    here: str | None = None
    far_noise: str | None = None
    far_antenna: str | None = None
    ground: str | None = None


@dataclass(frozen=True)
class Asked:
    """A question with its wire, its bearing and the patterns over each ground."""

    question: object
    bearing_deg: float
    patterns: dict

    def chance(self, assumed):
        """Chance of a contact over the target, (T, B)."""
        question = self.question
        station = question.station
        far = replace(
            station.far_end,
            noise=assumed.far_noise or station.far_end.noise,
            antenna=assumed.far_antenna or station.far_end.antenna,
        )
        station = replace(
            station,
            far_end=far,
            noise=assumed.here or station.noise,
            noise_trim_db=station.noise_trim_db + assumed.own_noise_db,
        )
        solar = question.solar
        # From the middle to either end of the range, one decile each way.
        step = np.where(assumed.sun < 0, solar.r12 - solar.low, solar.high - solar.r12)
        r12 = np.maximum(solar.r12 + assumed.sun * step, 0.0)
        moved = replace(question, station=station, conditions=assumed.sky)
        with mock.patch.object(noise_sources, "atmospheric_noise", louder(assumed)):
            link = link_for(moved, r12, far_end_patterns(far, question.bands))
        low = question.frequency_mhz < LOW_BANDS_MHZ
        losses = link.modes.losses_db
        taken = losses["absorption"] * assumed.absorption
        taken = taken + np.where(low, assumed.low_bands_db, 0.0)[:, None]
        link = replace(
            link,
            modes=replace(link.modes, losses_db={**losses, "absorption": taken}),
            heard_db=link.heard_db + assumed.signal_db,
            hear_db=link.hear_db + assumed.signal_db,
        )
        ground = assumed.ground or station.ground
        here = on_ground(moved, ground)
        gains = wire_gains(here, link, self.patterns[ground], [self.bearing_deg])
        return over_targets(here, contact_chance(link, gains).both, axis=1)[0, 0]


def louder(assumed):
    """The lightning noise with some decibels added."""
    usual = noise_sources.atmospheric_noise

    def noise(*args):
        found = usual(*args)
        return replace(found, factor_db=found.factor_db + assumed.lightning_db)

    return noise


def asked(target, setup, bearing_deg, bands):
    """The demonstration's station, one wire, 14 to 21 UTC on 5 December 2026."""
    station, _ = resolve_station(
        demo_station(), {"setups": [{"name": "wire", **setup}], "bands": bands}
    )
    start = np.datetime64("2026-12-05T14:00", "s")
    question = question_for(station, [target], start, 8)
    (wire,) = station.setups
    grounds = (station.ground, "poor", "rich")
    patterns = {g: patterns_of(wire, on_ground(question, g)) for g in grounds}
    return Asked(question, bearing_deg, patterns)


def questions():
    """
    The demonstration's question, and one for the low bands.

    Returns the columns of the tables: heading, what is asked, hour and band.
    """
    far = asked(
        "014", {"shape": "dipole", "height_m": 7.5}, 120.0, ["40 m", "20 m", "10 m"]
    )
    near = asked(
        "within 800 km", {"shape": "dipole", "height_m": 10.0}, 0.0, ["160 m", "80 m"]
    )
    return [
        ("20 m 17Z", far, 3, "20 m"),
        ("40 m 19Z", far, 5, "40 m"),
        ("10 m 15Z", far, 1, "10 m"),
        ("80 m 15Z near", near, 1, "80 m"),
        ("80 m 20Z near", near, 6, "80 m"),
        ("160 m 20Z near", near, 6, "160 m"),
    ]


ASSUMPTIONS = [
    ("R12 at the low, high end of its forecast (four in five inside)",
     Assumed(sun=-1.0), Assumed(sun=1.0)),
    ("foF2 of the map 14 % too high, too low this month (one rms of the maps)",
     Assumed(sky=Sky(factor=1.0 - MAP_RMS, error_known=True)),
     Assumed(sky=Sky(factor=1.0 + MAP_RMS, error_known=True))),
    ("days of the month spread half as far again, half as far",
     Assumed(sky=Sky(wider=1.5)), Assumed(sky=Sky(wider=0.5))),
    ("my noise a class up (rural)", Assumed(here="rural"), None),
    ("far noise a class up (city), down (rural)",
     Assumed(far_noise="city"), Assumed(far_noise="rural")),
    ("lightning 10 dB louder, quieter",
     Assumed(lightning_db=LIGHTNING_DB), Assumed(lightning_db=-LIGHTNING_DB)),
    ("antenna there that of a modest, a big station (for a usual one)",
     Assumed(far_antenna="modest"), Assumed(far_antenna="big")),
    ("poor, rich ground under the wire (for medium dry)",
     Assumed(ground="poor"), Assumed(ground="rich")),
    ("absorption 1.3 times, 1/1.3 times",
     Assumed(absorption=ABSORPTION), Assumed(absorption=1.0 / ABSORPTION)),
    ("absorption 6 dB more below 4 MHz", Assumed(low_bands_db=LOW_BANDS_DB), None),
    ("3 dB less, more signal (need, wire)",
     Assumed(signal_db=-LOSS_DB), Assumed(signal_db=LOSS_DB)),
    ("8 dB less, more signal (one rms of the method)",
     Assumed(signal_db=-METHOD_DB), Assumed(signal_db=METHOD_DB)),
]  # fmt: skip


def drawn(rng):
    """One evening with everything off at random."""
    normal = rng.standard_normal(6)
    return Assumed(
        sun=normal[0] / DECILE,
        sky=Sky(factor=float(np.exp(MAP_RMS * normal[1])), error_known=True),
        lightning_db=LIGHTNING_DB / DECILE * normal[2],
        own_noise_db=OWN_NOISE_DB * normal[3],
        signal_db=METHOD_DB * normal[4],
        absorption=float(ABSORPTION ** normal[5]),
        low_bands_db=float(rng.uniform(0.0, LOW_BANDS_DB)),
        ground=str(rng.choice(["medium dry", "poor", "rich"])),
    )


def asks_of(columns):
    """Return the questions of the columns, each once."""
    return list({id(ask): ask for _, ask, *_ in columns}.values())


def draws():
    """Return the evenings drawn, always the same."""
    rng = np.random.default_rng(SEED)
    return [drawn(rng) for _ in range(DRAWS)]


def every(asks, assumed):
    """Days in ten of each question under one assumption, as they are kept."""
    return [np.round(10.0 * ask.chance(assumed), 3) for ask in asks]


def table(many=None):
    """
    Return the part of the page between the markers, markers included.

    The draws are done unless what they came to is given.
    """
    columns = questions()
    asks = asks_of(columns)
    many = many or [every(asks, one) for one in draws()]

    def cells(chances):
        found = []
        for _, ask, hour, band in columns:
            names = [each.name for each in ask.question.bands]
            found.append(chances[asks.index(ask)][hour, names.index(band)])
        return np.array(found)

    head = " | ".join(name for name, *_ in columns)
    rule = "|---" * (1 + len(columns)) + "|"
    base = every(asks, Assumed())
    lines = [BEGIN, "", f"| days in ten | {head} |", rule]
    lines.append("| as asked | " + " | ".join(map(one, cells(base))) + " |")
    for name, *ways in ASSUMPTIONS:
        pairs = np.array([cells(every(asks, way)) for way in ways if way is not None]).T
        texts = (", ".join(f"{x:.1f}" for x in pair) for pair in pairs)
        lines.append(f"| {name} | " + " | ".join(texts) + " |")
    low, middle, high = np.quantile([cells(each) for each in many], QUANTILES, axis=0)
    lines.append("| all at random: middle | " + " | ".join(map(one, middle)) + " |")
    spans = (f"{a:.1f} to {b:.1f}" for a, b in zip(low, high, strict=True))
    lines.append("| all at random: four in five lie | " + " | ".join(spans) + " |")
    lines += ["", in_all(base, many)]
    return "\n".join([*lines, "", END])


def in_all(base, many):
    """Say what the draws do to every hour and band that is neither shut nor sure."""
    asked_for = np.concatenate([each.ravel() for each in base])
    found = np.array([np.concatenate([e.ravel() for e in draw]) for draw in many])
    low, middle, high = np.quantile(found, QUANTILES, axis=0)
    open_ = (asked_for > 2.0) & (asked_for < 8.0)
    under, over = (asked_for - low)[open_], (high - asked_for)[open_]
    shift = (middle - asked_for)[open_]
    return (
        f"Over all {open_.sum()} hours and bands of the two questions at 2 to 8 days "
        f"in ten, four of five draws lie from {under.mean():.1f} below to "
        f"{over.mean():.1f} above the answer on average, at worst {under.max():.1f} "
        f"below and {over.max():.1f} above; the middle of the draws is "
        f"{abs(shift.mean()):.1f} {'below' if shift.mean() < 0 else 'above'} it."
    )


def one(value):
    """One decimal."""
    return f"{value:.1f}"


def read():
    """Return what the draws came to when it was written last."""
    kept = json.loads(KEPT.read_text(encoding="utf-8"))
    return [[np.array(ask) for ask in draw] for draw in kept]


if __name__ == "__main__":
    if "--write" in sys.argv:
        asks = asks_of(questions())
        many = [every(asks, one) for one in draws()]
        made = table(many)
        text = PAGE.read_text(encoding="utf-8")
        before, begin, rest = text.partition(BEGIN)
        _, end, after = rest.partition(END)
        if not begin or not end:
            raise SystemExit(f"{PAGE.name} has not both markers")
        PAGE.write_text(before + made + after, encoding="utf-8")
        lines = (json.dumps([ask.tolist() for ask in draw]) for draw in many)
        KEPT.write_text("[\n" + ",\n".join(lines) + "\n]\n", encoding="utf-8")
    else:
        print(table())
