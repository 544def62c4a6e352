"""The commands of `radiosim` and their options."""

from typing import Annotated

import typer

from radiosim.cli.bench_test import bench_test
from radiosim.cli.channels import channels
from radiosim.cli.commands import Commands
from radiosim.cli.exits import guarded
from radiosim.cli.failsafe import failsafe
from radiosim.cli.glossary import glossary
from radiosim.cli.layout import layout_app
from radiosim.cli.new import new
from radiosim.cli.range import reach
from radiosim.cli.run import run
from radiosim.cli.scenarios import scenarios
from radiosim.cli.schema import schema
from radiosim.cli.tune import tune
from radiosim.cli.validate import validate
from radiosim.version import VERSION

# Plain help: the coloured one would load a library that takes longer than the help itself.
app = typer.Typer(
    cls=Commands,
    rich_markup_mode=None,
    add_completion=False,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
)
for _command in (
    new,
    run,
    scenarios,
    validate,
    glossary,
    schema,
    channels,
    failsafe,
    tune,
    bench_test,
):
    app.command()(guarded(_command))
app.command("range")(guarded(reach))
app.add_typer(layout_app, name="layout")


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
