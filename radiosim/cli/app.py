"""The commands of `radiosim`."""

from typing import Annotated

import typer

from radiosim.cli import layout
from radiosim.cli.bench_test import BenchTestOptions, bench_test
from radiosim.cli.channels import ChannelsOptions, channels
from radiosim.cli.commands import Commands
from radiosim.cli.failsafe import FailsafeOptions, failsafe
from radiosim.cli.harness import add_command
from radiosim.cli.lookup import (
    GlossaryOptions,
    ScenariosOptions,
    SchemaOptions,
    ValidateOptions,
    glossary,
    scenarios,
    schema,
    validate,
)
from radiosim.cli.new import NewOptions, new
from radiosim.cli.range import RangeOptions, reach
from radiosim.cli.run import RunOptions, run
from radiosim.cli.tune import TuneOptions, tune
from radiosim.version import VERSION


def _group(text: str | None = None) -> typer.Typer:
    """A group of commands, with plain help: a coloured one takes a library longer to load."""
    return typer.Typer(
        cls=Commands,
        rich_markup_mode=None,
        add_completion=False,
        pretty_exceptions_enable=False,
        no_args_is_help=True,
        help=text,
    )


app = _group()
add_command(app, NewOptions, new)
add_command(app, RunOptions, run)
add_command(app, ScenariosOptions, scenarios)
add_command(app, ValidateOptions, validate)
add_command(app, GlossaryOptions, glossary)
add_command(app, SchemaOptions, schema)
add_command(app, ChannelsOptions, channels)
add_command(app, FailsafeOptions, failsafe)
add_command(app, TuneOptions, tune)
add_command(app, BenchTestOptions, bench_test)
add_command(app, RangeOptions, reach)
_layouts = _group("Show, check and compare what is inside a frame.")
add_command(_layouts, layout.ShowOptions, layout.show)
add_command(_layouts, layout.CheckOptions, layout.check)
add_command(_layouts, layout.CompareOptions, layout.compare)
add_command(_layouts, layout.EmitOptions, layout.emit)
app.add_typer(_layouts, name="layout")


def _print_version(is_asked: bool) -> None:
    if is_asked:
        # Flushed here, so that a reader who is gone is found out before the program ends.
        print(f"radiosim {VERSION}", flush=True)
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_print_version, is_eager=True, help="Print the version."
        ),
    ] = False,
) -> None:
    """Simulate a radio control link before any firmware is written."""
