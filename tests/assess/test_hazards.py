"""Units that fail with nothing to end it are hazards wherever a drill leaves something driven."""

from itertools import product

import msgspec
import pytest
from hypothesis import given as given_any
from hypothesis import strategies as st

from radiosim.assess.hazards import hazards
from radiosim.engine.simulate import simulate
from radiosim.findings.failsafe_findings import drill
from radiosim.measure.start import tally_start
from radiosim.measure.summarise import summary_of
from radiosim.measure.summary import FaultFigures
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.scenario.danger import must_stop
from tests.assess.test_aftermath import LINK, parse
from tests.examples import examples

KEYS = (
    ("failsafe.drive.watch_field=n",),
    ("failsafe.drive.fed_by=any",),
    ("receiver.watchdog_ms=300",),
    ("receiver.recheck_ms=100", "transmitter.drive.recheck_ms=100"),
    ("failsafe={head={timeout_ms=90}}", "output.blade.on_failsafe=hold"),
)
SCENARIOS = tuple(
    tuple(key for keys, is_set in zip(KEYS, chosen, strict=True) if is_set for key in keys)
    for chosen in product((False, True), repeat=len(KEYS))
    # Without a timer there is none to feed.
    if not (chosen[4] and (chosen[0] or chosen[1]))
)


def drilled(given: Scenario, unit: str, kind: str) -> FaultFigures:
    """What one fault for good does in start 1, with nothing lost by chance."""
    scenario = changed(given, drill(given, unit, kind))
    return summary_of(scenario, [tally_start(simulate(scenario, start=1))]).figures.faults[0]


@pytest.mark.parametrize("keys", SCENARIOS, ids=lambda keys: ",".join(keys) or "as it is")
def test_a_hazard_is_told_where_a_drill_leaves_something_driven_or_lost(
    keys: tuple[str, ...],
) -> None:
    given = parse(LINK, overrides=(*keys, "air.loss=0", "duration_s=1"))
    found = hazards(summary_of(given, [tally_start(simulate(given, start=1))]), given)
    texts = [hazard.text for hazard in found]

    for units, kind, words in (
        (("drive", "head"), "stale", "freezes and repeats"),
        (("receiver",), "hang", "if the receiver's program hangs"),
    ):
        told = next((text for text in texts if words in text), "")
        driven = {
            name
            for unit in units
            for name, output in drilled(given, unit, kind).outputs.items()
            if name in must_stop(given) and output.left_driven_starts
        }
        named = {name for name in given.output if name in told.partition("nothing stops ")[2]}
        assert named <= driven
        others = " ".join(text for text in texts if "nothing stops" in text or "NO BOUND" in text)
        assert all(name in others for name in driven)
    lost = next((text for text in texts if text.startswith("if the radio of")), "")
    for unit in ("receiver", "drive", "head"):
        at = drilled(given, unit, "radio_reset")
        assert (unit in lost.partition(" loses ")[0]) == (at.recovered_ms is None)


@given_any(st.integers(0, 5000), st.integers(0, 5000))
@examples(60)
def test_most_attempts_found_the_fifo_full_where_it_was_more_than_half(
    full: int, rest: int
) -> None:
    link = parse(LINK, overrides=("air.loss=0", "duration_s=1"))
    run = summary_of(link, [tally_start(simulate(link, start=1))])
    counts = {"attempts": full + rest, "fifo_dropped": full, "read": 0, "delivery_ratio": 0.0}
    drive = msgspec.structs.replace(run.figures.stream["drive"], **counts)
    streams = {**run.figures.stream, "drive": drive}
    figures = msgspec.structs.replace(run.figures, stream=streams)
    told = hazards(msgspec.structs.replace(run, figures=figures), link)

    says_most = any("most attempts found" in hazard.text for hazard in told)
    assert says_most <= (full > rest)
