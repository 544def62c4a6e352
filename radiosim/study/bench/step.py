"""What stands on a bench card."""

from typing import Final, Literal

from msgspec import Struct

Source = Literal["closed form", "simulated", "rule of the model"]
CLOSED: Final = "closed form"
SIMULATED: Final = "simulated"
RULE: Final = "rule of the model"


class Prediction(Struct, frozen=True, kw_only=True):
    """What one measurement should give."""

    what: str
    low: float | None
    """None: no lower end; if there is no upper end either, `text` says what to see."""
    high: float | None
    unit: str
    source: Source
    tries: int = 0
    """Starts that it was simulated in; 0: none."""
    share: float | None = None
    """How many of such measurements the band holds; None: all."""
    text: str = ""
    """What to see, or what else there is to say."""


class Step(Struct, frozen=True, kw_only=True):
    """One thing to try."""

    chapter: str
    key: str
    """Names the step: letters, digits and dots; the same on every card of the scene."""
    title: str
    do: str
    measure: str
    predicted: tuple[Prediction, ...]
    if_not: str
    """What a measurement outside the band most likely means, and the setting to look at."""


class Card(Struct, frozen=True, kw_only=True):
    """Everything, in the order in which to try it."""

    scene: str
    title: str
    version: str
    seed: int
    starts: int
    minutes: float
    cautions: tuple[str, ...]
    steps: tuple[Step, ...]
    notes: tuple[str, ...]


ALIVE: Final = "STAYS ALIVE"
"""Begins what is said of an output that must stop and does not."""


def exact(what: str, low: float | None, high: float, unit: str, text: str = "") -> Prediction:
    """A prediction in closed form."""
    return Prediction(what=what, low=low, high=high, unit=unit, source=CLOSED, text=text)


def to_see(what: str, text: str, *, tries: int = 0) -> Prediction:
    """A prediction without a number; simulated if it was tried."""
    source: Source = SIMULATED if tries else RULE
    return Prediction(
        what=what, low=None, high=None, unit="", source=source, tries=tries, text=text
    )
