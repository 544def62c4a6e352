"""The studies of the command line as functions: same options, same results."""

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from radiosim.edges import DRILL_HOURS, NUISANCE_PER_HOUR, REACTION_MS, SPEED_M_S
from radiosim.engine.simulate import Engine
from radiosim.errors import OptionError
from radiosim.layout import LONGEST_PAYLOAD_BYTES
from radiosim.layout.compare import Comparison
from radiosim.layout.compare import compare as compared_layouts
from radiosim.layout.compare.compared import Length
from radiosim.python.asked import Keys, ScenarioLike, in_python_words, origin_of, scenario_of
from radiosim.python.result import StudyResult
from radiosim.report.bench_test import bench_test_report
from radiosim.report.channels import channels_report
from radiosim.report.drill import drill_report
from radiosim.report.layout_compare import compare_report
from radiosim.report.range import range_report
from radiosim.report.tune import tune_report
from radiosim.results.document import Origin
from radiosim.scenario.named_layout import comments_of, named_layout, values_of, with_units_of
from radiosim.scenario.shipped import scenario_path
from radiosim.study import bench, layout_change
from radiosim.study import channels as channel_study
from radiosim.study import range as range_study
from radiosim.study.bench import BenchTestSheet
from radiosim.study.channels import Channel
from radiosim.study.drill.drill import REPEATS, DrillOptions, drill_failsafe
from radiosim.study.drill.drill_kinds import check_skipped
from radiosim.study.drill.results import Drilled
from radiosim.study.range import Reach
from radiosim.study.run_points import OnProgress
from radiosim.study.tune.tune_results import Tuned
from radiosim.study.tune.tuned import tune_scenario
from radiosim.version import VERSION


def tune(
    scenario: ScenarioLike,
    *,
    vary: Sequence[str] = (),
    prefer: Sequence[str] = (),
    points: int | None = None,
    starts: int | None = None,
    duration_s: float | None = None,
    narrow: str | None = None,
    seed: int | None = None,
    set: Keys = (),
    engine: Engine = "auto",
    workers: int | None = None,
    resume: Path | None = None,
    on_progress: OnProgress | None = None,
) -> StudyResult[Tuned]:
    """Tries settings, recommends some, and tries those over the whole scenario: `radiosim tune`.

    `vary`: `KEY=FIRST:LAST:STEP` or `KEY=A,B,C`, numbers or words, left out: all periods and
    retries. `prefer`: streams that come first. `points`: how many combinations. `starts` and
    `duration_s` (s) of each. `narrow`: `FIGURE=WIDTH`, how well a figure must be known. `resume`: a
    file that keeps what is done. Raises RadiosimError.
    """
    with in_python_words():
        whole = scenario_of(scenario, set, seed=seed)
        found = tune_scenario(
            scenario_of(whole, starts=starts, duration_s=duration_s),
            whole,
            vary=vary,
            prefer=prefer,
            points=points,
            starts=starts,
            duration_s=duration_s,
            narrow=narrow,
            engine=engine,
            journal=resume,
            workers=workers,
            on_progress=on_progress,
        )
    report = tune_report(found, origin_of(scenario, found.seed))
    return StudyResult(found, report, ok=found.ok)


def drill(
    scenario: ScenarioLike,
    *,
    repeats: int = REPEATS,
    hours: float | None = None,
    nuisance_per_hour: float | None = None,
    reaction_ms: float | None = None,
    speed_m_s: float | None = None,
    skip: Sequence[str] = (),
    seed: int | None = None,
    set: Keys = (),
    engine: Engine = "auto",
    workers: int | None = None,
    resume: Path | None = None,
    on_progress: OnProgress | None = None,
) -> StudyResult[Drilled]:
    """Drills every fault that a scenario allows, and weighs its timeouts: `radiosim failsafe`.

    `repeats` of each fault; `hours` (h) on which timeouts are tried; the most `nuisance_per_hour`
    (1/h) and the longest `reaction_ms` (ms) that you bear; `speed_m_s` (m/s) of the vehicle; kinds
    of faults to `skip`. `resume`: a file that keeps what is done. Raises RadiosimError, ValueError.
    """
    options = DrillOptions(
        repeats=repeats,
        skip=tuple(dict.fromkeys(skip)),
        nuisance_per_hour=nuisance_per_hour,
        reaction_ms=reaction_ms,
        hours=hours,
        engine=engine,
        workers=workers,
    )
    with in_python_words():
        check_skipped(options.skip)
        for name, value, edges in (
            ("hours", hours, DRILL_HOURS),
            ("nuisance_per_hour", nuisance_per_hour, NUISANCE_PER_HOUR),
            ("reaction_ms", reaction_ms, REACTION_MS),
            ("speed_m_s", speed_m_s, SPEED_M_S),
        ):
            if value is not None and (wrong := edges.refusal(value)):
                raise OptionError(f"{name}: {wrong}")
        asked = scenario_of(scenario, set, runs_program=True, seed=seed)
        found = drill_failsafe(asked, options, journal=resume, on_progress=on_progress)
    report = drill_report(found, origin_of(scenario, found.seed), speed_m_s=speed_m_s)
    return StudyResult(found, report, ok=found.ok)


def reach(
    scenario: ScenarioLike,
    *,
    points: int = range_study.POINTS,
    starts: int | None = None,
    duration_s: float | None = None,
    seed: int | None = None,
    set: Keys = (),
    engine: Engine = "auto",
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> StudyResult[Reach]:
    """Simulates a scenario at one distance after another, 6 dB either way: `radiosim range`.

    `points`: how many distances at most, 2 at least; `starts` and `duration_s` (s) at each. Raises
    RadiosimError.
    """
    with in_python_words():
        if points < 2:
            raise OptionError(f"--points: must be >= 2, got {points}")
        asked = scenario_of(scenario, set, starts=starts, duration_s=duration_s, seed=seed)
        part = range_study.shortened(asked, starts, duration_s)
        found = range_study.reach(
            part,
            points,
            engine=engine,
            workers=workers,
            on_progress=on_progress,
        )
    return StudyResult(found, range_report(found, part, origin_of(scenario, part.seed)))


def channels(scenario: ScenarioLike, *, set: Keys = ()) -> StudyResult[tuple[Channel, ...]]:
    """Lists the channels inside the band, those clear of interferers first: `radiosim channels`.

    Raises RadiosimError.
    """
    with in_python_words():
        asked = scenario_of(scenario, set)
        found = channel_study.channels(asked)
    return StudyResult(found, channels_report(asked, found, origin_of(scenario, None)))


def bench_test(
    scenario: ScenarioLike,
    *,
    starts: int = bench.STARTS,
    minutes: float = bench.MINUTES,
    seed: int | None = None,
    set: Keys = (),
    engine: Engine = "auto",
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> StudyResult[BenchTestSheet]:
    """Says what to try on the bench and what should come out: `radiosim bench-test`.

    `starts` of each predicted range, 3 at least, 39 make 95 %; `minutes` (min) of counting frames.
    Raises RadiosimError.
    """
    with in_python_words():
        if starts < 3 or not minutes > 0:
            raise OptionError(
                f"--starts, --minutes: must be >= 3 and > 0, got {starts} and {minutes:g}"
            )
        asked = scenario_of(scenario, set, runs_program=True, seed=seed)
        found = bench.bench_test_sheet(
            asked,
            starts=starts,
            minutes=minutes,
            engine=engine,
            workers=workers,
            on_progress=on_progress,
        )
    return StudyResult(found, bench_test_report(found, origin_of(scenario, found.seed)))


def layout_compare(
    old: str,
    new: str,
    *,
    payload_length: Literal["own", "fixed"] | int = "own",
    versions: tuple[int, int] | None = None,
    same: Sequence[str] = (),
    scenario: ScenarioLike | None = None,
    stream: Sequence[str] = (),
    set: Keys = (),
    engine: Engine = "auto",
    workers: int | None = None,
    on_progress: OnProgress | None = None,
) -> StudyResult[Comparison]:
    """Tells what each end reads of the other's frames: `radiosim layout compare`.

    `old`, `new`: `SCENARIO:LAYOUT` or `HEADER:STRUCT@ABI`. `payload_length`: own, fixed, or bytes
    for both. `versions`: numbers in the fields called version. `same`: what is asked about
    (fields, layouts, values of headers) and means what it meant. With a `scenario` the link is
    simulated with both, for all streams that have `old`, or those named. Raises RadiosimError.
    """
    with in_python_words():
        if scenario is None and (stream or set):
            raise OptionError("--stream, --set: must go with --scenario, which is not there")
        length, padded = _length(payload_length)
        asked = named_layout(old, scenario_path), named_layout(new, scenario_path)
        before, after = with_units_of(*asked), with_units_of(*reversed(asked))
        found = compared_layouts(
            before.layout,
            after.layout,
            padded_to_bytes=padded,
            versions=versions,
            comments=comments_of(before, after),
            values=values_of(before, after),
            same=same,
        )
        link = None
        if scenario is not None:
            link = layout_change.link_change(
                scenario_of(scenario, set),
                before,
                after,
                stream,
                engine=engine,
                workers=workers,
                on_progress=on_progress,
            )
    if scenario is None or link is None:
        origin, change, refusal = Origin(command="", version=VERSION), None, ""
    else:
        origin, change, refusal = origin_of(scenario, link.seed), link.change, link.refusal
    report = compare_report(
        found, (before, after), length, origin, link=change, not_simulated=refusal
    )
    return StudyResult(found, report, ok=found.is_compatible(length))


def _length(asked: Literal["own", "fixed"] | int) -> tuple[Length, int]:
    """Which way to set the payload's length is judged, and to what both radios may be set."""
    if asked in ("own", "fixed"):
        return asked, LONGEST_PAYLOAD_BYTES
    if isinstance(asked, int) and 1 <= asked <= LONGEST_PAYLOAD_BYTES:
        return "padded", asked
    raise OptionError(
        f"--payload-length: must be own, fixed, or 1 to {LONGEST_PAYLOAD_BYTES} bytes, got {asked}"
    )
