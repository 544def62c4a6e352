"""Answers as the text of a scenario, with every guess marked."""

import textwrap
from functools import cache
from importlib import resources

from jinja2 import Environment, StrictUndefined, Template

from radiosim.radio.air_frame import step_of
from radiosim.scenario.ask._answers import VEHICLES, Answers
from radiosim.scenario.ask._questions import RATES
from radiosim.scenario.complete import USUAL_GAP_MS, USUAL_LATENCY_MS, USUAL_WAIT_MS
from radiosim.scenario.schema import keys

GUESS = "# guess:"
"""Begins the comment above a value that nobody gave."""
_WIDTH = 98
_FAULT_AT_S = 60
_SHORTEST_FAULT_S = 5.0
_DURATION_S = 300
_RETRY_DELAY_US = 500


def scenario_text(answers: Answers) -> str:
    """The scenario of complete answers, as TOML with comments."""
    how = {".".join(key.path): key.measure for key in keys()}
    told: set[str] = set()

    def guess(path: str, question: str = "", note: str = "") -> str:
        """The comment above a value; empty if the builder gave the answer to its question."""
        if question in answers.given:
            return ""
        if path in told:
            return f"{GUESS} as above\n"
        told.add(path)
        lead = f"{note}; " if note else ""
        return _comment(f"{GUESS} {lead}to find out: {how[path]}")

    first = next(iter(answers.controls))
    return _template().render(
        answers=answers,
        vehicle=VEHICLES[answers.drives],
        profile=RATES[answers.rate],
        first=first,
        guess=guess,
        comment=_comment,
        number=_number,
        retry_delay_us=_RETRY_DELAY_US,
        retry_step=step_of(_RETRY_DELAY_US),
        duration_s=_DURATION_S,
        usual_gap_ms=USUAL_GAP_MS,
        usual_wait_ms=USUAL_WAIT_MS,
        usual_latency_ms=USUAL_LATENCY_MS,
        fault_at_s=_FAULT_AT_S,
        fault_for_s=_fault_s(answers.failsafe_ms[first]),
    )


def count_of_guesses(text: str) -> int:
    """How many guesses a scenario's text marks."""
    return sum(line.startswith(GUESS) for line in text.splitlines())


@cache
def _template() -> Template:
    environment = Environment(
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        undefined=StrictUndefined,
    )
    text = resources.files("radiosim.scenario.ask") / "scenario.toml.j2"
    return environment.from_string(text.read_text(encoding="utf-8"))


def _comment(text: str) -> str:
    """A text as comment lines; what it begins with is the mark of the first."""
    body = text if text.startswith("#") else f"# {text}"
    lines = textwrap.wrap(body, _WIDTH, subsequent_indent="#   ", break_on_hyphens=False)
    return "\n".join(lines) + "\n"


def _number(value: float) -> str:
    return f"{value:.10g}"


def _fault_s(timeout_ms: float | None) -> float:
    """Long enough that a failsafe must notice."""
    return max(_SHORTEST_FAULT_S, 3 * (timeout_ms or 0.0) / 1000)
