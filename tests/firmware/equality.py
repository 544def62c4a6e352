"""Whether the model and the program that is written for a scenario agree to the nanosecond.

`python -m tests.firmware.equality` tries every shipped scenario, whole, on host and core, and
prints a table; with `random 300` it tries so many random ones. Reads, what
outputs are told and what failsafe is must stand at the same nanosecond, pulses may be 1 us off,
which is what `rx_pulse` takes.
"""

import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from msgspec.structs import replace

from radiosim.errors import FirmwareError
from radiosim.firmware.rungs import CORE, HOST, bench_on
from radiosim.firmware.settings_header import link_header
from radiosim.firmware.starter import starter
from radiosim.firmware.tried import check_served, refusals, tried
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import guessed_presets
from tests.engines.random_scenarios import scenarios
from tests.study.tune.scenarios import shipped

FINEST_MS = 0.001
"""The step of rx_us, which the model then counts by, too."""


@dataclass(frozen=True, kw_only=True)
class Agreed:
    """What was compared in some starts."""

    starts: int
    frames: int
    """That stood in the FIFO."""
    reads: int
    """Those that were read, or left, at the predicted nanosecond."""
    changes: int
    """Of what outputs were told, as predicted."""
    of_failsafe: int
    """Changes of failsafe, as predicted."""
    outputs_off: int
    """Spans, however short, in which an output or failsafe was otherwise."""
    longest_off_ns: int

    @property
    def is_equal(self) -> bool:
        """Whether nothing was off by a nanosecond."""
        return self.reads == self.frames and not self.outputs_off


def shipped_names() -> list[str]:
    """Every scenario that ships."""
    return sorted(path.stem for path in (Path(__file__).parents[2] / "scenarios").glob("*.toml"))


def countable(given: Scenario) -> Scenario:
    """A scenario within the contract: a clock that a program can count by, levels it can say."""
    tick_ms = given.receiver.clock_tick_ms or FINEST_MS
    near = writable(in_percent(given))
    return replace(near, receiver=replace(near.receiver, clock_tick_ms=tick_ms))


def in_percent(given: Scenario) -> Scenario:
    """With levels in the whole numbers in which a program writes them."""
    outputs = {
        name: replace(
            one,
            mix={field: 100 * weight for field, weight in one.mix.items()},
            value=(100 * one.value[0], 100 * one.value[1]),
        )
        if one.kind == "pwm"
        else one
        for name, one in given.output.items()
    }
    return replace(given, output=outputs)


def writable(given: Scenario) -> Scenario:
    """A scenario for which a program is written and compared, as near to another as can be."""
    failsafe = {name: replace(one, fed_at="read") for name, one in given.failsafe.items()}
    guessed = guessed_presets(given)
    outputs = {
        name: replace(
            one,
            on_failsafe="hold" if name in guessed else one.on_failsafe,
        )
        for name, one in given.output.items()
        if not any(text.startswith(f"output.{name}") for text in refusals(given))
    }
    return replace(
        given,
        failsafe=failsafe,
        output=outputs,
        receiver=replace(given.receiver, interrupt=False),
    )


def agreed(scenario: Scenario, rung: str, starts: int) -> Agreed:
    """Some starts of the program that is written for a scenario, beside the model."""
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "rx.c"
        source.write_text(starter(scenario), encoding="utf-8")
        with bench_on(rung, [source], {"link.h": link_header(scenario)}) as (bench, _):
            found = [tried(scenario, start, bench) for start in range(starts)]
    compared = [one.difference for one in found if one.difference is not None]
    assert len(compared) == starts, found
    outputs = [one for each in compared for one in each.outputs]
    failsafe = [one for each in compared for one in each.failsafe]
    spans = [span.length_ns for one in (*outputs, *failsafe) for span in one.spans]
    return Agreed(
        starts=starts,
        frames=sum(one.frames for one in compared),
        reads=sum(one.reads for one in compared),
        changes=sum(one.changes for one in outputs),
        of_failsafe=sum(one.changes for one in failsafe),
        outputs_off=len(spans) + sum(one.short for one in (*outputs, *failsafe)),
        longest_off_ns=max([0, *spans, *(one.longest_short_ns for one in (*outputs, *failsafe))]),
    )


def _rows(rung: str) -> Iterator[str]:
    for name in shipped_names():
        scenario = countable(shipped(name))
        began_s = time.process_time()
        one = agreed(scenario, rung, starts=2)
        yield (
            f"| {name} | {rung} | {one.starts * scenario.duration_s:g} | {one.frames:,} | "
            f"{one.reads:,} | {one.changes:,} | {one.of_failsafe:,} | {one.outputs_off:,} | "
            f"{one.longest_off_ns:,} |"
        )
        print(f"{name} {rung}: {time.process_time() - began_s:.1f} s", file=sys.stderr)


def try_shipped() -> None:
    """Print the table."""
    print("| scenario | rung | s | frames | reads equal | told equal | failsafe equal | off | ns |")
    print("|---|---|---|---|---|---|---|---|---|")
    for rung in (HOST, CORE):
        for row in _rows(rung):
            print(row, flush=True)


def try_random(count: int) -> None:
    """Try so many random scenarios on the host, and print how many agreed."""
    found: Counter[str] = Counter()

    @settings(
        max_examples=10 * count,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(scenarios)
    def one(drawn: Scenario) -> None:
        if found["equal"] + found["off"] >= count:
            return
        scenario = countable(drawn)
        try:
            check_served(scenario)
            starter(scenario)
        except FirmwareError:
            found["refused"] += 1
            return
        result = agreed(scenario, HOST, starts=1)
        found["equal" if result.is_equal else "off"] += 1
        found["frames"] += result.frames
        found["told"] += result.changes
        if not result.is_equal:
            print(result, scenario, flush=True)
        if (found["equal"] + found["off"]) % 25 == 0:
            print(dict(found), flush=True)

    one()
    print(dict(found))


if __name__ == "__main__":
    if sys.argv[1:2] == ["random"]:
        try_random(int(sys.argv[2]))
    else:
        try_shipped()
