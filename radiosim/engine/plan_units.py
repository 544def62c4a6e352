"""A plan's units: what a transmitter and the receiver are in every start, and in one."""

from collections.abc import Sequence

from msgspec.structs import replace

from radiosim.chance import (
    CLOCK,
    DEAF,
    PHASE,
    WORK,
    Key,
    draw_below,
    key_of,
    threshold_53,
)
from radiosim.engine import plan_rows as rows
from radiosim.engine.once import once
from radiosim.engine.payload import padded_bytes
from radiosim.engine.plan_air import chances_of, emitters_on_air, path_of, waves_of, weighing_of
from radiosim.engine.plan_drift import drift_of
from radiosim.engine.plan_rows import Rx, Tx
from radiosim.engine.rules.timing import AFTER_SEND, ELAPSED, TIMER, scaled
from radiosim.engine.timeline import FOREVER_NS, UnitTimes
from radiosim.layout import Layout
from radiosim.radio.air_frame import bits_ns, frame_bits, until_retry_ns, upload_ns
from radiosim.radio.profiles import Profile
from radiosim.scenario import Scenario
from radiosim.scenario.structs.receiver_table import Receiver
from radiosim.scenario.structs.shared_keys import Deaf as DeafSpan
from radiosim.scenario.structs.shared_keys import Work as WorkSpan
from radiosim.scenario.structs.transmitter_table import Transmitter
from radiosim.units import db_to_ratio, dbm_to_mw, ns_from_ms, ns_from_s, ns_from_us

CLOCK_PPB = {"crystal": 60_000, "resonator": 5_000_000, "internal": 20_000_000}
"""Half widths of the clock errors (rule T5): crystal from PS front page, others common practice."""
PACINGS = {"timer": TIMER, "elapsed": ELAPSED, "after_send": AFTER_SEND}
FORMATS = {False: rows.PLAIN, "flag": rows.FLAGGED, True: rows.ACKNOWLEDGING}
WHEN_BUSY = {
    "skip": rows.SKIP,
    "wait": rows.WAIT,
    "queue": rows.QUEUE,
    "replace": rows.REPLACE,
}
READS = {"one": rows.ONE, "all": rows.ALL, "newest": rows.NEWEST}
RECEIVER, AIR = "receiver", "air"


def clock_ppb(scenario: Scenario, start: int, name: str, unit: Transmitter | Receiver) -> int:
    """Error of one unit's clock in one start, parts in 10⁹ (rule T5)."""
    if unit.clock_ppm is not None:
        return round(unit.clock_ppm * 1000)
    width = CLOCK_PPB[unit.clock]
    key = key_of(scenario.seed, start, "unit", name)
    return draw_below(key, CLOCK, 2 * width + 1) - width


def _works(
    scenario: Scenario, start: int, name: str, spans: tuple[WorkSpan, ...], ppb: int
) -> tuple[rows.Work, ...]:
    """Work of a program; each has draws of its own for its lengths (rule A4)."""
    held_up = _held_up(key_of(scenario.seed, start, "unit", name), WORK, spans, ppb)
    works = []
    for index, (work, span) in enumerate(zip(held_up, spans, strict=True)):
        key = key_of(scenario.seed, start, "work", f"{name}.{index}")
        is_random = span.longest_ms is not None
        works.append(
            work._replace(
                interrupts_off=int(span.interrupts_off),
                longest_ns=max(work.takes_ns, scaled(ns_from_ms(span.most_ms), ppb)),
                stretched_53=threshold_53(span.stretched_share) if is_random else 0,
                key_low=key.low,
                key_high=key.high,
            )
        )
    return tuple(works)


def _held_up(
    key: Key, what: int, spans: Sequence[WorkSpan | DeafSpan], ppb: int
) -> tuple[rows.Work, ...]:
    """Work or deaf spans of a program, with the phase of each drawn where none is given."""
    held_up = []
    for index, span in enumerate(spans):
        every_ns = max(1, ns_from_ms(span.every_ms))
        takes_ms = span.takes_ms if isinstance(span, WorkSpan) else span.for_ms
        if span.offset_ms == "drawn":
            offset_ns = draw_below(key, what, every_ns, index)
        else:
            offset_ns = scaled(ns_from_ms(span.offset_ms), ppb)
        takes_ns = max(1, scaled(ns_from_ms(takes_ms), ppb))
        held_up.append(rows.Work(offset_ns, every_ns, takes_ns, 0, takes_ns))
    return tuple(held_up)


def _bits(scenario: Scenario, profile: Profile, payload_bytes: int, plain: bool) -> int:
    return frame_bits(
        payload_bytes,
        address_bytes=scenario.radio.address_bytes,
        crc_bytes=scenario.radio.crc_bytes,
        preamble_bytes=profile.preamble_bytes,
        control_bits=0 if plain else profile.control_bits,
    )


def still_transmitter(scenario: Scenario, name: str, layout: Layout, address_of: int) -> Tx:
    """A transmitter as it is in every start: what clocks and draws make of it is still to come."""
    unit, profile = scenario.transmitter[name], scenario.profile()
    payload_bytes = padded_bytes(scenario, unit, layout)
    settle_ns = ns_from_us(profile.settle_us)
    pace_ms = unit.pause_ms if unit.pacing == "after_send" else unit.period_ms
    on_air = _bits(scenario, profile, payload_bytes, unit.acknowledge is False)
    acknowledgement = _bits(scenario, profile, scenario.receiver.acknowledge_payload_bytes, False)
    address_bits = 8 * (profile.preamble_bytes + scenario.radio.address_bytes)
    receiver = scenario.receiver
    return Tx(
        pacing=PACINGS[unit.pacing],
        offset_ns=0 if unit.offset_ms == "drawn" else ns_from_ms(unit.offset_ms),
        period_ns=ns_from_ms(pace_ms or 0.0),
        ppb=0,
        jitter_ns=ns_from_ms(unit.jitter_ms),
        dither_ns=ns_from_ms(unit.dither_ms),
        loop_ns=ns_from_ms(unit.loop_ms),
        prepare_ns=ns_from_us(unit.prepare_us),
        acknowledge=FORMATS[unit.acknowledge],
        when_busy=WHEN_BUSY[unit.when_busy],
        flush_on_retries_used_up=int(unit.flush_on_retries_used_up),
        start_held=int(unit.start_signal == "held"),
        fifo_frames=profile.fifo_frames,
        upload_ns=upload_ns(payload_bytes, unit.spi_hz, ns_from_us(unit.spi_overhead_us)),
        settle_ns=settle_ns,
        frame_ns=bits_ns(on_air, profile.bit_rate),
        address_ns=bits_ns(address_bits, profile.bit_rate),
        noise_ns=bits_ns(on_air - 8 * profile.preamble_bytes, profile.bit_rate),
        ack_ns=bits_ns(acknowledgement, profile.bit_rate),
        ack_address_ns=bits_ns(address_bits, profile.bit_rate),
        window_ns=ns_from_us(profile.acknowledge_window_us),
        interrupt_ns=ns_from_us(profile.interrupt_us),
        retry_ns=until_retry_ns(ns_from_us(unit.retry_delay_us), settle_ns, profile.retry_settle),
        retry_limit=unit.retry_limit,
        **chances_of(scenario, unit)._asdict(),
        **path_of(scenario, name)._asdict(),
        drift=drift_of(scenario, name),
        power_mw=dbm_to_mw(unit.power_dbm),
        address_of=address_of,
        memory=0 if receiver.duplicate_memory == "radio" else address_of,
        reading_ns=upload_ns(payload_bytes, receiver.spi_hz, ns_from_us(receiver.spi_overhead_us)),
        key_low=0,
        key_high=0,
        branch=0,
        works=len(unit.work),
        work=(),
    )


def transmitter_of(scenario: Scenario, start: int, name: str, still: Tx) -> Tx:
    """A transmitter in one start."""
    unit, receiver = scenario.transmitter[name], scenario.receiver
    key = key_of(scenario.seed, start, "unit", name)
    ppb = clock_ppb(scenario, start, name, unit)
    is_drawn = unit.offset_ms == "drawn"
    receiver_ppb = clock_ppb(scenario, start, RECEIVER, receiver)
    return still._replace(
        offset_ns=draw_below(key, PHASE, max(1, still.period_ns)) if is_drawn else still.offset_ns,
        ppb=ppb,
        loop_ns=max(1, scaled(still.loop_ns, ppb)),
        prepare_ns=scaled(still.prepare_ns, ppb),
        wave=waves_of(scenario, start, name) if still.waves else still.wave,
        reading_ns=still.reading_ns + scaled(ns_from_us(receiver.unpack_us), receiver_ppb),
        key_low=key.low,
        key_high=key.high,
        work=_works(scenario, start, name, unit.work, ppb),
    )


def still_receiver(scenario: Scenario) -> Rx:
    """The receiver as it is in every start: what clocks and draws make of it is still to come."""
    unit, profile = scenario.receiver, scenario.profile()
    return Rx(
        ppb=0,
        pass_ns=ns_from_ms(unit.loop_ms) + ns_from_ms(unit.delay_ms),
        read=READS[unit.read],
        interrupt=int(unit.interrupt),
        fifo_frames=profile.fifo_frames,
        acknowledge_when_full=int(unit.acknowledge_when_full),
        settle_ns=ns_from_us(profile.settle_us),
        interrupt_ns=ns_from_us(profile.interrupt_us),
        cochannel_ratio=db_to_ratio(profile.cochannel_db),
        power_mw=dbm_to_mw(unit.power_dbm),
        **weighing_of(scenario)._asdict(),
        drift=drift_of(scenario, RECEIVER),
        works=len(unit.work),
        work=(),
        deafs=len(unit.deaf),
        deaf=(),
        tick_ns=ns_from_ms(unit.clock_tick_ms),
        deaf_in_boot=int(not unit.listens_in_boot),
    )


def receiver_of(scenario: Scenario, start: int, still: Rx) -> Rx:
    """The receiver, and what is on the air besides, in one start."""
    unit, key = scenario.receiver, key_of(scenario.seed, start, "unit", RECEIVER)
    air = key_of(scenario.seed, start, "air", "bursts")
    ppb = clock_ppb(scenario, start, RECEIVER, unit)
    emitters = emitters_on_air(scenario, start)
    return still._replace(
        ppb=ppb,
        pass_ns=max(1, scaled(still.pass_ns, ppb)),
        air_low=air.low,
        air_high=air.high,
        emitters=len(emitters),
        emitter=emitters,
        work=_works(scenario, start, RECEIVER, unit.work, ppb),
        deaf=_held_up(key, DEAF, unit.deaf, ppb),
    )


def _still_times(scenario: Scenario, name: str) -> UnitTimes:
    """Times of a unit by an ideal clock."""
    profile = scenario.profile()
    position = (*scenario.transmitter, RECEIVER, AIR).index(name)
    if name == AIR:
        return UnitTimes(
            unit=position, on_ns=FOREVER_NS, cold_boot_ns=0, warm_boot_ns=0, radio_start_ns=0
        )
    radio_start_ns = ns_from_us(profile.crystal_start_us) + ns_from_us(profile.settle_us)
    if name == RECEIVER:
        receiver = scenario.receiver
        return UnitTimes(
            unit=position,
            on_ns=0,
            cold_boot_ns=ns_from_ms(profile.power_on_reset_ms) + radio_start_ns,
            warm_boot_ns=ns_from_s(receiver.warm_boot_s),
            power_boot_ns=ns_from_s(receiver.boot_s),
            radio_start_ns=radio_start_ns,
            watchdog_ns=ns_from_ms(receiver.watchdog_ms),
            recheck_ns=ns_from_ms(receiver.recheck_ms),
            radio_survives=receiver.radio_survives,
            empties_fifo=receiver.flush_on_boot,
        )
    unit = scenario.transmitter[name]
    return UnitTimes(
        unit=position,
        on_ns=ns_from_s(unit.start_s),
        cold_boot_ns=0,
        warm_boot_ns=ns_from_s(unit.warm_boot_s),
        power_boot_ns=ns_from_s(unit.boot_s),
        radio_start_ns=radio_start_ns,
        watchdog_ns=ns_from_ms(unit.watchdog_ms),
        recheck_ns=ns_from_ms(unit.recheck_ms),
    )


def unit_times(scenario: Scenario, name: str, tx: tuple[Tx, ...], rx: Rx) -> UnitTimes:
    """Times of a unit by its clock in one start; those of its radio are the radio's own."""
    still = once(scenario, f"times {name}", lambda: _still_times(scenario, name))
    if name == AIR:
        return still
    ppb = rx.ppb if name == RECEIVER else tx[still.unit].ppb
    boot_ns = scaled(still.program_boot_ns, ppb)
    return replace(
        still,
        cold_boot_ns=still.cold_boot_ns + boot_ns,
        warm_boot_ns=scaled(still.warm_boot_ns, ppb),
        power_boot_ns=boot_ns,
        watchdog_ns=scaled(still.watchdog_ns, ppb),
        ppb=ppb,
    )
