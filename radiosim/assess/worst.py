"""The worst starts of a run."""

from radiosim.measure.summary import Summary


def worst_value(summary: Summary, path: str, otherwise: float | None) -> float | None:
    """The worst start's value of a figure; `otherwise` where one start is all there is."""
    found = summary.worst.get(path)
    return otherwise if found is None else found.value


def worst_start(summary: Summary) -> int:
    """The start with the longest gap of any stream."""
    worst = max(summary.figures.stream.values(), key=lambda stream: stream.gap_ms.max)
    return worst.longest_gap_start
