"""Checks of requirements: which figures a requirement can name."""

from collections.abc import Collection, Iterator

from radiosim.scenario.checks.view import Found, View, output_names
from radiosim.scenario.key_paths import nearest
from radiosim.scenario.problems import shown

_COUNTS = (
    "sampled",
    "skipped",
    "replaced",
    "queue_full",
    "power_cut",
    "sent",
    "attempts",
    "acknowledged",
    "retries_used_up",
    "received_new",
    "duplicates",
    "fifo_dropped",
    "read",
    "thrown_away",
    "waiting",
    "never_accepted",
    "under_way",
    "lost_chance",
    "lost_collision",
    "lost_deaf",
    "lost_range",
    "lost_off",
    "lost_cut",
    "acknowledgements_lost",
)
_OF_UNIT = ("charge_mah_per_hour", "battery_h")
_OF_STREAM = (
    *_COUNTS,
    "delivery_ratio",
    "update_rate_hz",
    "worst_second_updates",
    "longest_gap_at_s",
    "longest_gap_start",
    "attempts_per_frame",
    "duty_cycle",
    *_OF_UNIT,
    "failsafe.trips_on_fault",
    "failsafe.nuisance_trips",
    "failsafe.nuisance_per_hour",
    "failsafe.seconds_on",
)
_OF_OUTPUT = ("refresh_hz", "update_rate_hz", "longest_hold_ms")
_OF_AIR = ("occupancy", "collisions")
_STREAM_SPREADS = ("gap_ms", "latency_ms", "age_ms")
_OUTPUT_SPREADS = ("latency_ms", "age_ms", "servo_error_deg")
_PARTS = ("mean", "median", "p95", "p99", "max", "n")


def figure_paths(streams: tuple[str, ...], outputs: tuple[str, ...]) -> tuple[str, ...]:
    """Every path that a requirement of a scenario with these streams and outputs can name."""
    of_stream = (*_OF_STREAM, *_parts(_STREAM_SPREADS))
    of_output = (*_OF_OUTPUT, *_parts(_OUTPUT_SPREADS))
    return (
        *(f"stream.{name}.{figure}" for name in streams for figure in of_stream),
        *(f"output.{name}.{figure}" for name in outputs for figure in of_output),
        *(f"air.{figure}" for figure in _OF_AIR),
        *(f"receiver.{figure}" for figure in _OF_UNIT),
        *(f"worst.{name}.reaction_ms" for name in streams),
    )


def _parts(spreads: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f"{spread}.{part}" for spread in spreads for part in _PARTS)


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
