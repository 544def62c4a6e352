"""A transmitter that repeats its last values for ever is found, tried and cured, or it is said what
its firmware must do: whatever is in its frames."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.findings import diagnosed, examine
from radiosim.findings.case import case_of
from radiosim.findings.examined import Proved
from radiosim.findings.program_findings import stale_values
from radiosim.scenario import Scenario, parse
from radiosim.scenario.changed import changed
from radiosim.scenario.danger import frozen_unseen
from radiosim.study.starts import simulate_starts
from tests.examples import examples

FULL = (
    "layout.frame.fields = [{ name = 'pull', type = 'i16', scale = 0.001, min = -1, max = 1 }, %s]"
)
SIZES, ROOM = {"u8": 1, "i16": 2, "f32": 4, "u64": 8}, 30
LINK = """
duration_s = 5
radio.profile = "gfsk-1M"
%s
[transmitter.drive]
layout = "frame"
period_ms = 20
[failsafe.drive]
timeout_ms = 250
[output.motor]
stream = "drive"
field = "pull"
value = [-1, 1]
on_failsafe = %s
motor.stop_s = 0.1
"""


def frozen(scenario: Scenario) -> tuple[Proved, ...]:
    run = simulate_starts(scenario, count=1, workers=1)
    case = case_of(scenario, run, "auto", None)
    return tuple(examine(case, (stale_values,), "alone").proved)


@given(
    st.lists(st.sampled_from(["u8", "i16", "f32", "u64"]), max_size=10),
    st.sampled_from(["{ preset_us = 1500 }", '"off"', '"hold"']),
)
@examples(8)
def test_a_frozen_transmitter_is_a_finding_with_a_cure_or_with_what_firmware_must_do(
    types: list[str], on_failsafe: str
) -> None:
    kinds: list[str] = []
    for kind in types:
        kinds += [kind] if sum(SIZES[other] for other in (*kinds, kind)) <= ROOM else []
    kinds += ["u8"] * (ROOM - sum(SIZES[kind] for kind in kinds)) if len(types) % 2 else []
    fields = ", ".join(f"{{ name = 'f{n}', type = '{kind}' }}" for n, kind in enumerate(kinds))
    scenario = parse(LINK % (FULL % fields, on_failsafe))
    (found,) = frozen(scenario)

    assert found.proof.before is None
    assert found.proof.after is not None
    is_full = scenario.layout_of("drive").size_bytes == 32
    assert bool(found.lines) != is_full
    assert ("its frame is full" in found.suspect.advice) == is_full
    assert "watch_field" in found.suspect.advice or not is_full


def test_a_frame_of_a_header_is_told_what_to_add_to_its_struct(tmp_path: Path) -> None:
    pytest.importorskip("clang.cindex", reason="headers need libclang, the extra `c`")
    header = tmp_path / "f.h"
    header.write_text("struct Frame { short pull; short mode; };", encoding="ascii")
    laid = f"[layout.frame]\nheader = '{header}'\nstruct = 'Frame'\nabi = 'avr'"
    (found,) = frozen(parse(LINK % (laid, '"off"')))

    assert found.proof.after is not None
    assert found.lines == ()
    assert "add uint8_t count; to struct Frame in" in found.suspect.advice


def test_one_whose_counter_is_watched_is_none() -> None:
    watched = (LINK % (FULL % "{ name = 'f0', type = 'u8' }", '"off"')).replace(
        "timeout_ms = 250", 'timeout_ms = 250\nwatch_field = "f0"'
    )
    counting = watched.replace("period_ms", 'signals.f0.kind = "counter"\nperiod_ms')

    assert frozen(parse(counting)) == ()
    assert not frozen_unseen(parse(counting), "drive")


MORE = """
[transmitter.head_%(n)s]
layout = "frame_%(n)s"
period_ms = 23
[layout.frame_%(n)s]
fields = [{ name = "pan", type = "i16", scale = 0.1, min = -90.0, max = 90.0 }]
[failsafe.head_%(n)s]
timeout_ms = %(ms)s
[output.pan_%(n)s]
stream = "head_%(n)s"
field = "pan"
value = [-90, 90]
on_failsafe = { preset_us = 1500 }
"""


@given(st.integers(0, 3), st.booleans())
@examples(8)
def test_healthy_streams_without_a_counter_are_told_of_once_and_as_a_note(
    more: int, is_frozen: bool
) -> None:
    text = LINK % (FULL % "", "{ preset_us = 1500 }")
    text += "".join(MORE % {"n": n, "ms": 300 + 100 * n} for n in range(more))
    fault = '[[fault]]\nat_s = 3\nkind = "stale"\nunit = "drive"\n'
    scenario = parse(f"{text}{fault if is_frozen else ''}")
    (found,) = frozen(scenario)
    timers = [line for line in found.lines if ".watch_field=" in line]

    assert found.suspect.is_note is not is_frozen
    assert {line.split(".")[1] for line in timers} == set(scenario.failsafe)
    assert frozen(changed(scenario, found.lines)) == ()
    # The longest timeout is waited for.
    assert found.proof.after == pytest.approx(250 if not more else 200 + 100 * more, abs=60)


def test_a_cure_that_stops_an_output_at_the_fault_it_is_for_does_no_harm() -> None:
    fault = 'fault = [{ at_s = 4, for_s = 4, kind = "stale", unit = "drive" }]\n'
    text = (LINK % (FULL % "{ name = 'f0', type = 'u8' }", '"off"')).replace("= 5\n", "= 12\n", 1)
    given = parse(fault + text)
    run = simulate_starts(given, count=1, workers=1)
    (found,) = (
        one for one in diagnosed(given, run, workers=1).findings or () if "watch_field" in one.where
    )

    assert any("watch_field" in line for line in found.set)
