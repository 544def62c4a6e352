"""Entries into failsafe and the time in it, from the program's events (rule F5)."""

from dataclasses import dataclass

from radiosim.engine.plan import Plan
from radiosim.engine.unit_spans import spans_without
from radiosim.registers.fault_kind import PARTS, VALUES
from radiosim.scenario import Scenario
from radiosim.trace import Table
from radiosim.vehicle.fold.program_state import FAILSAFE, LEFT, STOPPED, WRITTEN

NEVER = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry into failsafe."""

    at_ns: int
    fed_ns: int
    """When the timer was last fed."""
    is_true: bool
    """A blocking fault was active in between (rule F5); else it is a nuisance trip."""


class FailsafeFold:
    """Entries of one stream's timer, counted; time in failsafe counts from entries.

    `alive_ns`: the time out of failsafe, which begins with the first frames that end it (rule F3).
    """

    def __init__(self, scenario: Scenario, plan: Plan, stream: int) -> None:
        self.trips_on_fault = self.nuisance_trips = self.on_ns = self.alive_ns = 0
        self._stream, self._until_ns = stream, plan.until_ns
        self._spans = blocked_spans(scenario, plan, stream)
        self._entered_ns = self._left_ns = NEVER

    def take(self, events: Table) -> list[Entry]:
        """Some more events; the entries among them."""
        entries = []
        rare = events[(events["kind"] != WRITTEN) & (events["stream"] == self._stream)]
        for kind, at_ns, fed_ns in zip(
            rare["kind"].tolist(), rare["at_ns"].tolist(), rare["fed_ns"].tolist(), strict=True
        ):
            if kind == FAILSAFE:
                is_true = any(since <= at_ns and until >= fed_ns for since, until in self._spans)
                entries.append(Entry(at_ns=at_ns, fed_ns=fed_ns, is_true=is_true))
                self._entered_ns = at_ns
            elif kind in (LEFT, STOPPED) and self._entered_ns != NEVER:
                self.on_ns += at_ns - self._entered_ns
                self._entered_ns = NEVER
            if kind == LEFT:
                self._left_ns = at_ns
            elif kind in (FAILSAFE, STOPPED):
                self._close_alive(at_ns)
        self.trips_on_fault += sum(entry.is_true for entry in entries)
        self.nuisance_trips += sum(not entry.is_true for entry in entries)
        return entries

    def finish(self) -> None:
        """No more events come: what is on stays on to the end, and what is alive, alive."""
        if self._entered_ns != NEVER:
            self.on_ns += self._until_ns - self._entered_ns
        self._entered_ns = NEVER
        self._close_alive(self._until_ns)

    def _close_alive(self, at_ns: int) -> None:
        if self._left_ns != NEVER:
            self.alive_ns += at_ns - self._left_ns
        self._left_ns = NEVER


def blocked_spans(scenario: Scenario, plan: Plan, stream: int) -> list[tuple[int, int]]:
    """When something that feeds a stream's timer was not as it should be (rule F5): one of the
    transmitters whose frames feed it, the receiver or the air.

    Stale values block only the timer that watches a field of theirs.
    """
    n = len(plan.tx)
    described = scenario.failsafe.get(plan.streams[stream])
    is_shared = described is not None and described.fed_by == "any"
    is_watched = described is not None and bool(described.watch_field)
    spans: list[tuple[int, int]] = []
    for unit in (*(range(n) if is_shared else (stream,)), n):
        parts = PARTS if unit == stream and is_watched else _BUT_VALUES
        steps = [step for step in plan.steps if step.unit == unit or step.unit > unit == n]
        spans.extend(spans_without(parts, steps, plan.until_ns))
    return spans


_BUT_VALUES = tuple(part for part in PARTS if part != VALUES)
