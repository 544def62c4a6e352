"""Many studies of each kind and scenario, and how many of their claims hold."""

import functools
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from statistics import fmean

from scipy import stats

from radiosim.study.run_points import run_points
from tests.study.coverage.claims import STUDIES
from tests.study.coverage.scenarios import SCENARIOS


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Claims of one kind over all studies of a scenario."""

    scenario: str
    claim: str
    told: float
    """How often they should hold, on average."""
    held: int
    made: int

    @property
    def share(self) -> float:
        """How often they held."""
        return self.held / self.made

    def is_enough(self, chance: float) -> bool:
        """Whether so few would hold with more than a chance, were each as sure as is told."""
        return self.held >= stats.binom(self.made, self.told).ppf(chance)


def rows_of(
    studies: int, long_run: int, kinds: Iterable[str] = tuple(STUDIES), workers: int | None = 1
) -> Iterator[Row]:
    """Rows of kinds of study, over so many of each."""
    for kind in kinds:
        for name in SCENARIOS:
            yield from rows_of_kind(kind, name, studies, long_run, workers)


def rows_of_kind(
    kind: str, name: str, studies: int, long_run: int, workers: int | None = 1
) -> Iterator[Row]:
    """Rows of one kind of study of one scenario."""
    # The first makes the long run, which the others share.
    first = _claims(kind, name, long_run, 1)
    rest = run_points(
        functools.partial(_claims, kind, name, long_run),
        range(2, studies + 1),
        fold=tuple,
        workers=workers,
        is_ready=True,
    )
    told, held = defaultdict[str, list[float]](list), Counter[str]()
    for claims in (first, *rest):
        for what, share, holds in claims:
            told[what].append(share)
            held[what] += holds
    for what, shares in told.items():
        yield Row(scenario=name, claim=what, told=fmean(shares), held=held[what], made=len(shares))


def _claims(kind: str, name: str, long_run: int, seed: int) -> list[tuple[str, float, bool]]:
    return list(STUDIES[kind](name, seed, long_run))
