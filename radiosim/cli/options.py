"""Options that several commands have, each declared once; a command's own are added to groups.

A command takes one frozen object of options. Its fields are the options, annotated with how they
are typed and with marks that say how they are checked.
"""

from dataclasses import dataclass
from enum import Enum, auto
from pathlib import Path
from typing import Annotated, ClassVar

import typer

from radiosim.errors import RadiosimError


class OptionError(RadiosimError):
    """An option with a value that it cannot have, or beside another that excludes it."""


class Mark(Enum):
    """What is so of an option."""

    SCENARIO = auto()
    """It names a scenario that is read."""
    LAYOUT = auto()
    """It names a layout that is read."""
    TARGET = auto()
    """It names a file that is written, or gone on with."""
    ABOVE_ZERO = auto()
    """A number > 0."""
    UNSAID = auto()
    """Figures do not depend on it: a command that makes a page again goes without."""


@dataclass(frozen=True, kw_only=True)
class Options:
    """What the user said to a command; a default where nothing was said."""

    COMMAND: ClassVar[str]
    """Its name, after that of the program."""

    def check(self) -> None:
        """OptionError, before anything is read, for options that exclude each other."""


@dataclass(frozen=True, kw_only=True)
class JsonFile(Options):
    """Where the results go as JSON."""

    json: Annotated[
        str | None,
        typer.Option("--json", metavar="FILE", help="Write it as JSON; -: only that."),
        Mark.UNSAID,
    ] = None


@dataclass(frozen=True, kw_only=True)
class Files(JsonFile):
    """Where the results go as tables."""

    csv: Annotated[
        Path | None,
        typer.Option("--csv", metavar="FOLDER", help="Write it as CSV tables."),
        Mark.UNSAID,
    ] = None
    parquet: Annotated[
        Path | None,
        typer.Option("--parquet", metavar="FOLDER", help="The same tables as Parquet."),
        Mark.UNSAID,
    ] = None


@dataclass(frozen=True, kw_only=True)
class PageAndFiles(Files):
    """Where all of a report goes."""

    page: Annotated[
        Path | None,
        typer.Option("--page", metavar="FILE.html", help="Write a page to read, share or print."),
        Mark.TARGET,
    ] = None


@dataclass(frozen=True, kw_only=True)
class Overridden(Options):
    """Keys of a scenario that are set."""

    set_: Annotated[
        tuple[str, ...],
        typer.Option(
            "--set",
            metavar="KEY=VALUE",
            help="Set any key of the scenario, as transmitter.drive.period_ms=15; repeatable.",
        ),
    ] = ()


@dataclass(frozen=True, kw_only=True)
class OfScenario(Overridden):
    """Which scenario is read."""

    source: Annotated[
        str,
        typer.Argument(metavar="SCENARIO", help="Scenario file, or name of a shipped scenario."),
        Mark.SCENARIO,
    ]


@dataclass(frozen=True, kw_only=True)
class Seeded(Options):
    """Which draws are made."""

    seed: Annotated[
        int | None, typer.Option("--seed", metavar="S", help="Where every draw comes from.")
    ] = None


@dataclass(frozen=True, kw_only=True)
class Simulates(Options):
    """What simulates."""

    engine: Annotated[
        str,
        typer.Option(
            "--engine", metavar="NAME", help="auto, fast (compiled) or reference (for reading)."
        ),
    ] = "auto"
    workers: Annotated[
        int | None,
        typer.Option("--workers", metavar="N", min=1, help="Processes to simulate with."),
        Mark.UNSAID,
    ] = None


@dataclass(frozen=True, kw_only=True)
class Stoppable(Options):
    """What a study that takes long is kept in, and who helps with it."""

    resume: Annotated[
        Path | None,
        typer.Option(
            "--resume", metavar="FILE", help="Keep what is done in this file, and go on with it."
        ),
        Mark.TARGET,
        Mark.UNSAID,
    ] = None
    cluster: Annotated[
        str | None,
        typer.Option(
            "--cluster",
            metavar="ADDRESS",
            help="Run on a dask.distributed cluster, as tcp://a:8786.",
        ),
        Mark.UNSAID,
    ] = None
