"""Choosing among judged points, and judging those that choosing makes."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from msgspec.structs import replace

from radiosim.engine.simulate import Engine
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.scenario.power import caution_of_change
from radiosim.study.tune.guard import guarded_of, levels_at, worse_than
from radiosim.study.tune.point import judged, tried_of
from radiosim.study.tune.put_back import changes_of, settled
from radiosim.study.tune.rank import Aim, ranked_of, why_of
from radiosim.study.tune.tune_results import Recommended, Tried, Tuned, Worse
from radiosim.study.tune.varied import Setting, Values

RUNNERS_UP = 4


@dataclass(slots=True, kw_only=True)
class Choice:
    """The points of a tuning, and how they are chosen from."""

    found: Tuned
    scenario: Scenario
    """With the requirements that points are judged by."""
    engine: Engine
    _made: dict[Values, Tried] = field(default_factory=dict)

    @property
    def aim(self) -> Aim:
        """What makes one of them better than another."""
        return Aim(own=self.found.as_it_stands, prefer=self.found.prefer)

    @property
    def put_back(self) -> tuple[Tried, ...]:
        """Points that were judged on the way."""
        return (*self.found.put_back, *self._made.values())

    def ranked(self) -> list[Tried]:
        """All points that were judged, the best first; the scenario's own settings once."""
        own, points = self.found.as_it_stands, self.found.points
        is_among = any(point.values == own.values for point in points)
        return ranked_of(points if is_among else (own, *points), self.aim)

    def settled(self, point: Tried) -> Tried:
        """The point without what makes no difference."""
        return settled(point, self.aim, self.found.settings, self.found.influence, self._judge)

    def _judge(self, values: Values) -> Tried:
        try:
            return self.found.at(values)
        except KeyError:
            pass
        if values not in self._made:
            lines = lines_of(self.found.settings, values)
            row = judged(self.scenario, self.engine, self.found.narrow, lines)
            point = tried_of(values, row, is_own=False)
            self._made[values] = guarded_point(point, self.found.as_it_stands, self.found.guarded)
        return self._made[values]

    def recommended(
        self, scenario: Scenario, best: Tried | None, passed_over: int = 0
    ) -> Recommended | None:
        """A point as what to take."""
        if best is None:
            return None
        ranked, own = self.ranked(), self.found.as_it_stands
        return Recommended(
            values=best.values,
            is_own=best.values == own.values,
            why=why_of(best, ranked, self.aim, passed_over),
            changes=changes_of(best, own.values, self.found.settings),
            ties=sum(p.values != best.values and self.aim.is_alike(p, best) for p in ranked),
            worse=best.worse,
            in_return=self._in_return(scenario, best),
            warnings=brought(scenario, lines_of(self.found.settings, best.values)),
            beating=tuple((pair.first, pair.second) for pair in best.beating),
        )

    def _in_return(self, scenario: Scenario, best: Tried) -> tuple[Worse, ...]:
        """What becomes worse of streams that no requirement keeps up, as others are preferred."""
        own, kept = self.found.as_it_stands, self.found.guarded
        after = [name for name in guarded_of(scenario) if name not in kept]
        if own.figures is None:
            return ()
        return worse_than(levels_at(own.figures), levels_at(best.judged), after)


def guarded_point(point: Tried, own: Tried, guarded: Sequence[str]) -> Tried:
    """A point with what it makes worse of guarded streams."""
    if point.figures is None or own.figures is None:
        return point
    return replace(
        point, worse=worse_than(levels_at(own.figures), levels_at(point.figures), guarded)
    )


def runners_up(ranked: Sequence[Tried], best: Tried | None) -> tuple[Values, ...]:
    """The next best points."""
    if best is None:
        return ()
    return tuple(point.values for point in ranked if point.values != best.values)[:RUNNERS_UP]


def lines_of(settings: Sequence[Setting], values: Values) -> tuple[str, ...]:
    """The settings of a point as `--set` takes them; none for what the scenario does not say."""
    return tuple(
        setting.line(value)
        for setting, value in zip(settings, values, strict=True)
        if value is not None
    )


def brought(scenario: Scenario, lines: Iterable[str]) -> tuple[str, ...]:
    """Warnings of the scenario with `lines` set that it has not without them, as `path: text`.

    The last is the caution of power, where they raise it.
    """
    # Both are filled in alike: a file that leaves keys out may be warned of other things.
    had, after = set(changed(scenario, ()).warnings), changed(scenario, lines)
    power = caution_of_change(scenario, after)
    return (
        *(text for text in after.warnings if text not in had),
        *((f"power: {power}",) if power else ()),
    )
