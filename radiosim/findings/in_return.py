"""What cures make worse and is not fine: harm to a stream, or what a stream pays for its cure."""

from collections.abc import Iterator

from radiosim.findings.costs import costs, worst_at
from radiosim.findings.rules import (
    FELL,
    FINE_PERIODS,
    FINE_READ,
    GREW,
    is_fine,
    limit_of_ms,
    sampling_ms,
)
from radiosim.measure.summary import Summary
from radiosim.scenario import Scenario

SPENT = ("duty_cycle", "charge_mah_per_hour")
"""Figures of what a stream spends: no stream is worse off with more."""


def in_return(
    scenario: Scenario, cured: Scenario, before: Summary, after: Summary
) -> Iterator[str]:
    """Paths of shown figures that are worse after cures, and no longer fine; not of what is
    spent."""
    for path in costs(before, after):
        if not path.endswith(SPENT) and not _is_fine(scenario, cured, after, path):
            yield path


def harmed(scenario: Scenario, cured: Scenario, before: Summary, after: Summary) -> Iterator[str]:
    """Those of streams that gain nothing in return."""
    for path in in_return(scenario, cured, before, after):
        if not _gains(before, after, _stream_of(scenario, path)):
            yield path


def _stream_of(scenario: Scenario, path: str) -> str:
    of, name, _ = path.split(".", 2)
    return name if of == "stream" else scenario.output[name].stream


def _is_fine(scenario: Scenario, cured: Scenario, after: Summary, path: str) -> bool:
    """Whether nothing is wrong with a shown figure of the worst start, by its requirement or by
    the rules."""
    value = worst_at(after, path)
    if value is None or any(asked.figure == path for asked in scenario.requirement):
        return is_fine(scenario, after, path, value)
    of, _, leaf = path.split(".", 2)
    stream = _stream_of(scenario, path)
    if leaf == "delivery_ratio":
        return value >= FINE_READ
    own_ms, cured_ms = (sampling_ms(one, after, stream) for one in (scenario, cured))
    if leaf == "update_rate_hz":
        return value * FINE_PERIODS * own_ms >= 1000
    limit_ms = limit_of_ms(scenario, after, stream)
    if leaf.startswith("age_ms"):
        return value <= limit_ms
    if of == "stream" and leaf.startswith("latency_ms"):
        return value <= FINE_PERIODS * max(own_ms, cured_ms)
    return value <= limit_ms / 2


def _gains(before: Summary, after: Summary, stream: str) -> bool:
    """Whether a stream's longest gap is shorter, more of it is read or its timer trips less,
    beyond what sampling does."""
    was, now = before.figures.stream[stream], after.figures.stream[stream]
    if was.gap_ms.max > GREW * now.gap_ms.max:
        return True
    if was.failsafe and now.failsafe and now.failsafe.nuisance_trips < was.failsafe.nuisance_trips:
        return True
    return now.read / max(1, now.sampled) > was.read / max(1, was.sampled) + FELL
