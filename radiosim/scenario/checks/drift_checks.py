"""Cross-checks of clocks that drift."""

from collections.abc import Iterator

from radiosim.scenario.checks.view import Found, View
from radiosim.scenario.key_paths import Path
from radiosim.scenario.structs.drift_table import Drift

MOST_PPM = 10_000.0
"""What a line may come to: no clock of a kind that is known drifts so far."""


def drift_problems(view: View) -> Iterator[Found]:
    """Drifts of what keeps no grid, temperatures that stand alone, lines that run away."""
    file = view.file
    for name, unit in file.transmitter.items():
        if unit.drift is None:
            continue
        path = ("transmitter", name, "drift")
        if unit.pacing != "timer":
            yield (
                path,
                f'must stand beside pacing = "timer", got {unit.pacing!r}: only a timer keeps a '
                "grid that a drift moves",
            )
        yield from _of_drift(path, unit.drift, file.duration_s)
    if file.receiver.drift is not None:
        yield from _of_drift(("receiver", "drift"), file.receiver.drift, file.duration_s)


def _of_drift(path: Path, drift: Drift, duration_s: float) -> Iterator[Found]:
    for key, other in (("from_c", "to_c"), ("to_c", "from_c")):
        if getattr(drift, key) is None and getattr(drift, other) is not None:
            yield (*path, key), f"must be given beside {other} (degrees)"
    lasts_s = duration_s if drift.for_s is None else min(drift.for_s, duration_s)
    comes_to = drift.ppm_per_minute * lasts_s / 60
    if abs(comes_to) > MOST_PPM:
        yield (
            (*path, "ppm_per_minute"),
            f"must come to at most {MOST_PPM:g} ppm in a start, got {comes_to:g}: give for_s",
        )
