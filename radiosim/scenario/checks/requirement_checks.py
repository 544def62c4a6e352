"""Checks of requirements: which figures a requirement can name."""

from collections.abc import Collection, Iterator

from radiosim.registers.figure_register import figure_paths
from radiosim.scenario.checks.view import Found, View, output_names
from radiosim.scenario.key_paths import nearest
from radiosim.scenario.problems import shown


def requirement_problems(view: View) -> Iterator[Found]:
    """Requirements without a limit, or on a figure that no result has."""
    added = (name for name, _ in output_names(view.file))
    known = figure_paths(tuple(view.file.transmitter), (*view.file.output, *added))
    for number, wanted in enumerate(view.file.requirement):
        path = ("requirement", number)
        if (wanted.at_least is None) == (wanted.at_most is None):
            got = "neither" if wanted.at_least is None else "both"
            yield path, f"must have exactly one of at_least and at_most, got {got}"
        if wanted.figure not in known:
            hint = _hint(wanted.figure, known)
            yield (
                (*path, "figure"),
                f"must be the path of a figure, got {shown(wanted.figure)}{hint}",
            )


def _hint(figure: str, known: Collection[str]) -> str:
    """The figure that was meant; of a distribution its worst value."""
    if (worst := f"{figure}.max") in known:
        return f", did you mean {worst!r}?"
    return nearest(figure, known) or ", such as stream.NAME.gap_ms.max"
