"""A wire over the ground around, as text; nothing is worked out here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from itertools import groupby

from advisor.answers.one_wire.site import (
    TABLED_DEG,
    TABLED_M,
    SiteBearing,
    SiteProfile,
    SiteWork,
)
from advisor.show.text.cells import Column, number, text_table
from advisor.show.text.layout import paragraph


def site_text(site: SiteWork) -> str:
    """
    Write gain by bearing and angle, and the ground by bearing.

    Parameters
    ----------
    site : SiteWork
        What `advisor.answers.one_wire.site.site_work` found.

    Returns
    -------
    text : str
        Ready to print.
    """
    bands = ", ".join(dict.fromkeys(each.band for each in site.bearings))
    every = " (every one with --more)" if "," in bands else ""
    parts = [paragraph(f"{site.name} {site_words(site)} On {bands}{every}.")]
    columns = list(gain_columns(site))
    for band, rows in groupby(site.bearings, lambda each: each.band):
        parts += ["", f"{band}, dBi (of it by the hills, dB)"]
        parts.append(text_table(columns, rows))
    parts += ["", f"Ground over yours, m, and skyline, from {site.ground}"]
    parts.append(text_table(ground_columns(), site.profiles))
    return "\n".join(parts)


def site_words(site: SiteWork) -> str:
    """
    Say what the figures are.

    Parameters
    ----------
    site : SiteWork
        What was found.

    Returns
    -------
    words : str
        Behind the name of the set-up.
    """
    turned = ", turned to send most on each bearing" if site.is_free else ""
    return (
        "over the ground around you: gain by true bearing and take-off angle for power "
        f"into the wire{turned}; 'h' is below the skyline."
    )


def gain_columns(site: SiteWork) -> Iterator[Column[SiteBearing]]:
    """
    Make the columns of gain by angle; a row is a bearing.

    Parameters
    ----------
    site : SiteWork
        Holds the skyline.

    Yields
    ------
    column : Column
        The bearing, then the angles.
    """
    skyline_deg = {each.bearing_deg: each.skyline_deg for each in site.profiles}
    yield Column("true", lambda row: f"{row.bearing_deg:03.0f}")
    for i, takeoff in enumerate(TABLED_DEG):
        yield Column(f"{takeoff:g} deg", partial(_gain, i, skyline_deg))


def _gain(i: int, skyline_deg: Mapping[float, float], row: SiteBearing) -> str:
    """Write a gain and what of it the hills give, marked below the skyline."""
    mark = "h" if row.takeoff_deg[i] < skyline_deg[row.bearing_deg] else " "
    return f"{row.gain_dbi[i]:.1f} ({row.over_flat_db[i]:+.1f}){mark}"


def _height(i: int, row: SiteProfile) -> str:
    """Write how high the ground is."""
    return f"{row.height_m[i]:.0f}"


def ground_columns() -> Iterator[Column[SiteProfile]]:
    """
    Make the columns of the ground; a row is a bearing.

    Yields
    ------
    column : Column
        The bearing, heights by distance, skyline.
    """
    yield Column("true", lambda row: f"{row.bearing_deg:03.0f}")
    for i, far in enumerate(TABLED_M):
        yield Column(f"{far:g} m", partial(_height, i))
    yield Column("skyline deg", lambda row: number(row.skyline_deg))
