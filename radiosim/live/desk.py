"""A scenario on a desk: answers to settings, and what can be taken away. No sockets, no threads."""

import hashlib
from collections import OrderedDict
from collections.abc import Iterator
from functools import partial
from itertools import chain
from pathlib import Path
from typing import Any, Literal

import msgspec
from msgspec import Struct

from radiosim.errors import OptionError, RadiosimError
from radiosim.live.study import Study, study_lines
from radiosim.live.turns import Aside
from radiosim.measure.by_program import of_model
from radiosim.measure.summary import Summary
from radiosim.report.files import write_whole
from radiosim.report.live.answer import encoded, foretold, summary_of, told
from radiosim.report.live.controls import Value, controls_of
from radiosim.report.live.pictures import marks, pictures
from radiosim.report.live.take_away import command_of, difference, lines_of, text_with
from radiosim.report.live.timeouts import trade_offs
from radiosim.scenario import Scenario, parse
from radiosim.scenario.read import text_of_file
from radiosim.study.live.looks import IsOutdated, Outdated, looks

KEPT = 64
"""Finished answers; a slider that goes back finds its answer at once."""
MOST = 1e9
"""No key takes more."""
MOST_OFFERED = 1000
"""Lines of cures and of recommended settings that are remembered."""


class Question(Struct, frozen=True):
    """Lines that change the scenario."""

    lines: tuple[str, ...]


class Desk:
    """One scenario, as its file was when it was opened; its receiver does what the model says."""

    def __init__(self, path: Path, source: str, *, is_own: bool = True) -> None:
        """`source`: what a user types to name it; `is_own`: it may be written."""
        self._path, self._source = path, source
        self._is_own = is_own and path.is_file() and not path.is_symlink()
        self.text = text_of_file(path)
        self.digest = hashlib.sha256(self.text.encode()).hexdigest()
        self.scenario = self._with(())
        self.controls = controls_of(self.scenario)
        self._known = {control.key: control for control in self.controls}
        self._kept: OrderedDict[Question, list[bytes]] = OrderedDict()
        self._offered: OrderedDict[str, None] = OrderedDict()

    def hello(self) -> dict[str, Any]:
        """What the page is made of."""
        scenario = self.scenario
        return {
            "title": scenario.title or scenario.name,
            "file": self._path.name,
            "digest": self.digest,
            "can_write": self._is_own,
            "starts": scenario.starts,
            "duration_s": scenario.duration_s,
            "seed": scenario.seed,
            "faults": len(scenario.fault),
            "streams": list(scenario.transmitter),
            "outputs": list(scenario.output),
            "controls": [msgspec.to_builtins(control) for control in self.controls],
        }

    def read(self, asked: Any) -> Question:
        """A question as a page asks it; OptionError for what this page does not offer."""
        if not isinstance(asked, dict):
            raise OptionError("a question must be an object")
        if asked.get("digest", self.digest) != self.digest:
            raise OptionError(
                "the scenario was written anew since this page was opened: load the page again"
            )
        given, taken = asked.get("set", {}), asked.get("lines", [])
        if not isinstance(given, dict):
            raise OptionError("set: must be an object of keys and values")
        if not isinstance(taken, list) or not all(
            isinstance(line, str) and line in self._offered for line in taken
        ):
            raise OptionError("lines: must be those of a cure or of settings that were recommended")
        keys = {line.partition("=")[0] for line in taken}
        settings = {}
        for key, value in given.items():
            setting = self._value(key, value)
            if setting != self._known[key].now or key in keys:
                settings[key] = setting
        has_faults = asked.get("faults", True) is not False or not self.scenario.fault
        # What was taken over and moved since is as it was moved.
        left = (line for line in taken if line.partition("=")[0] not in settings)
        return Question(lines=(*left, *lines_of(settings, has_faults=has_faults)))

    def _value(self, key: str, value: Any) -> Value:
        control = self._known.get(key)
        if control is None:
            raise OptionError("set: must name controls of this page")
        if control.words:
            if value not in control.words:
                raise OptionError(f"{key}: must be one of {', '.join(control.words)}")
            return str(value)
        if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < MOST:
            raise OptionError(f"{key}: must be a number")
        if control.is_whole and value != int(value):
            raise OptionError(f"{key}: must be a whole number")
        return float(value)

    def answer(self, question: Question, is_outdated: IsOutdated) -> Iterator[bytes | Aside]:
        """Lines of JSON, from at once to the whole run; then pictures, which can wait."""
        kept = self._kept.get(question)
        if kept is not None:
            yield from kept
            return
        try:
            scenario = self._with(question.lines)
            if is_outdated():
                raise Outdated
            first = encoded(foretold(scenario))
            yield first
            for look in looks(scenario, is_outdated):
                summary = summary_of(scenario, look)
                line = encoded(told(scenario, look, summary))
                yield line
        except Outdated:
            yield encoded({"kind": "outdated"})
        except RadiosimError as error:
            yield encoded({"kind": "refused", "problems": str(error).splitlines()})
        else:
            # All that it said before the whole run was a part of it.
            yield partial(self._beside, question, summary, [first, line], is_outdated)

    def _beside(
        self, question: Question, summary: Summary, lines: list[bytes], is_outdated: IsOutdated
    ) -> Iterator[bytes]:
        """Pictures, and where on the sliders periods beat; all of it kept once it is whole."""
        scenario = self._with(question.lines)
        try:
            for said in chain(
                pictures(scenario, summary, is_outdated),
                marks(scenario, self.controls, is_outdated),
                trade_offs(scenario, is_outdated),
                ({"kind": "done"},),
            ):
                lines.append(encoded(said))
                yield lines[-1]
        except Outdated:
            yield encoded({"kind": "outdated"})
        else:
            self._kept[question] = lines
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)

    def study(
        self, kind: Literal["cure", "tune"], question: Question, is_outdated: IsOutdated
    ) -> Iterator[bytes]:
        """Lines of JSON of what takes seconds; the lines that it proposes can be asked for then."""
        study = Study(
            kind=kind,
            text=self.text,
            name=self._path.name,
            folder=str(self._path.parent),
            lines=question.lines,
        )
        for line in study_lines(study, is_outdated):
            said = msgspec.json.decode(line)
            if said["kind"] == kind:
                self._offered.update(dict.fromkeys(said["lines"]))
                while len(self._offered) > MOST_OFFERED:
                    self._offered.popitem(last=False)
            yield line

    def _with(self, lines: tuple[str, ...]) -> Scenario:
        """The scenario as `radiosim run` reads it with these lines."""
        folder = self._path.parent
        return of_model(parse(self.text, self._path.name, folder=folder, overrides=lines))

    def taken(self, asked: Any) -> dict[str, Any]:
        """What a builder takes away; RadiosimError if the settings cannot be had."""
        question = self.read(asked)
        self._with(question.lines)
        toml = text_with(self.text, question.lines)
        return {
            "lines": question.lines,
            "command": command_of(self._source, question.lines),
            "toml": toml,
            "difference": None if toml is None else difference(self.text, toml, self._path.name),
            "can_write": self._is_own and toml not in (None, self.text),
        }

    def write(self, asked: Any) -> "Desk":
        """Write the settings into the scenario's own file; the desk of what it says now.

        Its permissions stay. OptionError, and nothing is written, if it is not as it was read, or
        is no plain file any more, or cannot say exactly that; ReportError if it cannot be written.
        """
        question, name = self.read(asked), self._path.name
        toml = text_with(self.text, question.lines)
        if not self._is_own or toml is None:
            raise OptionError(f"{name}: cannot be written from here; take its text or the lines")
        if self._path.is_symlink() or not self._path.is_file():
            raise OptionError(f"{name}: must be a plain file as it was, got another")
        if text_of_file(self._path) != self.text:
            raise OptionError(f"{name}: has changed since it was opened: load the page again")
        parse(toml, name, folder=self._path.parent)
        write_whole(self._path, toml)
        return Desk(self._path, self._source)
