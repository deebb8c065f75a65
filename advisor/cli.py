"""
The command line: one group, one module of `advisor.commands` for each command.

A command parses, calls one library function and shows what it gives back.
"""

from __future__ import annotations

import os
from typing import Any

import click

from advisor.commands.activation import activation
from advisor.commands.aim import aim
from advisor.commands.chart import chart
from advisor.commands.compare import compare
from advisor.commands.hang import hang
from advisor.commands.hops import hops
from advisor.commands.output import APP
from advisor.commands.reach import reach
from advisor.commands.sky import sky
from advisor.commands.station import station
from advisor.commands.tonight import tonight
from advisor.commands.why import why
from advisor.commands.wire import wire
from geo.errors import InputError


class OneLineErrors(click.Group):
    """A group that turns what a user got wrong into one line and exit code 2."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; show an `InputError` as a usage error without a trace."""
        try:
            return super().invoke(ctx)
        except InputError as error:
            if ctx.params.get("debug"):
                raise
            click.echo(f"{APP}: {error}", err=True)
            ctx.exit(2)


@click.group(
    cls=OneLineErrors,
    context_settings={
        "help_option_names": ["-h", "--help"],
        "auto_envvar_prefix": APP.upper(),
        "max_content_width": 96,
    },
)
@click.version_option(package_name=APP)
@click.option("--debug", is_flag=True, help="Show where an error comes from.")
def main(debug: bool) -> None:
    """
    Which band, which bearing, which hour, with your wire.

    \b
    Examples:
      skiplobe tonight
      skiplobe tonight --from KF07jo --to "Eastern Africa" --shape dipole --height-m 8

    Times are UTC. Exit code 0: an answer (even "all closed"); 1: something failed;
    2: something asked for is not possible.
    """  # noqa: D301
    del debug
    # The wires' equations are many and small: threads would only wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if os.environ.get("NO_COLOR"):
        click.get_current_context().color = False


for _command in (
    tonight,
    aim,
    reach,
    compare,
    hang,
    activation,
    wire,
    why,
    chart,
    hops,
    sky,
    station,
):
    main.add_command(_command)
