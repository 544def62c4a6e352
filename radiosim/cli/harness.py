"""How a command simulates: on which engine, where, and with progress for a person who looks on."""

import inspect
import shlex
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Annotated, Any, TypedDict, TypeVar, get_origin, get_type_hints

import typer
from typer.core import TyperCommand

from radiosim.cli.console import code_of, tell
from radiosim.cli.options import (
    MOST_WORKERS,
    REQUIRED,
    TYPED,
    Files,
    JsonFile,
    Mark,
    Options,
    PageAndFiles,
    Simulates,
    Stoppable,
    Typed,
)
from radiosim.cli.plain_values import PlainHelp, plain_value, read_plainly
from radiosim.cli.progress_bar import OnProgress, progress
from radiosim.errors import OptionError

if TYPE_CHECKING:
    from radiosim.engine.simulate import Engine
    from radiosim.results.document import Origin
    from radiosim.scenario import Scenario
    from radiosim.study.amount import Amount, OnAmounts


class How(TypedDict):
    """Arguments of every study."""

    engine: "Engine"
    executor: Executor | None
    workers: int | None
    on_progress: OnProgress | None
    on_amounts: "OnAmounts"


@contextmanager
def running(options: Simulates, scenario: "Scenario", total: int, what: str) -> Iterator[How]:
    """Everything that a study takes to run as the options say; `total` of `what` is its work.

    Raises ClusterError.
    """
    from radiosim.study.cluster import cluster_executor

    engine = ready_engine(options.engine, scenario)
    address = options.cluster if isinstance(options, Stoppable) else None
    with (
        nullcontext() if address is None else cluster_executor(address, tell=tell) as executor,
        progress(total, what=what) as on_progress,
    ):
        yield How(
            engine=engine,
            executor=executor,
            workers=options.workers,
            on_progress=on_progress,
            on_amounts=_foreteller(options, engine, is_here=executor is None),
        )


def _foreteller(options: Simulates, engine: "Engine", *, is_here: bool) -> "OnAmounts":
    """What tells how long a study will take; of a cluster nobody knows how fast it is."""
    advice = ""
    if isinstance(options, Stoppable):
        is_kept = options.resume is not None
        advice = ", and what is done is kept" if is_kept else "; --resume FILE keeps what is done"

    def tell_ahead(amounts: "Sequence[Amount]") -> None:
        if is_here:
            foretell(amounts, engine, workers_for(options.workers, MOST_WORKERS), advice=advice)

    from radiosim.cli.foretold import foretell
    from radiosim.study.most_workers import workers_for

    return tell_ahead


def ready_engine(wish: str, scenario: "Scenario") -> "Engine":
    """The engine that serves, ready to run; says on standard error what a user should know."""
    from radiosim.engine.plan import make_plan
    from radiosim.engine.simulate import ENGINES, make_ready
    from radiosim.measure.start import make_folds_ready

    (named,) = (engine for engine in ENGINES if engine == wish)
    chosen = make_ready(
        named,
        make_plan(scenario, 0),
        lambda: tell("compiling the engine, this once: some seconds"),
    )
    make_folds_ready(scenario, chosen.engine)
    if chosen.why_not_fast:
        tell(f"{chosen.why_not_fast}: the reference engine serves (same figures, slower)")
    return chosen.engine


Chosen = TypeVar("Chosen", bound=Options)


def add_command(group: typer.Typer, options: type[Chosen], act: Callable[[Chosen], int]) -> None:
    """Add a command with these options, which ends with what `act` returns as its exit code."""

    def run(**said: Any) -> None:
        raise typer.Exit(code_of(lambda: act(checked(options, said))))

    run.__doc__ = act.__doc__
    entries = tuple(_entries(options))
    parameters = [entry.parameter for entry in entries]
    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {entry.name: entry.annotation for entry in parameters}
    group.command(options.COMMAND.split()[-1], cls=_command(entries))(run)


def _command(entries: "Iterable[_Entry]") -> type[TyperCommand]:
    """A command that reads plain values of these options by itself."""
    known = {entry.name: entry for entry in entries}

    class Command(PlainHelp, TyperCommand):
        def __init__(self, *given: Any, **more: Any) -> None:
            super().__init__(*given, **more)
            for one in self.params:
                if one.name in known:
                    read_plainly(one, known[one.name].plain)

    return Command


def checked(options: type[Chosen], said: dict[str, Any]) -> Chosen:
    """The options as one object; RadiosimError for a value that one of them cannot have."""
    lists = [entry.name for entry in _entries(options) if entry.is_list]
    chosen = options(**(said | {name: tuple(said.get(name) or ()) for name in lists}))
    chosen.check()
    _check_values(chosen)
    _check_files(chosen)
    _tell_of_workers(chosen)
    return chosen


def origin_of(chosen: Options, source: str, seed: int | None) -> "Origin":
    """Where a report comes from; the scenario's text stands on a page alone.

    Called before anything is simulated: the file may change meanwhile.
    """
    from radiosim.cli.options import text_of
    from radiosim.results.document import Origin
    from radiosim.version import VERSION

    has_page = source and isinstance(chosen, PageAndFiles) and chosen.page is not None
    return Origin(
        command=command_line(chosen),
        scenario_name=source,
        scenario_text=text_of(source) if has_page else "",
        seed=seed,
        version=VERSION,
    )


def command_line(chosen: Options) -> str:
    """What a user types to get the same page again."""
    words = ["radiosim", *chosen.COMMAND.split()]
    for entry in _entries(type(chosen)):
        if entry.typed.is_argument:
            words += [str(one) for one in _each(getattr(chosen, entry.name)) if one is not None]
    for entry in _said(chosen):
        for one in _each(getattr(chosen, entry.name)):
            words += [entry.option] if one is True else [entry.option, _text(one)]
    return shlex.join(words)


def said_options(chosen: Options) -> tuple[str, ...]:
    """Names of the options that were given and that what comes out depends on."""
    return tuple(entry.option for entry in _said(chosen))


def _said(chosen: Options) -> "Iterator[_Entry]":
    for entry in _entries(type(chosen)):
        is_kept = not entry.typed.is_argument and Mark.UNSAID not in entry.typed.marks
        if is_kept and getattr(chosen, entry.name) != entry.default:
            yield entry


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entry:
    """One field of some options."""

    name: str
    kind: Any
    typed: Typed
    default: Any
    """REQUIRED: it must be given."""

    @property
    def is_list(self) -> bool:
        return get_origin(self.kind) is tuple

    @property
    def option(self) -> str:
        """Its name as it is typed."""
        return f"--{self.name.rstrip('_').replace('_', '-')}"

    def plain(self, said: Any) -> Any:
        """Its value if that is plain to read; else OTHER."""
        if said is None and self.default is not REQUIRED:
            return None
        return plain_value(self.kind, self.typed.edges, said)

    @property
    def parameter(self) -> inspect.Parameter:
        """The parameter that it is for the library that reads arguments."""
        is_open = self.is_list and self.default is not REQUIRED
        kind = (list[str] | None if is_open else list[str]) if self.is_list else self.kind
        default = None if is_open else self.default
        return inspect.Parameter(
            self.name,
            inspect.Parameter.KEYWORD_ONLY,
            default=inspect.Parameter.empty if default is REQUIRED else default,
            annotation=Annotated[kind, self._info],
        )

    @property
    def _info(self) -> Any:
        typed = self.typed
        if typed.is_argument:
            is_shown = bool(self.default)
            return typer.Argument(metavar=typed.metavar, help=typed.text, show_default=is_shown)
        return typer.Option(
            self.option,
            metavar=typed.metavar or None,
            help=typed.text,
            min=None if typed.edges is None else typed.edges.low,
            max=None if typed.edges is None else typed.edges.high,
        )


def _entries(options: type[Options]) -> Iterator[_Entry]:
    """The options of a command: its own first, then those of its groups in order."""
    kinds = get_type_hints(options)
    known = {one.name: one for one in fields(options)}
    named = [name for group in options.__mro__ for name in vars(group).get("__annotations__", ())]
    for name in dict.fromkeys(name for name in named if name in known):
        one = known[name]
        yield _Entry(name=name, kind=kinds[name], typed=one.metadata[TYPED], default=one.default)


def _each(value: Any) -> tuple[Any, ...]:
    return value if isinstance(value, tuple) else (value,)


def _text(value: Any) -> str:
    return f"{value:.12g}" if isinstance(value, int | float) else str(value)


def _check_values(chosen: Options) -> None:
    """OptionError for an engine that is none."""
    for entry in _entries(type(chosen)):
        if entry.name == "engine":
            from radiosim.engine.simulate import ENGINES

            value = getattr(chosen, entry.name)
            if value not in ENGINES:
                raise OptionError(f"--engine: must be one of {', '.join(ENGINES)}, got {value}")


def _tell_of_workers(chosen: Options) -> None:
    """Tell of processes that were asked for and that a pool never has."""
    from radiosim.study.most_workers import MOST_A_CORE, most_workers

    if isinstance(chosen, Simulates) and (chosen.workers or 0) > most_workers():
        tell(
            f"--workers {chosen.workers}: {most_workers()} serve, {MOST_A_CORE} for each processor "
            "core: more are slower, and take memory"
        )


def _check_files(chosen: Options) -> None:
    """RadiosimError for a target that cannot be written, is read, or is another option's."""
    from radiosim.cli.targets import check_targets

    entries = list(_entries(type(chosen)))

    def named(mark: Mark) -> Iterator[str]:
        for entry in entries:
            if mark in entry.typed.marks:
                yield from (one for one in _each(getattr(chosen, entry.name)) if one is not None)

    check_targets(
        chosen.json if isinstance(chosen, JsonFile) else None,
        chosen.csv if isinstance(chosen, Files) else None,
        chosen.parquet if isinstance(chosen, Files) else None,
        files={
            entry.option: getattr(chosen, entry.name)
            for entry in entries
            if Mark.TARGET in entry.typed.marks
        },
        scenarios=tuple(named(Mark.SCENARIO)),
        layouts=tuple(named(Mark.LAYOUT)),
        set_=getattr(chosen, "set_", ()),
    )
