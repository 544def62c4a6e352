"""What a scenario left out, said in a builder's words: a run prints it."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

import msgspec

from radiosim.counted import counted
from radiosim.radio.air_frame import with_step
from radiosim.radio.profiles import transmit_ma
from radiosim.scenario.noise import noise_per_hour
from radiosim.scenario.structs.output_table import Preset
from radiosim.scenario.structs.receiver_table import Receiver
from radiosim.scenario.structs.scenario_file import Scenario, ScenarioFile
from radiosim.scenario.structs.shared_keys import USUAL_BOOT_S
from radiosim.scenario.structs.transmitter_table import Transmitter, TransmitterTable

Document = Mapping[str, Any]
OF_PROGRAM = "outputs and failsafe: the receiver program "
"""How the line begins that says which receiver's own program figures are of."""


def assumed(file: ScenarioFile, scenario: Scenario, document: Document) -> tuple[str, ...]:
    """One line for each thing that the document did not say and that matters."""
    return (
        *_of_run(scenario, document),
        *_of_link(scenario, document),
        *_of_transmitters(scenario, document),
        *_of_air(scenario, document),
        *_of_receiver(scenario, document),
        *_of_boots(scenario, document),
        *_of_outputs(file, scenario),
        *_of_supply(scenario),
        *_of_failsafe(scenario),
    )


def program_lines(lines: Iterable[str]) -> tuple[str, ...]:
    """Those that say which receiver's own program figures are of; one or none."""
    return tuple(line for line in lines if line.startswith(OF_PROGRAM))


def still_assumed(
    lines: Iterable[str], before: Iterable[str], now: Iterable[str]
) -> tuple[str, ...]:
    """What was assumed of a scenario and still is, now that some of its keys are given.

    `before`: what would be assumed of it if it gave no key, `now`: if it gave nothing but those.
    """
    gone = _parts(before) - _parts(now)
    left = []
    for line in lines:
        names, _, text = line.partition(": ")
        named, said = names.split(", "), text.split(", ")
        kept_names = [name for name in named if any((name, what) not in gone for what in said)]
        kept = [what for what in said if any((name, what) not in gone for name in named)]
        left += [f"{', '.join(kept_names)}: {', '.join(kept)}"] if kept else []
    return tuple(left)


def _parts(lines: Iterable[str]) -> set[tuple[str, str]]:
    """Each name of each line with each thing that is assumed of it."""
    parted = (line.partition(": ") for line in lines)
    return {
        (name, said)
        for names, _, text in parted
        for name in names.split(", ")
        for said in text.split(", ")
    }


def assumed_distance_m(scenario: Scenario) -> float | None:
    """The distance that was taken where the scenario gives none; None where it gives one."""
    place = scenario.air.range
    if place is None or place.distance_m is None:
        return None
    return place.distance_m if _distance_line(place.distance_m) in scenario.assumed else None


def losses_said(scenario: Scenario) -> tuple[str, ...]:
    """What loses frames in a scenario, key by key, and whether it is assumed or given."""
    air, said = scenario.air, []
    if air.loss or (air.burst is None and air.range is None):
        how = "assumed" if is_loss_assumed(scenario) else "given"
        said.append(f"air.loss = {air.loss:g} ({how})")
    said.append("air.burst (given)" if air.burst else "no loss bursts (no air.burst)")
    if air.range is None:
        said.append("no distance (no air.range)")
    elif air.range.distance_m is None:
        said.append("air.range (given)")
    else:
        how = "given" if assumed_distance_m(scenario) is None else "assumed"
        said.append(f"air.range.distance_m = {air.range.distance_m:g} ({how})")
    others = ", ".join(f"interferer.{name} (given)" for name in scenario.interferer)
    return (*said, others or "nobody else on the air (no interferer)")


def is_loss_assumed(scenario: Scenario) -> bool:
    """Whether nothing says what share of attempts is lost by chance."""
    return _loss_line(scenario) in scenario.assumed


def _loss_line(scenario: Scenario) -> str:
    return f"air: loses {100 * scenario.air.loss:.4g} % of all attempts by chance"


def _distance_line(distance_m: float) -> str:
    return f"air: {distance_m:g} m from the receiver, in free space"


def _table(document: Document, *path: str) -> Document:
    for key in path:
        document = document.get(key, {})
    return document


def _lacking(document: Document, table: str, names: Iterable[str], *keys: str) -> list[str]:
    """Names of the tables that have none of the keys."""
    return [name for name in names if not any(key in _table(document, table, name) for key in keys)]


def _line(names: Iterable[str], text: str) -> Iterator[str]:
    """One line for all that share a text; none if nobody does."""
    if listed := ", ".join(names):
        yield f"{listed}: {text}"


def _of_run(scenario: Scenario, document: Document) -> Iterator[str]:
    texts = {
        "starts": counted(scenario.starts, "start"),
        "duration_s": f"{scenario.duration_s:g} s each",
        "seed": f"seed {scenario.seed}",
    }
    if said := [text for key, text in texts.items() if key not in document]:
        yield "run: " + ", ".join(said)


def _of_link(scenario: Scenario, document: Document) -> Iterator[str]:
    radio = scenario.radio
    texts = {
        "channel": f"channel {radio.channel} ({2400 + radio.channel} MHz)",
        "address_bytes": f"{radio.address_bytes}-byte addresses",
        "crc_bytes": f"{radio.crc_bytes}-byte CRC",
    }
    given = _table(document, "radio")
    if said := [text for key, text in texts.items() if key not in given]:
        yield "radio: " + ", ".join(said)
    yield "radio: as its data sheet says (not a clone), awake between frames"
    if noise_per_hour(scenario) is not None:
        yield "radio: noise passes for frames of any length, without a preamble (pessimistic)"


def _of_transmitters(scenario: Scenario, document: Document) -> Iterator[str]:
    units = scenario.transmitter

    def lacking(*keys: str, among: Callable[[Transmitter], bool] = lambda _: True) -> list[str]:
        names = [name for name, unit in units.items() if among(unit)]
        return _lacking(document, "transmitter", names, *keys)

    yield from _line(lacking("acknowledge"), "every frame is acknowledged")
    yield from _of_retries(scenario, document)
    for name in units:
        yield from _of_address(name, units[name], _table(document, "transmitter", name))
    clocks = lacking("clock", "clock_ppm")
    if not {"clock", "clock_ppm"} & _table(document, "receiver").keys():
        clocks.append("receiver")
    crystal = "crystal clock, error drawn for each start"
    drifting = {name for name, unit in units.items() if unit.drift is not None}
    if scenario.receiver.drift is not None:
        drifting.add("receiver")
    yield from _line([name for name in clocks if name not in drifting], f"{crystal}, no drift")
    yield from _line([name for name in clocks if name in drifting], crystal)
    yield from _of_drift(scenario)
    yield from _line(lacking("offset_ms"), "phase drawn for each start")
    can_jitter = lacking("jitter_ms", among=lambda unit: unit.pacing != "elapsed")
    yield from _line(can_jitter, "no jitter")
    yield from _of_charge(scenario)
    for name, unit in units.items():
        yield from _of_content(name, unit, _table(document, "transmitter", name))


def _of_drift(scenario: Scenario) -> Iterator[str]:
    """What drifts leave out."""
    drifting = [name for name, unit in scenario.transmitter.items() if unit.drift is not None]
    yield from _line(
        drifting, "its drift moves samples and work alone, and a power cut does not cool its clock"
    )
    if scenario.receiver.drift is not None:
        yield (
            "receiver: its drift moves deaf spans and work alone, not passes, timeouts and pulses"
        )


def _of_charge(scenario: Scenario) -> Iterator[str]:
    """Units whose power no table of currents reaches: what they draw is not made up."""
    profile = scenario.profile()
    units: dict[str, Transmitter | Receiver] = {**scenario.transmitter}
    for name, unit in (*units.items(), ("receiver", scenario.receiver)):
        if transmit_ma(profile, unit.power_dbm, unit.amplifier_ma) is None:
            yield f"{name}: charge not known at {unit.power_dbm:g} dBm without amplifier_ma"


def _of_retries(scenario: Scenario, document: Document) -> Iterator[str]:
    units = {name: unit for name, unit in scenario.transmitter.items() if unit.acknowledge is True}
    retrying = [name for name, unit in units.items() if unit.retry_limit]
    delay = _lacking(document, "transmitter", retrying, "retry_delay_us")
    limit = _lacking(document, "transmitter", units, "retry_limit")
    both = [name for name in delay if name in limit]
    pessimistic = " (equal delays: pessimistic)" if len(delay) > 1 else ""
    retries = f"{TransmitterTable().retry_limit} retries"
    apart = f"{with_step(TransmitterTable().retry_delay_us)} apart{pessimistic}"
    yield from _line(both, f"{retries}, {apart}")
    yield from _line([name for name in limit if name not in both], retries)
    yield from _line([name for name in delay if name not in both], f"retries {apart}")


def _of_address(name: str, unit: Transmitter, given: Document) -> Iterator[str]:
    said = []
    if "pipe" not in given:
        said.append(f"pipe {unit.pipe}")
    if "address" not in given:
        said.append(f"address {unit.address}")
    if said:
        yield f"{name}: " + ", ".join(said)


def _of_content(name: str, unit: Transmitter, given: Document) -> Iterator[str]:
    still = [field for field in unit.signals if field not in given.get("signals", {})]
    if unit.payload_bytes is None or len(still) < len(unit.signals):
        yield from _line([name] if still else [], f"{', '.join(still)} at rest all the time")
    elif "value" in still:
        size = unit.payload_bytes
        do = "does" if size == 1 else "do"
        yield f"{name}: {counted(size, 'byte')} that {do} not change between frames (pessimistic)"


def _of_air(scenario: Scenario, document: Document) -> Iterator[str]:
    given = _table(document, "air")
    is_described = "range" in given or "burst" in given
    if "loss" not in given and not is_described:
        yield _loss_line(scenario)
    is_acknowledged = any(unit.acknowledge is True for unit in scenario.transmitter.values())
    if is_acknowledged and "acknowledge_loss" not in given and not is_described:
        share = f"{100 * scenario.air.acknowledge_loss:.4g} %"
        yield f"air: loses {share} of all acknowledgements by chance"
    yield from _of_range(scenario, given)


def _of_range(scenario: Scenario, given: Document) -> Iterator[str]:
    place = scenario.air.range
    if place is None:
        return
    if "range" not in given and place.distance_m is not None:
        yield _distance_line(place.distance_m)
    said = []
    about = given.get("range", {})
    if place.path == "two-ray" and not {"transmitter_height_m", "receiver_height_m"} <= set(about):
        heights = f"{place.transmitter_height_m:g} and {place.receiver_height_m:g} m"
        said.append(f"antennas {heights} above the ground")
    if not {"transmitter_gain_dbi", "receiver_gain_dbi"} & set(about) and "anchor" not in about:
        said.append("antennas of 0 dBi, nothing in their way")
    turning = [name for name, unit in scenario.transmitter.items() if unit.antenna is not None]
    if scenario.receiver.antenna is not None:
        turning.append("receiver")
    if not turning:
        said.append("antennas the same all round")
    if "fading" not in about:
        said.append("no fading")
    elif place.fading != "none" and "speed_m_s" not in about:
        said.append(f"moving at {place.speed_m_s:g} m/s")
    if place.path == "log-distance" and "shadowing_db" not in about:
        said.append(f"{place.shadowing_db:g} dB of shadowing")
    if said and "range" in given:
        yield "air.range: " + ", ".join(said)
    yield from _line(
        turning,
        "its antenna turns level, not tilted, its polarisation fits, and headings count from one "
        "direction of the other end, which stays",
    )
    if len(scenario.transmitter) > 1 and "between_transmitters_m" not in given:
        yield f"air: transmitters {scenario.air.between_transmitters_m:g} m from each other"


def _of_receiver(scenario: Scenario, document: Document) -> Iterator[str]:
    given = _table(document, "receiver")
    said = []
    if "loop_ms" not in given:
        said.append(f"passes of {scenario.receiver.loop_ms:g} ms")
    if any(work.longest_ms is None for work in scenario.receiver.work):
        said.append("work of one length")
    if "read" not in given and not scenario.receiver.interrupt:
        said.append("one frame read in each pass")
    if said:
        yield "receiver: " + ", ".join(said)
    left_out = []
    if "unpack_us" not in given:
        left_out.append("frames unpacked in no time")
    if "clock_tick_ms" not in given and scenario.failsafe:
        left_out.append("timeouts counted without steps")
    if left_out:
        yield "receiver: " + ", ".join(left_out)


def _of_boots(scenario: Scenario, document: Document) -> Iterator[str]:
    names = _lacking(document, "transmitter", scenario.transmitter, "boot_s")
    if "boot_s" not in _table(document, "receiver"):
        names.append("receiver")
    units: dict[str, Transmitter | Receiver] = {
        **scenario.transmitter,
        "receiver": scenario.receiver,
    }
    apart = [name for name in names if units[name].reset_boot_s is not None]
    alike = [name for name in names if name not in apart]
    yield from _line(alike, f"{USUAL_BOOT_S:g} s to boot when switched on or reset")
    yield from _line(apart, f"{USUAL_BOOT_S:g} s to boot when switched on")


def without_assumed_outputs(file: ScenarioFile, lines: Iterable[str]) -> ScenarioFile:
    """The file without the outputs that were assumed, as its lines say."""
    lines = tuple(lines)
    said = {
        name: output
        for name, output in file.output.items()
        if not any(line.startswith(_drives(name, output.stream)) for line in lines)
    }
    return msgspec.structs.replace(file, output=said)


def assumed_outputs(scenario: Scenario) -> tuple[str, ...]:
    """Names of the outputs that a scenario has because it gives none for their streams."""
    return tuple(
        name
        for name, output in scenario.output.items()
        if any(line.startswith(_drives(name, output.stream)) for line in scenario.assumed)
    )


def guessed_presets(scenario: Scenario) -> tuple[str, ...]:
    """Names of the outputs that do on failsafe what was taken because nobody has said it."""
    return tuple(
        name for name in assumed_outputs(scenario) if scenario.output[name].on_failsafe != "hold"
    )


def _drives(name: str, stream: str) -> str:
    """How the line of an output begins."""
    return f"{stream}: drives output.{name}, "


def _of_outputs(file: ScenarioFile, scenario: Scenario) -> Iterator[str]:
    for name, output in scenario.output.items():
        if name in file.output:
            continue
        text = f"{_drives(name, output.stream)}a {output.refresh_hz:g} Hz servo"
        if isinstance(output.on_failsafe, Preset):
            text += f", {output.on_failsafe.preset_us:g} us on failsafe"
        elif output.on_failsafe == "off":
            text += ", no pulses on failsafe (where it stands still is not said)"
        yield text
    yield from _line(
        [f"output.{name}" for name in without_idle(scenario)],
        "where its motor stands still is not said: give motor.idle_us (a controller that runs one "
        "way is at half throttle at 1500 us)",
    )


def _of_supply(scenario: Scenario) -> Iterator[str]:
    """What is left out of a supply that outputs load (rule E4)."""
    if scenario.receiver.supply is None:
        return
    outputs = scenario.output.items()
    yield (
        "receiver.supply: no cell that runs down, no lead of its own to each load, no current of "
        "the radio, loads that draw as much at a low voltage"
    )
    yield from _line(
        [f"output.{name}" for name, output in outputs if output.load is None],
        "draws nothing from the receiver's supply",
    )
    fed = {
        name: output.load
        for name, output in outputs
        if output.load is not None and output.load.supply == "receiver"
    }
    yield from _line(
        [f"output.{name}" for name, load in fed.items() if load.start_ma is None],
        "no more current as it starts than while it moves",
    )
    yield from _line(
        [f"output.{name}" for name in fed if scenario.output[name].servo is not None],
        "a servo without pulses ends its movement, one held up by a linkage draws no more",
    )


def without_idle(scenario: Scenario) -> tuple[str, ...]:
    """Names of outputs with a motor on pulses of which nobody has said where it stands still."""
    return tuple(
        name
        for name, output in scenario.output.items()
        if output.kind == "servo" and output.motor is not None and output.motor.idle_us is None
    )


def _of_failsafe(scenario: Scenario) -> Iterator[str]:
    without = [name for name in scenario.transmitter if name not in scenario.failsafe]
    yield from _line(without, "NO FAILSAFE: its outputs keep their last value for good")
