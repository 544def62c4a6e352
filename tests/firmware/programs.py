"""Receiver programs for tests, built once a session, and what they do in one start."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from radiosim.engine.plan import plan_of
from radiosim.firmware import build
from radiosim.firmware.bench import Bench, bench_of
from radiosim.firmware.build import built_for_host
from radiosim.firmware.script import Reply, Script, script_of
from radiosim.trace import Trace

needs_compiler = pytest.mark.skipif(
    shutil.which("cc") is None, reason="no C compiler here: install gcc"
)

EXAMPLES = build.C_FOLDER.parent / "examples"
TAKES_ALL = Path(__file__).parent / "takes_all.c"
READER = """
#include "receiver.h"
const uint32_t rx_stamp = 7;
void rx_boot(void) {}
void rx_pass(void)
{
    uint8_t pipe, bytes[32];
    WHICH (rx_take(&pipe, bytes))
        ;
}
"""
"""Takes one frame a pass (`if`), or all (`while`)."""


@contextmanager
def running(text: str, folder: Path, *, name: str = "rx.c", link: str = "") -> Iterator[Bench]:
    """A bench of a program's text."""
    source = folder / name
    source.write_text(text)
    with built_for_host([source], {"link.h": link}) as built, bench_of(built.executable) as bench:
        yield bench


def replied(bench: Bench, trace: Trace, **options: int) -> tuple[Script, Reply]:
    """The script of a trace's start, and what a program did with it."""
    script = script_of(trace.scenario, plan_of(trace), trace, **options)
    return script, bench.run(script)
