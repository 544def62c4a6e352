"""Numbers of a trace have names, and the names are those of the loops that write them."""

from enum import IntEnum

import pytest

from radiosim import trace
from radiosim.trace import AcknowledgementFate, Fate, Outcome, ReadOutcome

NUMBERS = {
    Fate: "NEW DUPLICATE FULL OFF OUT_OF_RANGE DEAF COLLISION CHANCE CUT",
    AcknowledgementFate: "TAKEN ACK_COLLISION ACK_CHANCE ACK_CUT UNHEARD ACK_FAINT",
    Outcome: "ACKNOWLEDGED SENT RETRIES_USED_UP KEPT SKIPPED REPLACED QUEUE_FULL POWER_CUT "
    "UNDER_WAY",
    ReadOutcome: "READ THROWN_AWAY LOST WAITING",
}


@pytest.mark.parametrize("names", NUMBERS, ids=lambda names: names.__name__)
def test_each_name_stands_for_the_number_in_the_arrays(names: type[IntEnum]) -> None:
    numbers = [getattr(trace, name) for name in NUMBERS[names].split()]

    assert numbers == list(names) == list(range(len(names)))
    # Compiled loops take plain numbers.
    assert all(type(number) is int for number in numbers)


def test_a_name_is_said_in_words() -> None:
    assert Fate(4).words == "out of range"
    assert Outcome.RETRIES_USED_UP.words == "retries used up"
