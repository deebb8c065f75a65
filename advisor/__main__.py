"""Run the command line as ``python -m advisor``."""

from advisor.cli import main

main(prog_name="skiplobe")
