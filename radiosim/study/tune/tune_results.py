"""What a tuning has found; the names are those of its JSON."""

from msgspec import Struct

from radiosim.measure.summary import RequirementFigures
from radiosim.study.starts import Narrow
from radiosim.study.tune.influence import Influence
from radiosim.study.tune.period_pairs import Pair
from radiosim.study.tune.varied import Setting, Values

NOTHING_JUDGED = "no point could be judged"


class StreamAtPoint(Struct, frozen=True, kw_only=True):
    """One stream at one point, over all starts together."""

    update_rate_hz: float
    delivery_ratio: float | None
    longest_gap_ms: float
    age_mean_ms: float | None
    """Age of the newest values read, the wait for the next sample included; None: never read."""
    age_median_ms: float | None
    age_p99_ms: float | None
    nuisance_per_hour: float | None
    """None without a failsafe."""
    margin: float | None
    """Of its own requirement that is nearest to its limit; None: it has none."""
    clash_share: float | None
    """Share of attempts that met another's, or found the receiver deaf."""
    predicted_clash_share: float
    """The same in closed form, were all phases random."""


class PointFigures(Struct, frozen=True, kw_only=True):
    """What one point was judged by."""

    starts: int
    interval_ci95: tuple[float, float] | None = None
    """Interval of the figure that starts were added for; None: for none, or nothing measured."""
    is_narrow: bool | None = None
    """That interval became as narrow as asked; None: no figure was asked for."""
    ok: bool
    """Every requirement held in the worst start."""
    margin: float
    """From the figure nearest to its limit to that limit, as a share of it; below 0: missed."""
    missed: int
    """How many requirements."""
    nearest: str
    """The figure with that margin."""
    cause: str
    """Why it is missed; empty if it is not."""
    measured: dict[str, float | None]
    """The figures of all requirements."""
    worst: dict[str, float]
    """Figures of the worst start."""
    duty_cycle: float
    """Share of the time on air of all transmitters together."""
    charge_mah_per_hour: float | None
    """None: no current is known of some power."""
    age_mean_ms: float | None
    """Age of the values in use, of the stream with the oldest, in its worst start; None: one was
    never read."""
    age_p99_ms: float | None
    stream: dict[str, StreamAtPoint]
    pairs: tuple[Pair, ...]
    """Every two transmitters, and each with every grid that takes frames of it."""


class Worse(Struct, frozen=True, kw_only=True):
    """A figure that is worse than with the scenario as it stands."""

    figure: str
    """Its path."""
    now: float
    """As it stands."""
    here: float | None
    """None: nothing to measure."""
    is_in_worst_start: bool
    """Both are of the worst start; else over all starts together."""

    @property
    def stream(self) -> str:
        """Whose it is."""
        return self.figure.split(".")[1]


class Tried(Struct, frozen=True, kw_only=True):
    """One point, and what became of it."""

    values: Values
    is_own: bool = False
    """These are the scenario's own settings."""
    refused: str = ""
    """Why its settings make no sound scenario; empty: they do."""
    figures: PointFigures | None
    """None: it was refused."""
    worse: tuple[Worse, ...] = ()
    """Figures of guarded streams that are worse than with the scenario as it stands."""

    @property
    def judged(self) -> PointFigures:
        """Its figures; ValueError if it was refused."""
        if self.figures is None:
            raise ValueError(f"a point that is refused has no figures: {self.refused}")
        return self.figures

    @property
    def margin(self) -> float | None:
        """Margin of the requirement that is nearest to its limit; None: refused."""
        return None if self.figures is None else self.figures.margin

    @property
    def ok(self) -> bool:
        """Every requirement held in the worst start."""
        return self.figures is not None and self.figures.ok

    @property
    def beating(self) -> tuple[Pair, ...]:
        """Every pair of its transmitters that beats, sooner or later."""
        pairs = () if self.figures is None else self.figures.pairs
        return tuple(pair for pair in pairs if pair.is_beating)


class Change(Struct, frozen=True, kw_only=True):
    """One setting that is to change, and what it is worth."""

    key: str
    without: Values
    """The recommended values with this setting alone put back to what it is: a point that was
    judged, and is not as good."""


class Recommended(Struct, frozen=True, kw_only=True):
    """The settings to take."""

    values: Values
    is_own: bool
    """They are the scenario's own."""
    why: str
    changes: tuple[Change, ...]
    """Settings that change; all others stay as they are."""
    ties: int
    """Other points that are as good, to a hundredth."""
    worse: tuple[Worse, ...]
    """Figures of guarded streams that they make worse: no point that holds does without."""
    in_return: tuple[Worse, ...]
    """Figures of streams that become worse because others come first."""
    warnings: tuple[str, ...]
    """Warnings that they bring, as `path: text`; not those of the scenario as it stands."""
    beating: tuple[tuple[str, str], ...]
    """Transmitters that beat: the settings rely on that not happening while it matters."""


class Confirmed(Struct, frozen=True, kw_only=True):
    """What the whole scenario, all its starts at their length, made of one point."""

    values: Values
    starts: int
    duration_s: float
    ok: bool | None
    """Every requirement held; None: none failed, but not all could be judged."""
    worse: tuple[Worse, ...]
    """Figures of guarded streams that are worse than with the scenario as it stands, which was
    tried over the whole too."""
    is_new: bool
    """It is more than what the point was chosen on: further starts, or longer ones."""
    requirements: tuple[RequirementFigures, ...]


class WithoutFaults(Struct, frozen=True, kw_only=True):
    """Ages of the values in use at one point, over its starts without the scenario's own faults."""

    values: Values
    age_mean_ms: float | None
    """Of the stream with the oldest, in its worst start; None: one was never read."""
    age_p99_ms: float | None


class Tuned(Struct, frozen=True, kw_only=True):
    """All of it."""

    scenario: str
    title: str
    seed: int
    version: str
    starts: int
    """Starts of each point; at most, where each takes as many as it needs."""
    duration_s: float
    narrow: Narrow | None
    """The figure that starts were added for."""
    settings: tuple[Setting, ...]
    assumed: tuple[str, ...]
    """Requirements that were taken because the scenario has none."""
    faults_left_out: tuple[str, ...] = ()
    """Faults of the scenario that these are judged without."""
    prefer: tuple[str, ...]
    """Streams that come first."""
    guarded: tuple[str, ...]
    """Streams that must not become worse: no requirement says how often their values must come."""
    too_short: tuple[str, ...]
    """Faults that no point has seen to their end: starts are too short."""
    judged_later: tuple[str, ...]
    """Figures of requirements that only such a fault can fulfil: no point is judged by them."""
    as_it_stands: Tried
    """The scenario without any change: chosen from too."""
    points: tuple[Tried, ...]
    put_back: tuple[Tried, ...]
    """Good points with some of their settings put back to what they are."""
    recommended: Recommended | None
    """None: no point could be judged."""
    confirmed: tuple[Confirmed, ...] = ()
    """The points that were tried over the whole scenario, the recommended one last."""
    without_faults: tuple[WithoutFaults, ...] = ()
    """The scenario as it stands and the recommended point; none if it has no faults."""
    runners_up: tuple[Values, ...]
    """The next best."""
    pareto_front: tuple[Values, ...]
    """Points that hold, none of which another beats in age, air time and charge at once."""
    influence: dict[str, Influence]
    """Shares of the margin's variance by setting; none where they are not known."""
    influence_unknown: str
    """Why they are not; else empty."""
    ok: bool
    """The recommended point holds every requirement, over the whole scenario too if tried."""

    def at(self, values: Values) -> Tried:
        """The point with some values; KeyError if there is none."""
        for point in (*self.points, *self.put_back, self.as_it_stands):
            if point.values == values:
                return point
        raise KeyError(values)

    @property
    def best(self) -> Tried | None:
        """The recommended point."""
        return None if self.recommended is None else self.at(self.recommended.values)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What whoever takes the recommended settings must know, in a few words each."""
        if self.recommended is None:
            return ()
        missed = [] if self.ok else ["they miss a requirement, or were not confirmed"]
        worse = dict.fromkeys(entry.stream for entry in self.recommended.worse)
        missed += [f"{stream} becomes worse than it was" for stream in worse]
        if self.recommended.beating:
            missed.append(f"{clocks_text(self.recommended.beating)} beat")
        return tuple(missed)


def clocks_text(pairs: tuple[tuple[str, str], ...]) -> str:
    """Whose clocks beat, every pair named: `the clocks of a and b, of b and c`."""
    return f"the clocks {', '.join(f'of {first} and {second}' for first, second in pairs)}"
