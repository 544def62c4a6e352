import pytest

from radiosim.errors import ScenarioError
from radiosim.scenario import parse
from radiosim.scenario.override import overridden
from tests.scenario.scenarios import FULL, SMALLEST


def refusal(*overrides: str) -> str:
    with pytest.raises(ScenarioError, match=r"\S") as caught:
        parse(FULL, overrides=overrides)
    return str(caught.value)


def test_a_number_is_set() -> None:
    scenario = parse(FULL, overrides=("transmitter.drive.period_ms=15",))

    assert scenario.transmitter["drive"].period_ms == 15


def test_a_bare_word_is_text() -> None:
    scenario = parse(SMALLEST, overrides=("radio.profile = gfsk-2M", "receiver.read=all"))

    assert scenario.radio.profile == "gfsk-2M"
    assert scenario.receiver.read == "all"


def test_an_address_needs_no_quotes() -> None:
    scenario = parse(FULL, overrides=("transmitter.drive.address=0A 17 33 5C 02",))

    assert scenario.transmitter["drive"].address == "0A 17 33 5C 02"


@pytest.mark.parametrize("key", ["fault.0.at_s", "fault[0].at_s"])
def test_an_element_is_set_by_its_index(key: str) -> None:
    assert parse(FULL, overrides=(f"{key}=7",)).fault[0].at_s == 7


def test_tables_on_the_way_are_made() -> None:
    scenario = parse(SMALLEST, overrides=("failsafe.head.timeout_ms=300", "air.loss=0.5"))

    assert scenario.failsafe["head"].timeout_ms == 300
    assert scenario.air.acknowledge_loss == 0.5


def test_the_index_after_the_last_makes_an_element() -> None:
    overrides = ("fault.0.at_s=3", "fault.0.kind=hang", "fault.0.unit=receiver")

    assert parse(SMALLEST, overrides=overrides).fault[0].kind == "hang"


def test_a_whole_table_is_set() -> None:
    scenario = parse(SMALLEST, overrides=("failsafe.head={ timeout_ms = 99 }",))

    assert scenario.failsafe["head"].timeout_ms == 99


def test_the_last_of_two_holds() -> None:
    assert parse(SMALLEST, overrides=("seed=2", "seed=0")).seed == 0


def test_an_override_is_no_longer_assumed() -> None:
    lines = parse(SMALLEST, overrides=("air.loss=0.1", "air.acknowledge_loss=0.1")).assumed

    assert not any(line.startswith("air:") for line in lines)


@pytest.mark.parametrize(
    ("override", "expected"),
    [
        ("", "--set: must be KEY=VALUE, got ''"),
        ("seed", "--set: must be KEY=VALUE, got 'seed'"),
        ("=1", "--set: must be KEY=VALUE, got '=1'"),
        ("a b=1", "--set: must be KEY=VALUE, got 'a b=1'"),
        ("seed=", '--set: seed: must have a value after "=", got nothing'),
        ("fault=[1", "--set: fault: must be a TOML value, got '[1'"),
        ("seed=1\nstarts=2", "--set: seed: must be one value, got '1\\nstarts=2'"),
        ("sed=1", "--set: sed: unknown key 'sed', did you mean 'seed'?"),
        ("seed=-1", "--set: seed: must be a whole number >= 0 and <= 9223372036854775807, got -1"),
        ("starts=12abc", "--set: starts: must be a whole number >= 1 and <= 1000000, got '12abc'"),
        (
            "fault.5.at_s=1",
            "--set: fault.5: must be an index from 0 to 1 (the last makes a new one), got 5",
        ),
        (
            "fault.x=1",
            "--set: fault.x: must be an index from 0 to 1 (the last makes a new one), got x",
        ),
        (
            'fault."²".at_s=1',
            '--set: fault."\\u00b2": must be an index from 0 to 1 (the last makes a new one), '
            'got "\\u00b2"',
        ),
        (
            f"fault.{'9' * 5000}.at_s=1",
            f"--set: fault.{'9' * 60}…: must be an index from 0 to 1 (the last makes a new one), "
            f"got {'9' * 60}…",
        ),
        ("seed.x=1", "--set: seed.x: must be inside a table, but seed is 1"),
        (
            "transmitter.drive.perid_ms=15",
            "--set: transmitter.drive.perid_ms: unknown key 'perid_ms', did you mean 'period_ms'?",
        ),
        (
            "failsafe.drve.timeout_ms=15",
            "--set: failsafe.drve: must be the name of a transmitter (drive), got 'drve', "
            "did you mean 'drive'?",
        ),
    ],
)
def test_an_override_that_cannot_be_used_is_refused_by_name(override: str, expected: str) -> None:
    assert refusal(override) == expected


def test_every_override_that_is_wrong_is_told() -> None:
    assert refusal("seed", "starts").count("\n") == 1


def test_a_value_nested_without_end_is_refused() -> None:
    assert "20 tables and lists" in refusal("title=" + "[" * 100 + "]" * 100)


def test_what_is_overridden_is_a_copy() -> None:
    document = {"air": {"loss": 0.1}, "fault": [{"at_s": 1.0}]}
    changed, _, problems = overridden(document, ["air.loss=0.2", "fault[0].at_s=2.0"])

    assert problems == ()
    assert changed == {"air": {"loss": 0.2}, "fault": [{"at_s": 2.0}]}
    assert document == {"air": {"loss": 0.1}, "fault": [{"at_s": 1.0}]}
