"""
What the program tells against what was received: levels, skip, decodes, contacts.

Usage, from the root of the checkout, with the folder of the public records:
``python docs/studies/on_air.py FOLDER`` prints the figures of the program as it stands;
``--write NAME`` keeps them as the state of that name in docs/on_air_figures.json (in
place of its last state if that has the same name) and renews the tables of
docs/validation.md; ``--hours`` prints hour by hour what was heard and told.

The records are not shipped: time signals of the HamSCI personal space weather network,
hourly counts of decodes in Hungary, decodes in Georgia, three stations' logs. How each
figure is made stands at the top of on_air_signals.py, on_air_skip.py, on_air_spots.py
and on_air_contacts.py. Some minutes on one processor.
"""

import json
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import on_air_contacts
import on_air_signals
import on_air_skip
import on_air_spots

from advisor.answers.verification import scores

DOCS = Path(__file__).resolve().parents[1]
PAGE = DOCS / "validation.md"
RECORDS = DOCS / "on_air_figures.json"
BEGIN = "<!-- Made by docs/studies/on_air.py: do not edit. -->"
END = "<!-- End of what on_air.py makes. -->"

FIFTHS = 5
BANDS = tuple(on_air_spots.PLANNING_MHZ)
CLASSES_KM = on_air_spots.CLASSES_KM
STATIONS = ("oregon", "ireland", "adelaide")

# Key, words, decimals.
ROWS = (
    ("signals_crps_db", "time signals: score of the level (CRPS) [dB]", 2),
    ("signals_rms_db", "rms error of the level while heard and told open [dB]", 1),
    ("signals_depth_db", "error of night less day, mean size [dB]", 1),
    ("signals_turn_h", "error of opening and closing, mean [h]", 1),
    ("signals_turn_median_h", "the same, median [h]", 1),
    ("signals_right", "share of hours rightly open or shut", 2),
    ("skip_off_km", "20 m in Hungary: inner edge off, mean size [km]", 0),
    ("skip_rms_km", "the same, rms [km]", 0),
    ("skip_bias_km", "the same, mean (minus: told too near) [km]", 0),
    ("skip_relative", "the same beyond 500 km, median share of it", 2),
    ("skip_open_right", "share of hours rightly open or shut", 2),
    ("skip_opening_h", "opening of 500 to 2000 km, mean error [h]", 1),
    ("skip_closing_h", "closing of them, mean error [h]", 1),
    ("skip_opening_median_h", "opening, median [h]", 1),
    ("skip_closing_median_h", "closing, median [h]", 1),
    ("spots_constant_db", "decodes in Georgia: constant of the receiver [dB]", 0),
    ("spots_rms_db", "rms error of the level with it [dB]", 1),
    ("spots_brier", "Brier score of the chance", 3),
    ("spots_skill", "its skill over what is usual on the band", 2),
    *(
        row
        for name in STATIONS
        for row in (
            (f"contacts_hour_{name}", f"contacts, {name}: rank of the hour", 2),
            (f"contacts_band_{name}", "rank of the band", 2),
            (f"contacts_chance_{name}", "mean chance told", 2),
        )
    ),
)
BAND_ROWS = (
    ("rms_db", "level, rms error [dB]", 1),
    ("bias_db", "level, mean error [dB]", 1),
    ("said", "mean chance to be decoded, told", 2),
    ("heard", "share decoded", 2),
    ("brier", "Brier score", 3),
    ("skill", "skill over what is usual on the band", 2),
)
CLASS_ROWS = tuple(row for row in BAND_ROWS if row[0] in ("bias_db", "said", "heard"))
SAID_HEARD = {
    "signals": "time signals, an hour on a frequency",
    "skip": "Hungary, an hour and class of distance",
    "spots": "Georgia, a sender in an hour",
}


def binned(pairs):
    """Count, mean said and mean heard of each fifth of what was said."""
    return [
        [int(count), round(float(said), 4), round(float(heard), 4)]
        if count
        else [0, None, None]
        for count, said, heard in zip(*scores.binned(*pairs.T, FIFTHS), strict=True)
    ]


def measured(folder):
    """All figures of the program as it stands."""
    found, bins = {}, {}
    for name, study in (
        ("signals", on_air_signals),
        ("skip", on_air_skip),
        ("spots", on_air_spots),
    ):
        figures, pairs = study.figures(folder)
        found |= figures
        bins[name] = binned(pairs)
    found |= on_air_contacts.figures(folder)
    return {name: round(float(value), 4) for name, value in found.items()} | {
        "said_heard": bins
    }


def read_states():
    """States kept so far, the oldest first: mappings of name and figures."""
    return json.loads(RECORDS.read_text(encoding="utf-8"))["states"]


def number(value, decimals):
    """A figure as it is printed."""
    return "-" if value is None else f"{value:.{decimals}f}"


def grid(head, rows):
    """Lines of a Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return ["| " + " | ".join(line) + " |" for line in lines]


def block(states):
    """Return the part of the page between the markers, markers included."""
    names = [state["name"] for state in states]
    lines = [BEGIN, ""]
    lines += grid(
        ["", *names],
        [
            [words, *(number(s["figures"].get(key), n) for s in states)]
            for key, words, n in ROWS
        ],
    )
    last = states[-1]["figures"]
    lines += ["", f"Georgia band by band, state *{names[-1]}*:", ""]
    lines += grid(
        ["", *(f"{band} m" for band in BANDS)],
        [
            [words, *(number(last[f"spots_{key}_{band}"], n) for band in BANDS)]
            for key, words, n in BAND_ROWS
        ],
    )
    lines += ["", f"Georgia by distance, state *{names[-1]}*:", ""]
    lines += grid(
        ["", *(f"{low} to {high} km" for low, high in pairwise(CLASSES_KM))],
        [
            [
                words,
                *(number(last.get(f"spots_{key}_{high}_km"), n)
                  for high in CLASSES_KM[1:]),
            ]
            for key, words, n in CLASS_ROWS
        ],
    )  # fmt: skip
    lines += ["", "Said and heard (how many), by fifths of what was said:", ""]
    rows = []
    # The first and the last state; the records hold those between.
    for state in {each["name"]: each for each in (states[0], states[-1])}.values():
        for key, words in SAID_HEARD.items():
            cells = [
                f"{said:.2f} {heard:.2f} ({count})" if count else "-"
                for count, said, heard in state["figures"]["said_heard"][key]
            ]
            rows.append([state["name"], words, *cells])
    fifths = [
        f"{a:.1f} to {b:.1f}" for a, b in pairwise(np.linspace(0.0, 1.0, FIFTHS + 1))
    ]
    lines += grid(["state", "what", *fifths], rows)
    return "\n".join([*lines, "", END])


def put_in(page, made):
    """Return the page with what stands between the markers replaced."""
    before, begin, rest = page.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not begin or not end:
        raise SystemExit(f"{PAGE.name} has not both markers")
    return before + made + after


def keep(name, figures):
    """Keep a state as the last one and renew the page."""
    states = [s for s in read_states() if s["name"] != name] if RECORDS.exists() else []
    states.append({"name": name, "figures": figures})
    RECORDS.write_text(json.dumps({"states": states}, indent=1) + "\n", "utf-8")
    page = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(put_in(page, block(states)), encoding="utf-8")


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    if "--hours" in sys.argv:
        on_air_signals.report(folder)
        on_air_skip.report(folder)
    else:
        figures = measured(folder)
        if "--write" in sys.argv:
            keep(sys.argv[sys.argv.index("--write") + 1], figures)
        print(block([{"name": "now", "figures": figures}]))
