"""Pages of reach and sky: the figures drawn and written are those of the records."""

from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.patches import StepPatch

from advisor.answers.ask import hours_from, question_for, solar_index
from advisor.answers.far_places.reach import reach
from advisor.answers.rows.sky import PathRow
from advisor.answers.skies.path_sky import SkyPath
from advisor.answers.skies.sky import sky_table
from advisor.show.charts import landings, skyday
from advisor.show.page.reach import reach_sheet
from advisor.show.page.sheet import sheet_html
from advisor.show.page.sky import sky_sheet
from advisor.show.text.reach import reach_text
from advisor.show.text.sky import sky_text
from advisor.station.bands import band_by_name
from advisor.station.file import resolve_station
from geo.places import parse_place

PROGRAM = {"program": "skiplobe", "version": "0", "tables_sha256": {}}
START = np.datetime64("2026-12-05T10", "s")
UPRIGHT = {"name": "up", "shape": "ground-mounted vertical", "bands": ["40 m", "20 m"]}


@pytest.fixture(scope="module")
def found():
    """Where the power of an upright comes down in three hours; by its closed form."""
    station, _ = resolve_station(None, {"place": "KF07jo", "setups": [UPRIGHT]})
    asked = question_for(
        station, ["within 2500 km"], START, 3, band_names=["40 m", "20 m"], r12=60.0
    )
    return reach(asked)


@pytest.fixture(scope="module")
def seen():
    """Six hours of sky."""
    times = hours_from(START, 6)
    bands = [band_by_name(name) for name in ("40 m", "20 m")]
    return sky_table(parse_place("KF07jo"), times, solar_index(times, r12=60.0), bands)


def cells(table):
    """Texts of a table of a page, row by row."""
    return [[cell.text for cell in row] for row in table.rows]


def drawn(sheet):
    """The pictures of a page by their chart's title."""
    return {one.title: one for part in sheet.sections for one in part.pictures}


@pytest.mark.slow
def test_shares_drawn_are_those_found(found):
    """Near, mid and far piled up, a panel a band."""
    (setup,) = found.setups
    axes = landings.figure(found, setup).axes
    assert len(axes) == 2
    for band, panel in enumerate(axes):
        steps = panel.findobj(StepPatch)
        for ring, step in enumerate(steps):
            top, _, foot = step.get_data()
            share = 100.0 * setup.share[ring, :, band]
            np.testing.assert_allclose(top - foot, share, atol=1e-9)
        assert len(steps) == 3


@pytest.mark.slow
def test_the_page_of_reach_says_what_the_text_says(found):
    """Verdicts on top, the sentences, and the table of the text as the chart's data."""
    sheet = reach_sheet(found, {}, PROGRAM, "skiplobe reach")
    (setup,), noon = found.setups, found.noon
    for band, one in enumerate(found.question.bands):
        large = sheet.headings[0].large.replace("\N{NO-BREAK SPACE}", " ")
        assert one.name in large
        assert str(setup.verdict[noon, band]) in large
    text = reach_text(found)
    lines = [line.split() for line in text.splitlines()]
    (picture,) = drawn(sheet).values()
    for row in cells(picture.table):
        assert [row[0].removesuffix("Z"), *row[1:]] in lines
    words = " ".join(text.split())
    assert all(" ".join(each.split()) in words for each in sheet.sections[0].lines)
    assert "<svg" in sheet_html(sheet)


@pytest.mark.slow
def test_the_sky_drawn_is_that_of_the_rows(seen):
    """Each line by its name; bands at their frequency; the text's table as data."""
    (axes,) = skyday.layers_figure(seen).axes
    lines = [line.get_ydata() for line in axes.lines if len(line.get_ydata()) == 6]
    names = ("f2_muf_3000km_mhz", "fof2_mhz", "foe_mhz")
    for line, name in zip(lines, names, strict=True):
        np.testing.assert_array_equal(line, [getattr(row, name) for row in seen.rows])
    sheet = sky_sheet(seen, None, {}, PROGRAM, "skiplobe sky")
    text = [line.split() for line in sky_text(seen, by_distance=True).splitlines()]
    tables = [drawn(sheet)["What comes back over the day"].table]
    tables += [table for part in sheet.sections for table in part.tables]
    for table in tables:
        for row in cells(table):
            assert [row[0].removesuffix("Z"), *row[1:]] in text
    highest = max(row.fof2_mhz for row in seen.rows)
    assert f"up to {highest:.1f} MHz" in sheet.headings[0].large


def test_a_path_is_open_between_lowest_and_safe(seen):
    """Where the safe frequency is over the lowest that is heard, there is ground."""
    safe = [12.0, 14.0, 16.0, np.nan, 5.0, 5.0]
    low = [4.0, 5.0, 6.0, 7.0, 8.0, np.nan]
    rows = tuple(
        PathRow(1.2 * fot, "1F2", fot, luf, 50.0, 50.0, 50.0)
        for fot, luf in zip(safe, low, strict=True)
    )
    facts = SimpleNamespace(target="Here", circuit="10 W")
    (axes,) = skyday.path_figure(seen, SkyPath(facts, rows)).axes
    (ground,) = axes.collections
    across = np.unique(np.concatenate([p.vertices[:, 0] for p in ground.get_paths()]))
    assert across.tolist() == [0.5, 1.5, 2.5]
    assert skyday.path_alt_text(seen, SkyPath(facts, rows)) == (
        "To Here up to 19.2 MHz on half of the days, at 12Z."
    )
