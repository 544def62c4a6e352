"""Questions about a link, and the scenario file that their answers make."""

import textwrap
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources

from jinja2 import Environment, StrictUndefined, Template

from radiosim.radio.air_frame import step_of
from radiosim.safety import CAUTION
from radiosim.scenario.ask._answers import (
    CONTROL_BYTES,
    VEHICLES,
    AnswerError,
    Answers,
    by_name,
    number,
    one_of,
    transmitters,
)
from radiosim.scenario.complete import USUAL_GAP_MS, USUAL_LATENCY_MS, USUAL_WAIT_MS
from radiosim.scenario.danger import MOTOR_NAMES, SWITCH_NAMES
from radiosim.scenario.schema import keys
from radiosim.scenario.structs.shared_keys import USUAL_BOOT_S

RATES = {"250k": "gfsk-250k", "1M": "gfsk-1M", "2M": "gfsk-2M"}
READS = ("one", "all", "newest", "interrupt")
_USUAL_PERIOD_MS = 20
_SLOW_PASS_MS = 5
_RECEIVER = "receiver"
_LONGEST_BOOT_S = 30.0
"""Longer than anybody waits before switching on again; the fault comes later than that."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question."""

    name: str
    """Name of the question's option, without dashes."""
    text: str
    """The question in a builder's words."""
    suggest: Callable[[Answers], str]
    """An answer that is honest where nobody knows: the bad case rather than the good one."""
    read: Callable[[Answers, str], Answers]
    """The answers with this one; AnswerError if it cannot be used."""
    is_asked: Callable[[Answers], bool] = lambda _: True
    """Whether it makes sense after the answers before it."""


def _drives(answers: Answers, text: str) -> Answers:
    return replace(answers, drives=one_of(text, VEHICLES))


def _transmitters(answers: Answers, text: str) -> Answers:
    return replace(answers, controls=transmitters(text))


def _every(answers: Answers, text: str) -> Answers:
    others = dict.fromkeys(answers.controls, str(_USUAL_PERIOD_MS))
    said = by_name(text, tuple(answers.controls), others)
    return replace(answers, every_ms={n: number(word, 1, 10_000) for n, word in said.items()})


def _acknowledge(answers: Answers, text: str) -> Answers:
    return replace(answers, acknowledge=one_of(text, ("yes", "no")) == "yes")


def _rate(answers: Answers, text: str) -> Answers:
    return replace(answers, rate=one_of(text, RATES))


def _reads(answers: Answers, text: str) -> Answers:
    words = text.replace(",", " ").split()
    if not 1 <= len(words) <= 2:
        raise AnswerError(f"must be as 'one {_SLOW_PASS_MS}', got {text.strip()!r}")
    loop_ms = number(words[1], 0.01, 10_000) if len(words) == 2 else float(_SLOW_PASS_MS)
    return replace(answers, read=one_of(words[0], READS), loop_ms=loop_ms)


def _usual_outputs(answers: Answers) -> dict[str, str]:
    def usual(control: str) -> str:
        if SWITCH_NAMES.search(control):
            return "switch"
        return "motor" if MOTOR_NAMES.search(control) else "servo"

    return {control: usual(control) for control in answers.all_controls()}


def _outputs(answers: Answers, text: str) -> Answers:
    said = by_name(text, answers.all_controls(), _usual_outputs(answers))
    return replace(answers, outputs={n: one_of(word, CONTROL_BYTES) for n, word in said.items()})


UNKNOWN = "unknown"
_SHORTEST_US, _LONGEST_US = 500, 2500


def _idle(answers: Answers, text: str) -> Answers:
    driving = answers.driving()
    said = by_name(text, driving, dict.fromkeys(driving, UNKNOWN))
    idle = {
        name: None if word.lower() == UNKNOWN else number(word, _SHORTEST_US, _LONGEST_US)
        for name, word in said.items()
    }
    return replace(answers, idle_us=idle)


def _failsafe(answers: Answers, text: str) -> Answers:
    usual = f"{VEHICLES[answers.drives].timeout_ms:g}"
    said = by_name(text, tuple(answers.controls), dict.fromkeys(answers.controls, usual))
    timeouts = {
        name: None if word.lower() == "none" else number(word, 1, 60_000)
        for name, word in said.items()
    }
    return replace(answers, failsafe_ms=timeouts)


def _boot(answers: Answers, text: str) -> Answers:
    units = (*answers.controls, _RECEIVER)
    said = by_name(text, units, dict.fromkeys(units, f"{USUAL_BOOT_S:g}"))
    return replace(
        answers, boot_s={n: number(word, 0, _LONGEST_BOOT_S) for n, word in said.items()}
    )


def _joined(words: Mapping[str, str]) -> str:
    return ", ".join(f"{name} {word}" for name, word in words.items())


_KINDS = "; ".join(f"{name}: {vehicle.runs_away}" for name, vehicle in VEHICLES.items())

QUESTIONS: tuple[Question, ...] = (
    Question(
        name="drives",
        text=f"What does the link drive, and what if it ran away? ({_KINDS})",
        suggest=lambda _: "car",
        read=_drives,
    ),
    Question(
        name="transmitters",
        text="Which transmitters are there, and which controls does each send? "
        "(NAME: CONTROL, CONTROL; NAME: ... - first the one that drives)",
        suggest=lambda _: "drive: throttle, steer; head: pan, tilt",
        read=_transmitters,
    ),
    Question(
        name="every-ms",
        text="After how many milliseconds does each send again? (one for all, or NAME MS, ... - "
        "equal times are the bad case)",
        suggest=lambda _: str(_USUAL_PERIOD_MS),
        read=_every,
    ),
    Question(
        name="acknowledge",
        text="Does the receiver's radio acknowledge frames, so that transmitters try again? "
        "(yes, no - "
        "most radios do unless somebody switched it off)",
        suggest=lambda _: "yes",
        read=_acknowledge,
    ),
    Question(
        name="rate",
        text=f"Which bit rate does the firmware set? ({', '.join(RATES)})",
        suggest=lambda _: "1M",
        read=_rate,
    ),
    Question(
        name="reads",
        text="What does the receiver's loop read in one pass, and how many milliseconds does a "
        "pass take? (one: a frame; all: until nothing waits; newest: the last of each transmitter; "
        f"interrupt: frames are read on arrival - as: one {_SLOW_PASS_MS})",
        suggest=lambda _: f"one {_SLOW_PASS_MS}",
        read=_reads,
    ),
    Question(
        name="outputs",
        text="What does each control move? (servo; motor: a speed controller on servo pulses; "
        "bridge: a motor on pwm; switch: a pin on or off; none - as: CONTROL WORD, ...)",
        suggest=lambda answers: _joined(_usual_outputs(answers)),
        read=_outputs,
    ),
    Question(
        name="idle-us",
        text="At which pulse, in microseconds, does each thing that drives stand still? (one for "
        "all, or NAME US, ...; measure it, propellers off: often 1500 where it runs both ways, the "
        f"lowest pulse where it runs one way, as in the air: 1500 is half throttle there; {UNKNOWN}"
        ": no pulses on failsafe)",
        suggest=lambda _: UNKNOWN,
        read=_idle,
        is_asked=lambda answers: bool(answers.driving()),
    ),
    Question(
        name="failsafe-ms",
        text="After how many milliseconds of silence does the receiver stop what each transmitter "
        "moves? (one for all, or NAME MS, ...; none: the program has no failsafe)",
        suggest=lambda answers: f"{VEHICLES[answers.drives].timeout_ms:g}",
        read=_failsafe,
    ),
    Question(
        name="boot-s",
        text="How many seconds after it is switched on, or reset, does each transmitter send, and "
        f"does the receiver's loop run? (one for all, or NAME S, ..., {_RECEIVER} S - boot loader, "
        "sensor calibration and all)",
        suggest=lambda _: f"{USUAL_BOOT_S:g}",
        read=_boot,
    ),
)


Ask = Callable[[int, Question, str, str], str]
"""(number of those asked, question, suggestion, what was wrong with the last) → answer."""


def answered(said: Mapping[str, str], ask: Ask | None = None) -> Answers:
    """The answers to all questions.

    `said`: question's name → answer given beforehand; AnswerError, with the name of the option,
    for one that cannot be used. `ask` gives the others, and is asked again after such an answer;
    an empty answer, or no `ask`, takes the suggestion, as a guess.
    """
    answers, asked = Answers(), 0
    for question in QUESTIONS:
        if question.name in said:
            answers, is_given = _of_option(question, answers, said[question.name]), True
        else:
            person = ask if question.is_asked(answers) else None
            asked += person is not None
            answers, is_given = _of_person(asked, question, answers, person)
        if is_given:
            answers = replace(answers, given=answers.given | {question.name})
    return answers


def _of_option(question: Question, answers: Answers, text: str) -> Answers:
    try:
        return question.read(answers, text)
    except AnswerError as error:
        raise AnswerError(f"--{question.name}: {error}") from None


def _of_person(
    at: int, question: Question, answers: Answers, ask: Ask | None
) -> tuple[Answers, bool]:
    """The answers with this one, and whether it was given rather than guessed."""
    suggestion, wrong = question.suggest(answers), ""
    while text := "" if ask is None else ask(at, question, suggestion, wrong).strip():
        try:
            return question.read(answers, text), True
        except AnswerError as error:
            wrong = str(error)
    return question.read(answers, suggestion), False


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
        caution=CAUTION,
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
    environment.filters["plain"] = _number
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
