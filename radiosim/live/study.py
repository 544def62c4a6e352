"""What takes seconds, worked out in a process of its own: a cure tried, settings recommended.

It has the other core, gives way to sliders, and is ended at once, whatever it does, when nobody
waits for it any more. Run as a program it reads one line of JSON, a `Study`, and writes lines of
JSON until it is done; it ends with whoever started it.
"""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from pathlib import Path
from queue import Empty, SimpleQueue
from threading import Thread
from typing import IO, Any, Literal

import msgspec
from msgspec import Struct

from radiosim.assess.answers import change_answer
from radiosim.child_process import start_python
from radiosim.endings import before_any_end, end, taken_away_at_an_end
from radiosim.errors import RadiosimError
from radiosim.measure.by_program import of_model
from radiosim.report.live.answer import encoded
from radiosim.report.live.sections import sections_as_json
from radiosim.report.run_findings import finding_sections
from radiosim.results.document import Origin
from radiosim.scenario import Scenario, parse
from radiosim.study.live.looks import IsOutdated
from radiosim.study.run_points import OnProgress
from radiosim.study.starts import simulate_starts
from radiosim.version import VERSION

POINTS, STARTS = 40, 3
"""Settings that are tried, each over so many starts: some seconds; the command tries more."""
WAIT_S = 0.05
"""How often whoever waits looks whether somebody waits for it."""
_NICE = 10
_START = "from radiosim.live.study import main; main()"

Tell = Callable[[dict[str, Any]], object]


class Study(Struct, frozen=True, kw_only=True):
    """What is asked."""

    kind: Literal["cure", "tune"]
    text: str
    """Of the scenario's file."""
    name: str
    folder: str
    lines: tuple[str, ...]
    points: int = POINTS
    """Of `tune`."""


def study_lines(study: Study, is_outdated: IsOutdated) -> Iterator[bytes]:
    """Lines of JSON as they come; the last is `outdated` if nobody waits any more.

    OSError if no process can be started.
    """
    with ExitStack() as stack:
        with before_any_end():
            process = stack.enter_context(start_python(("-c", _START)))
            stack.enter_context(taken_away_at_an_end(process.kill))
        stack.callback(process.kill)
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(encoded(msgspec.to_builtins(study)))
        coming: SimpleQueue[bytes] = SimpleQueue()
        Thread(target=_read_all, args=(process.stdout, coming), daemon=True).start()
        while not is_outdated():
            with suppress(Empty):
                line = coming.get(timeout=WAIT_S)
                if not line:
                    return
                yield line
        yield encoded({"kind": "outdated"})


def _read_all(stream: IO[bytes], coming: "SimpleQueue[bytes]") -> None:
    """Lines one by one, then an empty one."""
    with suppress(OSError, ValueError):  # it was closed meanwhile
        for line in stream:
            coming.put(line)
    coming.put(b"")


def main() -> None:
    """Work out the study that stands on standard input."""
    results = open(os.dup(sys.stdout.fileno()), "wb", buffering=0)  # noqa: SIM115, PTH123
    # What else is printed here must not stand among results, and is nothing for a user.
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    with suppress(OSError, AttributeError):
        os.nice(_NICE)
    study = msgspec.json.decode(sys.stdin.buffer.readline(), type=Study)
    Thread(target=_end_with_the_other, args=(sys.stdin.buffer,), daemon=True).start()
    try:
        worked_out(study, lambda said: results.write(encoded(said)))
    except RadiosimError as error:
        results.write(encoded({"kind": "refused", "problems": str(error).splitlines()}))


def _end_with_the_other(stream: IO[bytes]) -> None:
    while stream.read(1):
        pass
    end(1)


def worked_out(study: Study, tell: Tell) -> None:
    """Tell how far it is, then what was found, then that it is done."""

    def read(lines: tuple[str, ...] = ()) -> Scenario:
        lines = (*study.lines, *lines)
        return of_model(parse(study.text, study.name, Path(study.folder), lines))

    if study.kind == "cure":
        _cured(read, tell)
    else:
        _tuned(read, tell, study.points)
    tell({"kind": "done"})


def _progress(tell: Tell, what: str) -> OnProgress:
    def on_progress(done: int, total: int) -> None:
        tell({"kind": "progress", "what": what, "done": done, "total": total})

    return on_progress


def _cured(read: Callable[..., Scenario], tell: Tell) -> None:
    """The joint cure of all that is wrong, as `radiosim run` finds it."""
    from radiosim.findings import diagnosed  # noqa: PLC0415 - loads slowly

    scenario = read()
    summary = simulate_starts(scenario, workers=1, on_progress=_progress(tell, "starts"))
    tries = 0

    def reread(lines: tuple[str, ...]) -> Scenario:
        nonlocal tries
        tries += 1
        tell({"kind": "progress", "what": "changes tried", "done": tries, "total": None})
        return read(lines)

    found = diagnosed(scenario, summary, reread=reread, workers=1)
    tell(
        {
            "kind": "cure",
            "verdict": change_answer(found).text,
            "lines": [] if found.cure is None else found.cure.set,
            "sections": sections_as_json(finding_sections(found)),
        }
    )


def _tuned(read: Callable[..., Scenario], tell: Tell, points: int) -> None:
    """The recommendation of `radiosim tune` with as many points and starts."""
    from radiosim.report.tune import changed_lines, tune_report  # noqa: PLC0415 - loads slowly
    from radiosim.study.tune.tuned import tune_scenario  # noqa: PLC0415 - loads slowly

    whole = read()
    starts = min(STARTS, whole.starts)
    found = tune_scenario(
        read((f"starts={starts}",)),
        whole,
        points=points,
        starts=starts,
        workers=1,
        on_progress=_progress(tell, "points"),
    )
    report = tune_report(found, Origin(command="", version=VERSION))
    tell(
        {
            "kind": "tune",
            "verdict": report.verdict,
            "lines": list(changed_lines(found)),
            "sections": sections_as_json(report.sections),
            "cautions": list(report.cautions),
        }
    )
