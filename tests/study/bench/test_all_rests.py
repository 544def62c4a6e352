"""A number of a sheet that moves with a key rests on it, and says so where nobody has said it."""

from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, assume, given
from hypothesis import strategies as st

from radiosim.errors import ScenarioError
from radiosim.scenario import Scenario, parse
from radiosim.scenario.structs.air_tables import AirTable, Interferer
from radiosim.scenario.structs.failsafe_and_fault import Failsafe
from radiosim.scenario.structs.output_table import OutputTable
from radiosim.scenario.structs.radio_table import Radio
from radiosim.scenario.structs.range_tables import Range
from radiosim.scenario.structs.receiver_table import Receiver
from radiosim.scenario.structs.transmitter_table import TransmitterTable
from radiosim.study.bench import BenchTestSheet, Prediction, bench_test_sheet
from radiosim.study.bench.moving_keys import MOVES_NOTHING
from tests.examples import examples
from tests.study.drill.scenarios import BASE, TIMER, texts

UNIT = {
    "payload_bytes": "9",
    "layout": "drive",
    "pipe": "3",
    "address": '"C2C2C2C2C2"',
    "period_ms": "17",
    "pause_ms": "3",
    "pacing": "elapsed",
    "loop_ms": "1.7",
    "clock": "internal",
    "clock_ppm": "70",
    "drift": "{ ppm_per_minute = 900 }",
    "offset_ms": "3",
    "jitter_ms": "1.5",
    "dither_ms": "2.5",
    "prepare_us": "800",
    "work": "[{ every_ms = 50, takes_ms = 9 }]",
    "start_s": "0.4",
    "boot_s": "0.3",
    "reset_boot_s": "0.4",
    "acknowledge": "false",
    "retry_delay_us": "1250",
    "retry_limit": "1",
    "when_busy": "queue",
    "flush_on_retries_used_up": "false",
    "start_signal": "held",
    "payload_length": "20",
    "spi_hz": "1234567",
    "spi_overhead_us": "700",
    "place": "{ distance_m = 300 }",
    "antenna": "{ pattern = 'half_wave_dipole', heading_deg = 90 }",
    "power_dbm": "-20",
    "board_ma": "300",
    "watchdog_ms": "150",
    "recheck_ms": "100",
    "signals": '{ count = { kind = "counter" }, pull = { kind = "sine", period_s = 0.7 } }',
}
END = {
    "clock": "internal",
    "clock_ppm": "70",
    "clock_tick_ms": "30",
    "drift": "{ ppm_per_minute = 900 }",
    "loop_ms": "2.7",
    "delay_ms": "3",
    "read": "newest",
    "interrupt": "true",
    "work": "[{ every_ms = 50, takes_ms = 9 }]",
    "deaf": "[{ every_ms = 50, for_ms = 9 }]",
    "duplicate_memory": "radio",
    "acknowledge_when_full": "true",
    "acknowledge_payload_bytes": "3",
    "boot_s": "0.3",
    "reset_boot_s": "0.4",
    "radio_survives": "false",
    "listens_in_boot": "false",
    "flush_on_boot": "true",
    "supply": "{ voltage_v = 5, resistance_mohm = 900, brownout_v = 4.5 }",
    "antenna": "{ pattern = 'half_wave_dipole', heading_deg = 90 }",
    "board_ma": "300",
    "watchdog_ms": "150",
    "recheck_ms": "100",
    "spi_hz": "1234567",
    "spi_overhead_us": "700",
    "unpack_us": "900",
    "power_dbm": "-20",
}
RADIO = {
    "profile": "gfsk-2M",
    "channel": "20",
    "address_bytes": "3",
    "crc_bytes": "1",
    "noise_frames": "false",
    "payload_length": "20",
    "bit_rate": "700000",
    "settle_us": "77",
    "interrupt_us": "5.5",
    "preamble_bytes": "3",
    "control_bits": "20",
    "fifo_frames": "1",
    "retry_settle": "false",
    "acknowledge_window_us": "150",
    "crystal_start_us": "9000",
    "power_on_reset_ms": "30",
    "cochannel_db": "3",
    "rejection_db": "[[1, 0], [50, 1]]",
    "sensitivity_dbm": "-60",
    "max_input_dbm": "-70",
    "bandwidth_mhz": "9",
}
AIR = {
    "loss": "0.3",
    "acknowledge_loss": "0.3",
    "burst": "{ good_ms = 200, bad_ms = 60 }",
    "range": "{ distance_m = 60 }",
    "between_transmitters_m": "0.2",
}
PLACE = {
    "distance_m": "150",
    "track": "[[0, 5], [3, 300]]",
    "path": "log-distance",
    "exponent": "4",
    "shadowing_db": "9",
    "shadowing_m": "1",
    "fading": "rayleigh",
    "rician_k_db": "0",
    "speed_m_s": "5",
    "transmitter_height_m": "0.4",
    "receiver_height_m": "0.7",
    "transmitter_gain_dbi": "-20",
    "receiver_gain_dbi": "-20",
    "anchor": "{ distance_m = 40, delivery = 0.5 }",
}
DRIVEN = {
    "stream": "drive",
    "field": "count",
    "mix": "{ pull = 0.5 }",
    "value": "[0, 100]",
    "kind": "servo",
    "refresh_hz": "333",
    "phase_ms": "3",
    "pulse_us": "[900, 2100]",
    "limit_us": "[1200, 1400]",
    "smoothing_us_per_pass": "3",
    "at_start": "1500",
    "on_failsafe": "off",
    "motor": "{ stop_s = 0.1, signal_loss_ms = 60 }",
    "load": "{ moving_ma = 900 }",
}
TIMED = {
    "timeout_ms": "140",
    "fed_by": "any",
    "fed_at": "arrival",
    "watch_field": "count",
    "resume_frames": "4",
    "resume_needs": "{ field = 'pull', within = 200 }",
}
OTHER = {
    "kind": "jammer",
    "channel_mhz": "2472",
    "width_mhz": "1",
    "burst_ms": "4",
    "duty": "0.6",
    "beacon_every_ms": "30",
    "beacon_ms": "9",
    "period_ms": "7",
    "payload_bytes": "3",
    "acknowledge": "false",
    "power_dbm_at_receiver": "-40",
    "power_dbm_at_transmitters": "-40",
    "from_s": "3",
    "for_s": "2",
}
TABLES = {
    "transmitter.drive": (TransmitterTable, UNIT),
    "receiver": (Receiver, END),
    "radio": (Radio, RADIO),
    "air": (AirTable, AIR),
    "air.range": (Range, PLACE),
    "output.motor": (OutputTable, DRIVEN),
    "failsafe.drive": (Failsafe, TIMED),
    "interferer.house": (Interferer, OTHER),
}
CHANGES = tuple(
    (f"{table}.{key}", value)
    for table, (_, values) in TABLES.items()
    for key, value in values.items()
)
"""Each key with a value that is not its default."""
SAID_BY = {
    "clock_ppm": "clock",
    "reset_boot_s": "boot_s",
    "pause_ms": "pacing",
    "period_ms": "pacing",
    "layout": "payload_bytes",
    "payload_bytes": "layout",
    "mix": "field",
    "value": "field",
    "limit_us": "pulse_us",
    "field": "mix",
    "track": "distance_m",
    "distance_m": "track",
    "place": "distance_m",
    "anchor": "path",
    "shadowing_db": "path",
    "width_mhz": "kind",
    "power_dbm_at_transmitters": "power_dbm_at_receiver",
    "for_s": "from_s",
    "timeout_ms": "timeout_ms",
}
"""What another key says where this one is left out."""


@pytest.mark.parametrize("table", TABLES)
def test_every_key_is_tried_or_moves_nothing(table: str) -> None:
    kind, values = TABLES[table]
    # A track from elsewhere; a program, whose figures are none of the model's settings.
    left_out = {"track_file", "program"}

    assert set(kind.__struct_fields__) - left_out == set(values) | (
        MOVES_NOTHING & set(kind.__struct_fields__)
    )


FIRST = (
    *("transmitter.drive.pacing=elapsed", "transmitter.drive.acknowledge=false"),
    *("air.range={ distance_m = 60 }", "radio.address_bytes=3"),
    'interferer.house={ kind = "transmitter", channel_mhz = 2468 }',
    "receiver.supply={ voltage_v = 5, resistance_mohm = 900, brownout_v = 4.5 }",
    "output.motor.load={ moving_ma = 900 }",
    "transmitter.drive.work=[{ every_ms = 50, takes_ms = 9 }]",
)
_NEEDS = {
    "air.range.": "air.range={ distance_m = 60, path = 'log-distance', fading = 'rician' }",
    "air.range.tr": "air.range={ distance_m = 60 }",
    "air.range.receiver": "air.range={ distance_m = 60, fading = 'rayleigh' }",
    "interferer.": "interferer.house={ kind = 'bursts', channel_mhz = 2468, beacon_every_ms = 70 }",
    "transmitter.drive.place": "air.range={ distance_m = 60 }",
    "transmitter.drive.antenna": "air.range={ distance_m = 60 }",
    "receiver.antenna": "air.range={ distance_m = 60 }",
    "output.motor.mix": "output.motor.field=count",
}


def sheet_of(scenario: Scenario) -> BenchTestSheet:
    return bench_test_sheet(scenario, starts=2, minutes=0.05, workers=1)


def numbers_of(sheet: BenchTestSheet) -> Iterator[tuple[tuple[str, ...], Prediction, set[str]]]:
    """Each number with its name, and the keys that it rests on."""
    for chapter in sheet.chapters:
        for step in chapter.steps:
            rests = {rest.key for rest in (*chapter.rests_on, *step.rests_on)}
            for case in step.cases:
                for predicted in case.predicted:
                    name = (step.key, case.key, predicted.of, predicted.what, predicted.aspect)
                    yield name, predicted, rests


def is_named(key: str, rests: set[str]) -> bool:
    """Whether a key, a table that it stands in, or what says it where it is left out, is named."""
    parts = key.split(".")
    last = parts[-1]
    keys = {".".join(parts[:length]) for length in range(1, len(parts) + 1)}
    if last in SAID_BY:
        keys.add(".".join((*parts[:-1], SAID_BY[last])))
    if parts[0] == "radio":
        keys.add("radio.profile")
    tables = {"drive", "motor", "house"}
    named = {
        ".".join("NAME" if part in tables else part for part in one.split(".")) for one in keys
    }
    return bool(rests & (keys | named)) or any(
        rest.startswith(f"{one}.") for rest in rests for one in (key, *named) if one.count(".")
    )


def needs(key: str) -> list[str]:
    """What must be said first for a key to be taken."""
    return [line for start, line in _NEEDS.items() if key.startswith(start)][-1:]


_DRAWN = given(
    text=texts(),
    change=st.sampled_from(CHANGES),
    first=st.lists(st.sampled_from(FIRST), max_size=2),
)


def is_held(text: str, change: tuple[str, str], first: list[str]) -> None:
    key, value = change
    before = [*first, *needs(key)]
    try:
        scenario = parse(text, overrides=before)
        other = parse(text, overrides=[*before, f"{key}={value}"])
    except ScenarioError:
        assume(False)
        return
    is_said = any(path == key or path.startswith(f"{key}.") for path in scenario.given)
    after = {name: predicted for name, predicted, _ in numbers_of(sheet_of(other))}
    for name, predicted, rests in numbers_of(sheet_of(scenario)):
        there = after.get(name)
        if there is None or ends(there) == ends(predicted):
            continue
        assert is_named(key, rests), (name, key, ends(predicted), ends(there))
        if not is_said and not key.startswith("radio.") and key.rpartition(".")[2] not in SAID_BY:
            assert predicted.is_assumed, (name, key)


@_DRAWN
@examples(5, suppress_health_check=list(HealthCheck), deadline=None)
def test_a_number_rests_on_every_key_that_it_moves_with(
    text: str, change: tuple[str, str], first: list[str]
) -> None:
    is_held(text, change, first)


@pytest.mark.slow
@_DRAWN
@examples(10, suppress_health_check=list(HealthCheck), deadline=None)
def test_many_numbers_rest_on_every_key_that_they_move_with(
    text: str, change: tuple[str, str], first: list[str]
) -> None:
    is_held(text, change, first)


COUNTED = (
    *("transmitter.drive.pacing", "transmitter.drive.jitter_ms", "transmitter.drive.spi_hz"),
    *("receiver.read", "receiver.loop_ms", "receiver.spi_hz", "output.motor.refresh_hz"),
)


def test_counts_rest_on_how_a_loop_paces_and_on_both_buses() -> None:
    bare = sheet_of(parse(BASE + TIMER))
    said = parse(
        BASE + TIMER,
        overrides=[f"transmitter.drive.{key}" for key in ("jitter_ms=0", "spi_hz=8e6")],
    )
    chapter = next(one for one in bare.chapters if one.title.startswith("Counted"))

    assert set(COUNTED) <= {rest.key for rest in chapter.rests_on if rest.is_default}
    # A default that the scenario says too is no guess of radiosim's.
    again = next(one for one in sheet_of(said).chapters if one.title.startswith("Counted"))
    assert not {"transmitter.drive.jitter_ms", "transmitter.drive.spi_hz"} & {
        rest.key for rest in again.rests_on if rest.is_default
    }


def test_a_number_that_rests_on_nothing_but_what_is_said_has_no_mark() -> None:
    keys = ("spi_hz=8e6", "spi_overhead_us=10", "clock_ppm=0", 'payload_length="link"')
    said = parse(
        BASE + TIMER,
        overrides=[*(f"transmitter.drive.{key}" for key in keys), "radio.payload_length=own"],
    )
    marks = {name[1]: predicted.is_assumed for name, predicted, _ in numbers_of(sheet_of(said))}

    assert not marks["upload.drive"]
    assert marks["on_air.drive"]


def ends(predicted: Prediction) -> tuple[float | None, float | None, str]:
    return predicted.low, predicted.high, predicted.text
