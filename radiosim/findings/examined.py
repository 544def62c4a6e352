"""Suspects examined one by one, then together: what is proved, and the first cure that helps."""

from collections.abc import Callable, Iterator
from itertools import combinations, zip_longest
from typing import Literal

import msgspec
from msgspec.structs import replace

from radiosim.errors import ScenarioError
from radiosim.findings.block import block_of, joined, overlap
from radiosim.findings.case import Case, Changes, Overrides
from radiosim.findings.proof import Proof, Suspect, compared, with_given, worst_value
from radiosim.findings.rules import broken, is_fine, worse_off

Suspects = Callable[[Case], Iterator[Suspect]]
Seen = Literal["alone", "together", "behind", "later"]


class Proved(msgspec.Struct, frozen=True, kw_only=True):
    """A suspect that reruns prove, and the lines of the joint cure that are for it."""

    suspect: Suspect
    proof: Proof
    seen: Seen
    lines: Overrides = ()
    """Empty: none of its cures helps and harms nothing else."""


class Examination(msgspec.Struct):
    """What has been found so far: the only thing here that changes."""

    case: Case
    """With the cures found so far."""
    proved: list[Proved] = msgspec.field(default_factory=list)
    known: set[tuple[str, str]] = msgspec.field(default_factory=set)
    """Causes that are not examined again."""


def examine(case: Case, families: tuple[Suspects, ...], seen: Seen) -> Examination:
    """Every suspect, the worst first; each is tried in the scenario as cured so far."""
    found = Examination(case=case)
    look(found, families, seen)
    return found


def look(found: Examination, families: tuple[Suspects, ...], seen: Seen) -> None:
    """Add what is proved now to what was found before."""
    alone = found.case
    suspects = [(of_one, suspect) for of_one in families for suspect in suspects_of(alone, of_one)]
    asked = [one for one in suspects if one[1].cause not in found.known]
    # What a drill shows needs a fault, and acts on no stream: it is tried on top of all else.
    asked.sort(key=lambda one: one[1].is_drilled and not one[1].is_certain)
    hidden: list[tuple[Suspects, Suspect]] = []
    for of_one, suspect in asked:
        proved = _proved(found, alone, of_one, suspect, seen)
        if proved is not None:
            found.proved.append(proved)
            found.known.add(suspect.cause)
        elif not suspect.is_drilled and not suspect.is_certain:
            hidden.append((of_one, suspect))
    for figure in dict.fromkeys(suspect.figure for _, suspect in hidden):
        _together(found, [one for one in hidden if one[1].figure == figure])
    for of_one, suspect in hidden:
        _behind(found, alone, of_one, suspect)
    order = [suspect.cause for _, suspect in suspects]
    found.proved.sort(key=lambda one: order.index(one.suspect.cause))


def _proved(
    found: Examination, alone: Case, of_one: Suspects, suspect: Suspect, seen: Seen
) -> Proved | None:
    """The suspect, proved both in the run and in what the cures before it have made of it."""
    now = _again(found.case, of_one, suspect)
    if now is None or not alone.is_sound(with_given(alone.given, suspect.without())):
        return None
    before = Changes(pasted=alone.given, keys=suspect.drill)
    proof = compared(alone, suspect, before, with_given(alone.given, suspect.without()))
    if not proof.is_proved and not suspect.is_certain:
        return None
    lines = _first_cure(found.case, of_one, now, _proof_of(now, suspect, proof))
    if not lines and found.case.given != alone.given and not suspect.is_certain:
        # With a cure that helps it is proved here too; without one a rerun must tell.
        here = Changes(pasted=found.case.given, keys=now.drill)
        left = compared(found.case, now, here, with_given(found.case.given, now.without()))
        if not left.is_proved:
            return None
    found.case = found.case.cured(block_of((found.case.given, lines)))
    return Proved(suspect=suspect, proof=proof, seen=seen, lines=lines)


def _again(case: Case, of_one: Suspects, suspect: Suspect) -> Suspect | None:
    """The same suspect in the scenario as cured so far; None: its cause is gone with a cure."""
    return next((now for now in suspects_of(case, of_one) if now.cause == suspect.cause), None)


def suspects_of(case: Case, of_one: Suspects) -> tuple[Suspect, ...]:
    """What a family suspects of the scenario as cured so far, worked out once."""
    key = (of_one, case.given)
    if key not in case.suspects:
        case.suspects[key] = tuple(of_one(case))
    found: tuple[Suspect, ...] = case.suspects[key]
    return found


def _proof_of(now: Suspect, suspect: Suspect, proof: Proof) -> Overrides:
    """The cure that a drill has proved already; the joint cure is drilled again as a whole."""
    is_same = now.is_drilled and proof.is_proved and now.removed == suspect.removed
    return now.removed if is_same else ()


def _first_cure(
    case: Case, of_one: Suspects, suspect: Suspect, proved: Overrides = ()
) -> Overrides:
    """The lines of the first cure that helps and makes nothing worse; empty: there is none.

    `proved`: one that needs no rerun.
    """
    for cure in suspect.cures:
        own = joined(case, cure)
        if not own:
            continue
        lines = block_of((case.given, own))
        if cure == proved and case.is_sound(Changes(pasted=lines, keys=suspect.drill)):
            return own
        if _helps(case, of_one, suspect, lines):
            return own
    return ()


def _helps(case: Case, of_one: Suspects, suspect: Suspect, lines: Overrides) -> bool:
    after = Changes(pasted=lines, keys=suspect.drill)
    if not case.is_sound(after):
        return False
    before = Changes(pasted=case.given, keys=suspect.drill)
    proof = compared(case, suspect, before, after, is_whole=not suspect.is_drilled)
    # What the rules alone show, the rules alone take away.
    is_gone = suspect.is_certain and _again(case.cured(lines), of_one, suspect) is None
    return (proof.is_proved or is_gone) and not _harms(case, suspect, lines)


def _harms(case: Case, suspect: Suspect, lines: Overrides) -> bool:
    """Whether a stream is worse off than in the run, in the starts of a suspect's figure.

    What is drilled alone acts on no stream; the joint cure is judged as a whole in any case.
    """
    if suspect.is_drilled:
        return False
    starts = case.starts(suspect.figure)
    before = [case.start(Changes(), start) for start in starts]
    after = [case.start(Changes(pasted=lines), start) for start in starts]
    if any(worse_off(case.run, before, after)):
        return True
    return any(
        figure for was, now in zip(before, after, strict=True) for figure in broken(was, now)
    )


def _together(found: Examination, hidden: list[tuple[Suspects, Suspect]]) -> None:
    """Causes of one figure that hide each other: proved by taking all of them away but one."""
    case = found.case
    members = [now for of_one, suspect in hidden if (now := _again(case, of_one, suspect))]
    if len(members) < 2 or not case.is_sound(_all_removed(case, members)):
        return
    before = Changes(pasted=case.given)
    whole = compared(case, members[0], before, _all_removed(case, members))
    if not whole.is_proved:
        return
    needed = [one for one in members if _is_needed(case, one, members)]
    if len(needed) < 2:
        return
    lines = _first_cure(case, hidden[0][0], _as_one(needed))
    found.case = case.cured(block_of((case.given, lines)))
    for one in needed:
        found.known.add(one.cause)
        own = tuple(line for line in lines if any(line in cure for cure in one.cures))
        found.proved.append(Proved(suspect=one, proof=whole, seen="together", lines=own))


def _behind(found: Examination, alone: Case, of_one: Suspects, suspect: Suspect) -> None:
    """A cause that is seen only once those that were proved by the same figure are away."""
    mates = [
        one
        for one in found.proved
        if one.suspect.figure == suspect.figure and not one.suspect.is_drilled
    ]
    members = [*(one.suspect for one in mates), suspect]
    if not mates or suspect.cause in found.known or _clash(members):
        return
    with_it, without = _all_removed(alone, members[:-1]), _all_removed(alone, members)
    if not alone.is_sound(with_it) or not alone.is_sound(without):
        return
    proof = compared(alone, suspect, with_it, without)
    if not proof.is_proved:
        return
    now, given = _again(found.case, of_one, suspect), found.case.given
    lines = () if now is None else _first_cure(found.case, of_one, now)
    if lines:
        found.case = found.case.cured(block_of((given, lines)))
    elif is_fine(
        alone.run, alone.summary, suspect.figure, worst_value(alone, suspect, Changes(pasted=given))
    ):
        # What cures those that hid it cures it as well.
        lines = block_of(one.lines for one in mates)
    found.known.add(suspect.cause)
    found.proved.append(Proved(suspect=suspect, proof=proof, seen="behind", lines=lines))


def _clash(members: list[Suspect]) -> bool:
    """Whether two of them take their causes away by the same key."""
    return any(
        one != other and overlap(one, other)
        for first, second in combinations(members, 2)
        for one in first.removed
        for other in second.removed
    )


def _all_removed(case: Case, members: list[Suspect]) -> Changes:
    keys = dict.fromkeys(line for one in members for line in one.removed)
    return Changes(pasted=case.given, keys=tuple(keys))


def _is_needed(case: Case, one: Suspect, members: list[Suspect]) -> bool:
    """Whether the figure stays bad while one cause alone is left."""
    others = [other for other in members if other is not one]
    try:
        left = compared(case, one, _all_removed(case, others), _all_removed(case, members))
    except ScenarioError:
        return False
    return left.is_proved


def _as_one(members: list[Suspect]) -> Suspect:
    """Suspects as one, its cures made of each one's first, then of each one's second, …"""
    cures = tuple(
        tuple(dict.fromkeys(line for part in parts for line in part))
        for parts in zip_longest(*(one.cures for one in members), fillvalue=())
    )
    return replace(members[0], cures=cures, share=max(one.share for one in members))
