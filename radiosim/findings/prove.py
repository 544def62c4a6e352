"""From a suspect to a finding: rerun with the cause removed, then with each cure."""

import math

from radiosim.findings.case import Case
from radiosim.findings.suspect import Better, Overrides, Suspect
from radiosim.measure.summary import Finding


def prove(case: Case, suspect: Suspect) -> Finding | None:
    """The finding, if taking the cause away on the same draws makes the figure better.

    None too where no sound scenario is left without the cause: nothing can be proved then.
    """
    if not case.is_sound((*suspect.drill, *suspect.removed)):
        return None
    before = _value(case, suspect, ())
    after = _value(case, suspect, suspect.removed)
    if not suspect.is_certain and not is_better(before, after, suspect.better, suspect.share):
        return None
    cure, cured = _first_cure(case, suspect, before)
    return Finding(
        what=suspect.what,
        where=suspect.where,
        why=suspect.why,
        figure=suspect.figure,
        proof={"before": before, "after": after, **({"cured": cured} if cure else {})},
        cure=_sentence(cure, suspect.advice),
        set=cure,
        measure=suspect.measure,
    )


def is_better(before: float | None, after: float | None, better: Better, share: float) -> bool:
    """Whether a figure came down to a share of what was wrong with it; None: it never came."""
    if before is None or after is None:
        return before is None and after is not None
    if better == "more":
        return after > before and 1 - after <= share * (1 - before)
    return after < before and share > 0 and after <= share * before


def _value(case: Case, suspect: Suspect, overrides: Overrides) -> float | None:
    return case.worst_value(suspect.figure, (*suspect.drill, *overrides), suspect.better)


def _first_cure(
    case: Case, suspect: Suspect, before: float | None
) -> tuple[Overrides, float | None]:
    """The first cure that makes a sound scenario and helps, and the figure with it."""
    for cure in suspect.cures:
        if not case.is_sound((*suspect.drill, *cure)):
            continue
        cured = _value(case, suspect, cure)
        if is_better(before, cured, suspect.better, suspect.share):
            return cure, cured
    return (), math.nan


def _sentence(cure: Overrides, advice: str) -> str:
    tried = " ".join(f"--set {_quoted(line)}" for line in cure)
    return ": ".join(part for part in (tried, advice) if part)


def _quoted(line: str) -> str:
    """One argument as a shell takes it."""
    return f"'{line}'" if any(letter in line for letter in ' {}[]"#*') else line
