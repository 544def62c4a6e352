"""Rule T4 as numbers."""

from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine import order


@given(st.integers(1, 40))
def test_no_two_things_share_a_slot(n: int) -> None:
    of_units = (
        order.end_slot,
        order.done_slot,
        order.upload_slot,
        order.sample_slot,
        order.start_slot,
    )
    of_one = (
        order.acknowledgement_end_slot,
        order.read_slot,
        order.step_slot,
        order.acknowledgement_start_slot,
        order.pass_slot,
    )

    taken = [slot(i, n) for slot in of_units for i in range(n)] + [slot(n) for slot in of_one]

    assert sorted(taken) == list(range(order.slots(n)))


def test_the_slots_follow_the_rule() -> None:
    n = 2
    in_order = [
        order.end_slot(0, n),
        order.end_slot(1, n),
        order.acknowledgement_end_slot(n),
        order.read_slot(n),
        order.done_slot(0, n),
        order.done_slot(1, n),
        order.step_slot(n),
        order.upload_slot(0, n),
        order.sample_slot(0, n),
        order.upload_slot(1, n),
        order.sample_slot(1, n),
        order.acknowledgement_start_slot(n),
        order.start_slot(0, n),
        order.start_slot(1, n),
        order.pass_slot(n),
    ]

    assert in_order == sorted(in_order)
