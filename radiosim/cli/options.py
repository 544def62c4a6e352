"""Options that several commands have, each declared once; a command's own are added to groups.

A command takes one frozen object of options. Its fields say how they are typed, and by marks how
they are checked.
"""

from dataclasses import MISSING, dataclass, field, replace
from enum import Enum, auto
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from radiosim.edges import SEED, Edges
from radiosim.errors import OptionError, Problem, ScenarioError

if TYPE_CHECKING:
    from radiosim.scenario import Scenario


REQUIRED = MISSING
"""Default of an option that must be given."""
MOST_WORKERS = 1_000_000
TYPED = "typed"
"""Key of a field's metadata."""


class Mark(Enum):
    """What is so of an option."""

    SCENARIO = auto()
    """It names a scenario that is read."""
    LAYOUT = auto()
    """It names a layout that is read."""
    TARGET = auto()
    """It names a file that is written, or gone on with."""
    UNSAID = auto()
    """Figures do not depend on it: a command that makes a page again goes without."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """How an option or an argument is typed, and what is so of it."""

    metavar: str
    text: str
    """What its help says."""
    marks: tuple[Mark, ...]
    is_argument: bool = False
    edges: Edges | None = None
    """Of a number: its lowest and highest value."""


def option(
    metavar: str,
    text: str,
    *marks: Mark,
    default: Any = None,
    edges: tuple[float, float] | None = None,
) -> Any:
    """A field that is an option of its name, followed by a value."""
    within = None if edges is None else Edges(*edges)
    typed = Typed(metavar=metavar, text=text, marks=marks, edges=within)
    return field(default=default, metadata={TYPED: typed})


def flag(text: str, *marks: Mark) -> Any:
    """A field that is an option of its name which stands alone."""
    return field(default=False, metadata={TYPED: Typed(metavar="", text=text, marks=marks)})


def argument(metavar: str, text: str, *marks: Mark, default: Any = REQUIRED) -> Any:
    """A field that is an argument, which must be given if it has no default."""
    typed = Typed(metavar=metavar, text=text, marks=marks, is_argument=True)
    return field(default=default, metadata={TYPED: typed})


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

    json: str | None = option("FILE", "Write it as JSON; -: only that.", Mark.UNSAID)


@dataclass(frozen=True, kw_only=True)
class Files(JsonFile):
    """Where the results go as tables."""

    csv: Path | None = option("FOLDER", "Write it as CSV tables.", Mark.UNSAID)
    parquet: Path | None = option("FOLDER", "The same tables as Parquet.", Mark.UNSAID)


@dataclass(frozen=True, kw_only=True)
class PageAndFiles(Files):
    """Where all of a report goes."""

    page: Path | None = option("FILE.html", "Write a page to read, share or print.", Mark.TARGET)


@dataclass(frozen=True, kw_only=True)
class Overridden(Options):
    """Keys of a scenario that are set."""

    set_: tuple[str, ...] = option(
        "KEY=VALUE",
        "Set any key of the scenario, as transmitter.drive.period_ms=15; repeatable.",
        default=(),
    )


@dataclass(frozen=True, kw_only=True)
class OfScenario(Overridden):
    """Which scenario is read."""

    source: str = argument(
        "SCENARIO", "Scenario file, or name of a shipped scenario.", Mark.SCENARIO
    )


@dataclass(frozen=True, kw_only=True)
class Seeded(Options):
    """Which draws are made."""

    seed: int | None = option("S", "Where every draw comes from.", edges=SEED)


@dataclass(frozen=True, kw_only=True)
class Simulates(Options):
    """What simulates."""

    engine: str = option(
        "NAME", "auto, fast (compiled) or reference (for reading).", default="auto"
    )
    workers: int | None = option(
        "N", "Processes to simulate with.", Mark.UNSAID, edges=(1, MOST_WORKERS)
    )


@dataclass(frozen=True, kw_only=True)
class Stoppable(Options):
    """What a study that takes long is kept in, and who helps with it."""

    resume: Path | None = option(
        "FILE", "Keep what is done in this file, and go on with it.", Mark.TARGET, Mark.UNSAID
    )
    cluster: str | None = option(
        "ADDRESS", "Run on a dask.distributed cluster, as tcp://a:8786.", Mark.UNSAID
    )


_ARCHIVE_START = b"PK\x03\x04"
"""First bytes of a saved trace, which is a zip archive."""


def is_trace(path: Path) -> bool:
    """Whether a file is a saved trace, by its content; a scenario's reader judges all else."""
    if not path.is_file():
        return False
    try:
        with path.open("rb") as stream:
            return stream.read(len(_ARCHIVE_START)) == _ARCHIVE_START
    except OSError:
        return False


def text_of(source: str) -> str:
    """The scenario as its file has it; empty for a saved trace and for what is no plain file."""
    from radiosim.scenario.shipped import scenario_path

    path = scenario_path(source)
    if not path.is_file() or is_trace(path):
        return ""
    return path.read_text(encoding="utf-8-sig", errors="replace")


def load_scenario(
    source: str,
    overrides: tuple[str, ...] = (),
    *,
    starts: int | None = None,
    start: int | None = None,
    seed: int | None = None,
    duration_s: float | None = None,
    hours: float | None = None,
    runs_program: bool = False,
) -> "Scenario":
    """A scenario with options on top; a problem that an option makes carries the option's name.

    `runs_program`: whether the command runs the receiver's own program, if it names one.

    ScenarioError, for a saved trace too; OptionError for options that exclude each other.
    """
    from radiosim.scenario import load
    from radiosim.scenario.shipped import scenario_path
    from radiosim.study.starts import lasting

    path = scenario_path(source)
    if is_trace(path):
        text = "must be a scenario file, got a saved trace"
        raise ScenarioError((Problem(file=source, path="", text=text),))
    said = {
        "starts": starts if start is None else 1,
        "seed": seed,
        "duration_s": duration_s,
    }
    options = {key: value for key, value in said.items() if value is not None}
    _check_once(overrides, options, is_start=start is not None)
    try:
        scenario = load(path, (*overrides, *(f"{key}={value}" for key, value in options.items())))
    except ScenarioError as error:
        raise ScenarioError(tuple(_named(problem, options) for problem in error.problems)) from None
    scenario = scenario if hours is None else lasting(scenario, hours)
    if scenario.receiver.program is None or runs_program:
        return scenario
    from radiosim.measure.by_program import of_model

    return of_model(scenario)


def _check_once(overrides: tuple[str, ...], options: dict[str, float], *, is_start: bool) -> None:
    """OptionError if a key that an option sets is set by --set too: one would hide the other."""
    for override in overrides:
        key = override.partition("=")[0].strip().strip("\"'")
        if key in options:
            is_start_alone = is_start and key == "starts"
            option = "--start" if is_start_alone else "--" + key.replace("_", "-")
            raise OptionError(f"{option}: must stand without --set {key}, got --set {override}")


def _named(problem: Problem, options: dict[str, float]) -> Problem:
    if problem.file == "--set" and problem.path in options:
        return replace(problem, file="--" + problem.path.replace("_", "-"), path="")
    return problem
