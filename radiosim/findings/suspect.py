"""What may be wrong, before it is proved: which figure shows it, and what takes its cause away."""

from dataclasses import dataclass
from typing import Literal

Better = Literal["less", "more"]
Overrides = tuple[str, ...]
"""`KEY=VALUE` lines, as `--set` takes them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A cause that the figures point to."""

    what: str
    """In a sentence without a full stop."""
    where: str
    """Path of the key, or of the unit, that it is about."""
    why: str
    """The numbers of the run that point to it."""
    figure: str
    """Path of the figure that shows it; see `Case.value`."""
    removed: Overrides
    """Takes the cause away, be it possible on a vehicle or not."""
    cures: tuple[Overrides, ...]
    """What a builder can do, the best first; the first that helps is given."""
    advice: str = ""
    """Said with the cure: what it costs, or what to do where no key does it."""
    measure: str
    """How to see it on the bench."""
    drill: Overrides = ()
    """Set in every rerun, before and after: a fault that shows it."""
    is_certain: bool = False
    """The rules alone show it: a rerun only measures it."""
    better: Better = "less"
    share: float = 0.7
    """Proved if what is left of the figure (less: of its value, more: of what lacks to 1) is
    at most this share; 0: only if it never came before."""
