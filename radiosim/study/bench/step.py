"""What stands on a bench test sheet, and the intervals that hold one more measurement."""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from string import ascii_lowercase
from typing import Final, Literal

from msgspec import Struct
from msgspec.structs import replace

from radiosim.study.bench.rests import Rest

Source = Literal["closed form", "simulated", "drilled"]
CLOSED: Final = "closed form"
SIMULATED: Final = "simulated"
DRILLED: Final = "drilled"
"""Simulated with the fault in each start."""

Aspect = Literal["value", "reboot", "reaction", "bound", "back", "others"]
"""What about a fault a prediction is of; `value`: no fault."""


class Prediction(Struct, frozen=True, kw_only=True):
    """What one measurement should give."""

    what: str
    of: str = ""
    """The outputs, or the transmitter, that it is measured at; empty: what its case is named by."""
    aspect: Aspect = "value"
    low: float | None
    """None: no lower end; if there is no upper end either, `text` says what to see."""
    high: float | None
    unit: str
    resolution: float = 0.0
    """What the way to measure can tell apart, a power of ten of `unit`; 0: there is no number."""
    source: Source
    tries: int = 0
    """Starts that it was simulated in; 0: none."""
    share: float | None = None
    """How many of such measurements the predicted range holds; None: all."""
    reached: float | None = None
    """What can come about below `high`, if that is a bound that is never met."""
    text: str = ""
    """What to see, or what else there is to say."""
    is_assumed: bool = False
    """It rests on a default or guess of radiosim: `rests_on` of its step or chapter names them."""

    @property
    def is_seen(self) -> bool:
        """Whether there is something to see, and no number."""
        return self.low is None and self.high is None


class StepCase(Struct, frozen=True, kw_only=True):
    """A step as it is done to one unit, or measured at one output."""

    key: str
    """Names the case: letters, digits and dots; the same on every sheet of the scenario."""
    title: str
    predicted: tuple[Prediction, ...]


class Step(Struct, frozen=True, kw_only=True):
    """One thing to try, with one unit after the other."""

    key: str
    title: str
    do: str
    measure: str
    cases: tuple[StepCase, ...]
    if_not: str
    """What a measurement outside its range most likely means, and the setting to look at."""
    settings: tuple[str, ...] = ()
    """Lines for the scenario that the step needs first, as for `--set`."""
    rests_on: tuple[Rest, ...] = ()
    """The settings that its closed forms are made of; of what is simulated, the first to look at.
    """


class Chapter(Struct, frozen=True, kw_only=True):
    """Steps that share how they are done."""

    title: str
    how: str
    """What holds for each of its steps."""
    steps: tuple[Step, ...]
    if_not: str = ""
    """What to look at, whichever step it is."""
    rests_on: tuple[Rest, ...] = ()
    """The settings that all its steps rest on."""


class BenchTestSheet(Struct, frozen=True, kw_only=True):
    """Everything, in the order in which to try it."""

    scenario: str
    title: str
    version: str
    seed: int
    starts: int
    minutes: float
    hazards: tuple[str, ...]
    """Outputs that a fault leaves driven, why, and at which faults."""
    guessed: tuple[str, ...]
    """Outputs whose failsafe value nobody has said."""
    cautions: tuple[str, ...]
    chapters: tuple[Chapter, ...]
    notes: tuple[str, ...]

    @property
    def steps(self) -> tuple[Step, ...]:
        """All of them, in order."""
        return tuple(step for chapter in self.chapters for step in chapter.steps)

    @property
    def rests_on(self) -> tuple[Rest, ...]:
        """The settings that any step rests on, each once."""
        tables: tuple[Chapter | Step, ...] = (*self.chapters, *self.steps)
        return tuple(dict.fromkeys(rest for table in tables for rest in table.rests_on))


def assumed_where(
    is_assumed: Callable[[StepCase, Prediction], bool], cases: Iterable[StepCase]
) -> tuple[StepCase, ...]:
    """The cases, each prediction saying whether it rests on a default or guess."""
    return tuple(
        replace(
            case,
            predicted=tuple(
                replace(predicted, is_assumed=is_assumed(case, predicted))
                for predicted in case.predicted
            ),
        )
        for case in cases
    )


STILL_DRIVEN: Final = "STILL DRIVEN"
"""Begins what is said of an output that must stop and does not."""
NEED_NOT: Final = "need not stop"
HOLDS: Final = "holds"
UNTOUCHED: Final = "untouched"


def labelled(steps: Sequence[Step]) -> Iterator[tuple[str, Step, StepCase]]:
    """Every case with its label: the step's number, and a letter where it has several cases."""
    for number, step in enumerate(steps, start=1):
        for place, case in enumerate(step.cases):
            yield f"{number}{letter_of(step, place)}", step, case


def letter_of(step: Step, place: int) -> str:
    """The letter of a step's case; empty if it is the only one."""
    if len(step.cases) == 1:
        return ""
    first, last = divmod(place, len(ascii_lowercase))
    return (ascii_lowercase[first - 1] if first else "") + ascii_lowercase[last]


def exact(
    what: str,
    low: float | None,
    high: float,
    unit: str,
    resolution: float,
    *,
    of: str = "",
    aspect: Aspect = "value",
    reached: float | None = None,
    text: str = "",
) -> Prediction:
    """A prediction in closed form."""
    return Prediction(
        what=what,
        of=of,
        aspect=aspect,
        low=low,
        high=high,
        unit=unit,
        resolution=resolution,
        source=CLOSED,
        reached=reached,
        text=text,
    )


def to_see(of: str, aspect: Aspect, text: str, tries: int) -> Prediction:
    """What a drill has shown, without a number."""
    return Prediction(
        what="what to see",
        of=of,
        aspect=aspect,
        low=None,
        high=None,
        unit="",
        source=DRILLED,
        tries=tries,
        text=text,
    )


def key_of(table: str, names: Sequence[str]) -> str:
    """The table of one name, `transmitter.drive`; of several `transmitter.NAME`, for each."""
    return f"{table}.{names[0] if len(names) == 1 else 'NAME'}"


def each(values: Sequence[tuple[str, str]]) -> str:
    """What names have, said once if it is the same: `8 MHz`, or `drive 8 MHz, head 4 MHz`."""
    if len({value for _, value in values}) == 1:
        return values[0][1]
    return ", ".join(f"{name} {value}" for name, value in values)


WANTED = 0.95
STARTS = 39
"""The fewest of which lowest and highest hold 95 % of what comes next."""


def cut_of(count: int) -> int:
    """How many of `count` sorted values, from each end on, the range begins at: 1 is the outermost.

    The r-th lowest and r-th highest of n values hold the next with probability (n + 1 − 2r)/(n + 1)
    if all are drawn alike (S. S. Wilks, Ann. Math. Stat. 12 (1941); from memory).
    """
    return max(1, math.floor((count + 1) * (1 - WANTED) / 2 + 1e-9))


def share_of(count: int) -> float:
    """How often the predicted range of `count` values holds the next, 0…1."""
    return (count + 1 - 2 * cut_of(count)) / (count + 1)


def predicted_range(
    what: str,
    values: Sequence[float],
    unit: str,
    resolution: float,
    *,
    of: str = "",
    aspect: Aspect = "value",
    source: Source = SIMULATED,
    text: str = "",
) -> Prediction:
    """The predicted range of what one more start would give; ValueError without any value."""
    if not values:
        raise ValueError("no predicted range of no values")
    ordered, cut = sorted(values), cut_of(len(values))
    return Prediction(
        what=what,
        of=of,
        aspect=aspect,
        low=ordered[cut - 1],
        high=ordered[-cut],
        unit=unit,
        resolution=resolution,
        source=source,
        tries=len(values),
        share=share_of(len(values)),
        text=text,
    )
