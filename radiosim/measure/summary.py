"""The results of a run: frozen values with the names of the JSON contract.

Times in `…_ms` are milliseconds, shares and ratios 0…1. An interval `…_ci95` is (low, high) over
starts and stands only where more than one start was simulated. None: nothing to measure.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from msgspec import UNSET, Struct, UnsetType

from radiosim.counted import counted
from radiosim.safety import CAUTION


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """How a spread in ms is shared out."""

    ms: tuple[float, ...]
    """Rising; the last is the highest value."""
    beyond: tuple[float, ...]
    """Share that is at least so long: falling, the last 0. Less than 1 at first if the rest is
    shorter than 1 us."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OfStart:
    """The curve of one start alone."""

    start: int
    curve: Curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Waits:
    """Waits of one stream, from read to read; None: none was measured."""

    every: Curve | None
    """All starts together, weighted."""
    worst: OfStart | None
    """The start with the longest; None if there is but one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Delays:
    """How late one stream or output is; None: nothing came."""

    latency: Curve | None
    age: Curve | None
    worst_age: OfStart | None
    """Age in the start in which its 99 % are highest; None if there is but one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """The curves of a run."""

    waits: Mapping[str, Waits]
    """Curves of waits by stream."""
    stream: Mapping[str, Delays]
    output: Mapping[str, Delays]


Interval = tuple[float, float] | None | UnsetType


class Distribution(Struct, frozen=True, kw_only=True):
    """How a figure is spread. Quantiles within 1.1 %, mean and max exact."""

    mean: float | None
    median: float | None
    p95: float | None
    p99: float | None
    max: float | None
    n: int


class Gaps(Struct, frozen=True, kw_only=True):
    """How the gaps between reads are spread. Quantiles within 1.1 %, mean and max exact."""

    mean: float | None
    median: float | None
    p95: float | None
    p99: float | None
    max: float
    """The longest, those before the first and after the last read included."""
    n: int


class RareFigures(Struct, frozen=True, kw_only=True):
    """Nuisance trips too rare to be counted, estimated by splitting (see study/rare)."""

    per_hour: float | None
    per_hour_ci95: Interval
    """0 to a limit where they are too rare to be followed to the timeout."""
    per_frame: float | None
    """Rare trips for each frame that the stream's transmitter sampled."""
    trusted: bool
    why: str
    """Why it is not to be trusted, or what else there is to say."""
    levels_ms: tuple[float, ...] = ()
    """Times since the timer was fed at which runs were copied."""
    starts: int = 0
    """Ordinary starts that were led on."""
    crossings: int = 0
    """Times that they got to the first level."""
    ancestors: int = 0
    """Crossings of the first level from which the trips descend."""
    copies: int = 0


class FailsafeFigures(Struct, frozen=True, kw_only=True):
    """What one stream's timer did (rule F5)."""

    trips_on_fault: int
    nuisance_trips: int
    nuisance_per_hour: float
    nuisance_per_hour_ci95: Interval = UNSET
    starts_with_nuisance: int | UnsetType = UNSET
    seconds_on: float
    rare: RareFigures | UnsetType = UNSET


class NoiseFigures(Struct, frozen=True, kw_only=True):
    """Noise that the receiver took for frames of one stream (rule D6)."""

    frames: int
    per_hour: float
    per_hour_ci95: Interval = UNSET
    expected_per_hour: float
    """In closed form, of a receiver that listens all the time and hears nothing else."""


class StreamFigures(Struct, frozen=True, kw_only=True):
    """One transmitter's flow of frames to the receiver."""

    sampled: int
    skipped: int
    replaced: int
    queue_full: int
    power_cut: int
    """Frames that a power cut or reset took before they were ever on the air."""
    sent: int
    """Frames that were on the air at least once."""
    attempts: int
    acknowledged: int
    retries_used_up: int
    """Times that a frame ran out of retries; more than once for a frame kept in the FIFO."""
    received_new: int
    duplicates: int
    fifo_dropped: int
    """Attempts that found the receive FIFO full."""
    read: int
    thrown_away: int
    waiting: int
    never_accepted: int
    under_way: int
    lost_chance: int
    lost_collision: int
    lost_deaf: int
    lost_range: int
    lost_off: int
    lost_cut: int
    """Attempts that their own transmitter's power cut ended."""
    acknowledgements_lost: int
    delivery_ratio: float | None
    delivery_ratio_ci95: Interval = UNSET
    update_rate_hz: float
    update_rate_hz_ci95: Interval = UNSET
    worst_second_updates: int | None
    longest_gap_at_s: float
    """When that gap began."""
    longest_gap_start: int
    """Number of the start with the longest gap."""
    gap_ms: Gaps
    latency_ms: Distribution
    """From sample to read."""
    age_ms: Distribution
    """Of the newest frame read since its values were taken, weighted by time, failsafe or not."""
    attempts_per_frame: float | None
    attempts_per_frame_ci95: Interval = UNSET
    duty_cycle: float
    charge_mah_per_hour: float | None
    """Of its transmitter's radio alone."""
    battery_h: float | None
    """How long its transmitter's cell lasts with that and the board; None without `battery_mah`."""
    failsafe: FailsafeFigures | None
    noise: NoiseFigures | UnsetType = UNSET
    """Only where noise that passes for frames is simulated."""


class OutputFigures(Struct, frozen=True, kw_only=True):
    """One thing that the receiver drives (rule G3)."""

    stream: str
    refresh_hz: float | None
    """None for an output that is in effect when written."""
    update_rate_hz: float
    update_rate_hz_ci95: Interval = UNSET
    latency_ms: Distribution
    age_ms: Distribution
    longest_hold_ms: float | None
    servo_error_deg: Distribution | None
    """Between where the hand points and where the servo stands; None without `servo`."""


class AirFigures(Struct, frozen=True, kw_only=True):
    """The channel as a whole."""

    occupancy: float
    collisions: int


class BrownoutFigures(Struct, frozen=True, kw_only=True):
    """Brown-outs of the receiver as which the same outputs drew more than at rest."""

    outputs: tuple[str, ...]
    times: int
    drawn_ma: float
    """The most that all of the supply's loads drew as one began, board included."""
    settles_v: float
    """Where the voltage would have settled with that."""


class ReceiverFigures(Struct, frozen=True, kw_only=True):
    """The unit on the vehicle."""

    charge_mah_per_hour: float | None
    """Of its radio alone."""
    battery_h: float | None
    """How long its cell lasts with that and the board; None without `battery_mah`."""
    brownouts: int | UnsetType = UNSET
    """How often what outputs draw held it in reset; not set without `receiver.supply`."""
    brownouts_with: tuple[BrownoutFigures, ...] | UnsetType = UNSET
    """The same by what drew together, the most frequent first."""


class OutputAtFault(Struct, frozen=True, kw_only=True):
    """What one output made of a fault."""

    action: str
    """What it does on failsafe: preset, off, hold."""
    fates: dict[str, int]
    """What became of it (see Fate) → in how many starts."""
    reaction_ms: float | None
    """From the fault to the failsafe value in effect, in the slowest start; 0: it was on; None:
    it did not come in some start."""
    recovered_ms: float | None
    """From the end of the fault until a value taken after it is in effect; None: never."""
    slowest_ms: float | None = None
    """The longest reaction of the starts in which it came; None: in none."""
    left_driven_starts: int = 0
    """Starts that end with it driven by a value from before the end of the fault."""


class FaultFigures(Struct, frozen=True, kw_only=True):
    """One fault of the scenario: the slowest of the outputs; None if one never got there."""

    kind: str
    unit: str
    at_s: float
    for_s: float | None
    over_ms: float | None = None
    """From the fault to its end, which a watchdog or a boot can bring early; None: for good."""
    is_bitten: bool = False
    """A watchdog ended it."""
    reaction_ms: float | None
    recovered_ms: float | None
    outputs: dict[str, OutputAtFault]
    starts_without_effect: int = 0
    """Starts in which its unit did what it would have done without it."""
    starts_without_reaction: int | UnsetType = UNSET
    unrecovered_starts: int | UnsetType = UNSET
    starts_with_brownout: int | UnsetType = UNSET
    """Starts in which what outputs drew brought the receiver down after it, before they had fresh
    values again; not set without `receiver.supply`."""


class RequirementFigures(Struct, frozen=True, kw_only=True):
    """One requirement, judged in the worst start; a rate of events over all starts."""

    figure: str
    at_least: float | None
    at_most: float | None
    measured: float | None
    ok: bool | None
    """None: not judged here, `why` says for what reason; that is not a pass."""
    why: str


class Finding(Struct, frozen=True, kw_only=True):
    """Something that is wrong, proved by reruns on the same draws, and its cure."""

    what: str
    where: str
    """Path of the key or unit that it is about."""
    why: str
    """The numbers of the run that point to it."""
    figure: str
    """Path of the figure in `proof`."""
    proof: dict[str, float | None]
    """The figure `before`, `after` the cause is taken away, and `cured` by the joint cure."""
    seen: Literal["alone", "together", "behind", "later"] = "alone"
    """How it was proved: by taking it alone away; only together with others that hide it; behind
    those that were proved by the same figure, with them taken away; or only once the other findings
    were cured."""
    cure: str
    """What to do, and what it costs."""
    set: tuple[str, ...] = ()
    """The lines of the joint cure that are for it; empty: none that was tried helps."""
    is_by_hand: bool = False
    """No key of a scenario does it: `cure` says what hardware or firmware must do."""
    measure: str
    """How to see it on the bench."""
    is_note: bool = False
    """Nothing in the run is wrong: it is what a failsafe cannot see."""


class Effect(Struct, frozen=True, kw_only=True):
    """What the joint cure does to one figure: a requirement's, or a stream's longest gap."""

    figure: str
    at_least: float | None = None
    at_most: float | None = None
    before: float | None
    before_ok: bool | None = None
    """None: not judged, or not required."""
    has_fault_before: bool = False
    """A fault of the scenario lies in it: a longest gap."""
    after: float | None
    after_ok: bool | None = None
    has_fault_after: bool = False


class Cure(Struct, frozen=True, kw_only=True):
    """All cures together, tried on the same draws."""

    set: tuple[str, ...]
    """Its `KEY=VALUE` lines, each of a key of its own; empty: there is none."""
    starts: int
    """How many starts were run with all of it, from the first on."""
    effects: tuple[Effect, ...]
    """Every requirement, then the longest gap of every stream, then what is worse; in the worst of
    those starts."""
    worse: tuple[str, ...] = ()
    """Paths of the figures that the tables of a run show and that are worse with it, by more than
    sampling."""
    in_return: tuple[str, ...] = ()
    """Those of them that are beyond what is fine: of streams that gain by it otherwise."""
    caution: str
    """Not empty: what it raises, and what to know before it is tried."""
    why: str
    """Not empty: which findings it does not cure, or why there is none."""


class Figures(Struct, frozen=True, kw_only=True):
    """All figures of one start, or of several together."""

    stream: dict[str, StreamFigures]
    output: dict[str, OutputFigures]
    air: AirFigures
    receiver: ReceiverFigures
    faults: tuple[FaultFigures, ...]


class Reaction(Struct, frozen=True, kw_only=True):
    """How one stream's failsafe reacts when its transmitter goes silent (rule F6)."""

    timeout_ms: float | None
    terms_ms: dict[str, float]
    """Name of each term of the bound → its length."""
    bound_ms: dict[str, float | None]
    """Output → longest time until its failsafe value is in effect; None: no bound."""
    stopping_ms: dict[str, float | None] = {}
    """Bound of each output with a motor until it stands still."""
    why: dict[str, str]
    """Output → why there is no bound."""
    blind_to: tuple[str, ...] = ()
    """Faults that this timer never sees, in words."""


class Worst(Struct, frozen=True, kw_only=True):
    """The worst start's value of one figure."""

    value: float
    start: int


class RunResults(Struct, frozen=True, kw_only=True):
    """What `radiosim run --json` writes: figures of one start or of several, what was judged."""

    scenario: str
    title: str
    seed: int
    start: int | None
    """The one that was simulated; None: several."""
    starts: int
    first_start: int
    starts_around_beats: int = 0
    """How many of them were placed on a beat (rule T6); averages are weighted back."""
    duration_s: float
    version: str
    engine: str
    assumed: tuple[str, ...]
    warnings: tuple[str, ...]
    figures: Figures
    """Of all starts together."""
    worst: dict[str, Worst]
    """By figure path, e.g. `stream.drive.gap_ms.max`; empty for one start."""
    reaction: dict[str, Reaction]
    """Failsafe reaction of each stream."""
    requirements: tuple[RequirementFigures, ...]
    findings: tuple[Finding, ...] | None = None
    """None: nobody looked for any."""
    cure: Cure | None = None
    """Of all findings together; None: there are no findings."""


class Summary(RunResults, frozen=True, kw_only=True):
    """The results of a run, and what only pictures and findings need."""

    curves: Curves | None = None
    """None: they were not asked for."""
    mistaken: frozenset[str] = frozenset()
    """Streams of which the receiver took a new frame for a repeat (rule D3)."""

    def __repr__(self) -> str:
        streams = ", ".join(
            f"{name}: {figures.update_rate_hz:.3g} fresh/s, longest gap {figures.gap_ms.max:.3g} ms"
            for name, figures in self.figures.stream.items()
        )
        which = counted(self.starts, "start") if self.start is None else f"start {self.start}"
        text = f"Summary({self.scenario!r}, {which} of {self.duration_s:g} s, {streams})"
        return f"{text}\n{CAUTION}"

    def results(self) -> RunResults:
        """What is written of it."""
        return RunResults(
            **{name: getattr(self, name) for name in RunResults.__struct_fields__},
        )

    @property
    def ok(self) -> bool:
        """Whether every requirement was judged and held."""
        return all(requirement.ok is True for requirement in self.requirements)
