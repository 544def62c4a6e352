"""`radiosim new`: questions, then a commented scenario."""

import sys
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.cli.console import DONE, print_caution, say, tell
from radiosim.cli.options import Options, argument, flag, option
from radiosim.cli.targets import STANDARD_OUTPUT
from radiosim.errors import printable

if TYPE_CHECKING:
    from radiosim.scenario.ask import Question

_COLUMNS = 80
_INDENT = " " * 10

Answer = str | None


@dataclass(frozen=True, kw_only=True)
class NewOptions(Options):
    """Options of `radiosim new`."""

    COMMAND = "new"

    file: str = argument("[FILE]", "Where the scenario goes; -: print it.", default="my.toml")
    drives: Answer = option("WORD", "rover, car, boat, aircraft or machine.")
    transmitters: Answer = option("LIST", "As 'drive: throttle, steer; head: pan, tilt'.")
    every_ms: Answer = option("LIST", "Period of each: 20, or 'drive 20, head 23'.")
    acknowledge: Answer = option("yes|no", "Are frames answered?")
    rate: Answer = option("RATE", "Bit rate: 250k, 1M or 2M.")
    reads: Answer = option(
        "'WORD MS'", "one, all, newest or interrupt, and the length of a pass: 'one 5'."
    )
    outputs: Answer = option("LIST", "As 'throttle motor, pan servo'; or bridge, switch, none.")
    idle_us: Answer = option(
        "LIST", "Pulse at which what drives stands still: 1000, 'throttle 1500', or unknown."
    )
    failsafe_ms: Answer = option("LIST", "Timeouts: 250, or 'drive 250, head none'.")
    boot_s: Answer = option("LIST", "Seconds to boot: 1, or 'head 2, receiver 0.5'.")
    yes: bool = flag("Guess what is not said.")
    force: bool = flag("Overwrite the file.")

    def said(self) -> dict[str, str]:
        """The answers that were given, by question."""
        answers = {
            "drives": self.drives,
            "transmitters": self.transmitters,
            "every-ms": self.every_ms,
            "acknowledge": self.acknowledge,
            "rate": self.rate,
            "reads": self.reads,
            "outputs": self.outputs,
            "idle-us": self.idle_us,
            "failsafe-ms": self.failsafe_ms,
            "boot-s": self.boot_s,
        }
        return {name: text for name, text in answers.items() if text is not None}


def new(options: NewOptions) -> int:
    """Ask some questions and write a commented scenario.

    What nobody knows is guessed, the bad case rather than the good one, and marked.
    """
    from radiosim.report.files import check_file, check_new, write_whole
    from radiosim.scenario.ask import QUESTIONS, AnswerError, answered, scenario_text

    file, force = options.file, options.force
    if not file.strip():
        raise AnswerError("FILE: must be the name of a new file, or - to print it, got nothing")
    is_file = file != STANDARD_OUTPUT
    if is_file:
        (check_file if force else check_new)(Path(file))
    said = options.said()
    asks = partial(_ask, len(QUESTIONS) - len(said))
    answers = answered(said, None if options.yes else asks)
    text = scenario_text(answers)
    if not is_file:
        sys.stdout.write(text)
        return DONE
    if not force:
        check_new(Path(file))
    write_whole(Path(file), text)
    _tell(file, text, answers.drives)
    return DONE


def _ask(count: int, at: int, question: "Question", suggestion: str, wrong: str) -> str:
    """One answer from the terminal or the pipe; a wrong one from a pipe is refused."""
    from radiosim.scenario.ask import AnswerError

    if wrong and not sys.stdin.isatty():
        raise AnswerError(f"answer {at}, {question.name}: {wrong}")
    tell(f"{_INDENT}{wrong}" if wrong else _in_full(at, count, question.text))
    # On standard error, where a scenario that is printed is not; `input` would use the other.
    print(f"{_INDENT}[{printable(suggestion)}] ", end="", file=sys.stderr, flush=True)
    try:
        answer = input()
    except (EOFError, UnicodeDecodeError) as error:
        what = "the end of the input" if isinstance(error, EOFError) else "no UTF-8 text"
        print(file=sys.stderr)
        raise AnswerError(
            f"answer {at}, {question.name}: must be given, got {what} (--yes guesses what is not "
            "said)"
        ) from None
    if not sys.stdin.isatty():
        tell(answer)
    return answer


def _in_full(at: int, count: int, text: str) -> str:
    import textwrap

    number = f"{at} of {count}"
    lead = f"{number:<{len(_INDENT)}}"
    return textwrap.fill(text, _COLUMNS, initial_indent=lead, subsequent_indent=_INDENT)


def _tell(file: str, text: str, drives: str) -> None:
    """What was written, what to mind, and what to do next."""
    import textwrap

    from radiosim.scenario.ask import VEHICLES, count_of_guesses

    say(f"wrote {file}: {count_of_guesses(text)} guesses, marked '# guess:'")
    say(textwrap.fill(f"Caution: {VEHICLES[drives].caution}.", _COLUMNS))
    print_caution()
    say(f"Next: radiosim run {file}")
