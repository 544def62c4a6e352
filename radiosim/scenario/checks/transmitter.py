"""The transmitter's program: pacing and work."""

from collections.abc import Iterator

from radiosim.scenario.checks.view import Found, View
from radiosim.scenario.checks.work import SHORTEST_MS, problems_of_spans
from radiosim.scenario.structs.transmitter import TransmitterTable


def problems(view: View) -> Iterator[Found]:
    """Keys of the transmitters that do not go together."""
    for name, unit in view.file.transmitter.items():
        path = ("transmitter", name)
        for key, text in _of_pacing(unit):
            yield (*path, key), text
        yield from problems_of_spans((*path, "work"), unit.work, "takes_ms")
        if unit.start_s >= view.file.duration_s:
            yield (
                (*path, "start_s"),
                f"must be < duration_s ({view.file.duration_s:g}), got {unit.start_s:g}",
            )


def _of_pacing(unit: TransmitterTable) -> Iterator[tuple[str, str]]:
    needed, refused = ("period_ms", "pause_ms")
    if unit.pacing == "after_send":
        needed, refused = refused, needed
    if getattr(unit, needed) is None:
        yield needed, f"must be given with pacing = {unit.pacing!r}"
    if (value := getattr(unit, refused)) is not None:
        yield refused, f"must be left out with pacing = {unit.pacing!r}, got {value:g}"
    period_ms = unit.period_ms
    if unit.pacing == "after_send" or period_ms is None:
        return
    if period_ms < SHORTEST_MS:
        yield "period_ms", f"must be >= {SHORTEST_MS}, got {period_ms:g}"
    if unit.pacing == "elapsed" and unit.jitter_ms:
        yield (
            "jitter_ms",
            f"must be 0 with pacing = 'elapsed', whose lateness adds up, got {unit.jitter_ms:g}",
        )
    elif unit.jitter_ms >= period_ms:
        yield "jitter_ms", f"must be < period_ms ({period_ms:g}), got {unit.jitter_ms:g}"
