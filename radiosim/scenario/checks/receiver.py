"""The receiver's program and radio."""

from collections.abc import Iterator

from radiosim.scenario.checks.view import Found, View
from radiosim.scenario.checks.work import SHORTEST_MS, problems_of_spans


def problems(view: View) -> Iterator[Found]:
    """Passes of no length, and spans that leave no time."""
    receiver = view.file.receiver
    if receiver.loop_ms + receiver.delay_ms < SHORTEST_MS:
        yield (
            ("receiver", "loop_ms"),
            f"must be >= {SHORTEST_MS} together with delay_ms (a pass takes time), "
            f"got {receiver.loop_ms + receiver.delay_ms:g}",
        )
    yield from problems_of_spans(("receiver", "work"), receiver.work, "takes_ms")
    yield from problems_of_spans(("receiver", "deaf"), receiver.deaf, "for_ms")
