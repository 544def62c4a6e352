"""Lines to paste, each of a key of its own."""

from collections.abc import Iterable

from radiosim.errors import ScenarioError
from radiosim.findings.case import Case, Overrides
from radiosim.scenario.changed import changed
from radiosim.scenario.key_paths import Path, index_of, path_of


def path_of_line(line: str) -> Path:
    """The key of a `KEY=VALUE` line, its indexes as numbers."""
    steps = path_of(line.partition("=")[0].strip())
    return tuple(s if (index := index_of(s)) is None else index for s in steps)


def overlap(one: str, other: str) -> bool:
    """Whether two lines set the same key, or one of them a table around the other's."""
    first, second = path_of_line(one), path_of_line(other)
    length = min(len(first), len(second))
    return first[:length] == second[:length]


def joined(case: Case, cure: Overrides) -> Overrides | None:
    """A cure's lines, without those that change nothing; None if the scenario as cured so far has
    one of its keys set otherwise."""
    own: Overrides = ()
    for line in cure:
        if line in case.given or line in own:
            own = (*own, line)
        elif any(overlap(line, other) for other in (*case.given, *own)):
            return None
        elif len(cure) == 1 or not _is_idle(case, line):
            own = (*own, line)
    return own


def block_of(cures: Iterable[Overrides]) -> Overrides:
    """The lines of some cures, each once."""
    return tuple(dict.fromkeys(line for cure in cures for line in cure))


def _is_idle(case: Case, line: str) -> bool:
    scenario = case.scenario
    try:
        return changed(scenario, (line,)) == scenario
    except ScenarioError:
        # It needs a line before it.
        return False
