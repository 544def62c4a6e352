"""The whole sheet: what needs no simulation, what does, and what is broken on purpose."""

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from functools import partial

import msgspec

from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import Engine
from radiosim.safety import CLEAR, NO_JAMMING
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import guessed_presets, program_lines
from radiosim.scenario.danger import outputs_by_danger
from radiosim.study.amount import OnAmounts, amount_of_starts
from radiosim.study.bench.beat_steps import beat_chapter
from radiosim.study.bench.counted_steps import Count, calm, counted, counted_chapter, ordinary
from radiosim.study.bench.fault_steps import bench_work, fault_chapter
from radiosim.study.bench.step import STARTS, STILL_DRIVEN, BenchTestSheet, Step, StepCase, labelled
from radiosim.study.bench.supply_steps import supply_chapter
from radiosim.study.bench.timing_steps import timing_chapter
from radiosim.study.drill.work import OfStart, Work
from radiosim.study.run_points import OnProgress, run_points
from radiosim.study.starts import make_ready
from radiosim.study.worker_pool import shared_pool
from radiosim.version import VERSION

MINUTES = 10.0
CAUTIONS = (
    f"{CLEAR[0].upper()}{CLEAR[1:]}, tracks free. Keep a switch in the supply of the motors at "
    "hand: use it, and never reach into what may move.",
    f"{NO_JAMMING[0].upper()}{NO_JAMMING[1:]}.",
    "Do not drive before every step under 'Failsafe' has passed; a step that passes says that this "
    "bench agrees.",
)


@shared_pool()
def bench_test_sheet(
    scenario: Scenario,
    *,
    starts: int = STARTS,
    minutes: float = MINUTES,
    engine: Engine = "auto",
    executor: Executor | None = None,
    workers: int | None = None,
    on_progress: OnProgress | None = None,
    on_amounts: OnAmounts = lambda _: None,
) -> BenchTestSheet:
    """Every step that the scenario's parts allow, with what to expect of it."""
    free = without_needs(scenario)
    work, quiet = bench_work(free, starts, engine), calm(free, minutes)
    make_ready(quiet, engine)
    on_amounts((amount_of_starts(quiet, starts * quiet.duration_s, engine), *work.amounts(0)))
    tried = run_points(
        partial(_tried, quiet, work),
        range(2 * starts),
        fold=tuple,
        is_ready=True,
        executor=executor,
        workers=workers,
        on_progress=on_progress,
    )
    counts = [entry for entry in tried if isinstance(entry, Count)]
    found = [entry for entry in tried if isinstance(entry, OfStart)]
    beats, supply = beat_chapter(scenario), supply_chapter(scenario)
    chapters = (
        timing_chapter(scenario, make_plan(scenario, 0)),
        counted_chapter(scenario, counts),
        *((beats,) if beats else ()),
        *((supply,) if supply else ()),
        fault_chapter(work, found),
    )
    return BenchTestSheet(
        scenario=scenario.name,
        title=scenario.title or scenario.name,
        version=VERSION,
        seed=scenario.seed,
        starts=starts,
        minutes=minutes,
        hazards=tuple(_hazards([step for chapter in chapters for step in chapter.steps])),
        guessed=outputs_by_danger(scenario, guessed_presets(scenario)),
        cautions=CAUTIONS,
        chapters=chapters,
        notes=tuple(_notes(scenario)),
    )


def without_needs(scenario: Scenario) -> Scenario:
    """The scenario without faults of its own, and without waiting for a stick to be near neutral.

    How long that takes is up to the hand, not to the link.
    """
    timers = {
        name: msgspec.structs.replace(timer, resume_needs=None)
        for name, timer in scenario.failsafe.items()
    }
    return msgspec.structs.replace(scenario, failsafe=timers, fault=(), requirement=())


def _tried(quiet: Scenario, work: Work, number: int) -> Count | OfStart:
    """One start: the first half of all numbers count what comes, the other half drill."""
    if number < work.starts:
        return counted(quiet, work.engine, ordinary(number))
    return work.drilled(number - work.starts)


def _hazards(steps: Sequence[Step]) -> Iterator[str]:
    """Outputs that go on turning, why, and at which faults."""
    driven: dict[tuple[str, str], dict[str, list[str]]] = {}
    for label, step, case in labelled(steps):
        for why, names in _still_driven(case).items():
            at = driven.setdefault((", ".join(names), why), {})
            at.setdefault(f"{step.title[:1].lower()}{step.title[1:]}", []).append(label)
    for (outputs, why), at in driven.items():
        where = "; ".join(f"{', '.join(labels)} {title}" for title, labels in at.items())
        yield f"{STILL_DRIVEN}: {outputs}: {why}: {where}."


def _still_driven(case: StepCase) -> dict[str, list[str]]:
    """Outputs of a case that are still driven, by why they are."""
    found: dict[str, list[str]] = {}
    for prediction in case.predicted:
        if prediction.text.startswith(STILL_DRIVEN):
            found.setdefault(prediction.text.removeprefix(f"{STILL_DRIVEN}: "), []).append(
                prediction.of
            )
    return found


def _notes(scenario: Scenario) -> Iterator[str]:
    for line in program_lines(scenario.assumed):
        yield f"{line[0].upper()}{line[1:]}."
    if scenario.fault:
        yield "The scenario's own faults are left out: each step brings its own."
    if scenario.air.range is not None:
        yield (
            "Counts are for the scenario's distances; side by side on a bench fewer frames are "
            "lost. "
            "Set air.range.distance_m to the bench's, or walk."
        )
    for name, timer in scenario.failsafe.items():
        if timer.resume_needs is not None:
            yield (
                f"Keep {timer.resume_needs.field} of {name} at neutral whenever it is to come "
                "back: failsafe waits for that (resume_needs), and the predicted ranges leave that "
                "time out."
            )
