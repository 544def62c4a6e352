"""Which engine serves: the compiled one where it can, else the reference, and why."""

import functools
import importlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import ModuleType
from typing import Literal

import msgspec
import numpy as np

from radiosim.engine.plan import Plan, make_plan, plan_of, with_brownouts
from radiosim.errors import TraceError
from radiosim.scenario import Scenario
from radiosim.trace import ROWS, BrownoutRow, Table, Trace, brownout_table
from radiosim.units import NS_PER_S
from radiosim.version import VERSION

Engine = Literal["auto", "reference", "fast"]
ENGINES: tuple[Engine, ...] = ("auto", "reference", "fast")


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """The engine that serves."""

    engine: Literal["reference", "fast"]
    why_not_fast: str = ""
    """Not empty: the compiled engine was wanted but cannot serve, for this reason."""


def choose(engine: Engine) -> Choice:
    """The engine that serves for a wish; ValueError for an unknown one.

    A wish for "fast" is met by the reference too where there is no LLVM: traces are equal.
    """
    if engine not in ENGINES:
        raise ValueError(f"engine must be one of {', '.join(ENGINES)}, got {engine!r}")
    if engine == "reference":
        return Choice(engine="reference")
    loaded = load_fast()
    if isinstance(loaded, str):
        return Choice(engine="reference", why_not_fast=loaded)
    return Choice(engine="fast")


@functools.cache
def load_fast() -> ModuleType | str:
    """The compiled engine's package, or why it cannot be had."""
    try:
        return importlib.import_module("radiosim.engine.fast")
    except ModuleNotFoundError as error:
        return f"{error.name} is not installed"
    except Exception as error:
        said = str(error).splitlines() or [repr(error)]
        return f"LLVM cannot be used here: {said[0]}"


def make_ready(engine: Engine, plan: Plan, on_compile: Callable[[], None]) -> Choice:
    """The engine that serves, its machine code made; `on_compile` is called if that takes time.

    Done once before a pool of processes starts, so that they all find its code kept.
    """
    chosen = choose(engine)
    loaded = load_fast() if chosen.engine == "fast" else ""
    if not isinstance(loaded, str) and loaded.can_run(plan):
        if not loaded.is_compiled():
            on_compile()
        loaded.compile_for(plan)
    return chosen


Chunk = dict[str, Table]
"""Rows of every table of a trace, all cut at one moment of the loop; the next may overwrite it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """One start whose rows go by in chunks, from first to last, once."""

    scenario: Scenario = field(repr=False)
    start: int
    engine: str
    """Name of the engine that makes them."""
    plan: Plan = field(repr=False)
    chunks: Iterator[Chunk] = field(repr=False)
    is_new: bool = False
    """Its rows are made as they are asked for, by nothing but the plan."""


def flow(
    scenario: Scenario,
    *,
    seed: int | None = None,
    start: int = 0,
    engine: Engine = "auto",
    brownouts: tuple[BrownoutRow, ...] = (),
) -> Flow:
    """The rows of one start, in chunks of some thousand; arguments as for `simulate`."""
    scenario = checked(scenario, seed, start)
    plan = make_plan(scenario, start)
    if brownouts:
        plan = with_brownouts(scenario, plan, brownouts)
    used, chunks = run_plan(plan, engine)
    return Flow(scenario=scenario, start=start, engine=used, plan=plan, chunks=chunks, is_new=True)


def checked(scenario: Scenario, seed: int | None, start: int) -> Scenario:
    """The scenario with a seed, if both can be simulated; errors as `simulate` has them."""
    if not isinstance(scenario, Scenario):
        raise TypeError(f"scenario must be a radiosim.Scenario, got {type(scenario).__name__}")
    for name, number in (("seed", seed), ("start", start)):
        if number is not None and (not isinstance(number, int) or isinstance(number, bool)):
            raise TypeError(f"{name} must be a whole number, got {number!r}")
        if number is not None and number < 0:
            raise ValueError(f"{name} must be >= 0, got {number}")
    if seed is None:
        return scenario
    return msgspec.structs.replace(scenario, seed=seed)


def flow_of(trace: Trace) -> Flow:
    """A kept start once more, as one chunk."""
    return Flow(
        scenario=trace.scenario,
        start=trace.start,
        engine=trace.engine,
        plan=plan_of(trace),
        chunks=iter(({name: getattr(trace, name) for name in ROWS},)),
    )


MOST_KEPT_BYTES = 500_000_000
"""Rows of one start that a command keeps: hours of a link. Twice that is taken while it is put
together."""


def simulate(
    scenario: Scenario,
    *,
    seed: int | None = None,
    start: int = 0,
    engine: Engine = "auto",
    brownouts: tuple[BrownoutRow, ...] = (),
) -> Trace:
    """The trace of one start; `seed` replaces the scenario's own.

    `brownouts`: those that its outputs bring about, which only the vehicle knows (vehicle/
    feedback.py); what `simulate` there gives has them.

    The same scenario, seed, start and version give the same trace on every machine and engine
    (rule T2); "auto" is the compiled engine, or the reference where LLVM cannot be had.
    TypeError for what is not a scenario or a whole number, ValueError for a negative seed or
    start or an unknown engine.
    """
    passing = flow(scenario, seed=seed, start=start, engine=engine, brownouts=brownouts)
    return trace_of(passing)


def trace_of(passing: Flow, most_bytes: int | None = None) -> Trace:
    """The rows of a start kept as its trace; TraceError, as soon as it is known, for more bytes."""
    return Trace(
        scenario=passing.scenario,
        seed=passing.scenario.seed,
        start=passing.start,
        duration_ns=passing.plan.until_ns,
        engine=passing.engine,
        version=VERSION,
        brownouts=brownout_table(passing.plan.brownouts),
        **_kept(passing, most_bytes),
    )


def _kept(passing: Flow, most_bytes: int | None) -> dict[str, Table]:
    """Whole tables, read-only; TraceError for more bytes."""
    parts: dict[str, list[Table]] = {name: [] for name in ROWS}
    kept_bytes = 0
    for chunk in passing.chunks:
        for name, rows in chunk.items():
            parts[name].append(rows.copy())
            kept_bytes += rows.nbytes
        if most_bytes is not None and kept_bytes > most_bytes:
            raise _too_long(passing, parts, most_bytes)
    tables: dict[str, Table] = {name: np.concatenate(parts.pop(name)) for name in ROWS}
    for table in tables.values():
        table.flags.writeable = False
    return tables


def _too_long(passing: Flow, parts: Mapping[str, Sequence[Table]], most_bytes: int) -> TraceError:
    """What to say of a start with too many rows: how long one may be."""
    last_ns = max(int(rows["end_ns"].max()) for rows in parts["attempts"] if len(rows))
    fits_s = float(f"{0.9 * last_ns / NS_PER_S:.2g}")
    return TraceError(
        f"start {passing.start}: must have at most {most_bytes:,} bytes of rows to be kept, got "
        f"more in {passing.scenario.duration_s:g} s: shorten it, as with --duration-s {fits_s:g}"
    )


def run_plan(plan: Plan, engine: Engine) -> tuple[str, Iterator[Chunk]]:
    """Name of the engine that runs, and its rows. Engines load only to simulate."""
    if choose(engine).engine == "fast":
        from radiosim.engine import fast  # noqa: PLC0415 - loads LLVM

        if fast.can_run(plan):
            return "fast", fast.chunks(plan)
    from radiosim.engine import reference  # noqa: PLC0415 - loads simpy

    return "reference", iter((reference.run(plan),))
