"""The error tree.

RadiosimError
├── ScenarioError   a scenario file or an override cannot be used
├── LayoutError     a packed layout, or a value for one, cannot be used
├── TraceError      a saved trace cannot be used
├── FirmwareError   a receiver's program cannot be built, or not be run here
└── OptionError     an option cannot be used like this
"""

from dataclasses import dataclass

LONGEST_NAME = 160
LONGEST_LINE = 400
MOST_PROBLEMS = 100
"""Lines and characters beyond these are no help: the first show what went wrong."""


def printable(text: str) -> str:
    """A text whose every letter that could steer a terminal stands as it is escaped.

    What users, files and programs name goes through here before it is shown.
    """
    return "".join(
        letter
        if letter.isprintable() or letter == "\N{NO-BREAK SPACE}"
        else letter.encode("unicode_escape").decode()
        for letter in text
    )


class RadiosimError(Exception):
    """Something that the user can put right; its text is one line, ready to print."""

    def __str__(self) -> str:
        return printable(super().__str__())


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing wrong with a scenario: where it stands and what to do about it."""

    path: str
    """Key path as written in the file, e.g. `transmitter.drive.period_ms`; may be empty."""
    text: str
    """What the value must be, what was found, and a hint."""
    file: str = ""
    """Name of the file, or `--set` for an override."""
    line: int = 0
    """Line in the file, from 1; 0 where there is none."""

    def __str__(self) -> str:
        file = short_name(self.file)
        place = f"{file}:{self.line}" if self.line else file
        return one_line(": ".join(part for part in (place, self.path, self.text) if part))


def one_line(text: str) -> str:
    """A text as one printable line, its end left out if it is very long.

    Names and values come from files: what would steer a terminal is shown as it is escaped.
    """
    shown = printable(text[: LONGEST_LINE + 1])
    return shown if len(shown) <= LONGEST_LINE else f"{shown[: LONGEST_LINE - 1]}…"


def short_name(path: object) -> str:
    """A file's name as messages show it: of a long one both ends, so that the rest can be read."""
    name = str(path)
    if len(name) <= LONGEST_NAME:
        return name
    half = LONGEST_NAME // 2
    return f"{name[:half]}…{name[-half:]}"


class ScenarioError(RadiosimError):
    """Every problem of a scenario, sorted by line."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        ordered = tuple(sorted(problems, key=lambda p: (p.line == 0, p.line, p.path, p.text)))
        super().__init__(ordered)
        self.problems = ordered

    def __str__(self) -> str:
        lines = [str(problem) for problem in self.problems[:MOST_PROBLEMS]]
        if more := len(self.problems) - len(lines):
            last = self.problems[-1]
            lines.append(str(Problem(file=last.file, path="", text=f"and {more:,} more problems")))
        return "\n".join(lines)


class LayoutError(RadiosimError):
    """Every problem of a layout as (path, text), or of a value that does not fit one."""

    def __init__(self, problems: tuple[tuple[str, str], ...]) -> None:
        super().__init__(problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(one_line(f"{path}: {text}") for path, text in self.problems)


class TraceError(RadiosimError):
    """A saved trace cannot be read."""


class FirmwareError(RadiosimError):
    """A receiver's program cannot be built, or not be run here."""

    def __str__(self) -> str:
        return one_line(super().__str__())


class OptionError(RadiosimError):
    """An option with a value that it cannot have, or beside another that excludes it."""


class Notice(UserWarning):
    """What a user should know, in one line, although nothing is in the way."""
