from itertools import combinations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from radiosim.errors import ScenarioError
from radiosim.scenario import parse
from radiosim.scenario.checks.link_checks import poor_pattern
from radiosim.scenario.structs.output_table import Preset
from radiosim.signals import Constant, Counter
from tests.examples import examples
from tests.scenario.scenarios import FULL, SMALLEST

AS_PUBLISHED = "radio: as its data sheet says (not a clone), awake between frames"
HEAD = 'radio.profile = "gfsk-1M"\n'
UNIT = "transmitter.{name} = {{ period_ms = 20, payload_bytes = 4{more} }}\n"


def units(*names: str, more: str = "") -> str:
    return HEAD + "".join(UNIT.format(name=name, more=more) for name in names)


def test_the_smallest_scenario_says_what_it_assumed() -> None:
    assert parse(SMALLEST).assumed == (
        "run: 40 starts, 600 s each, seed 1",
        "radio: channel 68 (2468 MHz), 5-byte addresses, 2-byte CRC",
        AS_PUBLISHED,
        "drive, head: every frame is acknowledged",
        "drive, head: 3 retries, 500 us (step 1) apart (equal delays: pessimistic)",
        "drive: pipe 1, address B4 69 D2 3C C5",
        "head: pipe 2, address B4 69 D2 3C 1A",
        "drive, head, receiver: crystal clock, error drawn for each start, no drift",
        "drive, head: phase drawn for each start",
        "drive, head: no jitter",
        "drive: 6 bytes that do not change between frames (pessimistic)",
        "head: 4 bytes that do not change between frames (pessimistic)",
        "air: loses 2 % of all attempts by chance",
        "air: loses 2 % of all acknowledgements by chance",
        "receiver: passes of 1 ms, one frame read in each pass",
        "receiver: frames unpacked in no time, timeouts counted without steps",
        "drive, head, receiver: 1 s to boot when switched on or reset",
        "drive: drives output.drive, a 50 Hz servo, 1500 us on failsafe",
        "head: drives output.head, a 50 Hz servo",
        "head: NO FAILSAFE: its outputs keep their last value for good",
    )


def test_an_assumption_fits_a_terminal() -> None:
    assert max(map(len, parse(SMALLEST).assumed)) <= 76


def test_what_the_file_says_is_not_assumed() -> None:
    assert parse(FULL).assumed == (AS_PUBLISHED, "drive: lamp at rest all the time")


@given(st.dictionaries(st.sampled_from(["a", "b", "receiver"]), st.sampled_from([0, 0.2, 1, 3])))
@examples(40)
def test_a_boot_that_nobody_gives_is_a_second_and_told(given_s: dict[str, float]) -> None:
    paths = {"a": "transmitter.a", "b": "transmitter.b", "receiver": "receiver"}
    scenario = parse(
        units("a", "b"), overrides=[f"{paths[name]}.boot_s={given_s[name]}" for name in given_s]
    )
    later = parse(units("a", "b")).replace(
        **{f"{paths[name]}.boot_s": seconds for name, seconds in given_s.items()}
    )

    told = [name for name in paths if name not in given_s]
    line = f"{', '.join(told)}: 1 s to boot when switched on or reset"
    for known in (scenario, later):
        assert [said for said in known.assumed if "boot" in said] == ([line] if told else [])
        boots_s = {name: unit.boot_s for name, unit in known.transmitter.items()}
        assert boots_s | {"receiver": known.receiver.boot_s} == dict.fromkeys(paths, 1) | given_s


def test_antennas_without_a_pattern_are_told_and_what_a_pattern_leaves_out() -> None:
    far = units("drive") + 'air.range = { distance_m = 60, path = "free-space" }\n'
    turned = parse(far, overrides=['transmitter.drive.antenna.pattern="half_wave_dipole"'])

    (bare,) = (line for line in parse(far).assumed if line.startswith("air.range"))
    assert "antennas the same all round" in bare
    assert not any("all round" in line for line in turned.assumed)
    assert any(line.startswith("drive: its antenna turns level") for line in turned.assumed)


SUPPLIED = (
    "receiver.supply={voltage_v=5, resistance_mohm=200, brownout_v=4}",
    "output.fin={stream='drive', field='value', servo={}, load={moving_ma=200}}",
    "output.lamp={stream='drive', field='value', kind='pin'}",
)


@pytest.mark.parametrize(
    ("line", "left_out"),
    [
        ("receiver.supply: no cell that runs down", "receiver.supply"),
        ("output.lamp: draws nothing from the receiver's supply", "receiver.supply"),
        ("output.fin: no more current as it starts", "output.fin.load.start_ma"),
        ("output.fin: a servo without pulses ends its movement", "output.fin.servo"),
    ],
)
def test_what_a_supply_leaves_out_is_told_where_there_is_one(line: str, left_out: str) -> None:
    others = {
        "receiver.supply": SUPPLIED[1].replace(", load={moving_ma=200}", ""),
        "output.fin.load.start_ma": SUPPLIED[1].replace("=200", "=200, start_ma=300"),
        "output.fin.servo": SUPPLIED[1].replace("servo={}", "motor={idle_us=1500}"),
    }
    fewer = (others[left_out], SUPPLIED[2])
    if left_out != "receiver.supply":
        fewer = (SUPPLIED[0], *fewer)

    def is_told(lines: tuple[str, ...]) -> bool:
        return any(said.startswith(line) for said in parse(units("drive"), overrides=lines).assumed)

    assert is_told(SUPPLIED)
    assert not is_told(fewer)


@pytest.mark.parametrize(
    ("work", "is_told"),
    [
        ("{every_ms=50, takes_ms=3}", True),
        ("{every_ms=50, takes_ms=3, longest_ms=9}", False),
        ("", False),
    ],
)
def test_work_of_one_length_is_told(work: str, is_told: bool) -> None:
    assumed = parse(units("drive"), overrides=[f"receiver.work=[{work}]"]).assumed

    assert any("work of one length" in line for line in assumed) == is_told


def test_a_drift_tells_what_it_leaves_out_and_no_drift_is_told() -> None:
    text = units("drive", "head")
    drifting = parse(text, overrides=["transmitter.drive.drift.settle_ppm=20", "receiver.drift={}"])

    (crystal,) = (line for line in parse(text).assumed if "crystal" in line)
    assert crystal.startswith("drive, head, receiver: ")
    assert crystal.endswith(", no drift")
    told = [line for line in drifting.assumed if "drift" in line]
    assert [line.partition(":")[0] for line in told] == ["head", "drive", "receiver"]


def test_pipes_follow_the_file_and_zero_comes_last() -> None:
    scenario = parse(units("a", "b", "c", "d", "e", "f"))

    assert [unit.pipe for unit in scenario.transmitter.values()] == [1, 2, 3, 4, 5, 0]


def test_pipes_that_are_given_are_left_alone() -> None:
    scenario = parse(units("a") + units("b", more=", pipe = 1").removeprefix(HEAD))

    assert [unit.pipe for unit in scenario.transmitter.values()] == [2, 1]


@pytest.mark.parametrize("address_bytes", [3, 4, 5])
def test_addresses_of_our_own_are_good_ones(address_bytes: int) -> None:
    text = units("a", "b", "c", "d", "e", "f") + f"radio.address_bytes = {address_bytes}\n"
    scenario = parse(text)

    addresses = {unit.pipe: unit.address_octets for unit in scenario.transmitter.values()}
    assert {len(octets) for octets in addresses.values()} == {address_bytes}
    assert len({addresses[pipe][:-1] for pipe in range(1, 6)}) == 1
    assert not any(poor_pattern(octets) for octets in addresses.values())
    for one, other in combinations(addresses.values(), 2):
        differing = int.from_bytes(one, "big") ^ int.from_bytes(other, "big")
        assert differing.bit_count() >= 3


def test_addresses_share_the_first_bytes_of_one_that_is_given() -> None:
    more = ', address = "c3a15e7b1a"'
    scenario = parse(units("a", more=more) + units("b").removeprefix(HEAD))

    assert scenario.transmitter["a"].address == "C3 A1 5E 7B 1A"
    assert scenario.transmitter["b"].address_octets[:-1] == bytes.fromhex("C3A15E7B")
    assert scenario.transmitter["b"].address != scenario.transmitter["a"].address


def test_every_field_has_a_signal() -> None:
    scenario = parse(FULL)

    signals = scenario.transmitter["drive"].signals
    assert list(signals) == [field.name for field in scenario.layout_of("drive").fields]
    assert isinstance(signals["count"], Counter)
    assert signals["lamp"] == Constant()


def test_a_stream_without_output_gets_a_servo_on_its_first_control() -> None:
    text = FULL.replace('layout = "drive_v1" ', 'layout = "drive_v1"', 1)
    start, end = text.index("[output.left_track]"), text.index("[air]")
    scenario = parse(text[:start] + text[end:])

    output = scenario.output["drive"]
    assert (output.field, output.mix, output.value) == ("throttle", {"throttle": 1.0}, (-1.0, 1.0))
    assert output.on_failsafe == "off"


def test_an_output_of_our_own_takes_no_name_that_is_taken() -> None:
    scenario = parse(SMALLEST + 'output.head = { stream = "drive", field = "value" }\n')

    assert {name: output.stream for name, output in scenario.output.items()} == {
        "head": "drive",
        "head_output": "head",
    }


def test_an_explicit_output_holds_on_failsafe_and_is_limited_by_its_pulses() -> None:
    text = 'output.wheel = { stream = "drive", field = "value", pulse_us = [2000, 1000] }\n'
    output = parse(SMALLEST + text).output["wheel"]

    assert output.on_failsafe == "hold"
    assert output.limit_us == (1000, 2000)


def test_an_output_on_a_float_of_any_size_is_given_a_range() -> None:
    text = (
        HEAD + 'layout.f.fields = [{ name = "a", type = "f32" }]\n'
        'transmitter.drive = { period_ms = 20, layout = "f" }\n'
    )

    assert parse(text).output["drive"].value == (-1.0, 1.0)


def test_acknowledgements_are_lost_as_attempts_are() -> None:
    assert parse(SMALLEST + "air.loss = 0.3\n").air.acknowledge_loss == 0.3
    assert (
        parse(SMALLEST + "air = { loss = 0.3, acknowledge_loss = 0 }\n").air.acknowledge_loss == 0
    )


def test_payload_bytes_stand_for_a_layout_of_that_length() -> None:
    scenario = parse(SMALLEST)

    assert {name: layout.size_bytes for name, layout in scenario.layouts().items()} == {
        "plain_6": 6,
        "plain_4": 4,
    }


FIELD = """
radio.profile = "gfsk-1M"
duration_s = 5
failsafe.drive = {{ timeout_ms = 250 }}
[layout.frame]
fields = [{{ name = "{name}", type = "i16", scale = 0.001, min = {low}, max = {high} }}]
[transmitter.drive]
layout = "frame"
period_ms = 20
"""
ENDS = st.floats(-30, 30).map(lambda value: round(value, 2))


@examples(100)
@given(st.tuples(ENDS, ENDS), st.sampled_from(["throttle", "steer", "value", "rotor_speed"]))
def test_no_motor_is_guessed_to_stand_still_at_the_middle(
    ends: tuple[float, float], name: str
) -> None:
    low, high = sorted(ends)
    assume(low < high)
    made = parse(FIELD.format(name=name, low=low, high=high))
    (output,) = made.output.values()

    if name in ("throttle", "rotor_speed") or not low < 0 < high:
        assert output.on_failsafe == "off"
    (told,) = [line for line in made.assumed if "a 50 Hz servo" in line]
    if output.on_failsafe == "off":
        assert "no pulses on failsafe (where it stands still is not said)" in told
    else:
        assert output.on_failsafe == Preset(preset_us=1500)
        # The middle pulse is that of the value 0, to a hundredth of the travel.
        assert abs(-low / (high - low) - 0.5) <= 0.011


MOTOR = """
radio.profile = "gfsk-1M"
duration_s = 5
failsafe.drive = {{ timeout_ms = 250 }}
transmitter.drive = {{ period_ms = 20, payload_bytes = 4 }}
[output.fan]
stream = "drive"
field = "value"
pulse_us = [1000, 2000]
on_failsafe = {{ preset_us = {preset} }}
at_start = {at_start}
motor = {{ {idle} }}
"""
PULSES = st.integers(900, 2100)


@examples(100)
@given(PULSES, PULSES, st.none() | PULSES)
def test_where_a_motor_stands_still_is_asked_for_and_runs_on_are_told(
    preset: int, at_start: int, idle: int | None
) -> None:
    text = "" if idle is None else f"idle_us = {idle}"
    made = parse(MOTOR.format(preset=preset, at_start=at_start, idle=text))

    told = [line for line in made.assumed if line.startswith("output.fan: where its motor")]
    assert len(told) == (idle is None)
    given = {"at_start": at_start, "on_failsafe.preset_us": preset}
    for key, pulse_us in given.items():
        runs_on = any(f"output.fan.{key}: the motor runs on" in text for text in made.warnings)
        assert runs_on == (idle is not None and min(max(pulse_us, 1000), 2000) != idle)


def test_only_pulses_can_have_an_idle_pulse() -> None:
    text = MOTOR.format(preset=1500, at_start=1500, idle="idle_us = 1500")
    pwm = text.replace("on_failsafe = { preset_us = 1500 }", 'kind = "pwm"').replace(
        "at_start = 1500", ""
    )

    with pytest.raises(ScenarioError, match=r"output.fan.motor.idle_us: must be left out with"):
        parse(pwm)


@pytest.mark.parametrize("moving", [(), ("value",), ("spare_2",), ("value", "spare_1")])
def test_bytes_of_a_plain_frame_are_said_not_to_change_only_if_none_does(
    moving: tuple[str, ...],
) -> None:
    signals = "".join(f'signals.{name} = {{ kind = "counter" }}\n' for name in moving)
    unit = f"[transmitter.cam]\npayload_bytes = 4\nperiod_ms = 31\n{signals}"
    said = "\n".join(parse(f'radio.profile = "gfsk-1M"\n{unit}').assumed)
    still = [name for name in ("value", "spare_1", "spare_2") if name not in moving]

    assert ("do not change" in said) == (not moving)
    assert (f"cam: {', '.join(still)} at rest all the time" in said) == bool(moving and still)
