"""Which engine serves: the compiled one where it can, else the reference, and why."""

import functools
import importlib
from collections.abc import Callable
from dataclasses import dataclass
from types import ModuleType
from typing import Literal

from radiosim.engine.plan import Plan

Engine = Literal["auto", "reference", "fast"]
ENGINES: tuple[Engine, ...] = ("auto", "reference", "fast")


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The engine that serves."""

    engine: Literal["reference", "fast"]
    why_not_fast: str = ""
    """Not empty: the compiled engine was wanted but cannot serve, for this reason."""


def choose(engine: Engine) -> Choice:
    """The engine that serves for a wish; ValueError for an unknown one.

    A wish for "fast" is met by the reference too where there is no numba: traces are equal.
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
        return f"numba cannot be used here: {said[0]}"


def make_ready(engine: Engine, plan: Plan, on_compile: Callable[[], None]) -> Choice:
    """The engine that serves, its machine code made; `on_compile` is called if that takes time.

    Done once before a pool of processes starts, so that they all find the code made.
    """
    chosen = choose(engine)
    loaded = load_fast() if chosen.engine == "fast" else ""
    if not isinstance(loaded, str) and loaded.can_run(plan):
        if not loaded.is_compiled():
            on_compile()
        loaded.compile_for(plan)
    return chosen
