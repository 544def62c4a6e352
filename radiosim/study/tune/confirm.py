"""The best points of a tuning, tried over the whole scenario."""

import functools
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from msgspec.structs import replace

from radiosim.engine.simulate import Engine
from radiosim.measure.summary import Summary
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.study.starts import simulate_starts
from radiosim.study.tune.choice import Choice, lines_of, runners_up
from radiosim.study.tune.guard import Levels, levels_in, worse_than
from radiosim.study.tune.point import lean, reachable, with_requirements
from radiosim.study.tune.tune_results import Confirmed, Tried, Tuned
from radiosim.study.tune.unfaulted import with_unfaulted

MOST_CONFIRMED = 5
"""Points that are tried over the whole scenario before none is taken for good."""


def confirmed(
    found: Tuned,
    part: Scenario,
    whole: Scenario,
    *,
    engine: Engine = "auto",
    executor: Executor | None = None,
    workers: int | None = None,
) -> Tuned:
    """The best point tried over a whole scenario, and those after it until one holds there too,
    and makes no guarded stream worse that it did not before.

    `part`: what the points were judged over. If none of the first few does, the one that misses
    least stays.
    """
    if found.best is None:
        return found
    asked, _ = with_requirements(whole)
    run = functools.partial(simulate_starts, engine=engine, executor=executor, workers=workers)
    choice = Choice(found=found, scenario=with_requirements(reachable(part))[0], engine=engine)
    over_whole = _OverWhole(found=found, asked=asked, run=run)
    tries: list[tuple[Tried, Confirmed]] = []
    for point in _to_confirm(found.best, choice):
        if len(tries) == MOST_CONFIRMED or (tries and not point.ok):
            # What stands is at least no worse than it is.
            own = found.as_it_stands
            if own.figures is not None and all(tried.values != own.values for tried, _ in tries):
                tries.append((own, over_whole.tried(own)))
            break
        tries.append((point, over_whole.tried(point)))
        if not _shortfall(point, tries[-1][1])[0]:
            break
    kept = min(range(len(tries)), key=lambda k: _shortfall(*tries[k]))
    kept_best = _with_best(choice, whole, tries, kept)
    return with_unfaulted(kept_best, part, engine=engine, executor=executor, workers=workers)


def _to_confirm(best: Tried, choice: Choice) -> Iterator[Tried]:
    """The best point, and those after it, each without what makes no difference there."""
    seen = {best.values}
    yield best
    for point in choice.ranked():
        after = choice.settled(point)
        if after.values not in seen:
            seen.add(after.values)
            yield after


def _shortfall(point: Tried, confirmed: Confirmed) -> tuple[bool, int, bool]:
    """What a point lacks over the whole scenario, nothing being the least: whether anything, how
    many requirements, and whether it makes a stream worse that it did not before."""
    missed = sum(requirement.ok is False for requirement in confirmed.requirements)
    is_worse = bool(confirmed.worse) and not point.worse
    return missed > 0 or is_worse, missed, is_worse


@dataclass(slots=True, kw_only=True)
class _OverWhole:
    """Points tried over a whole scenario."""

    found: Tuned
    asked: Scenario
    run: Callable[[Scenario], Summary]
    _now: Levels | None = None

    def tried(self, point: Tried) -> Confirmed:
        """One point."""
        found, is_own = self.found, point.values == self.found.as_it_stands.values
        lines = () if is_own else lines_of(found.settings, point.values)
        summary = self.run(lean(changed(self.asked, lines)))
        verdicts = {requirement.ok for requirement in summary.requirements}
        here = levels_in(summary)
        if is_own:
            self._now = here
        return Confirmed(
            values=point.values,
            starts=summary.starts,
            duration_s=summary.duration_s,
            ok=False if False in verdicts else None if None in verdicts else True,
            worse=worse_than(self._as_it_stands(), here, found.guarded) if found.guarded else (),
            is_new=summary.starts > point.judged.starts or summary.duration_s > found.duration_s,
            requirements=summary.requirements,
        )

    def _as_it_stands(self) -> Levels:
        """Figures of the scenario without any change; none if it is refused."""
        if self.found.as_it_stands.figures is None:
            return Levels(worst={}, together={})
        if self._now is None:
            self._now = levels_in(self.run(lean(changed(self.asked, ()))))
        return self._now


def _with_best(
    choice: Choice, whole: Scenario, tries: Sequence[tuple[Tried, Confirmed]], kept: int
) -> Tuned:
    """With one of the points that were tried over the whole recommended, as it came out there."""
    found, (best, over_whole) = choice.found, tries[kept]
    recommended = choice.recommended(whole, best, passed_over=kept)
    assert recommended is not None
    others = [tried for place, (_, tried) in enumerate(tries) if place != kept]
    return replace(
        found,
        put_back=choice.put_back,
        recommended=replace(recommended, worse=over_whole.worse),
        confirmed=(*others, over_whole),
        runners_up=runners_up(choice.ranked(), best),
        ok=over_whole.ok is True,
    )
