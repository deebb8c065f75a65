"""
Make ``tables/far_ends.ecsv``: what stations at the other end send and hear with.

Usage: ``python docs/studies/build_far_ends.py`` (some minutes). Three kinds of
station, each a mix of wires that fit its plot (the mixes are assumed, common practice):
every wire is drawn with its size, ground and bearing, solved with this program's own
solver and feed, and asked at all elevations. What is kept is the median over the draws
and the spread about it.
"""

import sys
from pathlib import Path

import numpy as np

from advisor.antenna.closedform import dipole_pattern, wavelength_m
from advisor.antenna.earthed import earthed_pattern
from advisor.antenna.ground import ground_by_name
from advisor.engine.wires import solve_once
from advisor.station.file import resolve_station

TABLE = Path(__file__).resolve().parents[2] / "tables" / "far_ends.ecsv"
BANDS = {
    "160 m": 1.85, "80 m": 3.6, "60 m": 5.357, "40 m": 7.1, "30 m": 10.12,
    "20 m": 14.1, "17 m": 18.1, "15 m": 21.1, "12 m": 24.93, "10 m": 28.5,
}  # fmt: skip
ELEVATIONS = (1, 3, 6, 10, 15, 20, 30, 45, 60, 75, 90)
LOW = slice(1, 6)
DRAWS = 60
GROUNDS = ("average", "poor", "city", "rich")

# How many of the draws of a kind are which wire.
MODEST = {"random wire": 21, "end-fed half-wave": 15, "short dipole": 9, "stick": 15}
USUAL = {
    "long end-fed": 18, "dipole": 12, "doublet": 9, "inverted L": 6, "inverted V": 6,
    "stick": 9,
}  # fmt: skip
COIL_Q = 200.0
STAKE = {"stake_m": 1.5}


def buried(count, length_m):
    """Radials 5 cm under the surface."""
    return {"radials_n": count, "radial_m": length_m, "radials_at_m": -0.05}


def wire(setup, mhz, ground):
    """Pattern of a wire with its feed, all bands taken by the tuner."""
    values = {"place": "KF07jo", "setups": [{"name": "w", **setup}]}
    station, _ = resolve_station(None, values)
    solved = solve_once(station.setups[0], mhz, ground, is_kept=False)
    return solved.pattern, 1.0


def stick(height_m, earth, mhz, ground):
    """A vertical loaded at its foot: its pattern, and the share its coil leaves."""
    setup = {"name": "w", "shape": "quarter-wave vertical", "feed_height_m": 0.1,
             "length_m": min(height_m, 0.243 * wavelength_m(mhz)), **earth}  # fmt: skip
    values = {"place": "KF07jo", "setups": [setup]}
    station, _ = resolve_station(None, values)
    solved = solve_once(station.setups[0], mhz, ground, is_kept=False).solved
    coil = max(-solved.z_ohm.imag, 0.0) / COIL_Q
    return solved.pattern, solved.z_ohm.real / (solved.z_ohm.real + coil)


def modest(name, mhz, ground, dice):
    """9 to 20 m of wire 4 to 7 m up, or a short vertical on a stake or four radials."""
    if name == "stick":
        height, stake = dice.uniform(4.0, 7.0), dice.uniform() < 0.5
        return stick(height, STAKE if stake else buried(4, 5.0), mhz, ground)
    high = round(dice.uniform(4.0, 7.0), 1)
    if name == "random wire":
        setup = {"shape": name, "length_m": round(dice.uniform(9.0, 20.0), 1),
                 "feed_height_m": 1.5, "end_height_m": high}  # fmt: skip
    elif name == "end-fed half-wave":
        length = round(dice.choice([10.1, 20.1]), 1)
        setup = {"shape": name, "length_m": length, "feed_height_m": 2.0,
                 "end_height_m": high}  # fmt: skip
    else:
        setup = {"shape": "doublet", "length_m": round(dice.uniform(10.0, 18.0), 1),
                 "height_m": high}  # fmt: skip
    return wire(setup, mhz, ground)


def usual(name, mhz, ground, dice):
    """A full-size wire 6 to 12 m up, or a vertical of 6 to 10 m over some radials."""
    if name == "stick":
        height, long = dice.uniform(6.0, 10.0), dice.uniform(4.0, 10.0)
        return stick(height, buried(8, long), mhz, ground)
    high = round(dice.uniform(6.0, 12.0), 1)
    long = float(dice.choice([20.1, 40.4]))
    setup = {
        "long end-fed": {"shape": "end-fed half-wave", "length_m": long,
                         "feed_height_m": 2.0, "end_height_m": high},
        "dipole": {"shape": "dipole", "length_m": long, "height_m": high},
        "doublet": {"shape": "doublet", "length_m": round(dice.uniform(20, 40), 1),
                    "height_m": high},
        "inverted L": {"shape": "inverted L", "length_m": round(high + 15.0, 1),
                       "height_m": high},
        "inverted V": {"shape": "inverted V", "length_m": long, "apex_m": high + 2.0,
                       "end_m": round(max(high + 2.0 - 0.3 * long, 2.0), 1)},
    }[name]  # fmt: skip
    return wire(setup, mhz, ground)


def big(mhz, ground, dice):
    """
    Gain by elevation, efficiency and upright share of the better of two aerials.

    From 14 MHz a beam of three elements, aimed: the dipole's broadside and 4.4 dB. On
    7 and 10 MHz the better of a high dipole (a two-element beam in 4 of 10 on 7 MHz)
    and a quarter-wave vertical over good radials; below the better of dipole and tall
    vertical, with 4 dB of array in 3 of 10.
    """
    high = float(dice.uniform(15.0, 25.0))
    level = dipole_pattern(mhz, high, ground)
    aimed = at_elevations(level)[:, broadside(level)]
    if mhz > 12.0:
        return aimed * 10.0**0.44, level.efficiency, 0.0
    more = 10.0**0.4 if mhz > 6.0 else 1.0
    chance = 0.4 if 6.0 < mhz < 9.0 else 0.0
    aimed = aimed * (more if dice.random() < chance else 1.0)
    if mhz > 6.0:
        tall, share = earthed_pattern(mhz, ground), 1.0
    else:
        height, long = dice.uniform(18.0, 27.0), dice.uniform(15.0, 25.0)
        tall, share = stick(height, buried(16, long), mhz, ground)
    array = 10.0**0.4 if mhz < 6.0 and dice.random() < 0.3 else 1.0
    upright = at_elevations(tall)[:, 0] * share * array
    return np.maximum(aimed, upright), 0.7, float(upright[0] > aimed[0])


def broadside(pattern):
    """Place of the strongest azimuth."""
    return int((pattern.vertical + pattern.horizontal).max(axis=0).argmax())


def at_elevations(pattern):
    """Power gain at the table's elevations and all azimuths."""
    power = pattern.vertical + pattern.horizontal
    return np.stack(
        [np.interp(ELEVATIONS, pattern.elevation_deg, row) for row in power.T], axis=1
    )


def draws(kind, mhz, dice):
    """Gain and gain over efficiency by elevation [dB], and the mean upright share."""
    sent, heard, upright = [], [], []
    make, mix = {"modest": (modest, MODEST), "usual": (usual, USUAL)}.get(
        kind, (None, {"": DRAWS})
    )
    names = [name for name, count in mix.items() for _ in range(count)]
    for n, name in enumerate(names):
        ground = ground_by_name(GROUNDS[n % len(GROUNDS)])
        if make is None:
            gain, efficiency, standing = big(mhz, ground, dice)
        else:
            pattern, share = make(name, mhz, ground, dice)
            around = at_elevations(pattern)
            gain = share * around[:, dice.integers(around.shape[1])]
            efficiency = share * pattern.efficiency
            low = (pattern.vertical[1].sum(), pattern.horizontal[1].sum())
            standing = low[0] / (low[0] + low[1])
        upright.append(standing)
        sent.append(10.0 * np.log10(np.maximum(gain, 1e-6)))
        heard.append(sent[-1] - 10.0 * np.log10(efficiency))
    return np.array(sent), np.array(heard), float(np.mean(upright))


def rows():
    """One row for each kind and band."""
    for kind in ("modest", "usual", "big"):
        for band, mhz in BANDS.items():
            dice = np.random.default_rng([len(kind), round(100 * mhz)])
            sent, heard, upright = draws(kind, mhz, dice)
            gain = np.median(sent, axis=0)
            lost = np.median(heard, axis=0) - gain
            spread = (np.quantile(x, 0.84, axis=0) - np.quantile(x, 0.16, axis=0)
                      for x in (sent, heard))  # fmt: skip
            sigmas = [0.5 * float(each[LOW].mean()) for each in spread]
            print(kind, band, gain.round(), file=sys.stderr)
            yield kind, mhz, upright, -float(lost[LOW].mean()), *sigmas, *gain


def table_text(found):
    """Return the ECSV text."""
    found = list(found)
    gains = {(kind, mhz): rest for kind, mhz, *rest in found}
    spot = gains["usual", 14.1][4 + ELEVATIONS.index(20)]
    columns = [
        ("kind", "", "string", "kind of station"),
        ("frequency_mhz", "MHz", "float64", "frequency solved for"),
        ("upright_share", "", "float64", "vertically polarised share at 1 deg"),
        ("efficiency_db", "dB", "float64", "radiation efficiency, feed in it"),
        ("gain_sigma_db", "dB", "float64", "gain from one station to the next"),
        ("directivity_sigma_db", "dB", "float64", "the same, efficiency taken off"),
        *((f"gain_{e}_dbi", "dB", "float64", f"median gain at {e} deg")
          for e in ELEVATIONS),
    ]  # fmt: skip
    top = ["# %ECSV 1.0", "# ---", "# datatype:"]
    for name, unit, kind, about in columns:
        unit = f"unit: {unit}, " if unit else ""
        top.append(
            f"# - {{name: {name}, {unit}datatype: {kind}, description: {about}}}"
        )
    top += [
        "# meta: !!omap",
        '# - {title: "Antennas at the other end: medians over drawn stations"}',
        '# - {source: "solved by docs/studies/build_far_ends.py; the mixes of wires are'
        ' assumed, common practice"}',
        '# - {licence: "MIT"}',
        f'# - {{spot: "usual stations, 14.1 MHz, 20 deg: {spot:.1f} dBi"}}',
        "# delimiter: ','",
        "# schema: astropy-2.0",
        ",".join(name for name, *_ in columns),
    ]
    body = [
        f"{kind},{mhz:g},{upright:.2f}," + ",".join(f"{x:.1f}" for x in rest)
        for kind, mhz, upright, *rest in found
    ]
    return "\n".join([*top, *body]) + "\n"


if __name__ == "__main__":
    TABLE.write_text(table_text(rows()), encoding="utf-8")
