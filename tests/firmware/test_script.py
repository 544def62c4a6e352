import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from msgspec.structs import replace

from radiosim.engine.jit import backend_for
from radiosim.engine.plan import plan_of
from radiosim.firmware.all_passes import pass_runs
from radiosim.firmware.build import C_FOLDER
from radiosim.firmware.frame_bytes import FrameBytes
from radiosim.firmware.script import ARRIVAL, HEAD, OUT, PASSES, REPLY, STEP, TAKE, Status
from radiosim.scenario import Scenario
from radiosim.trace import READ, THROWN_AWAY, is_noise
from radiosim.vehicle.feedback import simulate
from radiosim.vehicle.vehicle import pass_starts
from tests.engines.random_scenarios import scenarios
from tests.examples import examples
from tests.firmware.programs import READER, needs_compiler, replied, running

RECORDS = {
    "head_t": HEAD,
    "passes_t": PASSES,
    "arrival_t": ARRIVAL,
    "step_t": STEP,
    "reply_t": REPLY,
    "out_t": OUT,
    "take_t": TAKE,
}


def reading(given: Scenario, read: str) -> Scenario:
    return replace(given, receiver=replace(given.receiver, read=read))


def polled(given: Scenario, *, interrupt: bool = False) -> Scenario:
    return replace(given, receiver=replace(given.receiver, interrupt=interrupt))


@needs_compiler
def test_records_are_those_of_the_c_compiler(tmp_path: Path) -> None:
    lines, expected = [], []
    for name, dtype in RECORDS.items():
        lines.append(f'printf("%zu\\n", sizeof({name}));')
        expected.append(dtype.itemsize)
        for field in dtype.names or ():
            lines.append(f'printf("%zu\\n", offsetof({name}, {field}));')
            expected.append(dtype.fields[field][1])
    for status in Status:
        lines.append(f'printf("%d\\n", {status.name});')
        expected.append(status)
    source = tmp_path / "sizes.c"
    body = "\n".join(lines)
    source.write_text(
        '#include <stddef.h>\n#include <stdio.h>\n#include "script.h"\n'
        f"int main(void) {{\n{body}\n}}\n"
    )
    binary = tmp_path / "sizes"
    cc = shutil.which("cc")
    assert cc is not None
    subprocess.run([cc, "-I", C_FOLDER, source, "-o", binary], check=True)

    found = subprocess.run([binary], capture_output=True, text=True, check=True).stdout

    assert [int(line) for line in found.split()] == expected


@given(scenarios)
@examples(100)
def test_bytes_are_those_that_the_codec_packs(given: Scenario) -> None:
    trace = simulate(given)
    plan = plan_of(trace)
    packer = FrameBytes(plan, backend_for(plan, trace.engine))

    for stream, payload in enumerate(plan.payloads):
        rows = trace.reads[trace.reads["stream"] == stream][:50]
        found = packer.pack(stream, rows["values_frame"], rows["values_ns"])

        for row, octets in zip(rows.tolist(), found, strict=True):
            frame, at_ns = row[4], row[3]
            if not is_noise(frame):
                packed = payload.packed(frame, at_ns)
                assert octets.tobytes() == packed.ljust(32, b"\0")


@given(scenarios)
@examples(100)
def test_all_passes_are_listed(given: Scenario) -> None:
    trace = simulate(given)
    plan = plan_of(trace)

    runs = pass_runs(plan, trace, backend_for(plan, trace.engine))

    found = [first + k * step for first, step, count in runs.tolist() for k in range(count)]
    assert tuple(found) == pass_starts(trace, plan)


@needs_compiler
@pytest.mark.parametrize(
    ("which", "when"), [("if", "pass"), ("while", "pass"), ("while", "interrupt")]
)
def test_a_program_takes_each_frame_when_the_model_does(
    which: str, when: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    text = READER.replace("WHICH", which)
    if when == "interrupt":
        text = text.replace("rx_pass", "rx_interrupt") + "void rx_pass(void) {}\n"
    with running(text, tmp_path_factory.mktemp("reader")) as bench:

        @given(scenarios)
        @examples(100)
        def reads_are_equal(drawn: Scenario) -> None:
            given = polled(drawn, interrupt=when == "interrupt")
            trace = simulate(reading(given, "one" if which == "if" else "all"))

            script, reply = replied(bench, trace)

            reads = trace.reads[script.rows]
            is_seen = np.isin(reads["outcome"], (READ, THROWN_AWAY))
            expected = np.where(is_seen, reads["read_ns"], -1)
            found = np.full(len(reads), -1)
            found[reply.takes["row"]] = reply.takes["at_ns"]
            assert found.tolist() == expected.tolist()

        reads_are_equal()
