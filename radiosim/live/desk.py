"""A scenario on a desk: answers to settings, and what can be taken away. No sockets, no threads."""

from collections import OrderedDict
from collections.abc import Iterator
from functools import partial
from itertools import chain
from pathlib import Path
from typing import Any

import msgspec
from msgspec import Struct

from radiosim.errors import OptionError, RadiosimError
from radiosim.live.turns import Aside
from radiosim.measure.summary import Summary
from radiosim.report.live.answer import encoded, foretold, summary_of, told
from radiosim.report.live.controls import Value, controls_of
from radiosim.report.live.pictures import marks, pictures
from radiosim.report.live.take_away import command_of, difference, lines_of, text_with
from radiosim.report.live.timeouts import trade_offs
from radiosim.scenario import Scenario, parse
from radiosim.study.live.looks import IsOutdated, Outdated, looks

KEPT = 64
"""Finished answers; a slider that goes back finds its answer at once."""
MOST = 1e9
"""No key takes more."""


class Question(Struct, frozen=True):
    """Lines that change the scenario."""

    lines: tuple[str, ...]


class Desk:
    """One scenario, as its file was when it was opened."""

    def __init__(self, path: Path, source: str) -> None:
        self._path, self._source = path, source
        self.text = path.read_text(encoding="utf-8-sig")
        self.scenario = self._with(())
        self.controls = controls_of(self.scenario)
        self._known = {control.key: control for control in self.controls}
        self._kept: OrderedDict[Question, list[bytes]] = OrderedDict()

    def hello(self) -> dict[str, Any]:
        """What the page is made of."""
        scenario = self.scenario
        return {
            "title": scenario.title or scenario.name,
            "file": self._path.name,
            "starts": scenario.starts,
            "duration_s": scenario.duration_s,
            "seed": scenario.seed,
            "faults": len(scenario.fault),
            "streams": list(scenario.transmitter),
            "outputs": list(scenario.output),
            "controls": [msgspec.to_builtins(control) for control in self.controls],
        }

    def read(self, asked: Any) -> Question:
        """A question as a page asks it; OptionError for what is no control of this page."""
        given = asked.get("set", {}) if isinstance(asked, dict) else None
        if not isinstance(given, dict):
            raise OptionError("set: must be an object of keys and values")
        settings = {
            key: value
            for key, value in ((key, self._value(key, value)) for key, value in given.items())
            if value != self._known[key].now
        }
        has_faults = asked.get("faults", True) is not False or not self.scenario.fault
        return Question(lines=lines_of(settings, has_faults=has_faults))

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

    def _with(self, lines: tuple[str, ...]) -> Scenario:
        """The scenario as `radiosim run` reads it with these lines."""
        return parse(self.text, self._path.name, folder=self._path.parent, overrides=lines)

    def taken(self, asked: Any) -> bytes:
        """What a builder takes away; ScenarioError if the settings cannot be had."""
        question = self.read(asked)
        self._with(question.lines)
        toml = text_with(self.text, question.lines)
        return msgspec.json.encode(
            {
                "lines": question.lines,
                "command": command_of(self._source, question.lines),
                "toml": toml,
                "difference": None
                if toml is None
                else difference(self.text, toml, self._path.name),
            }
        )
