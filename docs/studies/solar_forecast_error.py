"""
How far can a forecast of the smoothed sunspot number be off? (2026-11)

Usage: ``python docs/studies/solar_forecast_error.py``

The shipped table holds the numbers of solar cycles 20 to 25 but no old forecasts,
so the forecasts are made afresh by the method of McNish and Lincoln (1949): the
mean course of the other cycles, counted from their minima, plus the part of the
present departure from it that experience says survives so many months. The cycle
to be forecast is left out of the experience. Printed for each lead (months since
the last known smoothed number): the error exceeded by one forecast in ten at
either end, the half-width between them, and the rule that geo/solar.py uses.
"""

import numpy as np

from geo.solar import forecast_half_width
from geo.tables import read_table

LEADS = (1, 2, 3, 6, 9, 12, 18, 24, 36, 48, 60, 84, 108)


def cycles():
    """Return one row per cycle, months from its minimum, NaN where not known."""
    table = read_table("solar_monthly")
    known = [kind == "observed" for kind in table.columns["smoothed_kind"]]
    r12 = table.numbers("r12_ccir")[np.array(known)]
    months = np.array(table.columns["month"], "M8[M]")[: r12.size]
    guesses = np.array(
        ["1964-10", "1976-06", "1986-09", "1996-06", "2008-12", "2019-12"], "M8[M]"
    )
    near = [np.flatnonzero(abs(months - g).astype(int) <= 12) for g in guesses]
    starts = [i[np.argmin(r12[i])] for i in near]
    ends = [*starts[1:], r12.size]
    course = np.full((len(starts), 160), np.nan)
    for row, (a, b) in enumerate(zip(starts, ends, strict=True)):
        course[row, : b - a] = r12[a:b]
    return course


def errors(course, lead):
    """Return forecast minus truth for every cycle and month that allow it."""
    found = []
    for row in range(len(course)):
        others = np.delete(course, row, axis=0)
        mean = np.nanmean(others[:, :132], axis=0)
        departure = others[:, :132] - mean
        now, then = departure[:, :-lead].ravel(), departure[:, lead:].ravel()
        both = np.isfinite(now) & np.isfinite(then)
        kept = (now[both] @ then[both]) / (now[both] @ now[both])
        present = course[row, : 132 - lead] - mean[:-lead]
        forecast = np.maximum(mean[lead:] + kept * present, 0.0)
        found.append(forecast - course[row, lead:132])
    joined = np.concatenate(found)
    return joined[np.isfinite(joined)]


if __name__ == "__main__":
    course = cycles()
    print("lead   10 %   90 %   half  rule")
    for lead in LEADS:
        low, high = np.quantile(errors(course, lead), [0.1, 0.9])
        half = (high - low) / 2.0
        rule = forecast_half_width(lead)
        print(f"{lead:4d} {low:6.1f} {high:6.1f} {half:6.1f} {rule:5.1f}")
