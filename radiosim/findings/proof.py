"""What is suspected of a run, and its proof: without the cause, on the same draws, it is better."""

import msgspec

from radiosim.findings.case import Better, Case, Changes, Overrides
from radiosim.findings.rules import is_better, is_fine

WITHOUT_FAULTS: Overrides = ("fault=[]",)
"""What is shown better where the scenario's own faults are left out."""


class Suspect(msgspec.Struct, frozen=True, kw_only=True):
    """A cause that the figures point to."""

    what: str
    """What may be wrong: a sentence without a full stop."""
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
    is_note: bool = False
    """Nothing in the run is wrong: it is what a failsafe cannot see."""
    better: Better = "less"
    share: float = 0.7
    """Proved if what is left of the figure (less: of its value, more: of what lacks to 1) is
    at most this share; 0: only if it never came before."""

    @property
    def is_drilled(self) -> bool:
        """Whether a fault shows it, which the scenario itself may not have."""
        return bool(self.drill) and self.drill != WITHOUT_FAULTS

    @property
    def cause(self) -> tuple[str, str]:
        """What tells it from every other suspect of a run."""
        return self.where, self.what

    def without(self) -> Changes:
        """What takes the cause away; a cure that does so is pasted, as a user does it."""
        if self.removed in self.cures:
            return Changes(pasted=self.removed, keys=self.drill)
        return Changes(keys=(*self.drill, *self.removed))


class Proof(msgspec.Struct, frozen=True, kw_only=True):
    """A figure before and after something is changed, in the worst of some starts."""

    before: float | None
    after: float | None
    is_proved: bool


def with_given(given: Overrides, changes: Changes) -> Changes:
    """The changes on top of lines that are given already."""
    pasted = (*given, *(line for line in changes.pasted if line not in given))
    return Changes(pasted=pasted, keys=changes.keys)


def worst_value(case: Case, suspect: Suspect, changes: Changes) -> float | None:
    """The suspect's figure in the worst start; None: one of them has no such figure."""
    values = [case.value(suspect.figure, changes, k) for k in case.starts(suspect.figure)]
    present = [value for value in values if value is not None]
    if len(present) < len(values):
        return None
    return min(present) if suspect.better == "more" else max(present)


def compared(
    case: Case, suspect: Suspect, before: Changes, after: Changes, *, is_whole: bool = False
) -> Proof:
    """The suspect's figure with some changes and with others; starts end where proof fails.

    `is_whole`: other figures of the changed starts are asked for as well.
    """
    was, now = worst_value(case, suspect, before), None
    if is_fine(case.run, case.summary, suspect.figure, was) and not suspect.is_certain:
        return Proof(before=was, after=was, is_proved=False)
    for start in case.starts(suspect.figure):
        value = case.value(suspect.figure, after, start, is_whole=is_whole)
        if not is_better(was, value, suspect.better, suspect.share):
            return Proof(before=was, after=value, is_proved=False)
        worse = min if suspect.better == "more" else max
        now = value if now is None or value is None else worse(now, value)
    return Proof(before=was, after=now, is_proved=True)
