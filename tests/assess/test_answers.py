"""The three answers follow from the figures, and say no more."""

import shlex

import msgspec
import pytest

from radiosim.assess.answers import (
    change_answer,
    failsafe_answer,
    line_to_paste,
    stutter_answer,
)
from radiosim.measure.summary import Cure, Finding, Summary
from radiosim.scenario import parse
from tests.report.printing import QUIET, TINY, simulated, with_faults, with_stream
from tests.report.samples import at_fault, fault, one_start, scenario, several_starts, stream

SEEN = (
    TINY.replace("offset_ms = 1", 'offset_ms = 1, signals = { spare_1 = { kind = "counter" } }')
    .replace("timeout_ms = 250", 'timeout_ms = 250, watch_field = "spare_1"')
    .replace("air.loss", "receiver.watchdog_ms = 300\nair.loss")
)
HOLDS = TINY.replace("{ preset_us = 1500 }", '"hold"')
SHARED = (
    TINY.replace("timeout_ms = 250", 'timeout_ms = 250, fed_by = "any"')
    + "transmitter.head = { period_ms = 23, payload_bytes = 4, retry_delay_us = 1250 }\n"
)


def steady(drive_gap_ms: float = 120.0) -> Summary:
    """Both streams are well, but for the longest gap of the first."""
    summary = with_stream(one_start(), "head", stream(None, 90.0))
    return with_stream(summary, "drive", stream(QUIET, drive_gap_ms))


def silent(summary: Summary) -> Summary:
    return with_stream(summary, "head", msgspec.structs.replace(stream(None), read=0))


def told(text: str) -> tuple[str, bool | None]:
    given, summary = simulated(text)
    return failsafe_answer(summary, given)


def test_a_failsafe_that_stops_every_output_says_how_soon() -> None:
    given, summary = simulated(SEEN)
    text, is_good = failsafe_answer(summary, given)
    bound_ms = summary.reaction["drive"].bound_ms["motor"]

    assert is_good is True
    assert bound_ms is not None
    assert (
        text == f"every output is in failsafe within {bound_ms:.0f} ms of its transmitter's silence"
    )


def test_a_failsafe_that_a_frozen_transmitter_feeds_is_not_called_good() -> None:
    said, is_good = told(TINY)

    assert is_good is None
    assert "but not if drive repeats old values or the receiver's program hangs" in said


@pytest.mark.parametrize("text", [HOLDS, TINY.replace("failsafe.drive", "# ")])
def test_an_output_that_nothing_stops_is_named(text: str) -> None:
    said, is_good = told(text.replace("# = { timeout_ms = 250 }\n", ""))

    assert is_good is False
    assert said.startswith("motor keeps its last value when the transmitter goes silent")
    assert "every output" not in said


def test_an_output_that_others_keep_driven_may_never_be_in_failsafe() -> None:
    said, is_good = told(SHARED)

    assert is_good is False
    assert "motor may NEVER be in failsafe when the transmitter goes silent" in said


def test_an_output_whose_pass_may_have_no_end_may_never_stop() -> None:
    said, is_good = told(TINY + "receiver.interrupt = true\nreceiver.spi_overhead_us = 500\n")

    assert is_good is False
    assert "may NEVER be in failsafe" in said
    assert "within" not in said


def test_without_outputs_nothing_is_claimed() -> None:
    reaction = {
        name: msgspec.structs.replace(found, bound_ms={})
        for name, found in one_start().reaction.items()
    }
    summary = msgspec.structs.replace(one_start(), reaction=reaction)

    assert failsafe_answer(summary, scenario()) == (
        "the scenario has no outputs: what would be left driven is not known",
        None,
    )


def test_a_fault_at_which_failsafe_never_came_outweighs_the_bounds() -> None:
    missed = msgspec.structs.replace(
        fault(),
        kind="stale",
        reaction_ms=None,
        outputs={"left_track": at_fault("preset", None, recovered_ms=1.0)},
    )
    one = failsafe_answer(with_faults(one_start(), missed), scenario())
    of_two = failsafe_answer(with_faults(one_start(), missed, fault()), scenario())

    assert one.is_good is of_two.is_good is False
    assert one.text.startswith("it NEVER CAME at the scenario's fault;")
    assert of_two.text.startswith("it NEVER CAME at 1 of the scenario's 2 faults;")


def test_a_short_run_does_not_claim_much() -> None:
    short = steady()
    long = msgspec.structs.replace(short, duration_s=3600.0)

    assert (
        "(in 10 min simulated, too short to tell more)"
        in stutter_answer(with_faults(short), scenario())[0]
    )
    assert "too short" not in stutter_answer(long, scenario()).text


def test_the_worst_stream_is_told_with_its_gaps_latency_and_trips() -> None:
    text, is_good = stutter_answer(several_starts(), scenario())

    assert is_good is False
    assert text == (
        "drive STARVES: gaps p99 60 ms, longest 412 ms in start 0 (a fault of the scenario in it); "
        "latency to left_track p99 36 ms; 12 nuisance trips (in 6 h 40 min simulated)"
    )


@pytest.mark.parametrize(
    ("summary", "begins"),
    [
        (steady(), "every stream is steady: drive's gaps p99 60 ms, longest 120 ms"),
        (silent(one_start()), "head: not one of its values was read in 10 min simulated"),
        (steady(5100.0), "a fault of the scenario cuts"),
        (steady(200.0), "drive has gaps: gaps p99"),
    ],
)
def test_the_worst_verdict_is_the_one_that_is_told(summary: Summary, begins: str) -> None:
    assert stutter_answer(summary, scenario()).text.startswith(begins)


def finding(*lines: str, is_by_hand: bool = False) -> Finding:
    return Finding(
        what="",
        where="",
        why="",
        figure="",
        proof={"before": 1.0, "after": 0.0},
        cure="do it",
        set=lines,
        is_by_hand=is_by_hand,
        measure="",
    )


@pytest.mark.parametrize(
    ("findings", "said"),
    [
        (None, "nobody looked for what is wrong"),
        ((), "nothing found"),
        ((finding(),), "no line that was tried cures what is found below"),
        ((finding(), finding(is_by_hand=True)), "do it (finding 2 of 2 below)"),
        ((finding("a=1"),), "1 line below cures the one finding"),
        (
            (finding(), finding("a=1", "b=2")),
            "2 lines below cure 1 of 2 findings, tried together",
        ),
        (
            (finding("c=1"), finding("a=1", "b=2")),
            "3 lines below cure all 2 findings, tried together",
        ),
    ],
)
def test_what_to_change_is_how_many_lines_cure_how_much(
    findings: tuple[Finding, ...] | None, said: str
) -> None:
    lines = tuple(line for found in findings or () for line in found.set)
    cure = Cure(set=lines, starts=1, effects=(), caution="", why="") if findings else None
    summary = msgspec.structs.replace(one_start(), findings=findings, cure=cure)

    assert change_answer(summary).text == said


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("x=19", "--set x=19"),
        ("y=[1, 2]", "--set 'y=[1, 2]'"),
        ('f.drive={a="b\'c"}', """--set 'f.drive={a="b'"'"'c"}'"""),
    ],
)
def test_a_line_is_pasted_as_a_shell_takes_it(line: str, said: str) -> None:
    assert line_to_paste(line) == said
    assert shlex.split(said) == ["--set", line]


def test_all_cures_together_are_lines_that_the_scenario_takes() -> None:
    _, summary = simulated(SHARED)

    assert summary.cure is not None
    assert summary.cure.set
    assert parse(SHARED, overrides=summary.cure.set)
