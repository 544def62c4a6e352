"""What a builder takes away: `--set` lines, or the scenario's own text with them in it."""

import difflib
import shlex
from collections.abc import Mapping, Sequence

from radiosim.errors import RadiosimError
from radiosim.report.live.controls import Value
from radiosim.scenario.edited import edited, with_caution

NO_FAULTS = "fault=[]"
"""The line that leaves out the scenario's own faults."""


def lines_of(settings: Mapping[str, Value], *, has_faults: bool) -> tuple[str, ...]:
    """Settings as `--set` takes them."""
    lines = [
        f"{key}={value if isinstance(value, str) else f'{value:.12g}'}"
        for key, value in settings.items()
    ]
    return (*lines, *(() if has_faults else (NO_FAULTS,)))


def command_of(scenario: str, lines: Sequence[str]) -> str:
    """What simulates the same in a terminal."""
    words = [word for line in lines for word in ("--set", line)]
    return shlex.join(["radiosim", "run", scenario, *words])


def text_with(text: str, lines: Sequence[str]) -> str | None:
    """The scenario's text with each line set where it stands, all else untouched.

    It has the caution in its comments. None if it cannot be said there exactly so.
    """
    try:
        return with_caution(edited(text, lines)) if lines else text
    except RadiosimError:
        return None


def difference(old: str, new: str, name: str) -> str:
    """What changes, line by line."""
    lines = old.splitlines(keepends=True), new.splitlines(keepends=True)
    return "".join(difflib.unified_diff(*lines, name, name, n=0))
