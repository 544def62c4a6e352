"""The order at one instant is that of rule T4 of model.md."""

from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.rules import slots


@given(st.integers(1, 40))
def test_no_two_things_share_a_slot(n: int) -> None:
    of_units = (
        slots.end_slot,
        slots.done_slot,
        slots.upload_slot,
        slots.sample_slot,
        slots.start_slot,
    )
    of_one = (
        slots.acknowledgement_end_slot,
        slots.read_slot,
        slots.step_slot,
        slots.acknowledgement_start_slot,
        slots.pass_slot,
    )

    taken = [slot(i, n) for slot in of_units for i in range(n)] + [slot(n) for slot in of_one]

    assert sorted(taken) == list(range(slots.slots(n)))


def test_the_slots_follow_the_rule() -> None:
    n = 2
    in_order = [
        slots.end_slot(0, n),
        slots.end_slot(1, n),
        slots.acknowledgement_end_slot(n),
        slots.read_slot(n),
        slots.done_slot(0, n),
        slots.done_slot(1, n),
        slots.step_slot(n),
        slots.upload_slot(0, n),
        slots.sample_slot(0, n),
        slots.upload_slot(1, n),
        slots.sample_slot(1, n),
        slots.acknowledgement_start_slot(n),
        slots.start_slot(0, n),
        slots.start_slot(1, n),
        slots.pass_slot(n),
    ]

    assert in_order == sorted(in_order)
