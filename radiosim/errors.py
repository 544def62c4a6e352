"""The error tree.

RadiosimError
├── ScenarioError   a scene file or an override cannot be used
├── LayoutError     a packed layout, or a value for one, cannot be used
└── TraceError      a saved trace cannot be used
"""

from dataclasses import dataclass


class RadiosimError(Exception):
    """Something that the user can put right; its text is one block, ready to print."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing wrong with a scene: where it stands and what to do about it."""

    path: str
    """Key path as written in the file, e.g. `transmitter.drive.period_ms`; may be empty."""
    text: str
    """What the value must be, what was found, and a hint."""
    file: str = ""
    """Name of the file, or `--set` for an override."""
    line: int = 0
    """Line in the file, from 1; 0 where there is none."""

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        return ": ".join(part for part in (place, self.path, self.text) if part)


class ScenarioError(RadiosimError):
    """Every problem of a scene, sorted by line."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        ordered = tuple(sorted(problems, key=lambda p: (p.line == 0, p.line, p.path, p.text)))
        super().__init__(ordered)
        self.problems = ordered

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


class LayoutError(RadiosimError):
    """Every problem of a layout as (path, text), or of a value that does not fit one."""

    def __init__(self, problems: tuple[tuple[str, str], ...]) -> None:
        super().__init__(problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(f"{path}: {text}" for path, text in self.problems)


class TraceError(RadiosimError):
    """A saved trace cannot be read."""
