"""Every rule as machine code gives what it gives in Python, with random arguments.

A desk tries one rule in five.
"""

import collections
import importlib
import math
import pkgutil
import random
import sys
from collections.abc import Callable, Sequence
from types import FrameType, SimpleNamespace
from typing import Any, get_args, get_origin, get_type_hints

import numpy as np
import pytest

from radiosim.engine.jit import dtype_of
from radiosim.marks import RULES
from radiosim.measure.histogram import COUNTS as BIN_COUNTS
from tests.examples import drawn

machine = pytest.importorskip("radiosim.machine")
for package in ("engine", "layout", "measure", "radio", "signals", "vehicle"):
    within = importlib.import_module(f"radiosim.{package}")
    for found in pkgutil.walk_packages(within.__path__, f"radiosim.{package}."):
        importlib.import_module(found.name)

LENGTH = 4
COUNTS: Any = collections.defaultdict(lambda: LENGTH, BIN_COUNTS | {"n": 6, "numbers": 6})
ROOM = {
    "e": "EventRecord",
    "t": "Command",
    "x": "EffectRecord",
    "changes": "LoadChange",
    "out": "PassRun",
}
"""What rules are handed room for, by the name of the argument."""
CALLS, MOST_LINES = 24, 60_000


class Checked(list[Any]):
    """A list that has no elements below 0."""

    def __getitem__(self, index: Any) -> Any:
        if index < 0:
            raise IndexError
        return super().__getitem__(index)

    def __setitem__(self, index: Any, value: Any) -> None:
        if index < 0:
            raise IndexError
        super().__setitem__(index, value)


class EndlessError(Exception):
    """It takes too long."""


class WideError(Exception):
    """A whole number on the way is wider than 64 bits: machine code has another, or none."""


def number(kind: type, name: str, draw: random.Random) -> Any:
    """A number that may well stand in a field of a name."""
    if kind is float:
        return draw.choice((0.0, 1.0, draw.uniform(-2, 3), draw.uniform(0, 1e9), math.nan))
    if kind is bool:
        return draw.random() < 0.5
    if name.endswith("_ns"):
        spans = (0, 1, 2, 3, draw.randrange(20), draw.randrange(10**7), draw.randrange(2**31))
        return draw.choice(spans)
    if name.endswith("_53"):
        return draw.randrange(2**53)
    if name[:-1] in ("c", "k") or name in ("word", "high", "low", "phase_64", "turns_64"):
        return draw.randrange(2**32)
    return draw.randrange(4)


def plain(kind: Any, name: str, draw: random.Random) -> Any:
    """A value of a type, in Python."""
    if kind in (int, float, bool):
        return number(kind, name, draw)
    if get_origin(kind) is tuple and Ellipsis not in get_args(kind):
        return tuple(plain(part, name, draw) for part in get_args(kind))
    if get_origin(kind) in (Sequence, tuple, list):
        inner = get_args(kind)[0]
        if get_origin(inner) is Sequence:
            return Checked(Checked(draw.uniform(-5, 5) for _ in range(2)) for _ in range(LENGTH))
        return Checked(plain(inner, name, draw) for _ in range(COUNTS[name]))
    fields = {n: plain(k, n, draw) for n, k in get_type_hints(kind).items()}
    return kind(**fields) if is_inputs(kind) else SimpleNamespace(**fields)


def is_inputs(kind: Any) -> bool:
    """Whether a tuple holds whole tables, and so is handed over as it is."""
    return kind.__name__ in ("Columns", "CommandInputs")


def filled(record: Any, value: Any) -> None:
    """Copy a plain object into its record."""
    for name, part in vars(value).items():
        if isinstance(part, Checked):
            for k, element in enumerate(part):
                if isinstance(element, SimpleNamespace):
                    filled(record[name][k], element)
                else:
                    record[name][k] = element
        elif isinstance(part, SimpleNamespace):
            filled(record[name], part)
        else:
            record[name] = part


def as_machine(kind: Any, value: Any) -> Any:
    """The same value, as machine code takes it."""
    if isinstance(value, Checked):
        inner = get_args(kind)[0]
        if get_origin(inner) is Sequence or inner in (int, float):
            return np.array(value, np.int64 if inner is int else np.float64)
        made = np.zeros(LENGTH, dtype_of(inner, COUNTS))
        for record, element in zip(made, value, strict=True):
            filled(record, element)
        return made
    if isinstance(value, SimpleNamespace):
        record = np.zeros(1, dtype_of(kind, COUNTS))[0]
        filled(record, value)
        return record
    if hasattr(value, "_fields"):
        hints = get_type_hints(kind)
        return kind(*(as_machine(hints[n], part) for n, part in value._asdict().items()))
    return value


def told(value: Any) -> Any:
    """All that a value holds, so that equal means the same to the last bit."""
    if isinstance(value, SimpleNamespace):
        return [told(part) for part in vars(value).values()]
    if isinstance(value, np.ndarray | np.void):
        return told(value.tolist())
    if isinstance(value, tuple | list):
        return [told(part) for part in value]
    if isinstance(value, float):
        return "nan" if math.isnan(value) else float(value)
    return value if value is None else int(value)


def fits(part: Any) -> bool:
    """Whether all whole numbers of what was told have 64 bits: others have no meaning."""
    if isinstance(part, list | tuple):
        return all(map(fits, part))
    return not isinstance(part, int) or -(2**63) <= part < 2**63


def is_narrow(part: Any) -> bool:
    """Whether a number, or each of a record, has 64 bits; lists are looked at in the end."""
    if isinstance(part, tuple):
        return all(map(is_narrow, part))
    return not isinstance(part, int) or -(2**63) <= part < 2**63


def limited(function: Callable[..., Any], arguments: Sequence[Any]) -> Any:
    """What a function gives, unless that takes too many lines or too wide numbers."""
    lines = 0

    def count(frame: FrameType, event: str, value: Any) -> Any:
        nonlocal lines
        lines += 1
        if lines > MOST_LINES:
            raise EndlessError
        if not all(map(is_narrow, (value, *frame.f_locals.values()))):
            raise WideError
        return count

    before = sys.gettrace()
    sys.settrace(count)
    try:
        return function(*arguments)
    finally:
        sys.settrace(before)


def types_of(function: Callable[..., Any]) -> dict[str, Any]:
    """The types of a rule's arguments, room for records included."""
    hints = get_type_hints(function)
    hints.pop("return", None)
    for name, kind in hints.items():
        if kind is Any:
            hints[name] = Sequence[room_of(ROOM[name])]  # type: ignore[misc]
    return hints


def room_of(name: str) -> Any:
    folds = ("radiosim.vehicle.fold.", "radiosim.firmware.all_passes")
    modules = [module for path, module in sys.modules.items() if path.startswith(folds)]
    return next(getattr(module, name) for module in modules if hasattr(module, name))


def compare(function: Callable[..., Any], calls: int) -> int:
    """How many of some calls with random arguments have a meaning; all of those are compared."""
    root, hints, compared = machine.compiled(function), types_of(function), 0
    draw = random.Random(function.__name__)
    for _ in range(calls):
        arguments = [plain(kind, name, draw) for name, kind in hints.items()]
        given = [as_machine(k, v) for k, v in zip(hints.values(), arguments, strict=True)]
        try:
            result = limited(function, arguments)
        except (ArithmeticError, ValueError, IndexError, EndlessError, WideError):
            continue
        if not fits(told([result, *arguments])):
            continue
        compared += 1
        assert told(root(*given)) == told(result), arguments
        assert [told(part) for part in given] == [told(part) for part in arguments]
    return compared


LONG = ("levels", "output_effects", "program_passes", "program_state", "reception", "timer_view")
"""Modules whose rules take seconds to compile."""
MODULES = sorted({function.__module__ for function in RULES})


@pytest.mark.parametrize(
    "module",
    [pytest.param(m, marks=pytest.mark.slow) if m.endswith(LONG) else m for m in MODULES],
)
def test_rules_give_the_same_as_machine_code(
    module: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("rules")))
        rules = [function for function in RULES if function.__module__ == module]
        for function in rules[:: len(rules) // drawn(len(rules))]:
            assert compare(function, CALLS) > 0, function.__name__
