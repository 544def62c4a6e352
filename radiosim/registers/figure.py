"""The shape of a row of the register of figures; a row that lacks something does not import."""

from typing import Literal

import msgspec

Table = Literal["stream", "output", "air", "receiver", "faults", "reaction", "worst"]
TABLES: dict[Table, tuple[str, ...]] = {
    "stream": ("stream", "NAME"),
    "output": ("output", "NAME"),
    "air": ("air",),
    "receiver": ("receiver",),
    "faults": ("faults", "N"),
    "reaction": ("reaction", "NAME"),
    "worst": ("worst", "NAME"),
}
"""Tables of the results, and their paths: NAME is what the user calls a thing, N its number."""
Worse = Literal["low", "high", "neither"]
LOW: Worse = "low"
HIGH: Worse = "high"
NEITHER: Worse = "neither"

COUNT, MS, S, HZ, DEGREES, SHARE = "a count", "ms", "s", "Hz", "degrees", "0 to 1"
HOURS, PER_HOUR, MAH_PER_HOUR, START, PLAIN = (
    "hours",
    "an hour",
    "mAh an hour",
    "the number of a start",
    "a number",
)
_ENDINGS = {
    "_ms": MS,
    "_s": S,
    "_hz": HZ,
    "_deg": DEGREES,
    "_h": HOURS,
    "_ratio": SHARE,
    "mah_per_hour": MAH_PER_HOUR,
}
"""Names that end so have this unit."""
UNITS = (COUNT, MS, S, HZ, DEGREES, SHARE, HOURS, PER_HOUR, MAH_PER_HOUR, START, PLAIN)
PARTS = {
    "mean": "mean",
    "median": "half of all are no larger",
    "p95": "95 of 100 are no larger",
    "p99": "99 of 100 are no larger",
    "max": "largest",
    "n": "how many there were",
}
"""Parts of a spread such as `gap_ms`."""
_LONGEST = "largest, faults and both ends included"
"""What the largest means of a spread that counts open gaps in it."""


class Sum(msgspec.Struct, frozen=True, kw_only=True):
    """A count or time of all starts together, as simulated."""

    of: str
    """Name in the tally."""
    unit: float = 1
    """What one of the figure's unit is in the tally's."""


class Lowest(msgspec.Struct, frozen=True, kw_only=True):
    """The lowest of all starts."""

    of: str
    unit: float = 1


class Highest(msgspec.Struct, frozen=True, kw_only=True):
    """The highest of all starts."""

    of: str
    unit: float = 1


class Same(msgspec.Struct, frozen=True, kw_only=True):
    """The same in every start."""

    of: str
    unit: float = 1


class Ratio(msgspec.Struct, frozen=True, kw_only=True):
    """One sum over another, each start by its weight."""

    of: str
    per: str
    """Name in the tally; SPAN_HOURS or SPAN_NS: of how long the starts are."""
    interval: Literal["share", "ratio", "rate", "none"]
    """How its interval over starts is had (measure/intervals.py).

    share: a part of its base, within 0…1, Wilson's where no start differs; ratio: any other
    quotient, not clipped; rate: rare events by time, `per` SPAN_HOURS, Garwood's limits where they
    are few; none: no interval."""


class StartsWith(msgspec.Struct, frozen=True, kw_only=True):
    """The number of starts that had it at all; known of several starts only."""

    of: str


class Spread(msgspec.Struct, frozen=True, kw_only=True):
    """How often each value came, each start by its weight; the figure has PARTS."""

    of: str
    unit: float
    longest: str = ""
    """Name in the tally of a maximum that counts what the spread does not: open gaps."""


class Ruled(msgspec.Struct, frozen=True, kw_only=True):
    """A rule of its own in measure/figure_rules.py, by the figure's path."""

    is_of_one_start: bool


class Judged(msgspec.Struct, frozen=True, kw_only=True):
    """Not measured in a run's starts: a bound, an estimate, a drill."""

    can_be_required: bool


SPAN_HOURS, SPAN_NS = "span in h", "span in ns"
Pooling = Sum | Lowest | Highest | Same | Ratio | StartsWith | Spread | Ruled | Judged


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """One figure of the results. ValueError: a row lacks something, or contradicts itself."""

    table: Table
    """What it is of."""
    name: str
    """Key in the results, under its table."""
    unit: str
    pool: Pooling
    """How it is had of the tallies of one start or many."""
    worse: Worse
    """Which way is bad, and so which start is its worst."""
    meaning: str
    """What it is, in a builder's words."""
    measure: str
    """How to see the same on the bench."""

    def __post_init__(self) -> None:
        ending = next((unit for end, unit in _ENDINGS.items() if self.name.endswith(end)), None)
        checks = {
            "a text is empty": not all((self.name, self.meaning, self.measure)),
            "is of no table": self.table not in TABLES,
            f"has a unit other than {', '.join(UNITS)}": self.unit not in UNITS,
            f"is named as if it were in {ending}": ending not in (None, self.unit),
        }
        for text, is_wrong in checks.items():
            if is_wrong:
                raise ValueError(f"figure {self.key!r}: {text}")

    @property
    def key(self) -> str:
        """Table and name, such as `stream.gap_ms`."""
        return f"{self.table}.{self.name}"

    @property
    def parts(self) -> tuple[str, ...]:
        """Names of its parts; one empty name for a figure that is a number."""
        return tuple(PARTS) if isinstance(self.pool, Spread) else ("",)

    def part_text(self, part: str) -> str:
        """What one of its parts means."""
        has_longest = isinstance(self.pool, Spread) and self.pool.longest
        return _LONGEST if part == "max" and has_longest else PARTS[part]

    @property
    def can_be_required(self) -> bool:
        """Whether a requirement can name it: one start has it, or a drill judges it."""
        match self.pool:
            case Judged(can_be_required=can):
                return can
            case Ruled(is_of_one_start=is_of_one):
                return is_of_one
            case StartsWith():
                return False
        return True

    @property
    def has_interval(self) -> bool:
        """Whether `NAME_ci95` stands beside it where there is more than one start."""
        return isinstance(self.pool, Ratio) and self.pool.interval != "none"

    def worse_part(self, part: str) -> Worse:
        """Which way is bad of one of its parts; of how many there were, neither."""
        return NEITHER if part == "n" else self.worse
