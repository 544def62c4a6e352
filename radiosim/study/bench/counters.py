"""Which field of each stream's frames counts, and what to add to those that have none."""

from collections.abc import Iterator

from radiosim.scenario import Scenario
from radiosim.study.frame_counter import counter_lines, how_to_count


def counters_text(scenario: Scenario) -> str:
    """The counters that frames have, and for each stream that has none the lines to add one."""
    return " ".join(_sentences(scenario))


def _sentences(scenario: Scenario) -> Iterator[str]:
    found = {stream: counter_lines(scenario, stream) for stream in scenario.transmitter}
    has = [f"{name} of {stream}" for stream, (lines, name) in found.items() if name and not lines]
    if has:
        yield f"Counters: {', '.join(has)}."
    for stream, (lines, field) in found.items():
        if lines:
            yield (
                f"{stream} has no counter: add one with the lines for {stream} below, let its "
                "firmware send one more in each frame, and make this sheet again with them."
            )
        elif not field:
            yield f"{stream} has no counter: {how_to_count(scenario, stream)}."


def counter_settings(scenario: Scenario) -> tuple[str, ...]:
    """The lines that give every stream a counter that has none, and room for one."""
    found = (counter_lines(scenario, stream)[0] for stream in scenario.transmitter)
    return tuple(dict.fromkeys(line for lines in found for line in lines))
