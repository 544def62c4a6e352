"""Short frames padded to a fixed length (rule B7)."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.suspect import Suspect


def suspects(case: Case) -> Iterator[Suspect]:
    """A link with a fixed length that all frames fall short of."""
    scenario = case.scenario
    length = scenario.radio.payload_length
    if length == "own":
        return
    sizes = {name: scenario.layout_of(name).size_bytes for name in scenario.transmitter}
    name = min(sizes, key=lambda stream: sizes[stream])
    yield Suspect(
        what=f"every frame is padded to {length} bytes, and is on the air for longer than its "
        "values need",
        where="radio.payload_length",
        why=f"{name} has {sizes[name]} bytes to say",
        figure=f"stream.{name}.duty_cycle",
        removed=("radio.payload_length=own",),
        cures=(
            ("radio.payload_length=own",),
            (f"radio.payload_length={max(sizes.values())}",),
        ),
        advice="set the length on all radios alike",
        measure="watch the supply current of the transmitter: its peaks are as long as the frames",
    )
