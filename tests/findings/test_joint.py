"""The joint cure: over scenarios in which several things are wrong, it cures them together."""

from collections.abc import Iterator

import pytest
from hypothesis import given
from msgspec.json import encode as json_of

from radiosim.findings import diagnosed
from radiosim.findings.block import overlap
from radiosim.findings.case import FAULT
from radiosim.findings.costs import shown_paths, worst_at
from radiosim.findings.in_return import harmed
from radiosim.measure.summary import Finding, Summary
from radiosim.radio.air_frame import step_of
from radiosim.scenario import parse
from radiosim.scenario.edited import edited
from radiosim.scenario.shipped import ShippedScenario, shipped_scenarios
from radiosim.study.starts import simulate_starts
from tests.examples import examples
from tests.findings.cases import run_of
from tests.findings.sick import sick_texts


def run_of_text(text: str) -> Summary:
    """Three starts, with what is found."""
    scenario = parse(text)
    summary = simulate_starts(scenario, workers=1)
    return diagnosed(
        scenario, summary, reread=lambda lines: parse(text, overrides=lines), workers=1
    )


def again(text: str, lines: tuple[str, ...]) -> Summary:
    """The same starts, with lines pasted."""
    return simulate_starts(parse(text, overrides=lines), workers=1)


def without_harm(before: Summary, after: Summary) -> Iterator[str]:
    """Streams whose longest gap grew by more than the noise: a quarter and two samples."""
    for name, stream in before.figures.stream.items():
        now = after.figures.stream[name]
        period_ms = 1000 * after.duration_s * after.starts / now.sampled
        timeout_ms = before.reaction[name].timeout_ms if name in before.reaction else None
        old_ms = 1000 * before.duration_s * before.starts / stream.sampled
        fine_ms = (timeout_ms or 10 * old_ms) / 2
        asked = [r for r in before.requirements if r.figure == f"stream.{name}.gap_ms.max"]
        if asked:
            fine_ms = asked[0].at_most or 0.0
        most_ms = max(1.25 * stream.gap_ms.max, stream.gap_ms.max + 2 * period_ms, fine_ms)
        if now.gap_ms.max > most_ms:
            yield f"{name}: {stream.gap_ms.max} ms, then {now.gap_ms.max} ms"


def is_improved(found: Finding) -> bool:
    """Whether the figure of a finding is better with the joint cure, or never told of it."""
    before, after, cured = (found.proof[stage] for stage in ("before", "after", "cured"))
    if before is None or cured is None:
        return before is None and cured is not None
    if found.figure == FAULT and before == 0:
        # It was on before it was due: passes too long for the timer.
        return cured > 0 or before == after
    if found.figure.endswith("delivery_ratio"):
        return cured > before or before == after
    return cured < before or before == after


def _much_worse(before: Summary, after: Summary) -> Iterator[str]:
    """Figures that a run shows and that are worse by more than sampling, in their worst start."""
    for path in shown_paths(before):
        was, now = worst_at(before, path), worst_at(after, path)
        if was is None:
            continue
        noise = 1.3 if path.endswith(".max") else 1.15 if path.endswith(".p99") else 1.06
        if path.endswith(("_hz", "_ratio")):
            was, now = -was, None if now is None else -now
            noise = 1 / noise
        if now is None or now > was * noise:
            yield path


@pytest.mark.slow
@given(sick_texts())
@examples(12)
def test_the_joint_cure_of_any_scenario_holds_when_it_is_pasted(text: str) -> None:
    run = run_of_text(text)
    assert run.findings is not None
    assert (run.cure is None) == (run.findings == ())
    if run.cure is None:
        return
    lines = run.cure.set

    # What is not cured is said, and what becomes worse.
    pasted = again(text, lines)
    assert set(_much_worse(run, pasted)) <= set(run.cure.worse)
    assert set(run.cure.worse) <= {effect.figure for effect in run.cure.effects}
    assert set(run.cure.in_return) <= set(run.cure.worse)
    cured = parse(text, overrides=lines)
    assert not lines or list(harmed(parse(text), cured, run, pasted)) == []
    assert all(found.set or found.where in run.cure.why for found in run.findings)
    assert {line for found in run.findings for line in found.set} == set(lines)
    keys = [(one, other) for one in lines for other in lines if one != other]
    assert not any(overlap(one, other) for one, other in keys)
    after = pasted
    assert list(without_harm(run, after)) == []
    for was, now, effect in zip(
        run.requirements, after.requirements, run.cure.effects, strict=False
    ):
        assert not (was.ok is True and now.ok is False), was.figure
        assert (effect.before, effect.after) == (was.measured, now.measured)
    if lines:
        told = {one.figure: one.after for one in run.cure.effects}
        for name, stream in after.figures.stream.items():
            assert told[f"stream.{name}.gap_ms.max"] == stream.gap_ms.max
    assert all(is_improved(found) for found in run.findings if found.set)
    # Pasted or written: the same scenario, and so the same results.
    assert parse(edited(text, lines)) == parse(text, overrides=lines)
    for line in lines:
        key, _, value = line.partition("=")
        assert not key.endswith("retry_delay_us") or step_of(float(value)) is not None


TILT = (
    "transmitter.tilt={layout='head_v1', period_ms=20, retry_delay_us=500, offset_ms=0.1}",
    "transmitter.tilt.signals.count={kind='counter'}",
    "failsafe.tilt={timeout_ms=300, watch_field='count'}",
    "transmitter.drive.offset_ms=0",
    "transmitter.head.period_ms=20",
    "transmitter.head.offset_ms=0.05",
    "transmitter.head.retry_delay_us=500",
    *(f"transmitter.{name}.clock_ppm=0" for name in ("drive", "head", "tilt")),
    *(f"transmitter.{name}.jitter_ms=5" for name in ("drive", "head", "tilt")),
)
"""Three that meet on every frame, and retry at the same instant."""
FULL = "{kind='bursts', channel_mhz=2468, duty=0.95, burst_ms=20, power_dbm_at_receiver=-40}"
QUEUE = (
    "receiver.read=one",
    "receiver.loop_ms=25",
    "transmitter.head.period_ms=10",
    *(f"transmitter.{name}.retry_limit=15" for name in ("drive", "head")),
)


def test_cures_that_fight_are_replaced() -> None:
    run = run_of(*TILT)
    assert run.cure is not None
    delays = [line for line in run.cure.set if "retry_delay_us" in line]

    assert len(delays) == 2
    assert len({line.partition("=")[2] for line in (*delays, "x=500")}) == 3
    assert all(found.set for found in run.findings or ())


def test_a_full_queue_is_not_blamed_on_the_air() -> None:
    run = run_of(*QUEUE)
    streams = run.figures.stream.values()

    assert sum(s.fifo_dropped for s in streams) > 0.5 * sum(s.attempts for s in streams)
    assert all(s.lost_collision for s in streams)
    assert [found.where for found in run.findings or ()] == ["receiver.read"]


def test_two_that_hide_each_other_are_both_found() -> None:
    ranged = "air.range={distance_m=3, path='free-space'}"
    run = run_of(ranged, f"interferer.one={FULL}", f"interferer.two={FULL}")
    found = {one.where: one for one in run.findings or ()}

    assert {"interferer.one", "interferer.two"} <= set(found)
    assert found["interferer.one"].seen == found["interferer.two"].seen == "together"
    assert found["interferer.one"].set == found["interferer.two"].set != ()


def test_what_shows_only_in_the_cured_scenario_is_looked_for_once_more() -> None:
    run = run_of("failsafe={}")
    later = {found.where for found in run.findings or () if found.seen == "later"}

    # Both streams are told of once.
    assert later == {"failsafe.drive.watch_field"} | {
        where for where in later if where.endswith("resume_needs")
    }


def test_what_a_timer_that_cannot_work_hides_is_found_once_it_works() -> None:
    run = run_of("receiver.delay_ms=299", "failsafe.drive.fed_by=any")
    (shared,) = (one for one in run.findings or () if one.where == "failsafe.drive.fed_by")

    assert run.cure is not None
    assert {"receiver.delay_ms=0", "failsafe.drive.fed_by=own"} <= set(run.cure.set)
    assert shared.proof["cured"] is not None


def test_a_cure_after_which_an_output_never_moves_is_not_given() -> None:
    still = "transmitter.drive.signals.throttle={kind='constant', value=0.6}"
    run = run_of('failsafe.drive={timeout_ms=250, watch_field="count"}', still)
    (found,) = (one for one in run.findings or () if one.where == "failsafe.drive.resume_needs")

    assert run.cure is not None
    assert found.set == ()
    assert "output.motor.update_rate_hz" in run.cure.why


def test_a_figure_that_is_fine_is_no_finding() -> None:
    late = ("receiver.read=one", "receiver.loop_ms=25")
    asked = "requirement=[{figure='stream.head.latency_ms.p99', at_most=%d}]"

    assert "receiver.read" in {found.where for found in run_of(*late).findings or ()}
    assert run_of(*late, asked % 500).findings == ()


def test_outputs_that_were_assumed_are_assumed_again_with_a_cure() -> None:
    # To set a key of an output that stands in no file would not be read.
    run = run_of("output={}", "failsafe={}")

    assert run.cure is not None
    assert run.cure.set
    assert not any(line.startswith("output.") for line in run.cure.set)


@pytest.mark.slow
@pytest.mark.parametrize("shipped", shipped_scenarios(), ids=lambda one: one.name)
def test_the_joint_cure_of_a_shipped_scenario_is_read_from_lines_and_from_its_file_alike(
    shipped: ShippedScenario,
) -> None:
    text = shipped.path.read_text(encoding="utf-8")
    run = run_of_text(text)
    if run.cure is None:
        assert run.findings == ()
        return
    lines = run.cure.set
    pasted, written = again(text, lines), again(edited(text, lines), ())

    assert json_of(pasted.results()) == json_of(written.results())
    assert list(without_harm(run, pasted)) == []
    assert all(is_improved(found) for found in run.findings or () if found.set)
    assert set(run.cure.in_return) <= set(run.cure.worse)
    cured = parse(text, overrides=lines)
    assert not lines or list(harmed(parse(text), cured, run, pasted)) == []
    assert all(found.set or found.where in run.cure.why for found in run.findings or ())
    assert not any(
        w.ok is True and n.ok is False
        for w, n in zip(run.requirements, pasted.requirements, strict=True)
    )
