"""A number typed as an option: says what to write for '30ft' or '9,1'."""

from __future__ import annotations

from typing import Any

import click

_UNITS = {
    "_m": ("m", "in metres"),
    "_mm": ("mm", "in millimetres"),
    "_km": ("km", "in kilometres"),
    "_w": ("W", "in watts"),
    "_deg": ("deg", "in degrees"),
    "_db": ("dB", "in dB"),
    "_mhz": ("MHz", "in MHz"),
}
"""By the suffix of an option's name: unit, and how to say it."""


class Figure(click.types.FloatParamType):
    """A number in the unit that the option's name ends in."""

    name = "float"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """
        Read the number, or say how it should be written.

        Parameters
        ----------
        value : object
            What came.
        param : click.Parameter or None
            The option, whose name holds the unit.
        ctx : click.Context or None
            Of the command.

        Returns
        -------
        figure : float
            In the option's own unit.

        Raises
        ------
        click.BadParameter
            If it is no number.
        """
        try:
            return float(value)
        except (TypeError, ValueError):
            said = _what_to_write(value, (param and param.name) or "")
        raise click.BadParameter(said, ctx=ctx, param=param)


def _what_to_write(value: object, name: str) -> str:
    """Say in which unit a number is wanted, and how what came would be written."""
    from advisor.station.checks import plain_figure, shown

    unit, words = _UNITS.get("_" + name.rpartition("_")[2], ("", ""))
    figure = plain_figure(str(value), unit)
    said = f"{shown(value)} is not a number"
    if words:
        return f"{said}: give it {words}" + (f", such as {figure}" if figure else "")
    return f"{said}: write {figure}" if figure else said


FIGURE = Figure()
"""For ``type=`` of an option that takes a number with or without a unit in its name."""


class KpFigure(Figure):
    """The index Kp, as a number or in thirds as it is published: 6-, 6o, 6+."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """
        Read the index.

        Parameters
        ----------
        value : object
            What came.
        param : click.Parameter or None
            The option.
        ctx : click.Context or None
            Of the command.

        Returns
        -------
        kp : float
            A third more or less for a sign behind the figure.

        Raises
        ------
        click.BadParameter
            If it is no index.
        """
        whole, third = str(value)[:-1].strip(), _THIRDS.get(str(value)[-1:])
        if third is None or not whole.isdigit():
            return super().convert(value, param, ctx)
        return round(float(whole) + third, 2)


_THIRDS = {"-": -1.0 / 3.0, "o": 0.0, "+": 1.0 / 3.0}

KP = KpFigure()
"""For the option ``--kp``."""
