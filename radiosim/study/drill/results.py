"""What a failsafe drill has found; the names are those of its JSON."""

from collections.abc import Sequence
from typing import Literal

from msgspec import Struct

from radiosim.measure.summary import Distribution, RequirementFigures
from radiosim.scenario.danger import Danger

Verdict = Literal["holds", "fails", "keeps value", "short", "untried"]
HOLDS: Verdict = "holds"
"""On failsafe within its bound."""
FAILS: Verdict = "fails"
KEEPS: Verdict = "keeps value"
"""It goes on with its last value: on_failsafe is hold."""
SHORT: Verdict = "short"
"""The fault was over before failsafe was due."""
UNTRIED: Verdict = "untried"
"""It was never alive when a fault struck."""
DEAD_BELOW = 0.5
"""A timeout with which outputs are alive for a smaller share of the time is none to recommend: a
timer that never leaves failsafe never trips either."""


class BoundTerm(Struct, frozen=True, kw_only=True):
    """One part of a bound."""

    name: str
    ms: float


class DrillFigures(Struct, frozen=True, kw_only=True):
    """One output at one kind of fault, over all faults of the drill."""

    fault: str
    unit: str
    stream: str
    output: str
    danger: Danger
    """What the output moves; 0: motors, blades and tracks."""
    words: str
    """What happens to the unit."""
    repeats: int
    """Faults at which the output was alive."""
    bound_ms: float | None
    """From the last frame to the failsafe value in effect, at most (rule F6); None: no bound."""
    reachable_ms: float | None
    """The worst that passes of one length can reach; those that read more are longer."""
    terms: tuple[BoundTerm, ...]
    """What the bound is made of; empty without one."""
    silence_ms: Distribution
    """From the last frame to the failsafe value in effect, which is what the bound bounds."""
    reaction_ms: Distribution
    """From the fault to the failsafe value in effect."""
    stopping_ms: Distribution
    """From the fault until servo or motor stood still."""
    recovered_ms: Distribution
    """From the end of the fault to the first value in effect that was taken after it."""
    unrecovered: int
    """Faults after which none came before the next one."""
    why_unrecovered: str
    """The cause, where that are all of them."""
    still_driven: bool
    """The output was still driven after some fault when it must not be."""
    still_driven_repeats: int
    """After how many faults."""
    verdict: Verdict
    why: str
    """The cause, where it does not hold."""


class StreamBound(Struct, frozen=True, kw_only=True):
    """The longest of the bounds of one stream's outputs when its transmitter falls silent."""

    output: str
    terms: tuple[BoundTerm, ...]
    total_ms: float | None
    why: str
    """Why there is none."""


class OtherFigures(Struct, frozen=True, kw_only=True):
    """Outputs that a drill must leave alone."""

    fault: str
    unit: str
    output: str
    stream: str
    repeats: int
    """Faults at which it was alive."""
    trips: int
    """Failsafe trips in the drill beyond those of the same starts without its faults."""


class WorstReaction(Struct, frozen=True, kw_only=True):
    """The longest reaction of a stream's outputs over all drills."""

    reaction_ms: float | None
    """From the fault or last frame to the failsafe value in effect; None: some never came."""
    output: str
    fault: str
    unit: str
    why: str
    stopping_ms: float
    """From the fault until the last of the stream's outputs that stopped stood still."""
    last_output: str
    """Which one that was."""
    last_fault: str
    carries_on: bool
    """Some drill leaves an output driven that drives the vehicle."""
    carried_ms: float | None
    """Until the last output that drives the vehicle stood still, of the drills at which it
    always did; None: no output of the stream drives it, or none stopped."""


class TradeOffPoint(Struct, frozen=True, kw_only=True):
    """One timeout: its nuisance trips, and the longest reaction."""

    timeout_ms: float
    nuisance_trips: int
    nuisance_per_hour: float
    nuisance_per_hour_ci95: tuple[float, float] | None
    alive_share: float
    """Share of the time that outputs are out of failsafe, since transmitter and receiver are up."""
    worst_reaction_ms: float | None
    """The bound with this timeout."""

    @property
    def is_dead(self) -> bool:
        """Whether outputs are on failsafe for most of the time: nothing to recommend."""
        return self.alive_share < DEAD_BELOW

    def is_surely_above(self, per_hour: float) -> bool:
        """Whether the whole interval of its trips is above so many an hour."""
        interval = self.nuisance_per_hour_ci95
        return interval is not None and interval[0] > per_hour


class FeasibleRange(Struct, frozen=True, kw_only=True):
    """Which timeouts keep both what was asked: from the shortest to the longest, if any."""

    shortest_ms: float | None
    """Of the timeouts tried, the shortest with which outputs are alive for most of the time and
    that surely trips seldom enough, and all longer ones."""
    longest_ms: float | None
    """The longest whole number of ms with which the bound stays under what was asked."""
    why: str
    """What is in the way, where no timeout keeps both."""
    is_unshown: bool = False
    """Some timeouts may keep both: it was not simulated for long enough to show it."""

    @property
    def is_empty(self) -> bool:
        """Whether no timeout keeps both, as far as is shown."""
        if self.shortest_ms is None or self.longest_ms is None:
            return True
        return self.shortest_ms > self.longest_ms


class Asked(Struct, frozen=True, kw_only=True):
    """What the trade-off is judged by."""

    nuisance_per_hour: float
    reaction_ms: dict[str, float]
    """Longest reaction asked for, by stream."""
    hours: float | None
    """Simulated time of the trade-off; None: nobody said."""
    defaults: tuple[str, ...]
    """Which of them nobody asked for, in words."""


class Violation(Struct, frozen=True, kw_only=True):
    """Something that was asked on the command line, and that a stream's timeout does not keep."""

    stream: str
    figure: str
    """`reaction_ms` or `nuisance_per_hour`."""
    asked: float
    """Largest value that was asked for."""
    found: float | None
    """The bound, the longest reaction drilled, or the lower 95 % limit of trips; None: no bound."""
    timeout_ms: float | None
    """What the stream has now; None: no failsafe."""
    where: str
    """The output, and the fault if it was drilled."""
    why: str
    """Why there is no bound."""
    is_drilled: bool = False
    """The bound keeps it, but a drill of another kind of fault does not."""


class Cure(Struct, frozen=True, kw_only=True):
    """A key of the scenario that ends a failure; tried with all others, by drilling again."""

    set: str
    """The key and its value, as for `--set`."""
    does: str


class BeatTrips(Struct, frozen=True, kw_only=True):
    """Two transmitters, or one and a grid, whose beat trips a stream's failsafe, as the same starts
    without it show."""

    stream: str
    first: str
    second: str
    starts: int
    """Starts that tripped most, simulated again."""
    trips: int
    """What they had with the timeout that the scenario has."""
    left: int
    """What they have with the key set."""
    set: str
    """The key and its value, as for `--set`."""


class Uncured(Struct, frozen=True, kw_only=True):
    """One output that a fault leaves driven, or lost, whatever is set."""

    fault: str
    unit: str
    output: str
    instead: str
    """What hardware or firmware must do."""


class Drilled(Struct, frozen=True, kw_only=True):
    """All of it."""

    scenario: str
    title: str
    seed: int
    version: str
    engine: str
    repeats: int
    """Faults of each drill."""
    simulated_s: float
    trade_off_s: float
    """Simulated time of the trade_off, all starts together."""
    skipped: tuple[str, ...]
    """Kinds of fault that were left out."""
    assumed: tuple[str, ...]
    notes: tuple[str, ...]
    """What had to be changed so that it could be drilled, and what bounds do not cover."""
    drills: tuple[DrillFigures, ...]
    others: tuple[OtherFigures, ...]
    bound: dict[str, StreamBound]
    worst: dict[str, WorstReaction]
    asked: Asked
    timeout_ms: dict[str, float]
    """Timeouts that the scenario has now, by stream."""
    trade_off: dict[str, tuple[TradeOffPoint, ...]]
    feasible_range: dict[str, FeasibleRange]
    rests_on: tuple[str, ...]
    """What of the air the nuisance trips rest on, and whether the scenario says it."""
    beats: tuple[BeatTrips, ...]
    requirements: tuple[RequirementFigures, ...]
    violations: tuple[Violation, ...]
    """What was asked and is not kept by the timeouts that the scenario has."""
    cures: tuple[Cure, ...]
    """Lines that were tried together: with them nothing stays driven but what is `uncured`."""
    uncured: tuple[Uncured, ...]
    guessed: tuple[str, ...]
    """Outputs whose failsafe value nobody has said."""
    ok: bool
    """Every drill was tried and holds, and all that was asked for does (`is_all_well`)."""

    @property
    def failed(self) -> tuple[DrillFigures, ...]:
        """Drills that found something wrong."""
        return tuple(drill for drill in self.drills if drill.verdict == FAILS)

    @property
    def untried(self) -> tuple[DrillFigures, ...]:
        """Drills whose output was never alive, so that they say nothing."""
        return tuple(drill for drill in self.drills if drill.verdict == UNTRIED)

    @property
    def keeping(self) -> tuple[str, ...]:
        """Outputs that keep their value at some fault: on_failsafe is hold."""
        return tuple(dict.fromkeys(drill.output for drill in self.drills if drill.verdict == KEEPS))

    @property
    def touched(self) -> tuple[OtherFigures, ...]:
        """Outputs whose failsafe tripped though the fault was not theirs."""
        return tuple(other for other in self.others if other.trips)

    @property
    def untried_others(self) -> tuple[OtherFigures, ...]:
        """Outputs that were never alive, so that they had nothing to go on with."""
        return tuple(other for other in self.others if not other.repeats)


def is_all_well(
    drills: Sequence[DrillFigures],
    others: Sequence[OtherFigures],
    requirements: Sequence[RequirementFigures],
    violations: Sequence[Violation],
    guessed: Sequence[str],
) -> bool:
    """Whether every drill was tried and holds at a value that somebody has said, and all that was
    asked for does."""
    is_held = not any(drill.verdict in (FAILS, UNTRIED) for drill in drills)
    is_left_alone = all(other.repeats and not other.trips for other in others)
    return (
        is_held
        and is_left_alone
        and all(required.ok for required in requirements)
        and not violations
        and not guessed
    )
