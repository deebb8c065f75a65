"""Metals and plastics that wire is made of."""

from __future__ import annotations

from functools import cache

from geo.tables import read_table


@cache
def metals() -> dict[str, float]:
    """
    List metals of wire.

    Returns
    -------
    conductivity_s_m : dict of str to float
        By name. [S/m]

    Examples
    --------
    >>> metals()["aluminium"]
    35400000.0
    """
    table = read_table("metals")
    values = table.numbers("conductivity_s_m").tolist()
    return dict(zip(table.columns["name"], values, strict=True))


@cache
def plastics() -> dict[str, float]:
    """
    List plastics of coats.

    Returns
    -------
    eps_r : dict of str to float
        Relative permittivity by name. [1]

    Examples
    --------
    >>> plastics()["PVC"]
    3.5
    """
    table = read_table("plastics")
    return dict(
        zip(table.columns["name"], table.numbers("eps_r").tolist(), strict=True)
    )
