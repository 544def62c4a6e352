"""Links at random that a tuning is tried on: short starts, few settings."""

from typing import Any

from hypothesis import strategies as st

from radiosim.errors import ScenarioError
from radiosim.scenario import Scenario, parse
from tests.engines.random_scenarios import toml_of

NAMES = ("drive", "head", "arm")
_FAULTS = ("out_of_range", "power_off", "hang")


@st.composite
def units(draw: st.DrawFn, number: int) -> dict[str, Any]:
    """One transmitter of a link whose frames are acknowledged."""
    return {
        "boot_s": 0,
        "period_ms": draw(st.sampled_from([8, 13, 20, 20, 27, 40])),
        "payload_bytes": draw(st.sampled_from([4, 12, 24])),
        "jitter_ms": draw(st.sampled_from([0.0, 0.5])),
        "retry_delay_us": draw(st.sampled_from([1250, 1750, 2500])) + 250 * number,
        "retry_limit": draw(st.sampled_from([0, 2, 5])),
    }


@st.composite
def requirements(draw: st.DrawFn, names: tuple[str, ...]) -> list[dict[str, Any]]:
    """What is asked of some streams: how often, or only how late, how surely, how briefly."""
    found = []
    for name in names:
        figure, key, limits = draw(
            st.sampled_from(
                [
                    ("", "", [0.0]),
                    ("", "", [0.0]),
                    ("gap_ms.max", "at_most", [60.0, 150.0]),
                    ("age_ms.p99", "at_most", [30.0, 90.0]),
                    ("delivery_ratio", "at_least", [0.8, 0.99]),
                    ("latency_ms.p99", "at_most", [4.0, 20.0]),
                    ("duty_cycle", "at_most", [0.01, 0.1]),
                ]
            )
        )
        if figure:
            limit = draw(st.sampled_from(limits))
            found.append({"figure": f"stream.{name}.{figure}", key: limit})
    return found


@st.composite
def links(draw: st.DrawFn) -> Scenario:
    """One to three transmitters on an air that loses a little, with a fault now and then."""
    names = NAMES[: draw(st.sampled_from([1, 2, 2, 3]))]
    document: dict[str, Any] = {
        "duration_s": draw(st.sampled_from([1.0, 2.0])),
        "starts": draw(st.sampled_from([1, 2, 3])),
        "seed": draw(st.integers(0, 9)),
        "radio": {"profile": draw(st.sampled_from(["gfsk-250k", "gfsk-1M"]))},
        "air": {"loss": draw(st.sampled_from([0.0, 0.02, 0.2]))},
        "receiver": {
            "boot_s": 0,
            "loop_ms": draw(st.sampled_from([1.0, 6.0])),
            "read": draw(st.sampled_from(["one", "all"])),
        },
        "transmitter": {name: draw(units(number)) for number, name in enumerate(names)},
    }
    if draw(st.booleans()):
        document["failsafe"] = {names[0]: {"timeout_ms": draw(st.sampled_from([60, 250]))}}
    asked = draw(requirements(names))
    if asked:
        document["requirement"] = asked
    if draw(st.integers(0, 3)) == 0:
        fault = {"at_s": 0.6, "kind": draw(st.sampled_from(_FAULTS)), "unit": names[-1]}
        document["fault"] = [fault | {"for_s": 0.2}]
    try:
        return parse(toml_of(document))
    except ScenarioError as error:
        raise AssertionError(toml_of(document)) from error


@st.composite
def varied_links(draw: st.DrawFn) -> tuple[Scenario, tuple[str, ...]]:
    """A link, and one to three keys of it with values to try, words among them."""
    link = draw(links())
    choices = []
    for name in link.transmitter:
        choices += [
            (f"transmitter.{name}.period_ms", ["9,16", "11,23,47", "20,30"]),
            (f"transmitter.{name}.retry_delay_us", ["1500,3000", "1250,2250"]),
            (f"transmitter.{name}.retry_limit", ["0,3", "1,2,5"]),
        ]
    choices += [("receiver.read", ["one,all", "newest,all"]), ("receiver.loop_ms", ["1,4"])]
    keys = draw(st.lists(st.sampled_from(choices), min_size=1, max_size=3, unique_by=str))
    return link, tuple(f"{key}={draw(st.sampled_from(values))}" for key, values in keys)
