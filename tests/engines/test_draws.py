"""A draw of one transmitter never moves another's (rule T3)."""

import msgspec
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.engine.rules.reception import losses
from radiosim.engine.rules.sampling import TIMER
from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario
from tests.engines.random_scenes import scenes

ATTEMPTS = [(frame, attempt) for frame in range(12) for attempt in (1, 2, 3)]


def without_last(scene: Scenario) -> Scenario:
    """The scene with its last transmitter taken out, and all that hangs on it."""
    *kept, gone = scene.transmitter
    return msgspec.structs.replace(
        scene,
        transmitter={name: scene.transmitter[name] for name in kept},
        failsafe={name: f for name, f in scene.failsafe.items() if name != gone},
        output={name: o for name, o in scene.output.items() if o.stream != gone},
        fault=tuple(fault for fault in scene.fault if fault.unit != gone),
    )


@given(scenes)
@settings(max_examples=60)
def test_a_transmitter_less_leaves_the_draws_of_the_others(scene: Scenario) -> None:
    assume(len(scene.transmitter) > 1)
    whole, less = make_plan(scene, 1), make_plan(without_last(scene), 1)

    for before, after in zip(whole.tx, less.tx, strict=False):
        assert (after.offset_ns, after.ppb, after.work) == (
            before.offset_ns,
            before.ppb,
            before.work,
        )
        assert [losses(after, *at) for at in ATTEMPTS] == [losses(before, *at) for at in ATTEMPTS]
    assert less.rx == whole.rx


@given(scenes, st.integers(1, 9))
@settings(max_examples=60)
def test_changing_a_transmitter_leaves_when_another_samples(scene: Scenario, slower: int) -> None:
    names = list(scene.transmitter)
    assume(len(names) > 1 and make_plan(scene, 0).tx[0].pacing == TIMER)
    last = scene.transmitter[names[-1]]
    changed = msgspec.structs.replace(
        scene,
        transmitter=scene.transmitter
        | {names[-1]: msgspec.structs.replace(last, jitter_ms=0.1 * slower, offset_ms=slower)},
    )

    def sampled(of: Scenario) -> list[int]:
        frames = simulate(of).frames
        # A frame that was kept for another slot has a row for each.
        return sorted(set(frames["sampled_ns"][frames["stream"] == 0].tolist()))

    assert sampled(changed) == sampled(scene)
