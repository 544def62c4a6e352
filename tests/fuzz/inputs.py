"""All that is read besides scenarios, changed at random: each ends well or is refused in words."""

import json
import math
import warnings
from collections.abc import Callable
from pathlib import Path
from random import Random
from unittest.mock import patch

from radiosim import trace_file
from radiosim.c_header.struct_reader import read_structs
from radiosim.cli import foretold
from radiosim.edges import LONGEST_S, MOST
from radiosim.errors import LayoutError, OptionError, Problem, ScenarioError, TraceError
from radiosim.scenario.ask import AnswerError, answered, scenario_text
from radiosim.scenario.read import parse
from radiosim.signals.recorded import read_points
from radiosim.study.journal import JournalError, open_journal
from tests.cli.test_cautions import COMMANDS
from tests.cli.typed import tiny, typed
from tests.scenario.fuzz.corpus import BESIDE
from tests.scenario.fuzz.mutate import EDGES, ODD

Fate = str
Judge = Callable[[Random, Path], Fate]
"""Makes one input and takes it through the tool; raises for one that does not end well."""
SAID = (
    *(text.decode("utf-8", "replace") for text in (*EDGES, *ODD)),
    *("drive", "head", "=", ":", ";", ",", "a=1", "drive: a, b", "drive 20", "none", "yes", "-"),
    *("drive 20, head 23", "throttle motor", "one 5", "1M", "stream.drive.gap_ms.max=1", "1:2:0.5"),
    *("receiver.loop_ms=1:9:1", "receiver.loop_ms=1,2", "hang", "gfsk-1M", "--", "--set", "{}"),
)
ANSWERS = {
    "drives": "car",
    "transmitters": "drive: throttle, steer; head: pan",
    "every-ms": "drive 20, head 23",
    "acknowledge": "no",
    "rate": "2M",
    "reads": "all 5",
    "outputs": "throttle motor, steer servo",
    "idle-us": "throttle 1500",
    "failsafe-ms": "250",
    "boot-s": "receiver 0.5",
}
LONGEST_TOLD = 500
DIGEST, POINTS = "0123456789abcdef" * 2, 40


def options(random: Random, folder: Path) -> Fate:
    """A command with options that it has, mostly with values that they cannot have."""
    name = random.choice(tuple(COMMANDS))
    words = [*name.split(), *(random.choice(SAID[-6:]) for _ in range(random.random() < 0.1))]
    if random.random() < 0.9:
        words.append(str(tiny(folder)))
    for option in random.sample(COMMANDS[name].params, min(2, len(COMMANDS[name].params))):
        words.append(option.opts[0])
        if not getattr(option, "is_flag", False):
            # No argument of a program can hold a zero.
            words.append(_text(random).replace("\0", ""))

    def stop(*_: object, **__: object) -> None:
        raise OptionError("stopped before anything is simulated")

    with patch.object(foretold, "foretell", stop):
        done = typed(*words)
    assert done.code in (0, 1, 2), words
    for line in done.err.splitlines():
        assert line.isprintable(), words
        assert len(line) <= LONGEST_TOLD, words
    return "refused" if done.code == 2 else "done"


def answers(random: Random, folder: Path) -> Fate:
    """What is answered to `new`; a scenario that comes of it can be read."""
    said = {name: ANSWERS[name] for name in random.sample(tuple(ANSWERS), random.randint(1, 4))}
    for name, text in said.items():
        if random.random() < 0.5:
            said[name] = _near(random, text) if random.random() < 0.7 else _text(random)
    try:
        found = answered(said)
    except AnswerError as error:
        return _refused(error)
    parse(scenario_text(found))
    return "done"


def tables(random: Random, folder: Path) -> Fate:
    """A table of times and values."""
    rows = ["t_s,value"] + [f"{k},{random.uniform(-9, 9):.3g}" for k in range(random.randint(0, 9))]
    text = _near(random, "\n".join(rows))
    try:
        points = read_points(text, "value")
    except ValueError as error:
        return _refused(ScenarioError((Problem(path="", text=str(error)),)))
    assert all(abs(seconds) <= LONGEST_S and abs(value) <= MOST for seconds, value in points)
    assert all(math.isfinite(number) for row in points for number in row)
    return "done"


def traces(random: Random, folder: Path) -> Fate:
    """A saved trace."""
    path = folder / "mutant.npz"
    path.write_bytes(_flipped(random, (folder / "trace.npz").read_bytes()))
    try:
        trace_file.load(path)
    except TraceError as error:
        return _refused(error)
    return "done"


def journals(random: Random, folder: Path) -> Fate:
    """A journal: what is read from it is what was written, or is not there."""
    path = folder / "mutant.journal"
    path.write_bytes(_flipped(random, (folder / "whole.journal").read_bytes()))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            kept = open_journal(path, DIGEST, POINTS)
        except JournalError as error:
            return _refused(error)
    kept.close()
    assert all(row == row_of(number) for number, row in kept.rows.items())
    return "done" if len(kept.rows) == POINTS else "some rows"


def row_of(number: int) -> dict[str, object]:
    """What the journal holds of a point."""
    return {"number": number, "values": [number / 7, None, "a"], "none": {}}


def headers(random: Random, folder: Path) -> Fate:
    """A C header."""
    text = _near(random, "/* what a frame holds */\n" * 6 + BESIDE["frames.h"])
    try:
        found = read_structs("frames.h", text, "Drive", ("avr",), lambda _: None)["avr"]
    except LayoutError as error:
        found = error
    if isinstance(found, LayoutError):
        assert all(line.isprintable() for line in str(found).splitlines())
        return "refused"
    return "done"


JUDGES: dict[str, Judge] = {
    judge.__name__: judge for judge in (options, answers, tables, traces, journals, headers)
}


def folder_ready(folder: Path) -> None:
    """Put the sound files there that mutants are made of."""
    done = typed("run", tiny(folder), "--start", "0", "--trace", folder / "trace.npz")
    assert done.code in (0, 1), done.err
    kept = open_journal(folder / "whole.journal", DIGEST, POINTS)
    for number in range(POINTS):
        kept.add(number, json.loads(json.dumps(row_of(number))))
    kept.close()


def _refused(error: Exception) -> Fate:
    assert str(error)
    assert str(error).isprintable(), error
    return "refused"


def _text(random: Random) -> str:
    text = random.choice(SAID)
    return text if random.random() < 0.7 else text + random.choice(SAID)


def _near(random: Random, text: str) -> str:
    return _changed(random, text.encode()).decode("utf-8", "replace")


def _changed(random: Random, text: bytes) -> bytes:
    """With words of other places put in, and bytes taken out."""
    for _ in range(random.choice((1, 1, 2, 3))):
        at = random.randrange(len(text) + 1)
        put = random.choice((*EDGES, *ODD)) if random.random() < 0.7 else b""
        text = text[:at] + put + text[at + random.choice((0, 0, 1, 5)) :]
    return text


def _flipped(random: Random, content: bytes) -> bytes:
    """With some bits turned, or the end cut off."""
    changed = bytearray(content)
    for _ in range(random.choice((1, 1, 2, 9))):
        changed[random.randrange(len(changed))] ^= 1 << random.randrange(8)
    return bytes(changed[: random.randrange(len(changed))] if random.random() < 0.1 else changed)
