"""Mutant after mutant, until enough of them or enough failures have been seen."""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from tests.scenario.fuzz.judge import Mutant, Stage, Verdict, judge, make_mutant
from tests.scenario.fuzz.shrink import shrunk

SIMULATED_EVERY, TOLD_EVERY = 10, 40
"""Of so many mutants one is simulated too if it is sound, or told as `run` does."""
SLOW_S = 2.0
"""Processor time of one mutant that is worth a look."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """A mutant that did not end as it must."""

    number: int
    where: str
    wrong: str
    least: Mutant
    """The mutant, without what does not matter."""

    def __str__(self) -> str:
        said = "".join(f"\n--set {override!r}" for override in self.least.overrides)
        return f"mutant {self.number}: {self.where}\n{self.wrong}\n{self.least.text!r}{said}"


@dataclass(slots=True)
class Seen:
    """What came of the mutants so far."""

    fates: Counter[str] = field(default_factory=Counter)
    failures: dict[str, Failure] = field(default_factory=dict)
    """The first at each place."""
    slow: list[tuple[int, float]] = field(default_factory=list)
    """Mutants that took long, with their seconds."""


def stage_of(number: int) -> Stage:
    """How far a mutant is to go: the same for the same number."""
    if number % TOLD_EVERY == 0:
        return "told"
    return "simulated" if number % SIMULATED_EVERY == 0 else "read"


def search(
    seed: int,
    numbers: Iterable[int],
    folder: Path,
    *,
    most_failures: int = 1,
    stage_of: Callable[[int], Stage] = stage_of,
    on_progress: Callable[[int, Seen], None] = lambda number, seen: None,
    on_failure: Callable[[Failure], None] = lambda failure: None,
) -> Seen:
    """Judge these mutants of a seed; stops at the first few places where something is wrong."""
    seen = Seen()
    for number in numbers:
        mutant = make_mutant(seed, number)
        stage = stage_of(number)
        verdict = judge(mutant, folder, stage)
        seen.fates[verdict.fate] += 1
        if verdict.seconds > SLOW_S:
            seen.slow.append((number, verdict.seconds))
        if verdict.wrong and verdict.where not in seen.failures:
            failure = _failure(number, mutant, verdict, folder, stage)
            seen.failures[verdict.where] = failure
            on_failure(failure)
            if len(seen.failures) >= most_failures:
                break
        on_progress(number, seen)
    return seen


def _failure(number: int, mutant: Mutant, verdict: Verdict, folder: Path, stage: Stage) -> Failure:
    def is_wrong(text: bytes, overrides: tuple[str, ...] = mutant.overrides) -> bool:
        same = Mutant(text=text, overrides=overrides)
        return judge(same, folder, stage).where == verdict.where

    overrides = () if is_wrong(mutant.text, ()) else mutant.overrides
    text = shrunk(mutant.text, lambda text: is_wrong(text, overrides))
    least = Mutant(text=text, overrides=overrides)
    return Failure(number=number, where=verdict.where, wrong=verdict.wrong, least=least)
