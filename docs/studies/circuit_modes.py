"""
The modes of a whole circuit and the days on which they exist (2026-11).

Used by ``circuits.py``; like ``circuit_steps.py`` it shares nothing with the program.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

from circuit_steps import (
    NOTHING_DB,
    RESIDUAL_DB,
    WINDOW_SLICES,
    absorption_index,
    auroral_db,
    es_loss,
    f1_muf,
    f2_muf,
    foes_above,
    foes_law,
    mirror_km,
    ray_km,
    secant,
    share_above,
    share_of_days,
    takeoff,
    touch_db,
    with_map_error,
)

HORIZON_DEG = 3.0

ES_CUTS = (0.01, 0.03, 0.1, 0.3, 0.6)
"""Where the days of sporadic E are cut, strongest first: the program's choice.
They are cut as well where the one and the two hops cease to return the band."""

ES_GONE_DB = 80.0
"""A reflection loss beyond this is no reflection: the program's choice."""


@dataclass
class Mode:
    """One hop mode on one band; losses in dB."""

    layer: str
    hops: int
    hop_km: float
    height: float
    muf: float
    returned: float
    screened: float = 0.0
    reflection: float = 0.0
    slices: tuple[float, ...] = ()
    widths: tuple[float, ...] = ()
    spreading: float = 0.0
    absorption: float = 0.0
    ground: float = 0.0
    auroral: float = 0.0
    gain_dbi: float = 0.0
    margin: float = -math.inf

    @property
    def name(self):
        return f"{self.hops}{self.layer}"

    @property
    def up(self):
        return takeoff(self.hop_km, self.height)

    @property
    def clear(self):
        return self.up >= HORIZON_DEG

    @property
    def support(self):
        return self.returned if self.clear else 0.0

    @property
    def often(self):
        """Share of days on which it reaches me and is not stopped short."""
        return self.support * (1.0 - self.screened)

    @property
    def residual(self):
        return 0.0 if self.layer == "Es" else RESIDUAL_DB

    @property
    def path_loss(self):
        """All losses but the reflection off sporadic E."""
        named = self.spreading + self.absorption + self.ground + self.auroral
        return named + self.residual


@dataclass
class Band:
    """One band of a circuit: modes, margins of the window, levels and chances."""

    frequency: float
    modes: list[Mode]
    noise_there: tuple[float, float, float]
    noise_here: tuple[float, float, float]
    window_gain_dbi: float
    level: float
    offset: float
    heard: float = 0.0
    hear: float = 0.0
    both: float = 0.0
    middle: tuple[float, float] = (math.nan, math.nan)


def layered_modes(distance, first, skies, f, r12):
    """Modes of the E, F1 and F2 layers and of sporadic E, still without losses."""
    two = [skies[n] for n in ("here+1000", "there-1000") if n in skies]
    two = two or [skies["mid"]]
    ends = [skies[n] for n in ("here+half", "there-half") if n in skies]
    heights, ends = [skies["mid"], *ends], ends or [skies["mid"]]
    foe_low, foe_high = min(s.foe for s in two), max(s.foe for s in two)
    found = []
    for hops in (1, 2, 3):
        hop = distance / hops
        usable = distance <= 4000.0 and hop <= 2000.0
        muf = foe_low * secant(takeoff(hop, 110.0), 110.0) if usable else math.nan
        days = share_of_days(f, muf, 0.95, 1.05)
        found.append(Mode("E", hops, hop, 110.0, muf, days))
    muf = f1_muf(distance, skies["mid"].fof1, r12)
    if not muf > f2_muf(distance, skies["mid"]):
        muf = math.nan
    days = share_of_days(f, muf, 0.95, 1.05)
    found.append(Mode("F1", 1, distance, 200.0, muf, days))
    for hops in range(first, first + 6):
        hop = distance / hops
        mufs = [(f2_muf(hop, s), s) for s in ends]
        muf, weaker = min(mufs, key=lambda pair: pair[0])
        if any(math.isnan(m) for m, _ in mufs):
            muf = math.nan
        height = sum(mirror_km(f, hop, s, r12) for s in heights) / len(heights)
        days = share_of_days(f, muf, *with_map_error(weaker.low, weaker.high))
        found.append(Mode("F2", hops, hop, height, muf, days))
    for m in found[3:]:
        barrier = 1.05 * foe_high * secant(m.up, 110.0)
        m.screened = share_of_days(f, barrier, 0.95, 1.05)
    shares = [es_days(distance, skies, f, hops) for hops in (1, 2)]
    inside = [share for share in shares if 1e-9 < share < 1.0 - 1e-9]
    cuts = sorted({0.0, 1.0, *ES_CUTS, *inside})
    found += [
        sporadic_mode(distance, skies, f, found[n], shares[n], cuts) for n in (0, 1)
    ]
    return found


def es_law(skies, hops):
    """Law of foEs that holds for all hops, by its deciles."""
    names = ["mid"] if hops == 1 else ["quarter", "three quarters"]
    return foes_law([skies[n] for n in names])


def es_days(distance, skies, f, hops):
    """Share of days on which sporadic E returns the band over so many hops."""
    hop = distance / hops
    if hop > 2200.0:
        return 0.0
    slant = secant(takeoff(hop, 105.0), 105.0)
    return share_above(f / slant, es_law(skies, hops)) ** hops


def sporadic_mode(distance, skies, f, e_mode, share, cuts):
    """
    Sporadic E of as many hops as a mode of the regular E layer.

    Returned on ``share`` of days; ``cuts`` cut the days of sporadic E into slices.
    """
    hops = e_mode.hops
    hop, law = distance / hops, es_law(skies, hops)
    widths = tuple(b - a for a, b in pairwise(cuts))
    if hop > 2200.0:
        none = (math.inf,) * len(widths)
        return Mode(
            "Es", hops, hop, 105.0, math.nan, 0.0, 0.0, NOTHING_DB, none, widths
        )
    slant = secant(takeoff(hop, 105.0), 105.0)
    # Counted on days when the regular E layer does not return the band.
    rest = 1.0 - e_mode.returned
    seldom = -10.0 * math.log10(rest) if rest > 0.0 else math.inf
    slices = []
    for above, below in pairwise(cuts):
        # Two patches are each as good as this on the square root of the share.
        lost = es_loss(
            hop, f, foes_above((0.5 * (above + below)) ** (1.0 / hops), law), hops
        )
        slices.append((lost if lost <= ES_GONE_DB else NOTHING_DB) + seldom)
    days = share * rest
    middle = foes_above(max(0.5 * days, 1e-12) ** (1.0 / hops), law)
    typical = es_loss(hop, f, middle, hops)
    muf = law[0] * slant
    return Mode("Es", hops, hop, 105.0, muf, days, 0.0, typical, tuple(slices), widths)


def add_losses(modes, distance, skies, f, r12, month, table, on_land):
    """
    Fill in what each mode loses.

    ``table`` holds the auroral losses; ``on_land`` tells of a distance along the path
    whether it is land there.
    """
    names = ("mid", "here+1000", "there-1000", "here+half", "there-half")
    crossing = [skies[n] for n in names if n in skies]
    index = sum(absorption_index(s.zenith, r12) for s in crossing) / len(crossing)
    gyro = sum(s.gyro100 for s in crossing) / len(crossing)
    aurora = sum(auroral_db(table, distance, s, month) for s in crossing)
    for m in modes:
        path = ray_km(m.hop_km, m.height, m.hops)
        m.spreading = 32.45 + 20.0 * math.log10(f) + 20.0 * math.log10(path)
        slant = secant(max(m.up, 0.0), 100.0)
        m.absorption = 677.2 * m.hops * index * slant / ((f + gyro) ** 1.98 + 10.2)
        m.auroral = aurora / len(crossing)
        soils = ["land" if on_land(n * m.hop_km) else "sea" for n in range(1, m.hops)]
        m.ground = sum(touch_db(m.up, soil, f) for soil in soils)


# --- days ---------------------------------------------------------------------------


def copied(margin_db, up, down):
    """P.533 section 10.1: share of the time that a median margin is enough."""
    if margin_db >= 0.0:
        p = 1.3 - 0.8 / (1.0 + margin_db / down)
    else:
        p = 0.8 / (1.0 - margin_db / up) - 0.3
    return min(max(p, 0.0), 1.0)


def kinds_of_day(modes, window_db, weight):
    """
    Every kind of E day, F2 day and day of sporadic E.

    Gives pairs of share of days and margin at the far end.
    """
    e_cuts, f_cuts = {0.0, 1.0}, {0.0, 1.0}
    if weight > 0.0:
        f_cuts |= {i / WINDOW_SLICES for i in range(WINDOW_SLICES)}
    for m in modes:
        if m.layer == "E":
            e_cuts.add(1.0 - m.support)
        elif m.layer in ("F1", "F2"):
            f_cuts.add(1.0 - m.support)
            e_cuts.add(1.0 - m.screened)
    es_modes = [m for m in modes if m.layer == "Es" and m.clear]
    widths = next(m.widths for m in modes if m.layer == "Es")
    for i, es_share in enumerate(widths):
        es = sum(10.0 ** ((m.margin - m.slices[i]) / 10.0) for m in es_modes)
        for e0, e1 in pairwise(sorted(e_cuts)):
            e_rank = 0.5 * (e0 + e1)
            for f0, f1 in pairwise(sorted(f_cuts)):
                f_rank = 0.5 * (f0 + f1)
                power = 0.0
                for m in modes:
                    if m.layer in ("F1", "F2"):
                        there = f_rank > 1.0 - m.support and e_rank <= 1.0 - m.screened
                    else:
                        there = m.layer == "E" and e_rank > 1.0 - m.support
                    if there:
                        power += 10.0 ** (m.margin / 10.0)
                if weight > 0.0:
                    lone = window_db[int(f_rank * WINDOW_SLICES)]
                    # P.533 section 5.4: straight in distance in 10^(E/100).
                    short, long = power**0.1, 10.0 ** (lone / 100.0)
                    power = (short + weight * (long - short)) ** 10.0
                power += es
                margin = 10.0 * math.log10(power) if power > 0.0 else -math.inf
                yield es_share * (e1 - e0) * (f1 - f0), margin


def togetherness(signal, noise_far, noise_here):
    """Weight of full dependence of both directions (docs/method.md)."""
    s = signal * signal
    rho = s / math.sqrt((s + noise_far**2) * (s + noise_here**2))
    return 2.0 / math.pi * math.asin(rho)


def middle_margin(days, offset_db):
    """
    Margin in the worse direction on the middle one of the days with any way.

    Lowest and highest that it may be: they differ where the middle falls between two
    kinds of day.
    """
    found = sorted((m, share) for share, m in days if m > -150.0 and share > 0.0)
    total, passed, middle = sum(share for _, share in found), 0.0, []
    if total <= 1e-3:
        return math.nan, math.nan
    for margin, share in found:
        if passed <= 0.5 * total + 1e-9 and passed + share >= 0.5 * total - 1e-9:
            middle.append(margin + min(offset_db, 0.0))
        passed += share
    return middle[0], middle[-1]


def add_chances(band, window, weight, polar):
    """Go through the days of the month; ``polar`` is 1 at high latitudes."""
    signal = (math.hypot(6.0 + 3.0 * polar, 5.0), math.hypot(8.0 + 3.0 * polar, 8.0))
    noises = (band.noise_there, band.noise_here)
    # The ratio is good when the noise is low: the noise's other side counts.
    spreads = [(math.hypot(signal[0], down), math.hypot(signal[1], up))
               for _, up, down in noises]  # fmt: skip
    share = togetherness(0.5 * sum(signal), *(0.5 * (n[1] + n[2]) for n in noises))
    level, uppers = band.level + band.window_gain_dbi, window.uppers if window else []
    alone = [level - window.loss(band.frequency, upper) for upper in uppers]
    days = list(kinds_of_day(band.modes, alone, weight))
    for part, margin in days:
        if margin > -math.inf:
            heard = copied(margin, *spreads[0])
            hear = copied(margin + band.offset, *spreads[1])
            both = share * min(heard, hear) + (1.0 - share) * heard * hear
            band.heard += part * heard
            band.hear += part * hear
            band.both += part * both
    band.middle = middle_margin(days, band.offset)
