"""Whole scenarios at random: times as whole ticks, where ties are, mixed with odd ones.

Left-out keys take their defaults, boots apart, so that a failing scenario shrinks to what matters.
In a coarse scenario every span of radio and bus is a whole number of ticks of 125 µs too.
"""

import json
from typing import Any

from hypothesis import strategies as st

from radiosim.errors import ScenarioError
from radiosim.registers.fault_kind import AIR, RECEIVER, TRANSMITTER
from radiosim.registers.fault_register import FAULT_KINDS, kinds_at
from radiosim.scenario import Scenario, parse

TICK_MS = 0.125
AT_ONCE = {"boot_s": 0}
"""A start is shorter than a boot of usual length."""


def toml_of(document: dict[str, Any], path: str = "") -> str:
    """A document as TOML, one dotted key a line."""
    lines = []
    for key, value in document.items():
        where = f"{path}.{key}" if path else key
        if isinstance(value, dict) and value:
            lines.append(toml_of(value, where))
        else:
            lines.append(f"{where} = {_inline(value)}\n")
    return "".join(lines)


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_inline(v)}" for key, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_inline(item) for item in value) + "]"
    return json.dumps(value)


def ticks(low: int, high: int) -> st.SearchStrategy[float]:
    """Milliseconds: mostly whole ticks, now and then an odd number."""
    whole = st.integers(low, high).map(lambda n: n * TICK_MS)
    odd = st.integers(low * 125_000, high * 125_000).map(lambda ns: ns / 1e6)
    return st.one_of(whole, whole, whole, odd)


def seconds(low: int, high: int) -> st.SearchStrategy[float]:
    """The same in seconds."""
    return ticks(low, high).map(lambda ms: ms / 1000)


def _some(**choices: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=choices)


work = st.fixed_dictionaries(
    {"every_ms": ticks(24, 80), "takes_ms": ticks(1, 8)},
    optional={
        "interrupts_off": st.booleans(),
        "offset_ms": ticks(0, 40),
        "longest_ms": ticks(9, 20),
        "stretched_share": st.sampled_from([0.0, 0.3, 1.0]),
    },
)
deaf = st.fixed_dictionaries(
    {"every_ms": ticks(24, 80), "for_ms": ticks(1, 8)}, optional={"offset_ms": ticks(0, 40)}
)

LAYOUTS = {
    "counted": {
        "fields": [
            {"name": "count", "type": "u16"},
            {"name": "throttle", "type": "i16", "scale": 0.001, "min": -1.0, "max": 1.0},
            {"name": "steer", "type": "i16", "scale": 0.001, "min": -1.0, "max": 1.0},
            {"name": "lamp", "type": "u8", "bits": 1},
            {"name": "mode", "type": "u8", "bits": 3},
            {"name": "yaw", "type": "i8", "min": -90.0, "max": 90.0},
        ]
    },
}
SIGNALS = {
    "count": {"kind": "counter"},
    "throttle": {"kind": "sine", "period_s": 0.05},
    "steer": {"kind": "steps", "values": [0.0, 0.5, -0.5], "hold_s": 0.004, "every_ms": 3},
    "yaw": {"kind": "lookaround", "sweep_s": 0.02, "rest_s": 0.005},
}

drift = st.one_of(
    st.fixed_dictionaries(
        {"ppm_per_minute": st.sampled_from([-1000, 300])}, optional={"for_s": seconds(8, 400)}
    ),
    st.fixed_dictionaries(
        {"settle_ppm": st.sampled_from([1000, -1000]), "settle_s": seconds(8, 400)}
    ),
    st.just({"from_c": -60, "to_c": 150, "cut_ppm_per_k": -10, "settle_s": 0.03}),
)
NOISY = {"bit_rate": 100_000_000, "address_bytes": 3, "crc_bytes": 0, "noise_frames": True}
"""Noise passes for a frame six times a second to each address, the most that a radio can have."""

transmitter = _some(
    offset_ms=ticks(0, 40),
    clock_ppm=st.sampled_from([0, 0, 50, -20_000, 5_000]),
    jitter_ms=st.sampled_from([0.0, 0.125, 0.4]),
    dither_ms=st.sampled_from([0.125, 0.2, 0.000_001]),
    prepare_us=st.sampled_from([0, 125, 300]),
    work=st.lists(work, min_size=1, max_size=2),
    start_s=seconds(0, 120),
    boot_s=seconds(0, 80),
    reset_boot_s=seconds(0, 80),
    retry_limit=st.sampled_from([0, 1, 2, 3, 15]),
    payload_length=st.sampled_from([8, 20]),
    retry_delay_us=st.sampled_from([625, 750, 1000]),
    when_busy=st.sampled_from(["wait", "queue", "replace"]),
    flush_on_retries_used_up=st.just(False),
    start_signal=st.just("held"),
    power_dbm=st.sampled_from([-20, 13, 30]),
    watchdog_ms=ticks(1, 80),
    recheck_ms=ticks(8, 160),
    drift=drift,
)
receiver = _some(
    delay_ms=ticks(0, 40),
    clock_ppm=st.sampled_from([0, 0, 50, -20_000]),
    read=st.sampled_from(["all", "newest"]),
    interrupt=st.just(True),
    work=st.lists(work, min_size=1, max_size=2),
    deaf=st.lists(deaf, min_size=1, max_size=2),
    duplicate_memory=st.just("radio"),
    acknowledge_when_full=st.just(True),
    acknowledge_payload_bytes=st.sampled_from([8, 3]),
    boot_s=seconds(0, 80),
    reset_boot_s=seconds(0, 80),
    radio_survives=st.just(False),
    listens_in_boot=st.just(False),
    flush_on_boot=st.just(True),
    watchdog_ms=ticks(1, 160),
    recheck_ms=ticks(8, 160),
    drift=drift,
    clock_tick_ms=st.sampled_from([0.125, 1, 3.7]),
    unpack_us=st.sampled_from([125, 90.5, 2000]),
)
failsafe = st.fixed_dictionaries(
    {"timeout_ms": ticks(4, 200)},
    optional={
        "fed_by": st.just("any"),
        "fed_at": st.just("arrival"),
        "resume_frames": st.integers(1, 4),
        "watch_field": st.just("count"),
        "resume_needs": st.just({"field": "throttle", "within": 0.4}),
    },
)
place = _some(
    distance_m=st.sampled_from([0.2, 3.0, 30.0]),
    height_m=st.just(0.4),
    gain_dbi=st.sampled_from([-10, 3]),
)
track = st.sampled_from([[[0.0, 5.0], [0.05, 300.0], [0.08, 20.0]], [[0.02, 40.0]]])
pattern = st.sampled_from(
    ["half_wave_dipole", [[0, 2], [90, -25], [180, -6]], [[45, -3.5]], [[0, 0], [359, -40]]]
)
turning = st.one_of(
    _some(
        heading_deg=st.sampled_from([-90, 10.5, 720]), turn_deg_s=st.sampled_from([-3600, 7, 1800])
    ),
    st.fixed_dictionaries(
        {"heading_track": st.sampled_from([[[0.01, 350], [0.05, 370]], [[0, -90]]])}
    ),
)
antenna = st.tuples(pattern, _some(rotation_deg=st.sampled_from([90, -30.25])), turning).map(
    lambda parts: {"pattern": parts[0]} | parts[1] | parts[2]
)
headed = st.builds(
    lambda shape, field, more: {"pattern": shape, "heading_field": field} | more,
    pattern,
    st.sampled_from(["throttle", "steer", "yaw", "mode"]),
    _some(deg_per_unit=st.sampled_from([180, -45]), rotation_deg=st.just(30)),
)
"""An antenna that follows a field of the layout that is counted."""
far = _some(
    path=st.sampled_from(["free-space", "log-distance"]),
    exponent=st.sampled_from([2.0, 3.5]),
    shadowing_db=st.sampled_from([0, 8]),
    shadowing_m=st.sampled_from([0.05, 5]),
    fading=st.sampled_from(["rayleigh", "rician"]),
    rician_k_db=st.sampled_from([0, 12]),
    speed_m_s=st.sampled_from([0.1, 20]),
    receiver_height_m=st.just(0.5),
    anchor=st.just({"distance_m": 40, "delivery": 0.9}),
)
interferer = st.one_of(
    _some(
        burst_ms=st.sampled_from([0.05, 0.4, 6]),
        duty=st.sampled_from([0, 0.1, 0.8]),
        beacon_every_ms=st.sampled_from([3, 10]),
        beacon_ms=st.sampled_from([0.2, 4]),
    ).map(lambda more: {"kind": "bursts"} | more),
    _some(
        period_ms=st.sampled_from([1, 4]),
        payload_bytes=st.sampled_from([1, 32]),
        acknowledge=st.just(False),
    ).map(lambda more: {"kind": "transmitter"} | more),
    st.just({"kind": "jammer"}),
)
levels = _some(
    channel_mhz=st.sampled_from([2469, 2475]),
    width_mhz=st.sampled_from([1, 20]),
    power_dbm_at_receiver=st.sampled_from([-95, -80, -60, -40]),
    power_dbm_at_transmitters=st.sampled_from([-90, -50]),
    from_s=seconds(0, 300),
    for_s=seconds(1, 300),
)


supply = st.fixed_dictionaries(
    {
        "voltage_v": st.just(5.0),
        "resistance_mohm": st.sampled_from([2_000, 2_000, 600]),
        "brownout_v": st.sampled_from([4.85, 4.8, 4.3]),
    },
    optional={
        "hysteresis_mv": st.sampled_from([0, 100]),
        "capacitance_uf": st.sampled_from([1, 100, 4_700]),
    },
)
load = st.fixed_dictionaries(
    {"moving_ma": st.sampled_from([100, 250, 250])},
    optional={
        "start_ma": st.sampled_from([400, 800, 800]),
        "start_ms": ticks(0, 40),
        "rest_ma": st.just(5),
        "supply": st.sampled_from(["receiver", "receiver", "receiver", "own"]),
    },
)


@st.composite
def faults(draw: st.DrawFn, units: list[str]) -> list[dict[str, Any]]:
    """Up to six faults of any unit."""
    chosen = []
    names = {TRANSMITTER: [n for n in units if n != RECEIVER], RECEIVER: [RECEIVER], AIR: [AIR]}
    sorts = [TRANSMITTER, TRANSMITTER, TRANSMITTER, RECEIVER, AIR]
    for _ in range(draw(st.integers(0, 6))):
        sort = draw(st.sampled_from(sorts))
        kind = FAULT_KINDS[draw(st.sampled_from(kinds_at(sort)))]
        fault = {"at_s": draw(seconds(0, 700)), "kind": kind.name}
        fault["unit"] = draw(st.sampled_from(names[sort]))
        if kind.is_lasting and draw(st.booleans()):
            fault["for_s"] = draw(seconds(1, 200))
        chosen.append(fault)
    return chosen


@st.composite
def airs(
    draw: st.DrawFn, units: dict[str, dict[str, Any]]
) -> tuple[dict[str, Any], dict[str, dict[str, Any]]]:
    """The air and what else sends: plain more often than not; places go into the units."""
    air: dict[str, Any] = {}
    if draw(st.integers(0, 3)) == 0:
        bursts = {"good_ms": draw(ticks(1, 80)), "bad_ms": draw(ticks(1, 80))}
        air["burst"] = bursts | draw(_some(loss_good=st.just(0.2), loss_bad=st.just(0.7)))
    if draw(st.booleans()):
        return air, {}
    air["range"] = draw(far)
    if draw(st.integers(0, 3)) == 0:
        air["range"]["track"] = draw(track)
    else:
        air["range"]["distance_m"] = draw(st.sampled_from([1.0, 40.0, 200.0]))
    if draw(st.booleans()):
        air["between_transmitters_m"] = draw(st.sampled_from([0.2, 5.0]))
    for unit in units.values():
        if draw(st.integers(0, 3)) == 0:
            unit["place"] = draw(place)
        if draw(st.integers(0, 2)) == 0:
            unit["antenna"] = draw(headed if "layout" in unit else antenna)
    names = ["house", "neighbour", "other"][: draw(st.integers(0, 3))]
    return air, {name: draw(interferer) | {"channel_mhz": 2468} | draw(levels) for name in names}


@st.composite
def documents(draw: st.DrawFn, *, is_loaded: bool = False) -> dict[str, Any]:
    """One scenario as a document; at most a tenth of a second long.

    `is_loaded`: outputs draw from the receiver's supply, which may happen in any case; its boots
    then take so long that a start has a few of them.
    """
    is_coarse, is_plain = draw(st.booleans()), draw(st.integers(0, 3)) == 0
    radio: dict[str, Any] = {"profile": "gfsk-1M", "power_on_reset_ms": 0, "crystal_start_us": 0}
    bus: dict[str, Any] = {}
    if is_coarse:
        radio |= {"bit_rate": 512_000, "control_bits": 0, "acknowledge_window_us": 500}
        radio |= {"settle_us": 125, "interrupt_us": draw(st.sampled_from([0, 125]))}
        bus = {"spi_hz": 576_000, "spi_overhead_us": 0}
    radio |= draw(
        _some(
            fifo_frames=st.integers(1, 4),
            retry_settle=st.just(False),
            # Where a transmitter's own length differs, its frames are never received.
            payload_length=st.sampled_from([8, 20]),
            noise_frames=st.booleans(),
            crc_bytes=st.just(1),
        )
    )
    is_noisy = is_plain and not is_coarse and draw(st.booleans())
    if is_noisy:
        radio |= NOISY
    names = [f"t{i}" for i in range(draw(st.integers(1, 6)))]
    units: dict[str, dict[str, Any]] = {}
    for i, name in enumerate(names):
        pacing = draw(st.sampled_from(["timer", "timer", "elapsed", "after_send"]))
        unit = bus | AT_ONCE | draw(transmitter) | {"pacing": pacing, "pipe": (i + 1) % 6}
        unit["pause_ms" if pacing == "after_send" else "period_ms"] = draw(ticks(5, 40))
        if pacing == "elapsed":
            unit.pop("jitter_ms", None)
            unit["loop_ms"] = draw(st.sampled_from([0.125, 0.2]))
        if pacing != "timer":
            unit.pop("drift", None)
            unit.pop("dither_ms", None)
        # Only the last byte may differ on pipes 2 to 5; a shared address is allowed.
        first = "C3 A1" if is_noisy else "C3 A1 5E 7B"
        unit["address"] = f"{first} {draw(st.sampled_from([i + 1, i + 1, i + 1, 1])):02X}"
        unit["acknowledge"] = False if is_plain else draw(st.sampled_from([True, True, "flag"]))
        if is_loaded or draw(st.booleans()):
            unit |= {"layout": "counted", "signals": SIGNALS}
        else:
            unit["payload_bytes"] = 8
        units[name] = unit
    losses = _some(loss=st.sampled_from([0.1, 0.5]), acknowledge_loss=st.sampled_from([0.1, 0.5]))
    timers = {name: draw(failsafe) for name in draw(st.lists(st.sampled_from(names), unique=True))}
    for name, timer in timers.items():
        if "layout" not in units[name]:
            timer.pop("watch_field", None)
            timer.pop("resume_needs", None)
    air, interferers = draw(airs(units))
    turned = {"antenna": draw(antenna)} if "range" in air and draw(st.booleans()) else {}
    shown = ["first", "second", "third"][: draw(st.integers(1, 3))]
    driven = {name: draw(outputs(names, units)) for name in shown}
    program: dict[str, Any] = {"loop_ms": draw(ticks(1, 40))} | bus | AT_ONCE | draw(receiver)
    if is_loaded or draw(st.integers(0, 3)) == 0:
        program |= {"supply": draw(supply), "boot_s": draw(seconds(40, 240))}
        draw_from_supply(draw, driven, is_loaded=is_loaded)
    return {
        "duration_s": draw(seconds(800, 2_400) if is_loaded else seconds(160, 800)),
        "starts": 2,
        "seed": draw(st.integers(0, 3)),
        "radio": radio,
        "layout": LAYOUTS,
        "transmitter": units,
        "receiver": program | turned,
        "failsafe": timers,
        "output": driven,
        "air": {"loss": 0, "acknowledge_loss": 0} | draw(losses) | air,
        "interferer": interferers,
        "fault": draw(faults([*names, "receiver"])),
    }


def draw_from_supply(
    draw: st.DrawFn, driven: dict[str, dict[str, Any]], *, is_loaded: bool
) -> None:
    """Have most outputs draw from the receiver's supply, or all: servos, motors, lamps."""
    for output in driven.values():
        if not is_loaded and draw(st.integers(0, 4)) == 0:
            continue
        output["load"] = draw(load)
        if output.get("kind", "servo") != "servo":
            continue
        if draw(st.booleans()):
            output["servo"] = {"seconds_per_60deg": draw(st.sampled_from([0.02, 0.12, 0.5]))}
        elif "servo" not in output:
            output["motor"] = {"idle_us": draw(st.sampled_from([1000, 1500]))} | draw(
                _some(signal_loss_ms=ticks(1, 80))
            )


@st.composite
def outputs(draw: st.DrawFn, names: list[str], units: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """One output of any kind, on any stream."""
    stream = draw(st.sampled_from(names))
    output: dict[str, Any] = {"stream": stream}
    if "layout" in units[stream]:
        output["mix"] = {"throttle": 1.0, "steer": -0.5}
    else:
        output["field"] = "value"
    if draw(st.integers(0, 2)) == 0:
        output["kind"] = draw(st.sampled_from(["pwm", "pin"]))
        output["on_failsafe"] = draw(st.sampled_from(["hold", "off", {"preset": 0.0}]))
        return output
    output |= draw(
        _some(
            refresh_hz=st.sampled_from([250, 333, 400]),
            phase_ms=ticks(0, 16),
            smoothing_us_per_pass=st.sampled_from([1, 20.5]),
            limit_us=st.sampled_from([[1100, 1900], [1400, 1600]]),
            pulse_us=st.just([2000, 1000]),
            at_start=st.just(1500),
            servo=st.just({}),
        )
    )
    output["on_failsafe"] = draw(st.sampled_from(["hold", "off", {"preset_us": 1500}]))
    return output


def accepted(document: dict[str, Any]) -> Scenario | None:
    """The scenario, or None if the reader refuses it (two pipes that may not go together)."""
    try:
        return parse(toml_of(document), "random.toml")
    except ScenarioError:
        return None


scenarios = documents().map(accepted).filter(lambda given: given is not None)
"""Whole scenarios that the reader accepts."""
loaded_scenarios = documents(is_loaded=True).map(accepted).filter(lambda given: given is not None)
"""The same, each with a receiver's supply, from which most outputs draw."""
