"""Speed as ratios of one run: `python -m tests.bench.speed`.

Not a test: nothing here passes or fails. Both sides of a ratio are measured in turn, several
times, on one core, by processor time; medians are printed.
"""

import dataclasses
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Generator, Sequence
from pathlib import Path
from typing import Any

import msgspec
import pytest
import simpy

from radiosim.engine import fast, reference
from radiosim.engine.plan import Plan, make_plan, plan_of
from radiosim.engine.reference.world import World
from radiosim.engine.simulate import flow
from radiosim.errors import FirmwareError
from radiosim.firmware.bench import Bench
from radiosim.firmware.rungs import bench_on
from radiosim.firmware.script import Script, script_of
from radiosim.firmware.settings_header import link_header
from radiosim.firmware.starter import starter
from radiosim.machine import kept
from radiosim.measure.start import tally_flow
from radiosim.measure.summarise import pool_starts
from radiosim.measure.tally import Range, StartTally
from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.changed import changed
from radiosim.study.starts import tallies_of, tally_of
from radiosim.study.tune.point import judged, lean, with_requirements
from radiosim.study.tune.tuned import tuned
from radiosim.study.tune.varied import chosen
from radiosim.vehicle.feedback import simulate
from radiosim.vehicle.vehicle import run_vehicle
from tests.bench.against_c import check_rows, hand_written

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))
REFERENCE_S, FAST_S, PROGRAM_S = 20.0, 2_000.0, 60.0
BARE_TIMEOUTS = 100_000
ROUNDS = 5
PLAIN_PAIR = """
radio.profile = "gfsk-1M"
transmitter.a = { period_ms = 20, payload_bytes = 6, acknowledge = false }
transmitter.b = { period_ms = 23, payload_bytes = 6, acknowledge = false }
receiver.read = "all"
"""


def seconds_of(work: Callable[[], object]) -> float:
    """Processor time of one call."""
    began = time.process_time()
    work()
    return time.process_time() - began


def median_s(work: Callable[[], object]) -> float:
    """The middle of some calls, after one that does not count."""
    work()
    return statistics.median(seconds_of(work) for _ in range(ROUNDS))


def bare_timeouts() -> None:
    """The event queue with nothing on it but one process that sleeps."""
    env = simpy.Environment()

    def sleeper() -> Generator[simpy.Event, Any, None]:
        while True:
            yield env.timeout(1)

    env.process(sleeper())
    env.run(until=BARE_TIMEOUTS)


def lasting(given: Scenario, duration_s: float) -> Plan:
    return make_plan(msgspec.structs.replace(given, duration_s=duration_s), 0)


def empty(plan: Plan) -> int:
    """Run the compiled loop and let its rows go by; how many attempts there were."""
    return sum(len(chunk["attempts"]) for chunk in fast.chunks(plan))


def compare_with_bare_queue(given: Scenario) -> None:
    """Events of the reference engine against timeouts of a bare queue."""
    plan = lasting(given, REFERENCE_S)
    world = World(plan, False)
    world.env.run(until=plan.until_ns)
    # The next identity that the queue would give out: how many events were put on it.
    events = next(world.env._eid)
    ratio = (events / median_s(lambda: reference.run(plan))) / (
        BARE_TIMEOUTS / median_s(bare_timeouts)
    )
    print(f"reference: {events / REFERENCE_S:.0f} events a simulated second, each as fast as")
    print(f"  {ratio:.2f} of a bare timeout's speed")


def compare_engines() -> None:
    """Both engines on every scenario: rows handed over, and rows folded into all figures."""
    print("\nsimulated seconds a second       reference    fast   ratio  folded   ratio")
    pair = parse(PLAIN_PAIR)
    for name, given in (("two plain ones", pair), *((p.stem, load(p)) for p in SCENARIOS)):
        slow, quick = lasting(given, REFERENCE_S), lasting(given, FAST_S)
        reference_rate = REFERENCE_S / median_s(lambda plan=slow: reference.run(plan))  # type: ignore[misc]
        fast_rate = FAST_S / median_s(lambda plan=quick: empty(plan))  # type: ignore[misc]
        whole = msgspec.structs.replace(given, duration_s=FAST_S)
        folded_rate = FAST_S / median_s(lambda s=whole: tally_flow(flow(s)))  # type: ignore[misc]
        print(
            f"{name:<32} {reference_rate:>9.0f} {fast_rate:>7.0f} "
            f"{fast_rate / reference_rate:>7.0f} {folded_rate:>7.0f} "
            f"{folded_rate / reference_rate:>7.0f}"
        )


def compare_with_c() -> None:
    """The compiled loop against the same loop written by hand in C, two plain transmitters."""
    plan = lasting(parse(PLAIN_PAIR), FAST_S)
    by_hand = hand_written(plan)
    if by_hand is None:
        print("\nno gcc here: not compared with the loop in C")
        return
    check_rows(plan, by_hand)
    attempts = empty(plan)
    in_c = median_s(lambda: sum(len(chunk["attempts"]) for chunk in by_hand.chunks()))
    ours = median_s(lambda: empty(plan))
    print("\ntwo plain transmitters, every row the same: ns an attempt")
    print(f"{1e9 * ours / attempts:.0f} compiled, {1e9 * in_c / attempts:.0f} in C (gcc -O3): ")
    print(f"  {in_c / ours:.2f} of the speed of C")


def cost_of_attempts() -> None:
    """What an attempt costs with more transmitters, and with more time: flat, if all is well."""
    print("\ntransmitters   ns an attempt")
    for count in (1, 2, 4, 6):
        transmitters = "".join(
            f"transmitter.t{i} = {{ period_ms = {20 + 3 * i}, payload_bytes = 6, "
            f"retry_delay_us = {500 + 250 * i} }}\n"
            for i in range(count)
        )
        plan = lasting(parse(f'radio.profile = "gfsk-1M"\n{transmitters}'), FAST_S)
        print(f"{count:>7} {1e9 * median_s(lambda p=plan: empty(p)) / empty(plan):>15.0f}")  # type: ignore[misc]
    print("\nsimulated   ns an attempt (two transmitters)")
    two = parse(
        'radio.profile = "gfsk-1M"\n'
        "transmitter.a = { period_ms = 20, payload_bytes = 6 }\n"
        "transmitter.b = { period_ms = 23, payload_bytes = 6, retry_delay_us = 1250 }\n"
    )
    for label, duration_s in (("1 min", 60.0), ("1 h", 3_600.0), ("100 h", 360_000.0)):
        plan = lasting(two, duration_s)
        print(f"{label:>9} {1e9 * median_s(lambda p=plan: empty(p)) / empty(plan):>15.0f}")  # type: ignore[misc]


AIR = {
    "range, Rician": ("air.range={distance_m=10, path='free-space', fading='rician'}",),
    "bursts": ("air.burst={good_ms=900, bad_ms=30, loss_bad=0.3}",),
    "two interferers": (
        "interferer.a={kind='bursts', channel_mhz=2462, duty=0.1, power_dbm_at_receiver=-90}",
        "interferer.b={kind='transmitter', channel_mhz=2476, power_dbm_at_receiver=-95}",
    ),
}
"""Keys that make the air of a scenario what it is."""


def cost_of_the_air(given: Scenario) -> None:
    """Speed with distances, fading, bursts and interferers, as a share of the plain scenario's."""
    plain = lasting(given, FAST_S)
    plain_s = median_s(lambda: empty(plain))
    print("\nair of culvert-crawler            share of the plain scenario's speed")
    keys: tuple[str, ...] = ()
    for name, more in AIR.items():
        keys += more
        plan = lasting(changed(given, keys), FAST_S)
        print(f"{'+ ' + name:<32} {plain_s / median_s(lambda p=plan: empty(p)):>9.2f}")  # type: ignore[misc]


TUNED = {"starts": 30, "duration_s": 60.0, "fault": ()}
"""Each point of a tuning. Faults come later than its end."""
TUNED_POINTS = 40


def speed_of_tuning(given: Scenario) -> None:
    """What a start costs, all of it, beside the loop alone; and two processes over one."""
    asked, _ = with_requirements(msgspec.structs.replace(given, **TUNED))
    settings, points = chosen(asked, (), TUNED_POINTS)
    plan = lasting(asked, TUNED["duration_s"])
    loop_s = median_s(lambda: empty(plan))

    def all_of_it(workers: int) -> Callable[[], object]:
        return lambda: tuned(asked, settings, points, workers=workers)

    starts = (TUNED_POINTS + 1) * TUNED["starts"]
    alone_s = seconds_of(all_of_it(1))
    began = time.perf_counter()
    all_of_it(1)()
    one_s, began = time.perf_counter() - began, time.perf_counter()
    all_of_it(2)()
    two_s = time.perf_counter() - began
    print("\ntune culvert-crawler, starts of 60 s: ms a start")
    print(f"{1000 * alone_s / starts:.1f} judged, {1000 * loop_s:.1f} the loop alone")
    print(f"two processes over one: {one_s / two_s:.2f} times as fast")
    print(f"  1,000 points of 30 starts: {two_s / len(points) * 1000:.0f} s with two")


COMMANDS = {
    "radiosim --help": ("-m", "radiosim", "--help"),
    "radiosim run smallest --starts 1": ("-m", "radiosim", "run", "smallest", "--starts", "1"),
}
LIBRARIES = ("-c", "import numpy, scipy")


def processor_s(words: Sequence[str], cache: Path) -> float:
    """Processor time of one run of Python with these words, its machine code kept in a folder."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, *words],
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=os.environ | {"XDG_CACHE_HOME": str(cache)},
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def speed_of_commands() -> None:
    """Whole commands, the first run and later ones, over what importing their libraries takes."""
    with tempfile.TemporaryDirectory() as folder:
        cache = Path(folder)
        processor_s(LIBRARIES, cache)
        libraries_s = statistics.median(processor_s(LIBRARIES, cache) for _ in range(ROUNDS))
        print(f"\nwhole commands: processor time over {LIBRARIES[1]!r} ({libraries_s:.2f} s)")
        for name, words in COMMANDS.items():
            first_s = processor_s(words, cache)
            warm_s = statistics.median(processor_s(words, cache) for _ in range(ROUNDS))
            print(
                f"{name:<34} first run {first_s / libraries_s:>5.1f} ({first_s:.2f} s), "
                f"then {warm_s / libraries_s:>5.1f} ({warm_s:.2f} s)"
            )


def spent_s(bench: Bench) -> float:
    """Processor time of a bench and of the lives that it ran."""
    # utime, stime, and the same of children that it has waited for (proc(5), "stat").
    fields = Path(f"/proc/{bench.group}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return sum(int(ticks) for ticks in fields[11:15]) / os.sysconf("SC_CLK_TCK")


def median_of_bench_s(bench: Bench, script: Script) -> float:
    """Median processor time of one start, of some rounds of as many as take a second."""
    began_s = spent_s(bench)
    count = 0
    while spent_s(bench) - began_s < 1.0:
        bench.run(script)
        count += 1
    rounds = []
    for _ in range(ROUNDS):
        began_s = spent_s(bench)
        for _ in range(count):
            bench.run(script)
        rounds.append((spent_s(bench) - began_s) / count)
    return statistics.median(rounds)


def compare_program(given: Scenario) -> None:
    """A start by a receiver's program on this machine and on the core, and the model's own."""
    scenario = msgspec.structs.replace(given, duration_s=PROGRAM_S)
    trace = simulate(scenario)
    plan = plan_of(trace)
    script = script_of(scenario, plan, trace)
    vehicle_s = median_s(lambda: run_vehicle(trace))
    script_s = median_s(lambda: script_of(scenario, plan, trace))
    print(f"\na receiver's program, {PROGRAM_S:g} s of {scenario.name}")
    print(f"  its script: {1000 * script_s:.1f} ms")
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "rx.c"
        source.write_text(starter(scenario), encoding="utf-8")
        for rung in ("host", "core"):
            try:
                with bench_on(rung, [source], {"link.h": link_header(scenario)}) as (bench, _):
                    program_s = median_of_bench_s(bench, script)
            except FirmwareError as error:
                print(f"  {rung}: {error}")
                continue
            print(
                f"  {rung}: {1000 * program_s:.1f} ms, {program_s / vehicle_s:.2f} of the model's "
                f"program and outputs ({1000 * vehicle_s:.1f} ms), {PROGRAM_S / program_s:.0f} x"
            )


CHANGED = {
    "one fold": "measure/of_output.py",
    "the loop": "engine/fast/loop.py",
    "a base rule": "engine/rules/timing.py",
}
"""What somebody changes, and the file that it stands in."""


class Spent:
    """Processor time of making each root's machine code, without that of roots that it calls."""

    def __init__(self) -> None:
        self.by_root: dict[str, float] = {}
        self._make, self._inside = kept.linked, 0.0

    def linked(self, function: Callable[..., Any], kinds: tuple[Any, ...]) -> tuple[str, str]:
        """Make a root's code as `kept.linked` does."""
        outside, self._inside = self._inside, 0.0
        began = time.process_time()
        found = self._make(function, kinds)
        took = time.process_time() - began
        name = f"{function.__module__}.{function.__name__}"
        self.by_root[name] = self.by_root.get(name, 0.0) + took - self._inside
        self._inside = outside + took
        return found


def cost_of_compiling() -> None:
    """Processor time of every root's machine code, and of what a change makes anew."""
    spent = Spent()
    with pytest.MonkeyPatch.context() as patch, tempfile.TemporaryDirectory() as folder:
        patch.setenv("XDG_CACHE_HOME", folder)
        patch.setattr(kept, "linked", spent.linked)
        tally_flow(flow(msgspec.structs.replace(load(SCENARIOS[0]), duration_s=2.0)))
        heads = {path.name: kept.head_of(path.read_bytes()) for path in kept.folder().iterdir()}
        kept_bytes = sum(path.stat().st_size for path in kept.folder().iterdir())
    whole_s = sum(spent.by_root.values())
    print(f"\nmachine code: {whole_s:.2f} s, {kept_bytes / 1e6:.2f} MB; by root, ms")
    for name, seconds in sorted(spent.by_root.items(), key=lambda one: -one[1]):
        print(f"{name.removeprefix('radiosim.'):<48} {1000 * seconds:>6.0f}")
    for what, file in CHANGED.items():
        hit = {
            symbol
            for symbol, head in heads.items()
            if head is not None and any(source.endswith(file) for source in head["sources"])
        }
        # What calls a root that is made anew is made anew with it.
        hit |= {s for s, head in heads.items() if head is not None and hit & set(head["roots"])}
        names = {symbol.rsplit(".", 1)[0] for symbol in hit}
        print(f"after a change of {what}: {1000 * sum(spent.by_root[n] for n in names):.0f} ms")


def parts_of_a_start(given: Scenario) -> None:
    """What a start of a minute costs, part by part, in a run and as one of a tuning's point."""
    asked, _ = with_requirements(msgspec.structs.replace(given, **TUNED))
    point, starts = lean(asked), range(TUNED["starts"])
    plan, tallies = make_plan(point, 0), tallies_of(point, starts, "fast")

    def each(work: Callable[[int], object]) -> float:
        return median_s(lambda: [work(start) for start in starts]) / len(starts)

    def first_of_all(start: int) -> StartTally:
        return tally_of(msgspec.structs.replace(point), "fast", start)

    def by_rows(start: int) -> StartTally:
        return tally_flow(dataclasses.replace(flow(point, start=start), is_new=False))

    together = Range(first=0, count=len(starts))
    judged_s = median_s(lambda: judged(asked, "fast", None, ())) / len(starts)
    one_s = each(lambda start: tally_of(point, "fast", start))
    parts = {
        "the loop alone": median_s(lambda: empty(plan)),
        "its plan": each(lambda start: make_plan(point, start)),
        "plan and tally, as rows go by": each(by_rows),
        "the same in one call, the first of a scenario": each(first_of_all),
        "the same, one of many": one_s,
        "pooled with others of a run": median_s(lambda: pool_starts(point, together, tallies))
        / len(starts),
        "judged as one of a point, all of it": judged_s,
        "of that, what is no start": judged_s - one_s,
    }
    print("\na start of 60 s of culvert-crawler             ms   over its loop")
    for name, seconds in parts.items():
        print(f"{name:<46} {1000 * seconds:>5.2f} {seconds / parts['the loop alone']:>8.2f}")


def main() -> None:
    """Print all of it."""
    cost_of_compiling()
    speed_of_commands()
    crawler = load(next(path for path in SCENARIOS if path.stem == "culvert-crawler"))
    compare_with_bare_queue(crawler)
    compare_engines()
    cost_of_the_air(crawler)
    compare_with_c()
    cost_of_attempts()
    parts_of_a_start(crawler)
    compare_program(crawler)
    speed_of_tuning(crawler)


if __name__ == "__main__":
    main()
