"""Which keys of a scenario move what a bench shows, and where they do."""

from collections.abc import Callable
from typing import Any

from msgspec import Struct

from radiosim.scenario import Scenario
from radiosim.scenario.noise import noise_per_hour
from radiosim.scenario.structs.air_tables import Interferer
from radiosim.scenario.structs.output_table import Output
from radiosim.scenario.structs.range_tables import Range
from radiosim.scenario.structs.receiver_table import Receiver
from radiosim.scenario.structs.shared_keys import Work
from radiosim.scenario.structs.transmitter_table import Transmitter

MOVES_NOTHING = frozenset(
    {
        *("battery_mah", "amplifier_ma", "transmit_ma", "receive_ma", "standby_ma"),
        *("transmit_settle_ma", "receive_settle_ma", "power_down_ma", "servo", "idle_us"),
        *("pipe", "address"),
    }
)
"""Keys of cells, of what servos and motors do with their pulses, and of addresses (all differ)."""
ABSENT_IS_NONE = frozenset(
    {"drift", "supply", "burst", "range", "antenna", "longest_ms", "resume_needs", "motor", "load"}
    | {"beacon_every_ms"}
)
"""Keys of which nothing said is nothing simulated; of others another key says it then."""

_Is = Callable[[Any, Scenario, bool], bool]


def _has_places(_: Any, scenario: Scenario, __: bool) -> bool:
    return scenario.air.range is not None


def _is_acknowledged(_: Any, scenario: Scenario, __: bool) -> bool:
    return any(unit.acknowledge is True for unit in scenario.transmitter.values())


def _has_faults(_: Any, scenario: Scenario, has_faults: bool) -> bool:
    return has_faults or scenario.receiver.supply is not None


def _has_loads(_: Any, scenario: Scenario, __: bool) -> bool:
    supplied = scenario.receiver.supply is not None
    return supplied or any(output.load is not None for output in scenario.output.values())


_ONLY_WHERE: dict[tuple[type[Struct] | None, str], _Is] = {
    (Transmitter, "loop_ms"): lambda unit, _, __: unit.pacing == "elapsed",
    (Transmitter, "jitter_ms"): lambda unit, _, __: unit.pacing != "elapsed",
    (Transmitter, "dither_ms"): lambda unit, _, __: unit.pacing == "timer",
    (Transmitter, "drift"): lambda unit, _, __: unit.pacing == "timer",
    (Transmitter, "clock"): lambda unit, _, __: unit.clock_ppm is None,
    (Transmitter, "layout"): lambda unit, _, __: unit.payload_bytes is None,
    **{
        (Transmitter, key): lambda unit, _, __: unit.acknowledge is True
        for key in ("retry_limit", "retry_delay_us", "flush_on_retries_used_up")
    },
    **{(Transmitter, key): _has_places for key in ("power_dbm", "antenna")},
    **{(Receiver, key): _has_places for key in ("power_dbm", "antenna")},
    (Receiver, "acknowledge_payload_bytes"): _is_acknowledged,
    (Receiver, "clock"): lambda unit, _, __: unit.clock_ppm is None,
    (Receiver, "clock_tick_ms"): lambda _, scenario, __: bool(scenario.failsafe),
    (Receiver, "supply"): _has_loads,
    (Receiver, "program"): lambda _, __, ___: False,
    (Receiver, "board_ma"): lambda unit, _, __: unit.supply is not None,
    (Transmitter, "board_ma"): lambda _, __, ___: False,
    **{
        (kind, key): _has_faults
        for kind in (Transmitter, Receiver)
        for key in ("watchdog_ms", "recheck_ms", "reset_boot_s")
    },
    (Receiver, "listens_in_boot"): lambda unit, scenario, has_faults: (
        unit.radio_survives and _has_faults(unit, scenario, has_faults)
    ),
    **{(Receiver, key): _has_faults for key in ("radio_survives", "flush_on_boot")},
    (Output, "mix"): lambda output, _, __: output.field is None,
    (Output, "value"): lambda output, scenario, __: (
        scenario.transmitter[output.stream].payload_bytes is not None
    ),
    (Output, "pulse_us"): lambda output, _, __: output.kind == "servo",
    (Work, "stretched_share"): lambda work, _, __: work.longest_ms is not None,
    (Output, "limit_us"): lambda output, _, __: (
        output.limit_us != (min(output.pulse_us), max(output.pulse_us))
    ),
    (Output, "motor"): lambda output, _, has_faults: has_faults or output.motor is not None,
    (Output, "load"): _has_loads,
    (None, "channel"): lambda _, scenario, __: bool(scenario.interferer),
    (None, "noise_frames"): lambda _, scenario, __: noise_per_hour(scenario) is not None,
    (None, "acknowledge_loss"): _is_acknowledged,
    (None, "between_transmitters_m"): lambda _, scenario, __: len(scenario.transmitter) > 1,
    **{
        (Range, key): lambda place, _, __: place.path == "log-distance"
        for key in ("exponent", "shadowing_db", "shadowing_m")
    },
    **{
        (Range, key): lambda place, _, __: place.path == "two-ray"
        for key in ("transmitter_height_m", "receiver_height_m")
    },
    (Range, "rician_k_db"): lambda place, _, __: place.fading == "rician",
    (Range, "speed_m_s"): lambda place, _, __: place.fading != "none" or place.shadowing_db,
    **{
        (Interferer, key): lambda other, _, __: other.kind == "bursts"
        for key in ("burst_ms", "duty", "beacon_every_ms")
    },
    (Interferer, "beacon_ms"): lambda other, _, __: other.beacon_every_ms is not None,
    **{
        (Interferer, key): lambda other, _, __: other.kind == "transmitter"
        for key in ("period_ms", "payload_bytes", "acknowledge")
    },
}
"""Where a key moves anything, if not everywhere."""


def moves(struct: Struct, key: str, scenario: Scenario, *, has_faults: bool) -> bool:
    """Whether a key of a table moves anything in a scenario, if only when a unit has a fault."""
    asked = _ONLY_WHERE.get((type(struct), key)) or _ONLY_WHERE.get((None, key))
    return key not in MOVES_NOTHING and (asked is None or asked(struct, scenario, has_faults))
