"""How each transmitter of a scenario tries again, in a line."""

from radiosim.radio.retry_delay import with_step
from radiosim.scenario.structs.scenario import Scenario


def retries(scenario: Scenario) -> tuple[tuple[str, str], ...]:
    """(stream, how often and after what delay it tries again) of every transmitter."""
    return tuple(
        (name, _of(unit.retry_limit, unit.retry_delay_us) if unit.acknowledge is True else "none")
        for name, unit in scenario.transmitter.items()
    )


def _of(limit: int, delay_us: float) -> str:
    if not limit:
        return "none"
    return f"{limit}, {with_step(delay_us)} after {'each' if limit > 1 else 'the first'} attempt"
