"""All cures together on the draws of the run: what harms or does not help is taken out again."""

from collections.abc import Iterator
from itertools import chain

import msgspec
from msgspec.structs import replace

from radiosim.findings.block import block_of
from radiosim.findings.case import Case, Changes, Overrides
from radiosim.findings.costs import costs, worst_at
from radiosim.findings.examined import Proved
from radiosim.findings.in_return import harmed, in_return
from radiosim.findings.proof import worst_value
from radiosim.findings.rules import broken, is_better, is_fine, worse_off
from radiosim.measure.scripted import is_cut
from radiosim.measure.summary import Cure, Effect, RequirementFigures, Summary
from radiosim.registers.figure import LOW
from radiosim.registers.figure_register import figure_at
from radiosim.scenario import Scenario
from radiosim.scenario.power import caution_of_change
from radiosim.study.starts import simulate_starts

JOINT_S = 24_000.0
"""Simulated seconds of all starts together that the joint cure is tried in, at most."""
MOST_TRIES = 3
"""Times that the joint cure is tried, a part less each time."""


class Joint(msgspec.Struct, frozen=True, kw_only=True):
    """The cures that were tried together, and the run without and with them."""

    proved: tuple[Proved, ...]
    """Those whose cure was taken out have no lines."""
    before: Summary
    after: Summary | None = None
    """None: there are no lines."""
    harmed: tuple[str, ...] = ()
    """Figures for which cures were taken out."""

    @property
    def lines(self) -> Overrides:
        """The block to paste."""
        return block_of(one.lines for one in self.proved)


def worst_start(case: Case) -> range:
    """The start with the longest gap of all streams."""
    streams = case.summary.figures.stream.values()
    longest = max(streams, key=lambda stream: stream.gap_ms.max)
    return range(longest.longest_gap_start, longest.longest_gap_start + 1)


def all_starts(case: Case) -> range:
    """The starts of the run, as many of them as there is time for."""
    first, count = case.summary.first_start, int(JOINT_S / case.run.duration_s)
    return range(first, first + min(case.summary.starts, max(1, count)))


def joint_of(
    case: Case,
    proved: tuple[Proved, ...],
    starts: range,
    workers: int | None = 1,
    *,
    harmed: tuple[str, ...] = (),
    has_drills: bool = True,
) -> Joint:
    """The cures of what was proved, all together, in some starts of the run.

    `harmed`: figures for which cures were taken out before. `has_drills`: whether what drills show
    is drilled again.
    """
    before = case.summary
    if len(starts) < case.summary.starts:
        before = _run_of(case, Changes(), starts, workers)
    joint = Joint(proved=proved, before=before, harmed=harmed)
    for _ in range(MOST_TRIES):
        if not joint.lines:
            return joint
        after = _run_of(case, Changes(pasted=joint.lines), starts, workers)
        joint = replace(joint, after=after)
        wrong = _wrong(case, joint, has_drills)
        if not wrong:
            return joint
        joint = _with_less(case, joint, wrong)
    none = tuple(replace(one, lines=()) for one in joint.proved)
    return joint if not joint.lines else replace(joint, proved=none, after=None)


def _run_of(case: Case, changes: Changes, starts: range, workers: int | None) -> Summary:
    if len(starts) == 1:
        return case.start(changes, starts[0])
    return simulate_starts(
        case.scenario_with(changes),
        first=starts[0],
        count=len(starts),
        engine=case.engine,
        workers=workers,
    )


def _wrong(case: Case, joint: Joint, has_drills: bool) -> str:
    """A figure that is worse than before, or that its cure does not make better; empty: none."""
    assert joint.after is not None
    given = [one for one in joint.proved if one.lines]
    judged = (one for one in given if has_drills or not one.suspect.is_drilled)
    worse = chain(
        worse_off(case.run, (joint.before,), (joint.after,)),
        broken(joint.before, joint.after),
        harmed(case.run, _cured(case, joint), joint.before, joint.after),
        (one.suspect.figure for one in judged if not _is_cured(case, joint, one)),
    )
    return next(worse, "")


def _cured(case: Case, joint: Joint) -> Scenario:
    """The scenario with all cures."""
    return case.scenario_with(Changes(pasted=joint.lines))


def _is_cured(case: Case, joint: Joint, one: Proved) -> bool:
    """Whether a finding's figure is better with all cures than it was."""
    suspect, now = one.suspect, cured_value(case, joint, one)
    if suspect.is_certain or is_fine(case.run, case.summary, suspect.figure, now):
        return True
    return is_better(one.proof.before, now, suspect.better, 1.0)


def cured_value(case: Case, joint: Joint, one: Proved) -> float | None:
    """A finding's figure with the joint cure, in the worst start."""
    figure, changes = one.suspect.figure, Changes(pasted=joint.lines, keys=one.suspect.drill)
    if not one.suspect.drill and joint.after is not None and figure in joint.after.worst:
        return joint.after.worst[figure].value
    return worst_value(case, one.suspect, changes)


def _with_less(case: Case, joint: Joint, wrong: str) -> Joint:
    """Without the cure whose absence does most for a figure that went wrong."""
    assert joint.after is not None
    cured = [one for one in joint.proved if one.lines]
    own = [one for one in cured if one.suspect.figure == wrong and one.suspect.drill]
    at = figure_at(wrong)
    is_low_worse = at is not None and at[0].worse_part(at[1]) == LOW
    worst = joint.after.worst.get(wrong)
    start = joint.after.first_start if worst is None else worst.start

    def left(one: Proved) -> float:
        lines = block_of(other.lines for other in cured if other is not one)
        changes = Changes(pasted=lines)
        value = case.value(wrong, changes, start) if case.is_sound(changes) else None
        if value is None:
            return float("inf")
        return -value if is_low_worse else value

    gone = own[0] if own else min(reversed(cured), key=left)
    kept = tuple(
        replace(one, lines=()) if one is gone or _is_part_of(one, gone) else one
        for one in joint.proved
    )
    return replace(joint, proved=kept, after=None, harmed=(*joint.harmed, wrong))


def _is_part_of(one: Proved, gone: Proved) -> bool:
    """Whether a cause that others hid has no lines but those of one of them."""
    return one.seen in ("together", "behind") and set(one.lines) <= set(gone.lines)


def cure_of(case: Case, joint: Joint) -> Cure:
    """The joint cure as the results have it."""
    cured = _cured(case, joint)
    worse: tuple[str, ...] = ()
    beyond: tuple[str, ...] = ()
    if joint.after is not None:
        worse = tuple(costs(joint.before, joint.after))
        beyond = tuple(in_return(case.run, cured, joint.before, joint.after))
    return Cure(
        caution=caution_of_change(case.run, cured),
        set=joint.lines,
        starts=joint.before.starts if joint.after is None else joint.after.starts,
        effects=tuple(_effects(joint, worse)),
        worse=worse,
        in_return=beyond,
        why=_why(joint),
    )


def _effects(joint: Joint, worse: tuple[str, ...]) -> Iterator[Effect]:
    """Requirements, the longest gap of every stream, and what is worse."""
    if joint.after is None:
        return
    asked = [requirement.figure for requirement in joint.before.requirements]
    for was, now in zip(joint.before.requirements, joint.after.requirements, strict=True):
        yield _with_faults(joint, _effect(was, now))
    gaps = (f"stream.{name}.gap_ms.max" for name in joint.before.figures.stream)
    for figure in dict.fromkeys((*gaps, *worse)):
        if figure not in asked:
            before, after = worst_at(joint.before, figure), worst_at(joint.after, figure)
            yield _with_faults(joint, Effect(figure=figure, before=before, after=after))


def _with_faults(joint: Joint, effect: Effect) -> Effect:
    """An effect, with what faults of the scenario have in it."""
    of, name, *leaf = effect.figure.split(".")
    if joint.after is None or of != "stream" or leaf != ["gap_ms", "max"]:
        return effect
    return msgspec.structs.replace(
        effect,
        has_fault_before=is_cut(joint.before, name),
        has_fault_after=is_cut(joint.after, name),
    )


def _effect(was: RequirementFigures, now: RequirementFigures) -> Effect:
    return Effect(
        figure=was.figure,
        at_least=was.at_least,
        at_most=was.at_most,
        before=was.measured,
        before_ok=was.ok,
        after=now.measured,
        after_ok=now.ok,
    )


def _why(joint: Joint) -> str:
    """Which findings no line is for, and what their cures would have harmed."""
    left = tuple(one.suspect.where for one in joint.proved if not one.lines)
    if not left:
        return ""
    text = f"there is no line to paste for {', '.join(left)}"
    if joint.harmed:
        text += f" without harm to {', '.join(dict.fromkeys(joint.harmed))}"
    return text
