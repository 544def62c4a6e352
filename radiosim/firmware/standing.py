"""The bench of a scenario's own receiver program: one stands in each thread, and is used again."""

import atexit
import os
import threading
from contextlib import ExitStack
from pathlib import Path

from msgspec.structs import replace

from radiosim.errors import FirmwareError
from radiosim.firmware.bench import Bench
from radiosim.firmware.rungs import CHIP, bench_on
from radiosim.firmware.settings_header import link_header, stamp_of
from radiosim.firmware.tried import check_served
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import OF_PROGRAM

_WHERE = {"host": "on the host", "core": "on an emulated core"}
_OPEN: set[ExitStack] = set()


class _Kept(threading.local):
    key: tuple[object, ...] = ()
    bench: Bench | None = None
    stack: ExitStack | None = None


_KEPT = _Kept()


def standing_bench(scenario: Scenario) -> Bench:
    """The bench of the program that a scenario names, built if need be.

    FirmwareError with what is in the way, in one line.
    """
    program = scenario.receiver.program
    assert program is not None, "the scenario names no program"
    # A bench that another process has started answers that one alone.
    key = (os.getpid(), program, stamp_of(scenario))
    if _KEPT.key == key and _KEPT.bench is not None:
        return _KEPT.bench
    _let_go()
    _check(scenario)
    with ExitStack() as stack:
        paths = [Path(source) for source in program.sources]
        headers = {"link.h": link_header(scenario)}
        bench, _ = stack.enter_context(bench_on(program.on, paths, headers))
        _KEPT.key, _KEPT.bench, _KEPT.stack = key, bench, stack.pop_all()
    _OPEN.add(_KEPT.stack)
    return bench


def _let_go() -> None:
    stack, key = _KEPT.stack, _KEPT.key
    _KEPT.key, _KEPT.bench, _KEPT.stack = (), None, None
    if stack is not None and key[0] == os.getpid():
        _OPEN.discard(stack)
        stack.close()


def _at_the_end() -> None:
    for stack in tuple(_OPEN):
        stack.close()


atexit.register(_at_the_end)
os.register_at_fork(after_in_child=_OPEN.clear)


def _check(scenario: Scenario) -> None:
    program = scenario.receiver.program
    assert program is not None
    if program.on == CHIP:
        raise FirmwareError(
            "receiver.program.on: a chip is tried by radiosim firmware alone; for figures set it "
            "to host or core and give its sources"
        )
    check_served(scenario)


def with_program(scenario: Scenario) -> Scenario:
    """The scenario once its program, if it names one, is built and runs; it says so.

    FirmwareError with what is in the way, in one line.
    """
    program = scenario.receiver.program
    if program is None:
        return scenario
    standing_bench(scenario)
    names = ", ".join(Path(source).name for source in program.sources)
    said = (
        f"{OF_PROGRAM}{names}, settings {stamp_of(scenario)}, "
        f"{_WHERE[program.on]}; all else is the model's"
    )
    others = (line for line in scenario.assumed if not line.startswith(OF_PROGRAM))
    return replace(scenario, assumed=(said, *others))


def without_program(scenario: Scenario) -> Scenario:
    """The scenario with the model's own program; it says so where it names another."""
    if scenario.receiver.program is None:
        return scenario
    said = "receiver.program: not run here, outputs and failsafe are the model's"
    # What run and failsafe have said of it is no longer so.
    others = tuple(line for line in scenario.assumed if not line.startswith(OF_PROGRAM))
    receiver = replace(scenario.receiver, program=None)
    return replace(scenario, receiver=receiver, assumed=(said, *others))
