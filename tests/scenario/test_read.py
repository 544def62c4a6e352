import json
import re
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.errors import Problem, ScenarioError
from radiosim.radio.profiles import PROFILES
from radiosim.scenario import Scenario, load, parse
from radiosim.scenario.read import LARGEST_SCENARIO_BYTES
from tests.examples import examples
from tests.scenario.scenarios import FULL, HERE, SMALLEST


def refusal(text: str) -> str:
    with pytest.raises(ScenarioError, match=r"\S") as caught:
        parse(text)
    return str(caught.value)


def outcome(text: str, *overrides: str) -> str:
    """The scenario as JSON, or why there is none; anything else is raised."""
    try:
        scenario = parse(text, overrides=overrides)
    except ScenarioError as error:
        return str(error)
    written = msgspec.json.encode(scenario)
    assert msgspec.json.decode(written, type=Scenario) == scenario
    assert all(unit.layout in scenario.layouts() for unit in scenario.transmitter.values())
    return written.decode()


def test_the_smallest_scenario_runs_on_defaults() -> None:
    scenario = load(HERE / "good" / "smallest.toml")

    assert scenario.name == "smallest"
    assert (scenario.duration_s, scenario.starts, scenario.seed) == (600.0, 40, 1)
    assert list(scenario.transmitter) == ["drive", "head"]
    assert scenario.profile() == PROFILES["gfsk-1M"]


def test_the_full_scenario_is_taken_as_it_stands() -> None:
    scenario = load(HERE / "good" / "full.toml")

    drive = scenario.transmitter["drive"]
    assert (drive.pipe, drive.address) == (1, "C3 A1 5E 7B 01")
    assert drive.address_octets == bytes.fromhex("C3A15E7B01")
    assert scenario.layout_of("drive").size_bytes == 5
    assert scenario.output["left_track"].mix == {"throttle": 1.0, "steer": -0.5}
    assert scenario.fault[0].for_s == 5.0
    assert scenario.warnings == ()


def test_a_figure_of_the_profile_can_be_overridden() -> None:
    scenario = parse(SMALLEST.replace("radio.profile", "radio.settle_us = 200\nradio.profile"))

    assert scenario.profile().settle_us == 200
    assert scenario.profile().interrupt_us == PROFILES["gfsk-1M"].interrupt_us


@pytest.mark.parametrize("text", [SMALLEST, FULL], ids=["smallest", "full"])
def test_a_scenario_survives_json(text: str) -> None:
    scenario = parse(text)

    assert msgspec.json.decode(msgspec.json.encode(scenario), type=Scenario) == scenario


def test_problems_are_sorted_by_line() -> None:
    with pytest.raises(ScenarioError, match="five") as caught:
        load(HERE / "bad" / "five_mistakes.toml")

    lines = [problem.line for problem in caught.value.problems]
    assert lines == sorted(lines)
    assert len(lines) == 5


def test_a_problem_tells_file_line_path_and_text() -> None:
    with pytest.raises(ScenarioError, match="period_ms") as caught:
        parse("radio.profile = 'gfsk-1M'\n[transmitter.a]\nperiod_ms = -5\npayload_bytes = 1\n")

    assert caught.value.problems == (
        Problem(
            file="scenario.toml",
            line=3,
            path="transmitter.a.period_ms",
            text="must be a number >= 0.001 and <= 100000000, got -5",
        ),
    )


def test_what_follows_from_a_mistake_is_not_blamed() -> None:
    misspelt = SMALLEST.replace("transmitter.", "transmiter.")

    assert refusal(misspelt) == (
        "scenario.toml:2: transmiter: unknown key 'transmiter', did you mean 'transmitter'?"
    )


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    path = tmp_path / "none.toml"

    with pytest.raises(
        ScenarioError, match=re.escape(f"{path}: must be a scenario file, got a path")
    ):
        load(path)


def test_a_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError, match="must be a scenario file, got a folder"):
        load(tmp_path)


def test_a_path_that_no_system_takes_is_told() -> None:
    with pytest.raises(ScenarioError, match="cannot be read"):
        load("a\0b")


def test_a_large_file_is_refused_by_its_size(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    with path.open("wb") as stream:
        stream.truncate(LARGEST_SCENARIO_BYTES + 1)

    with pytest.raises(ScenarioError, match="must be at most 1,000,000 bytes, got 1,000,001"):
        load(path)


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="there is no endless device")
def test_what_has_no_end_is_read_no_further_than_a_scenario_may_be() -> None:
    with pytest.raises(ScenarioError, match=r"^zero: must be at most 1,000,000 bytes, got more$"):
        load(Path("/dev/zero"))


def test_a_text_that_is_not_utf_8_is_told_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "latin.toml"
    path.write_bytes(b"seed = 1\ntitle = 'caf\xe9'\n")

    with pytest.raises(ScenarioError, match=r"latin\.toml:2: must be UTF-8 text, got byte 0xE9"):
        load(path)


def test_a_byte_order_mark_is_no_mistake(tmp_path: Path) -> None:
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SMALLEST.encode())

    assert load(path).name == "marked"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("seed = ", "scenario.toml:1: is not TOML: Invalid value"),
        ("seed = 1\n[radio\n", "scenario.toml:2: is not TOML: Expected ']' at the end of a table"),
        ('title = """\n\n', "scenario.toml:1: is not TOML: Unterminated string"),
        ("seed = " + "9" * 5000, "scenario.toml: must have numbers short enough to be read"),
        ("x = " + "[" * 5000 + "]" * 5000, "scenario.toml: must be at most 20 tables and lists"),
        ("x" + ".x" * 5000 + " = 1", "scenario.toml:1: must have keys of at most 50 parts"),
    ],
)
def test_what_the_parser_refuses_stands_alone(text: str, expected: str) -> None:
    message = refusal(text)

    assert message.startswith(expected)
    assert "\n" not in message


def test_a_whole_number_of_many_digits_is_judged_not_printed() -> None:
    message = refusal(f"seed = {'9' * 4000}\n{SMALLEST}")

    assert "got a number of more than 64 bits" in message


_pieces = sorted(set(re.findall(r'\w+|"[^"\n]*"|[^\w\s]', FULL)))
_ends = st.integers(0, len(FULL))


@given(_ends, st.integers(0, 40), st.sampled_from([*_pieces, "", "\n", "nan", "-1", "[[x]]", "é"]))
@examples(250)
def test_no_damage_to_a_scenario_gives_anything_but_a_refusal(at: int, cut: int, put: str) -> None:
    text = FULL[:at] + put + FULL[at + cut :]

    assert outcome(text).startswith(("scenario.toml", "{"))


_leaves = st.one_of(
    st.none().map(lambda _: "{}"),
    st.sampled_from(["true", "[]", "[1]", "[[1]]", "[{}]", "1979-05-27", "inf", "nan", '""']),
    st.integers(-(2**70), 2**70).map(str),
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
    st.text(max_size=5).map(json.dumps),
)
_keys = (
    *re.findall(r"^(\w+) = ", FULL, re.MULTILINE),
    *("radio", "transmitter.drive.period_ms", "transmitter.drive.signals.throttle.amplitude"),
    *("output.left_track.servo.travel_deg", "fault.0.at_s", "requirement[0].at_most", "layout"),
    *("layout.drive_v1.fields[1].scale", "transmitter.drive.work", "receiver.deaf", "air.loss"),
    *("output.left_track.pulse_us", "output.left_track.mix", "failsafe.drive", "transmitter.x"),
)


@given(st.sampled_from(_keys), _leaves)
@examples(250)
def test_no_value_of_any_key_gives_anything_but_a_refusal(key: str, value: str) -> None:
    assert outcome(FULL, f"{key}={value}").startswith(("scenario.toml", "--set", "{"))
