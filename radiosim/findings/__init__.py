"""What is wrong: suspects from a run's figures, proved by reruns, and cured all together."""

import msgspec

from radiosim.engine.simulate import Engine
from radiosim.findings import (
    air_findings,
    antenna_findings,
    clock_findings,
    failsafe_findings,
    grid_findings,
    noise_findings,
    program_findings,
    supply_findings,
    unit_findings,
)
from radiosim.findings.case import Case, Reread, case_of
from radiosim.findings.examined import Examination, Proved, Suspects, examine, look
from radiosim.findings.foreseen import amount_of_reruns
from radiosim.findings.joint import Joint, all_starts, cure_of, cured_value, joint_of, worst_start
from radiosim.measure.by_program import of_model
from radiosim.measure.summary import Finding, Summary
from radiosim.scenario import Scenario
from radiosim.study.amount import OnAmounts
from radiosim.study.starts import simulate_starts

SUSPECTS: tuple[Suspects, ...] = (
    failsafe_findings.timeout_within_a_pass,
    failsafe_findings.fed_by_other,
    failsafe_findings.no_failsafe,
    supply_findings.browns_out,
    air_findings.shared_address,
    noise_findings.noise_passes,
    program_findings.blocking_delay,
    program_findings.one_read_a_pass,
    program_findings.blocking_work,
    grid_findings.beats_with_grid,
    program_findings.deaf_receiver,
    clock_findings.clocks_beat,
    clock_findings.equal_retries,
    antenna_findings.antenna_null,
    air_findings.out_of_range,
    air_findings.interference,
    air_findings.loss_bursts,
    program_findings.still_values,
    air_findings.too_long_on_air,
    program_findings.fixed_length,
    clock_findings.starved,
    program_findings.long_boot,
    program_findings.stale_values,
    failsafe_findings.lurch,
    unit_findings.hung_receiver,
    unit_findings.lost_settings,
    air_findings.drowned_acknowledgements,
    noise_findings.poor_address,
    clock_findings.assumed_jitter,
)
"""What may be wrong, the worst first: what fills queues comes before what fills the air."""


def diagnosed(
    scenario: Scenario,
    summary: Summary,
    engine: Engine = "auto",
    *,
    reread: Reread | None = None,
    workers: int | None = None,
    on_amounts: OnAmounts | None = None,
) -> Summary:
    """The summary with all that reruns prove to be wrong, and one cure for all of it.

    `reread` gives the scenario as its file is read with lines pasted; without it lines are set in
    the scenario as it was filled in. `workers`: processes, as a run has them.
    `on_amounts` is handed how much is about to be simulated again. A receiver's own program is
    not run again: findings are the model's.
    """
    if scenario.receiver.program is not None:
        return _of_model(scenario, summary, engine, reread, workers, on_amounts)
    case = case_of(scenario, summary, engine, reread)
    if on_amounts is not None:
        on_amounts((amount_of_reruns(case, SUSPECTS, workers),))
    found = examine(case, SUSPECTS, "alone")
    if not found.proved:
        return msgspec.structs.replace(summary, findings=(), cure=None)
    first = joint_of(case, tuple(found.proved), worst_start(case), has_drills=False)
    proved = (*first.proved, *_seen_later(case, found, first))
    joint = joint_of(case, proved, all_starts(case), workers, harmed=first.harmed)
    return msgspec.structs.replace(
        summary,
        findings=tuple(_finding(case, joint, one) for one in joint.proved),
        cure=cure_of(case, joint),
    )


def _of_model(
    scenario: Scenario,
    summary: Summary,
    engine: Engine,
    reread: Reread | None,
    workers: int | None,
    on_amounts: OnAmounts | None,
) -> Summary:
    """The summary of a receiver's own program with what the model's starts show to be wrong."""
    model = of_model(scenario)
    seen = simulate_starts(
        model, first=summary.start or 0, count=summary.starts, engine=engine, workers=workers
    )
    read = None if reread is None else lambda lines: of_model(reread(lines))
    found = diagnosed(model, seen, engine, reread=read, workers=workers, on_amounts=on_amounts)
    return msgspec.structs.replace(summary, findings=found.findings, cure=found.cure)


def _seen_later(case: Case, found: Examination, first: Joint) -> tuple[Proved, ...]:
    """What shows only in the scenario as cured, looked for once."""
    if first.after is None:
        return ()
    later = Examination(case=case.later(first.after, first.lines), known=found.known)
    look(later, SUSPECTS, "later")
    return tuple(later.proved)


def _finding(case: Case, joint: Joint, one: Proved) -> Finding:
    suspect = one.suspect
    proof = {"before": one.proof.before, "after": one.proof.after}
    if one.lines:
        proof["cured"] = cured_value(case, joint, one)
    return Finding(
        what=suspect.what,
        where=suspect.where,
        why=suspect.why,
        figure=suspect.figure,
        proof=proof,
        seen=one.seen,
        cure=suspect.advice,
        set=one.lines,
        is_by_hand=not suspect.cures,
        measure=suspect.measure,
        is_note=suspect.is_note,
    )
