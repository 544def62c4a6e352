"""One mutant on its way through the tool, and whether it ended as it must."""

import json
import re
import time
import traceback
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Literal

from radiosim.cli.run import Outcome, RunOptions, outcome_of
from radiosim.engine.plan import make_plan
from radiosim.errors import RadiosimError, ScenarioError
from radiosim.measure.summary import Summary
from radiosim.report.run import run_report
from radiosim.results.data import csv_files, json_text
from radiosim.results.document import Origin
from radiosim.results.terminal import plain_text
from radiosim.scenario import Scenario, load
from radiosim.scenario.changed import changed
from radiosim.scenario.traffic import events_a_second, retries
from radiosim.study.starts import simulate_starts
from tests.scenario.fuzz.corpus import BESIDE, corpus
from tests.scenario.fuzz.mutate import mutant, nearly_sound, override

SIMULATED_S = 0.05
START = 3
MOST_EVENTS = 20_000
"""What is simulated of a mutant is not more than this; others are planned alone."""
LONGEST_LINE = 500
_NEARLY_SOUND, _OVERRIDDEN = 0.2, 0.1
"""Shares of mutants."""
_NAME = "mutant.toml"
_PLACE = re.compile(rf"(?:{_NAME}(?::[1-9]\d*)?|--set)")
_SAYS = re.compile(r"(?:\A|: )(?:must |unknown key |not yet: |cannot |is not TOML: )")

Stage = Literal["read", "simulated", "told"]
"""How far a mutant goes if it is sound: planned, simulated, or told as `run` does with findings."""
Fate = Literal["no text", "refused", "sound", "simulated", "told"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """One changed scenario, and what is set on top."""

    text: bytes
    overrides: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """How a mutant ended."""

    fate: Fate
    seconds: float
    """Processor time."""
    wrong: str = ""
    """What must not be, e.g. a traceback; empty if all is well."""
    where: str = ""
    """The same for every mutant that shows one mistake, more or less."""


class NotAsItMustError(Exception):
    """A mutant ended without a traceback, but not well."""


def make_mutant(seed: int, number: int) -> Mutant:
    """Mutant `number` of a seed, the same on every machine."""
    random = Random(f"{seed}/{number}")
    if random.random() < _NEARLY_SOUND:
        text, overrides = nearly_sound(random, corpus())
        return Mutant(text=text, overrides=overrides)
    is_overridden = random.random() < _OVERRIDDEN
    text = mutant(random, corpus())
    more = tuple(override(random, corpus()) for _ in range(is_overridden * random.randint(1, 2)))
    return Mutant(text=text, overrides=more)


def folder_ready(folder: Path) -> None:
    """Put the files there that mutants may name."""
    for name, text in BESIDE.items():
        (folder / name).write_text(text, encoding="utf-8")


def judge(mutant: Mutant, folder: Path, stage: Stage = "read") -> Verdict:
    """Take a mutant through the tool. Never raises what the tool raises."""
    path = folder / _NAME
    path.write_bytes(mutant.text)
    began = time.process_time()
    wrong = where = ""
    fate: Fate = "refused"
    try:
        fate = _fate(path, mutant.overrides, stage)
    except NotAsItMustError as error:
        wrong, where = str(error), str(error).partition(":")[0]
    except Exception as error:
        wrong, where = traceback.format_exc(), _where(error)
    return Verdict(fate=fate, seconds=time.process_time() - began, wrong=wrong, where=where)


def _where(error: Exception) -> str:
    ours = [
        frame for frame in traceback.extract_tb(error.__traceback__) if "radiosim" in frame.filename
    ]
    last = f"{Path(ours[-1].filename).name}:{ours[-1].lineno}" if ours else "elsewhere"
    return f"{type(error).__name__} at {last}"


def _fate(path: Path, overrides: tuple[str, ...], stage: Stage) -> Fate:
    try:
        scenario = load(path, overrides)
    except ScenarioError as error:
        _check_problems(error, _lines_of(path))
        is_text = not any(" not TOML" in p.text or "UTF-8" in p.text for p in error.problems)
        return "refused" if is_text else "no text"
    _check_lines((*scenario.assumed, *scenario.warnings, *(text for _, text in retries(scenario))))
    make_plan(scenario, 0)
    if stage == "read" or events_a_second(scenario) * SIMULATED_S > MOST_EVENTS:
        return "sound"
    if stage == "simulated":
        return _simulated(path, overrides, scenario)
    return _told(path, overrides)


def _simulated(path: Path, overrides: tuple[str, ...], whole: Scenario) -> Fate:
    """As `run` simulates a start, cut short."""
    if changed(whole, ()) != whole:
        raise NotAsItMustError("another scenario though nothing was changed")
    try:
        scenario = load(path, (*overrides, f"duration_s={SIMULATED_S}", "starts=1"))
    except ScenarioError as error:
        _check_problems(error, _lines_of(path))
        return "sound"
    _check_summary(simulate_starts(scenario, first=START, count=1))
    return "simulated"


def _told(path: Path, overrides: tuple[str, ...]) -> Fate:
    """The way of `run`, with findings and the results as they are written."""
    options = RunOptions(source=str(path), start=START, duration_s=SIMULATED_S, set_=overrides)
    try:
        outcome = outcome_of(options)
    except RadiosimError as error:
        _check_lines(str(error).splitlines())
        return "sound"
    _check_summary(outcome.summary)
    _check_report(outcome)
    return "told"


def _lines_of(path: Path) -> int:
    return path.read_bytes().count(b"\n") + 1


def _check_summary(summary: object) -> None:
    if not isinstance(summary, Summary):
        raise NotAsItMustError(f"no summary: {summary!r}")


def _check_report(outcome: Outcome) -> None:
    """The results as they are written: JSON without NaN, CSV, and what fits the terminal."""

    def refuse(word: str) -> None:
        raise NotAsItMustError(f"not JSON: {word}")

    origin = Origin(command="", version="")
    report = run_report(outcome.summary, outcome.scenario, origin)
    json.loads(json_text(report), parse_constant=refuse)
    csv_files(report)
    for line in plain_text(report, is_more=True).splitlines():
        if len(line) > 80 or not line.isprintable():
            raise NotAsItMustError(f"not for a terminal: {line!a}")


def _check_problems(error: ScenarioError, lines: int) -> None:
    """Every line of a refusal is `FILE:LINE: path: must be ...`, in the order of the file."""
    _check_lines(str(error).split("\n"))
    for problem in error.problems:
        if not _PLACE.fullmatch(str(problem).split(": ")[0]):
            raise NotAsItMustError(f"no place: {problem}")
        if not _SAYS.search(problem.text):
            raise NotAsItMustError(f"says no rule: {problem}")
    numbers = [problem.line for problem in error.problems]
    with_line = [number for number in numbers if number]
    if numbers != [*sorted(with_line), *[0] * (len(numbers) - len(with_line))]:
        raise NotAsItMustError(f"not in order: {error}")
    if with_line and with_line[-1] > lines:
        raise NotAsItMustError(f"beyond the last line: {error}")


def _check_lines(lines: Iterable[str]) -> None:
    for line in lines:
        if not line or not line.isprintable():
            raise NotAsItMustError(f"not printable: {line!a}")
        if len(line) > LONGEST_LINE:
            raise NotAsItMustError(f"a line of {len(line)} characters: {line[:200]!a}")
