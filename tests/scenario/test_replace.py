"""A scenario with other values is the scenario that its file would have made with them."""

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import radiosim
from radiosim.errors import ScenarioError
from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.shipped import ShippedScenario, shipped_scenarios
from tests.examples import examples
from tests.scenario.scenarios import SMALLEST

TWIN = load("twin-clocks")


def _without_words(scenario: Scenario) -> Scenario:
    return msgspec.structs.replace(scenario, assumed=(), given=())


def refusal(scenario: Scenario, **values: object) -> str:
    with pytest.raises(ScenarioError) as caught:
        scenario.replace(**values)
    return str(caught.value)


@pytest.mark.parametrize(
    ("key", "value", "override"),
    [
        ("transmitter.head.period_ms", 23, "23"),
        ("starts", 3, "3"),
        ("air.acknowledge_loss", 0.25, "0.25"),
        ("radio.bit_rate", 2_000_000, "2_000_000"),
        ("transmitter.drive.retry_limit", np.int64(2), "2"),
        ("radio.crc_bytes", 1, "1"),
        ("requirement[0].at_least", 0.5, "0.5"),
        ("failsafe.drive", {"timeout_ms": 300}, "{timeout_ms=300}"),
    ],
)
def test_a_replaced_value_is_what_an_override_of_the_file_makes(
    key: str, value: object, override: str
) -> None:
    overridden = load("twin-clocks", [f"{key}={override}"])
    other = TWIN.replace(**{key: value})

    assert _without_words(other) == _without_words(overridden)
    assert set(other.assumed) <= set(overridden.assumed)


@examples(20)
@given(period_ms=st.floats(2, 500), starts=st.integers(1, 100))
def test_the_scenario_itself_stays_as_it_is(period_ms: float, starts: int) -> None:
    before = msgspec.json.encode(TWIN)
    other = TWIN.replace(**{"transmitter.head.period_ms": period_ms}, starts=starts)

    assert other.transmitter["head"].period_ms == period_ms
    assert other.starts == starts
    assert other.transmitter["drive"] == TWIN.transmitter["drive"]
    assert msgspec.json.encode(TWIN) == before


def test_what_is_set_is_no_longer_assumed() -> None:
    scenario = parse(SMALLEST)
    jitters = {f"transmitter.{name}.jitter_ms": 1 for name in scenario.transmitter}
    other = scenario.replace(**jitters)

    assert set(scenario.assumed) - set(other.assumed) == {"drive, head: no jitter"}
    assert set(other.assumed) <= set(scenario.assumed)
    assert scenario.replace(title="another").assumed == scenario.assumed


@pytest.mark.parametrize("given", shipped_scenarios(), ids=lambda given: given.name)
def test_another_title_leaves_all_that_was_assumed(given: ShippedScenario) -> None:
    scenario = load(given.path)

    assert scenario.replace(title="another").assumed == scenario.assumed


def test_a_part_of_a_line_may_stay_assumed() -> None:
    line = next(line for line in TWIN.assumed if "jitter" in line)
    other = TWIN.replace(**{"transmitter.drive.jitter_ms": 1})

    assert line == "drive, head: no jitter"
    assert "head: no jitter" in other.assumed
    assert line not in other.assumed


def test_an_unknown_key_is_refused_with_the_nearest() -> None:
    assert refusal(TWIN, **{"transmitter.head.perod_ms": 3}) == (
        "replace: transmitter.head.perod_ms: unknown key 'perod_ms', did you mean 'period_ms'?"
    )


@pytest.mark.parametrize("value", [None, object(), {1: 2}, [b"x"], float("nan")])
def test_what_no_file_could_say_is_refused(value: object) -> None:
    assert refusal(TWIN, **{"transmitter.head.period_ms": value}).startswith(
        "replace: transmitter.head.period_ms: must be "
    )


def test_every_problem_is_told_at_once() -> None:
    text = refusal(TWIN, starts=0, **{"air.loss": 2, "x y": 1})

    assert text.count("\n") == 0
    assert "must be a key path, got 'x y'" in text
    assert refusal(TWIN, starts=0, **{"air.loss": 2}).count("\n") == 1


def test_more_than_a_day_of_work_is_refused() -> None:
    assert refusal(TWIN, duration_s=1e9, starts=1_000_000).startswith("replace: duration_s: must")


def test_a_name_of_a_shipped_scenario_loads_it() -> None:
    assert radiosim.load("twin-clocks").name == "twin-clocks"


def test_an_unknown_name_is_told_with_the_nearest() -> None:
    with pytest.raises(ScenarioError, match="did you mean twin-clocks"):
        radiosim.load("twin-clock")
