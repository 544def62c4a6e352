"""A draw of one transmitter never moves another's (rule T3)."""

import msgspec
from hypothesis import assume, given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.engine.rules.reception import draws
from radiosim.engine.rules.timing import TIMER, dither_of, jitter_of
from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario
from tests.engines.random_scenarios import scenarios
from tests.examples import examples

ATTEMPTS = [(frame, attempt) for frame in range(12) for attempt in (1, 2, 3)]


def without(given: Scenario, gone: str) -> Scenario:
    """The scenario with one transmitter taken out, and all that hangs on it."""
    return msgspec.structs.replace(
        given,
        transmitter={name: unit for name, unit in given.transmitter.items() if name != gone},
        failsafe={name: f for name, f in given.failsafe.items() if name != gone},
        output={name: o for name, o in given.output.items() if o.stream != gone},
        fault=tuple(fault for fault in given.fault if fault.unit != gone),
    )


@given(scenarios, st.data())
@examples(60)
def test_a_transmitter_less_leaves_the_draws_of_the_others(
    given: Scenario, data: st.DataObject
) -> None:
    assume(len(given.transmitter) > 1)
    # Mostly not the last, so that the others move up in the file.
    gone = data.draw(st.sampled_from(list(given.transmitter)))
    whole, less = make_plan(given, 1), make_plan(without(given, gone), 1)

    units = dict(zip(whole.streams, whole.tx, strict=True))
    for name, after in zip(less.streams, less.tx, strict=True):
        before = units[name]
        assert (after.offset_ns, after.ppb, after.work) == (
            before.offset_ns,
            before.ppb,
            before.work,
        )
        assert [draws(after, *at) for at in ATTEMPTS] == [draws(before, *at) for at in ATTEMPTS]
        assert [jitter_of(after, frame) for frame, _ in ATTEMPTS] == [
            jitter_of(before, frame) for frame, _ in ATTEMPTS
        ]
        assert [dither_of(after, *at) for at in ATTEMPTS] == [
            dither_of(before, *at) for at in ATTEMPTS
        ]
    assert less.rx == whole.rx


@given(scenarios, st.integers(1, 9))
@examples(60)
def test_changing_a_transmitter_leaves_when_another_samples(given: Scenario, slower: int) -> None:
    names = list(given.transmitter)
    assume(len(names) > 1 and make_plan(given, 1).tx[0].pacing == TIMER)
    last = given.transmitter[names[-1]]
    changed = msgspec.structs.replace(
        given,
        transmitter=given.transmitter
        | {names[-1]: msgspec.structs.replace(last, jitter_ms=0.1 * slower, offset_ms=slower)},
    )

    def sampled(of: Scenario) -> list[int]:
        # Whether a start is made for a pair to meet hangs on both: in start 0, but not in start 1.
        frames = simulate(of, start=1).frames
        # A frame that was kept for another slot has a row for each.
        return sorted(set(frames["sampled_ns"][frames["stream"] == 0].tolist()))

    assert sampled(changed) == sampled(given)
