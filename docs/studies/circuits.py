"""
Whole circuits worked out a second time, one scalar step after the other (2026-11).

Usage: ``python docs/studies/circuits.py [--markdown]``

Every step from two places to a chance is written out again in ``circuit_steps.py`` and
``circuit_modes.py`` from the printed formulas, with the standard library alone: great
circle and control points by vectors, the sun by the low-precision formula of the
Astronomical Almanac, hop geometry by the triangle Earth centre, station, mirror point,
and the days of the month by going through every combination of what the E layer, the F2
layer and sporadic E can do. Read from the program are only the values of the layers
(foF2, M(3000)F2, foE, foF1, foEs, gyrofrequency, dip, geomagnetic latitude), the
lightning noise, the table of auroral losses and which touches of the ground are land.
My antenna is isotropic, so that wires stay out of it; the far end has an isotropic one
or a dipole. The ground wave is switched off.

Printed for each circuit: the strongest modes of one band, then the largest difference
from the program over all modes and bands. With ``--markdown`` the table of the
validation page.
"""

import math
import sys
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from circuit_modes import HORIZON_DEG, Band, add_chances, add_losses, layered_modes
from circuit_steps import (
    Sky,
    Window,
    bearing_off_east,
    crossings_km,
    dipole_over_ground,
    f2_spread,
    great_circle,
    hours_of,
    local_hour,
    lower_limit,
    month_at,
    noise_db,
    straight,
    sun_zenith,
    upper_limits,
)

from advisor.answers.ask import question_for
from advisor.engine.engine import Gains, contact_chance, contact_margin_db, link_for
from advisor.engine.wires import far_end_patterns
from advisor.propagation.lightning import atmospheric_noise
from advisor.station.file import resolve_station
from geo.ionosphere.layers import layers_at
from geo.land import is_land
from geo.places import Target
from geo.tables import read_table

BANDS = {
    "160 m": 1.84, "80 m": 3.6, "60 m": 5.358, "40 m": 7.1, "30 m": 10.12, "20 m": 14.1,
    "17 m": 18.1, "15 m": 21.1, "12 m": 24.93, "10 m": 28.3, "6 m": 50.2,
}  # fmt: skip
ISOTROPIC_HALF_DB = 10.0 * math.log10(0.5)
KT0_DBW = 10.0 * math.log10(1.380649e-23 * 290.0)


@dataclass(frozen=True)
class Circuit:
    """What is asked; ``needs_db`` is a signal-to-noise ratio in 1 Hz."""

    name: str
    here: tuple[float, float]
    there: tuple[float, float]
    utc: str
    r12: float
    band: str
    noise_here: str = "rural"
    noise_there: str = "rural"
    watts_here: float = 100.0
    watts_there: float = 100.0
    needs_db: float = 44.0
    far_antenna: str = "isotropic"
    long_path: bool = False


CIRCUITS = (
    Circuit("overhead, autumn noon", (51.0, 10.0), (51.0, 10.0), "2026-10-15T11:00",
            60.0, "80 m", "residential"),
    Circuit("250 km, summer noon", (51.0, 10.0), (50.0, 13.1), "2026-06-21T11:00",
            100.0, "40 m", "residential", far_antenna="dipole"),
    Circuit("600 km, winter night", (51.0, 10.0), (46.0, 13.0), "2026-12-21T22:00",
            10.0, "80 m", noise_there="residential"),
    Circuit("1200 km, summer, sporadic E", (48.0, 2.0), (54.0, 17.0),
            "2026-06-25T17:00", 40.0, "10 m", needs_db=26.0, far_antenna="dipole"),
    Circuit("1400 km, summer day", (51.0, 10.0), (41.0, 22.0), "2026-07-10T13:00",
            60.0, "20 m", watts_here=10.0, needs_db=26.0),
    Circuit("1700 km, winter night, aurora", (64.0, -22.0), (69.5, 19.0),
            "2026-12-21T04:00", 150.0, "40 m", noise_there="quiet rural",
            far_antenna="dipole"),
    Circuit("2500 km, summer noon, F1", (52.0, 5.0), (45.0, 38.0), "2026-06-21T10:00",
            5.0, "17 m", needs_db=26.0, far_antenna="dipole"),
    Circuit("2700 km, over the pole", (75.0, -20.0), (80.0, 130.0),
            "2026-06-10T12:00", 40.0, "30 m", "quiet rural", "quiet rural",
            needs_db=26.0),
    Circuit("2800 km, equinox day", (40.0, -100.0), (40.0, -67.0), "2026-03-21T18:00",
            130.0, "15 m", "residential", "quiet rural", far_antenna="dipole"),
    Circuit("3500 km, summer day, south", (-34.0, 151.0), (-32.0, 113.0),
            "2026-01-15T04:00", 20.0, "20 m"),
    Circuit("5700 km, winter dusk", (51.0, 0.0), (41.0, -76.0), "2026-12-05T20:00",
            58.0, "30 m", "residential", needs_db=26.0, far_antenna="dipole"),
    Circuit("7400 km, equinox night", (40.0, -4.0), (8.0, -70.0), "2026-03-21T01:00",
            30.0, "40 m", noise_there="residential", needs_db=26.0,
            far_antenna="dipole"),
    Circuit("8100 km, across 180 deg", (36.0, 140.0), (40.0, -122.0),
            "2026-04-10T02:00", 150.0, "15 m", "city", watts_there=400.0,
            needs_db=26.0),
    Circuit("12800 km, equinox", (-42.9, 147.3), (34.0, -118.0), "2026-09-20T05:00",
            90.0, "20 m", noise_there="residential", needs_db=26.0,
            far_antenna="dipole"),
    Circuit("near the antipode", (51.0, 0.0), (-50.5, 178.0), "2026-09-20T07:00",
            120.0, "15 m", watts_here=400.0, watts_there=400.0, needs_db=26.0),
    Circuit("23000 km, long path", (51.0, 0.0), (-34.0, 151.0), "2026-10-10T07:00",
            120.0, "20 m", watts_here=400.0, watts_there=400.0, needs_db=26.0,
            far_antenna="dipole", long_path=True),
)  # fmt: skip


# --- what is read from the program --------------------------------------------------


def read_sky(places, utc, r12):
    """Values of the layers at named places."""
    lats, lons = zip(*places.values(), strict=True)
    raw = layers_at(lats, lons, np.datetime64(utc, "s"), r12)
    skies = {}
    for i, (name, place) in enumerate(places.items()):
        low, high = f2_spread(float(raw.dip_deg[i]), place, utc)
        skies[name] = Sky(
            place=place,
            hour=local_hour(place, utc),
            zenith=sun_zenith(place, utc),
            fof2=float(raw.fof2_mhz[0, i]),
            m3000=float(raw.m3000f2[0, i]),
            foe=float(raw.foe_mhz[0, i]),
            fof1=float(raw.fof1_mhz[0, i]),
            foes=(
                float(raw.foes_lower_mhz[0, i]),
                float(raw.foes_mhz[0, i]),
                float(raw.foes_upper_mhz[0, i]),
            ),
            gyro300=float(raw.gyro_mhz[i]),
            gyro100=float(raw.gyro_100km_mhz[i]),
            geomagnetic=float(raw.geomagnetic_lat_deg[i]),
            low=low,
            high=high,
        )
    return skies


def read_lightning(f, sky, month):
    """Lightning noise and its deciles."""
    noise = atmospheric_noise(f, *sky.place, month, sky.hour, sky.zenith)
    return float(noise.factor_db), float(noise.upper_db), float(noise.lower_db)


def read_daily_mufs(place, utc, r12):
    """1.1 foF2 M(3000)F2 for each hour of a day."""
    raw = layers_at(*place, np.array(hours_of(utc), "M8[s]"), r12)
    both = zip(raw.fof2_mhz[:, 0], raw.m3000f2[:, 0], strict=True)
    return [1.1 * float(a) * float(b) for a, b in both]


def read_auroral_table():
    """Hours of the day by class of distance, season and latitude."""
    found = {}
    for row in read_table("auroral_loss").rows():
        key = (row["distance_class"], row["season"])
        hours = [float(value) for name, value in row.items() if name.startswith("lt_")]
        latitude = float(row["geomagnetic_lat_deg"])
        found.setdefault(key, {40.0: [0.0] * 8})[latitude] = hours
    return found


# --- the whole circuit --------------------------------------------------------------


def control_points(distance, along):
    """Fewest F2 hops, and the places where P.533 Table 1 wants the layers read."""
    hops = max(1, math.ceil(distance / 4000.0 - 1e-9))
    half = distance / hops / 2.0
    at = {"mid": 0.5 * distance, "here": 0.0, "there": distance,
          "quarter": 0.25 * distance, "three quarters": 0.75 * distance}  # fmt: skip
    if distance > 2000.0:
        at |= {"here+1000": 1000.0, "there-1000": distance - 1000.0}
    if hops > 1:
        at |= {"here+half": half, "there-half": distance - half}
    return hops, {name: along(km) for name, km in at.items()}


def window_of(distance, along, first, skies, circuit):
    """Window of the long-path method."""
    places = [along(km) for km in crossings_km(distance, first)]
    gyro = read_sky(dict(enumerate(places)), circuit.utc, circuit.r12).values()
    gyro = sum(sky.gyro100 for sky in gyro) / len(places)
    off_east = bearing_off_east(skies["mid"].place, skies["there-half"].place)
    ends = []
    for name in ("here+half", "there-half"):
        daily = read_daily_mufs(skies[name].place, circuit.utc, circuit.r12)
        ends.append(upper_limits(skies[name], daily, off_east, circuit.utc))
    return Window(
        lower=lower_limit(distance, first, along, gyro, circuit.r12, circuit.utc),
        uppers=[min(pair) for pair in zip(*ends, strict=True)],
        gyro=gyro,
        distance=distance,
        hops=first,
    )


def ends_of(circuit, skies, f):
    """Far antenna's gain and efficiency, noise at both ends."""
    gain, efficiency = (lambda _: 0.0), ISOTROPIC_HALF_DB
    if circuit.far_antenna == "dipole":
        gain, efficiency = dipole_over_ground(f)
    month = month_at(circuit.utc)
    there, here = (
        noise_db(kind, f, sky.fof2, read_lightning(f, sky, month), any_place)
        for kind, sky, any_place in (
            (circuit.noise_there, skies["there"], True),
            (circuit.noise_here, skies["here"], False),
        )
    )
    return gain, efficiency, there, here


@cache
def work_out(circuit):
    """One circuit on every band: distance, layers, window and bands."""
    distance, along = great_circle(circuit.here, circuit.there, circuit.long_path)
    first, places = control_points(distance, along)
    skies = read_sky(places, circuit.utc, circuit.r12)
    # P.842 steps at 60 degrees; the program blends over 5 degrees about it.
    polar = straight(abs(skies["mid"].geomagnetic), (57.5, 62.5), (0.0, 1.0))
    month, table = month_at(circuit.utc), read_auroral_table()
    weight = straight(distance, (7000.0, 9000.0), (0.0, 1.0))
    window = None
    if weight > 0.0:
        window = window_of(distance, along, first, skies, circuit)
    bands = []
    for f in BANDS.values():
        gain, efficiency, there, here = ends_of(circuit, skies, f)
        # Power over noise and need; a lossy receiving antenna loses both alike.
        heard, hear = (
            10.0 * math.log10(watts) - (KT0_DBW + noise[0] + lost) - circuit.needs_db
            for watts, noise, lost in (
                (circuit.watts_here, there, efficiency),
                (circuit.watts_there, here, ISOTROPIC_HALF_DB),
            )
        )
        modes = layered_modes(distance, first, skies, f, circuit.r12)
        add_losses(modes, distance, skies, f, circuit.r12, month, table,
                   lambda km: bool(is_land(*along(km))))  # fmt: skip
        for m in modes:
            m.gain_dbi = gain(max(m.up, 0.0))
            m.margin = heard + m.gain_dbi - m.path_loss
        low = max(gain(float(angle)) for angle in range(9))
        bands.append(Band(f, modes, there, here, low, heard, hear - heard))
        add_chances(bands[-1], window, weight, polar)
    return distance, skies, window, bands


# --- the program's answer and the comparison ----------------------------------------


@cache
def program(circuit):
    """The same circuit by the program: link, chances, margin of the middle day."""
    asked = {
        "place": "{},{}".format(*circuit.here),
        "power_w": circuit.watts_here,
        "emission": {"bandwidth_hz": 1.0, "snr_db": circuit.needs_db},
        "noise": circuit.noise_here,
        "horizon_deg": HORIZON_DEG,
        "bands": list(BANDS),
        "far_end": {
            "antenna": circuit.far_antenna,
            "noise": circuit.noise_there,
            "power_w": circuit.watts_there,
        },
        "setups": [{"shape": "dipole", "height_m": 10.0}],
    }
    station = resolve_station(None, asked)[0]
    # Any place will do to ask for; the engine takes straight up, the door does not.
    question = question_for(
        station,
        ["90,0"],
        np.datetime64(circuit.utc, "s"),
        1,
        r12=circuit.r12,
        long_path=circuit.long_path,
    )
    (lat, lon), one = circuit.there, np.ones(1)
    target = Target("there", "point", lat * one, lon * one, one, "one point")
    question = replace(
        question, targets=(target,), times=np.array([circuit.utc], "M8[s]")
    )
    patterns = far_end_patterns(station.far_end, question.bands)
    link = link_for(question, circuit.r12, patterns)
    each = (1, 1, len(BANDS))
    isotropic = Gains(
        hop_db=np.zeros((1, *link.modes.support.shape)),
        window_db=np.zeros(each),
        ground_db=np.full(each, -1000.0),
        efficiency_db=np.full(len(BANDS), ISOTROPIC_HALF_DB),
    )
    return link, contact_chance(link, isotropic), contact_margin_db(link, isotropic)


TOLERANCES = {
    "distance [km]": 0.01,
    "height [km]": 0.01,
    "angle [deg]": 0.001,
    "MUF [MHz]": 0.001,
    "support": 0.001,
    "screened": 0.001,
    "spreading [dB]": 0.01,
    "absorption [dB]": 0.1,
    "ground [dB]": 0.02,
    "auroral [dB]": 0.02,
    "loss [dB]": 0.1,
    "sporadic E [dB]": 0.01,
    "S/N [dB]": 0.1,
    "window [dB]": 0.1,
    "chance": 0.002,
    "middle margin [dB]": 0.1,
}
"""
How far both may be apart.

The formulas are the same, so what is left is rounding, but for three things: the sun's
place (0.01 deg apart, which moves absorption near sunrise and sunset), the grid of
angles on which the program tabulates ground reflection, and the whole degrees between
which it draws the far end's pattern straight. A chance moves by 0.05 per dB where it is
steepest, so 0.002 stands for 0.04 dB in what counts most.
"""


def pairs_of(circuit):
    """
    Every quantity of a circuit, worked out here and by the program.

    Yields its name, both values and where it is.
    """
    distance, _, window, bands = work_out(circuit)
    link, contact, middle = program(circuit)
    theirs = link.modes
    yield "distance [km]", distance, link.paths.distance_km[0], "path"
    for i, (name, band) in enumerate(zip(BANDS, bands, strict=True)):
        for n, m in enumerate(band.modes):
            at, where = (0, 0, i, n), f"{m.name} on {name}"
            yield "hops", m.hops, theirs.hops[0, n], where
            yield "MUF [MHz]", m.muf, theirs.muf_mhz[at], where
            yield "support", m.support, theirs.support[at], where
            if math.isnan(m.muf) or not m.clear:
                continue  # no such mode: the rest means nothing
            yield "screened", m.screened, theirs.screened[at], where
            yield "height [km]", m.height, theirs.height_km[at], where
            yield "angle [deg]", m.up, theirs.takeoff_deg[at], where
            yield "spreading [dB]", m.spreading, theirs.spreading_db[at], where
            yield "absorption [dB]", m.absorption, theirs.absorption_db[at], where
            yield "ground [dB]", m.ground, theirs.ground_db[at], where
            yield "auroral [dB]", m.auroral, theirs.auroral_db[at], where
            yield "loss [dB]", m.path_loss, theirs.path_loss_db[at], where
            yield "S/N [dB]", m.margin, their_margin(link, at), where
            # A cut that falls on another leaves an empty slice in the program.
            filled = theirs.es_share[0, 0, i] > 1e-9
            for k, value in enumerate(m.slices):
                got = theirs.es_reflection_db[0, 0, i, m.hops - 1, filled][k]
                if min(value, got) < 300.0:
                    yield "sporadic E [dB]", value, got, f"{where}, slice {k}"
        if window:
            got = link.window.loss_db(np.array([band.frequency]))[0, 0, 0]
            for k, upper in enumerate(window.uppers):
                mine = window.loss(band.frequency, upper)
                yield "window [dB]", mine, got[k], f"{name}, slice {k}"
        yield "chance", band.heard, contact.heard[0, 0, 0, i], f"heard on {name}"
        yield "chance", band.hear, contact.hear[0, 0, 0, i], f"hear on {name}"
        yield "chance", band.both, contact.both[0, 0, 0, i], f"both on {name}"
        got = float(middle[0, 0, i])
        lowest, highest = band.middle
        # The nearest of what it may be; comparisons with NaN are false.
        nearest = got if lowest <= got <= highest else lowest
        nearest = highest if got > highest else nearest
        yield "middle margin [dB]", nearest, got, name


def their_margin(link, at):
    """Power over noise and need at the far end by one mode, by the program."""
    level = link.heard_db[at[:3]] - link.far.efficiency_db[at[2]]
    return level + link.far.hop_db[at] - link.modes.path_loss_db[at]


def compare(circuit):
    """Count and largest difference of every quantity, and where it is."""
    found = {}
    for what, mine, theirs, where in pairs_of(circuit):
        apart = abs(float(mine) - float(theirs))
        if math.isnan(apart):
            if math.isnan(mine) and math.isnan(theirs):
                continue
            apart = math.inf
        count, most, place = found.get(what, (0, -1.0, ""))
        place = where if apart > most else place
        found[what] = (count + 1, max(apart, most), place)
    return found


# --- printing -------------------------------------------------------------------------


def strongest(band):
    """Place of the strongest mode of every other day, or else of the most frequent."""
    usual = [m for m in band.modes if m.often >= 0.5]
    if not usual:
        usual = [max(band.modes, key=lambda m: m.often)]
    return band.modes.index(max(usual, key=lambda m: m.margin - m.reflection))


def both_rows(circuit):
    """The strongest mode of the circuit's band: name, then values of either side."""
    i = list(BANDS).index(circuit.band)
    band = work_out(circuit)[3][i]
    link, contact, _ = program(circuit)
    n = strongest(band)
    m, t, at = band.modes[n], link.modes, (0, 0, i, n)
    mine = (m.up, m.height, m.muf, m.often, m.spreading, m.absorption, m.ground,
            m.auroral, m.residual + m.reflection, m.path_loss + m.reflection,
            m.margin - m.reflection + circuit.needs_db,
            band.heard, band.hear, band.both)  # fmt: skip
    theirs = (t.takeoff_deg[at], t.height_km[at], t.muf_mhz[at], t.often[at],
              t.spreading_db[at], t.absorption_db[at], t.ground_db[at],
              t.auroral_db[at], t.residual_db[n] + t.reflection_db[at], t.loss_db[at],
              their_margin(link, at) - t.reflection_db[at] + circuit.needs_db,
              contact.heard[0, 0, 0, i], contact.hear[0, 0, 0, i],
              contact.both[0, 0, 0, i])  # fmt: skip
    return m.name, mine, theirs


DIGITS = (2, 1, 2, 3, 2, 2, 2, 2, 2, 2, 2, 3, 3, 3)


def as_texts(values, digits):
    """Numbers with so many digits each."""
    return [f"{v:.{d}f}" for v, d in zip(values, digits, strict=True)]


def print_table(header, rows):
    """Print a Markdown table from a header with bars between its columns."""
    print(f"\n| {header} |\n" + "|---" * (header.count("|") + 1) + "|")
    for row in rows:
        print(f"| {' | '.join(row)} |")


def asked_rows():
    """What is asked, circuit by circuit."""
    for number, c in enumerate(CIRCUITS, 1):
        places = ["{:g}, {:g}".format(*place) for place in (c.here, c.there)]
        yield [str(number), c.name, *places, c.utc.replace("T", " "), f"{c.r12:g}",
               c.band, f"{c.noise_here}, {c.noise_there}",
               f"{c.watts_here:g}, {c.watts_there:g}", f"{c.needs_db:g}",
               c.far_antenna]  # fmt: skip


def mode_rows():
    """The strongest modes, worked out here and by the program."""
    for number, circuit in enumerate(CIRCUITS, 1):
        name, mine, theirs = both_rows(circuit)
        yield [str(number), name, *as_texts(mine, DIGITS)]
        yield ["", "ours", *as_texts(theirs, DIGITS)]


def window_rows():
    """The window of long paths, in the slice of days just above the middle."""
    digits = (1, 2, 2, 2)
    for number, circuit in enumerate(CIRCUITS, 1):
        distance, _, window, _ = work_out(circuit)
        if window:
            f, k = BANDS[circuit.band], len(window.uppers) // 2
            upper = window.uppers[k]
            mine = (distance, window.lower, upper, window.loss(f, upper))
            got = program(circuit)[0].window
            theirs = (got.distance_km[0], got.lower_mhz[0, 0], got.upper_mhz[0, 0, k],
                      got.loss_db(np.array([f]))[0, 0, 0, k])  # fmt: skip
            yield [str(number), *as_texts(mine, digits)]
            yield ["ours", *as_texts(theirs, digits)]


def difference_rows():
    """Largest difference of every quantity over all circuits, modes and bands."""
    each = [compare(circuit) for circuit in CIRCUITS]
    for what, tolerance in TOLERANCES.items():
        found = [one[what] for one in each if what in one]
        count, most = sum(f[0] for f in found), max(f[1] for f in found)
        yield [what, str(count), f"{most:.4f}", f"{tolerance:g}"]


def print_markdown():
    """Print the tables of the validation page."""
    print_table("| circuit | from | to | UTC | R12 | band | noise here, there | "
                "watts here, there | needs | far end", asked_rows())  # fmt: skip
    print_table("| mode | angle | height | MUF | days | spreading | absorption | "
                "ground | auroral | rest | loss | S/N | heard | hear | both",
                mode_rows())  # fmt: skip
    print_table("| km | lower [MHz] | upper [MHz] | loss [dB]", window_rows())
    print_table("quantity | compared | largest difference | tolerance",
                difference_rows())  # fmt: skip


def print_steps():
    """Print every circuit's modes on its band and the largest differences."""
    for c in CIRCUITS:
        distance, skies, window, bands = work_out(c)
        band = bands[list(BANDS).index(c.band)]
        print(f"\n{c.name}: {c.here} to {c.there}, {c.utc}Z, R12 {c.r12:g}")
        for where, s in skies.items():
            print(f"  {where:14s} {s.place[0]:6.2f} {s.place[1]:7.2f}  "
                  f"foF2 {s.fof2:5.2f}  M {s.m3000:4.2f}  foE {s.foe:4.2f}  "
                  f"fH {s.gyro300:4.2f} {s.gyro100:4.2f}  sun {s.zenith:6.2f}  "
                  f"days {s.low:4.2f} {s.high:4.2f}")  # fmt: skip
        for where, noise in (("there", band.noise_there), ("here", band.noise_here)):
            print("  noise {}: {:.2f} dB, +{:.2f} -{:.2f}".format(where, *noise))
        print(f"  {distance:.1f} km on {c.band}: {band.level:.2f} dB over noise and "
              f"need there before losses, {band.offset:+.2f} here")  # fmt: skip
        if window:
            print(f"  window from {window.lower:.2f} to",
                  *(f"{upper:.1f}" for upper in window.uppers), "MHz")  # fmt: skip
        print("  mode  angle  height    MUF  support screened  spread absorb ground "
              "aurora  gain    loss  margin")  # fmt: skip
        for m in band.modes:
            if m.support > 0.0:
                print(
                    f"  {m.name:5s} {m.up:5.2f} {m.height:7.2f} {m.muf:6.2f} "
                    f"{m.support:8.3f} {m.screened:8.3f} {m.spreading:7.2f} "
                    f"{m.absorption:6.2f} {m.ground:6.2f} {m.auroral:6.2f} "
                    f"{m.gain_dbi:5.2f} {m.path_loss:7.2f} {m.margin:7.2f}"
                )
        print(f"  heard {band.heard:.3f}, hear {band.hear:.3f}, both {band.both:.3f}")
        for what, (count, apart, where) in compare(c).items():
            off = "  <-- OFF" if apart > TOLERANCES.get(what, 0.0) else ""
            print(f"  {what:20s} {count:4d}  {apart:8.4f}  {where}{off}")


if __name__ == "__main__":
    print_markdown() if "--markdown" in sys.argv[1:] else print_steps()
