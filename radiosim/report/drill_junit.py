"""A failsafe drill as JUnit XML, so that the CI of a firmware project can run it."""

from collections.abc import Iterator

from radiosim.assess.in_words import requirement_text
from radiosim.counted import counted
from radiosim.report.drill_sentences import failure_text, guess_text, violation_text
from radiosim.results.formats import duration_text
from radiosim.results.junit import Case, junit_text
from radiosim.study.drill.results import (
    FAILS,
    KEEPS,
    SHORT,
    UNTRIED,
    Drilled,
    DrillFigures,
    OtherFigures,
)


def drill_junit(drilled: Drilled) -> str:
    """A suite for each drill, with a case for each output, and one for what was required."""
    return junit_text(f"radiosim failsafe {drilled.scenario}".strip(), tuple(_cases(drilled)))


def _cases(drilled: Drilled) -> Iterator[Case]:
    yield from map(_drill_case, drilled.drills)
    yield from map(_other_case, drilled.others)
    for requirement in drilled.requirements:
        yield Case(
            suite="requirements",
            class_name="requirement",
            name=requirement.figure,
            failure=None if requirement.ok else requirement_text(requirement),
            failure_type="requirement",
        )
    for output in drilled.guessed:
        yield Case(
            suite="failsafe values",
            class_name="failsafe value",
            name=output,
            failure=guess_text(output),
            failure_type="guess",
        )
    for violation in drilled.violations:
        yield Case(
            suite="asked",
            class_name=f"asked.{violation.stream}",
            name=violation.figure,
            failure=violation_text(violation),
            failure_type="asked",
        )


def _drill_case(drill: DrillFigures) -> Case:
    is_failure = drill.verdict in (FAILS, UNTRIED)
    worst, bound = drill.reaction_ms.max, drill.bound_ms
    return Case(
        suite=f"{drill.fault} {drill.unit}",
        class_name=f"{drill.fault}.{drill.unit}",
        name=drill.output,
        failure=failure_text(drill) if is_failure else None,
        failure_type="untried" if drill.verdict == UNTRIED else "failsafe",
        skipped=drill.why if drill.verdict in (KEEPS, SHORT) else None,
        output=(
            f"reaction {'none' if worst is None else f'{duration_text(worst)} at worst'}, "
            f"bound {'none' if bound is None else duration_text(bound)}, "
            f"{counted(drill.repeats, 'fault')}"
        ),
    )


def _other_case(other: OtherFigures) -> Case:
    failure = None
    if other.trips:
        failure = f"failsafe trips {counted(other.trips, 'time')} at a fault of another stream"
    elif not other.repeats:
        failure = "it was never alive when the fault struck: not tried"
    return Case(
        suite=f"{other.fault} {other.unit}",
        class_name=f"{other.fault}.{other.unit}",
        name=f"{other.output} goes on",
        failure=failure,
        failure_type="other stream" if other.trips else "untried",
    )
