"""Idle passes by arithmetic, against one pass after the other."""

from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.engine.plan_rows import Rx, Work
from radiosim.engine.rules.grid import grid_point
from radiosim.engine.rules.passes import interrupts_off_due, pass_from, pass_length, work_due
from tests.traces import scenario_with

RX = make_plan(scenario_with(), 0).rx
PASS_NS = 10

works = st.builds(
    Work,
    offset_ns=st.integers(0, 60),
    every_ns=st.integers(15, 90),
    takes_ns=st.integers(1, 14),
    interrupts_off=st.integers(0, 1),
)
receivers = st.builds(
    lambda spans, ppb: RX._replace(pass_ns=PASS_NS, ppb=ppb, works=len(spans), work=tuple(spans)),
    st.lists(works, max_size=2),
    st.sampled_from([0, 0, 40_000_000, -100_000_000]),
)


def due(work: Work, ppb: int, base_ns: int, after_ns: int, until_ns: int) -> bool:
    """Whether a work falls due in (after, until], point by point."""
    points = (base_ns + work.offset_ns + grid_point(k, work.every_ns, ppb) for k in range(200))
    return any(after_ns < point <= until_ns for point in points)


def passes(rx: Rx, base_ns: int, count: int) -> list[int]:
    """Starts of idle passes from a program's start, one after the other."""
    previous_ns, next_ns, starts = base_ns - 1, base_ns, []
    for _ in range(count):
        starts.append(next_ns)
        takes = (w.takes_ns for w in rx.work if due(w, rx.ppb, base_ns, previous_ns, next_ns))
        previous_ns, next_ns = next_ns, next_ns + rx.pass_ns + sum(takes)
    return starts


@given(receivers, st.integers(0, 1_000), st.integers(0, 800))
def test_a_jump_lands_where_single_passes_do(rx: Rx, base_ns: int, wait_ns: int) -> None:
    starts = [base_ns - 1, *passes(rx, base_ns, 100)]
    at_ns = base_ns + wait_ns
    index = next(i for i, start in enumerate(starts) if start >= at_ns)

    before_ns, previous_ns, next_ns = pass_from(rx, base_ns, base_ns - 1, base_ns, at_ns)

    assert (previous_ns, next_ns) == (starts[index - 1], starts[index])
    if index >= 2:
        assert before_ns == starts[index - 2]


@given(receivers, st.integers(0, 400), st.integers(0, 400))
def test_two_jumps_are_one(rx: Rx, first_ns: int, second_ns: int) -> None:
    at_ns = first_ns + second_ns
    _, previous_ns, next_ns = pass_from(rx, 0, -1, 0, first_ns)

    assert pass_from(rx, 0, previous_ns, next_ns, at_ns)[1:] == pass_from(rx, 0, -1, 0, at_ns)[1:]


def test_a_pass_that_is_not_over_stays() -> None:
    assert pass_from(RX, 0, 0, 1_000_000, 1_000_000)[1:] == (0, 1_000_000)


def test_work_due_as_the_program_starts_is_done_in_the_first_pass() -> None:
    rx = RX._replace(pass_ns=10, works=1, work=(Work(0, 100, 7, 0),))

    assert pass_length(rx, 50, 49, 50, 0) == 17
    assert pass_length(rx, 50, 50, 67, 0) == 10


def test_work_that_fell_due_twice_is_done_once() -> None:
    rx = RX._replace(pass_ns=10, works=1, work=(Work(0, 20, 7, 0),))

    assert work_due(rx, 0, 5, 95) == 7


def test_reads_stretch_their_pass() -> None:
    assert pass_length(RX, 0, 0, 1_000_000, 28_000) == 1_028_000


def test_only_work_that_says_so_holds_interrupts_off() -> None:
    rx = RX._replace(works=2, work=(Work(0, 20, 7, 0), Work(0, 20, 3, 1)))

    assert work_due(rx, 0, -1, 0) == 10
    assert interrupts_off_due(rx, 0, -1, 0) == 3
