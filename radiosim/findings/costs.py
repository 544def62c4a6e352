"""What a cure makes worse of the figures that a run shows, beyond what sampling does."""

from collections.abc import Iterator

from radiosim.measure.figures import flat
from radiosim.measure.summary import Summary
from radiosim.registers.figure import LOW
from radiosim.registers.figure_register import figure_at

SHOWN = {
    "stream": (
        "update_rate_hz",
        "delivery_ratio",
        "latency_ms.median",
        "latency_ms.p99",
        "gap_ms.p99",
        "gap_ms.max",
        "duty_cycle",
        "charge_mah_per_hour",
    ),
    "output": (
        "update_rate_hz",
        "latency_ms.median",
        "latency_ms.p99",
        "age_ms.p99",
        "age_ms.max",
    ),
}
"""Figures of each stream and output that the tables of a run show."""
NOISE = {"p99": 0.1, "max": 0.25}
"""By how much of itself a figure of the worst start differs by sampling alone; any other by
`NOISE_ELSE`. Our own choice."""
NOISE_ELSE = 0.05


def worst_at(summary: Summary, path: str) -> float | None:
    """A figure in the worst start; None: there is none."""
    return _worst_of(summary, flat(summary.figures), path)


def _worst_of(summary: Summary, figures: dict[str, float], path: str) -> float | None:
    found = summary.worst.get(path)
    return figures.get(path) if found is None else found.value


def costs(before: Summary, after: Summary) -> Iterator[str]:
    """Paths of shown figures that are worse after a change than before it."""
    all_before, all_after = flat(before.figures), flat(after.figures)
    for path in shown_paths(before):
        was, now = _worst_of(before, all_before, path), _worst_of(after, all_after, path)
        at = figure_at(path)
        if was is None or at is None:
            continue
        noise = NOISE.get(path.rpartition(".")[2], NOISE_ELSE)
        if now is None:
            yield path
        elif at[0].worse == LOW:
            if now < was * (1 - noise):
                yield path
        elif now > was * (1 + noise):
            yield path


def shown_paths(summary: Summary) -> Iterator[str]:
    """Every one of them."""
    names = {"stream": tuple(summary.figures.stream), "output": tuple(summary.figures.output)}
    for table, leaves in SHOWN.items():
        for name in names[table]:
            for leaf in leaves:
                yield f"{table}.{name}.{leaf}"
