"""Spans that come round: what takes a program's or a radio's time now and then."""

from collections.abc import Iterator

from radiosim.scenario.checks.view import Found
from radiosim.scenario.paths import Path
from radiosim.scenario.structs.work import Deaf, Work

SHORTEST_MS = 0.001
"""Shortest time between two of the same thing: a microsecond."""
MOST_BUSY = 0.99
"""Share of the time; a program with less than the rest hardly ever gets on."""


def problems_of_spans(
    path: Path, spans: tuple[Work | Deaf, ...], length_key: str
) -> Iterator[Found]:
    """Spans longer than their spacing, or that leave no time between them all."""
    busy = 0.0
    for number, span in enumerate(spans):
        length_ms: float = getattr(span, length_key)
        busy += length_ms / span.every_ms
        if span.every_ms < SHORTEST_MS:
            yield (*path, number, "every_ms"), f"must be >= {SHORTEST_MS}, got {span.every_ms:g}"
        elif length_ms >= span.every_ms:
            yield (
                (*path, number, length_key),
                f"must be shorter than every_ms ({span.every_ms:g}), got {length_ms:g}",
            )
            return
    if busy > MOST_BUSY:
        yield (
            path,
            f"must leave at least {1 - MOST_BUSY:.0%} of the time for the rest, "
            f"got {length_key} of {100 * busy:.4g}% in all",
        )
