"""How much findings are about to simulate again, before they do."""

import math
from collections.abc import Sequence

from radiosim.findings.case import Case
from radiosim.findings.examined import Suspects, suspects_of
from radiosim.findings.joint import all_starts
from radiosim.findings.proof import Suspect
from radiosim.findings.rules import is_fine
from radiosim.study.amount import Amount, amount_of_starts
from radiosim.study.most_workers import workers_for

OF_SUSPECTS, OF_STARTS = 1.7, 1.8
"""Reruns for each start in which a suspect is looked at, and for each in which all cures are tried.

Counted: within a factor of two of what eleven scenarios took, those that ship among them.
"""


def amount_of_reruns(
    case: Case, families: Sequence[Suspects], workers: int | None = None
) -> Amount:
    """What it takes to prove and to cure what is suspected, as if in one process.

    Suspects are tried one after the other; the starts of the joint cure are shared out.
    """
    suspects = [suspect for of_one in families for suspect in suspects_of(case, of_one)]
    looked_at = sum(
        len(case.starts(suspect.figure)) for suspect in suspects if _is_long(case, suspect)
    )
    starts = len(all_starts(case)) if suspects else 0
    shared = math.ceil(starts / workers_for(workers, max(1, starts)))
    reruns = OF_SUSPECTS * looked_at + OF_STARTS * shared
    return amount_of_starts(case.run, reruns * case.run.duration_s, case.engine)


def _is_long(case: Case, suspect: Suspect) -> bool:
    """Whether a suspect takes whole starts: drills are short, and what is fine is not looked at."""
    if suspect.is_drilled:
        return False
    worst = case.summary.worst.get(suspect.figure)
    value = None if worst is None else worst.value
    return suspect.is_certain or not is_fine(case.run, case.summary, suspect.figure, value)
