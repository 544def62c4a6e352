"""What sends from outside the link in one start, in whole numbers."""

import math
from collections.abc import Iterator

from radiosim.chance import CLOCK, PHASE, Key, draw_below, key_of
from radiosim.engine.plan_rows import GRID, POISSON, STEADY, Emitter
from radiosim.engine.timeline import FOREVER_NS
from radiosim.radio.air_frame import bits_ns, frame_bits
from radiosim.radio.bit_errors import interference_weight, network_weight
from radiosim.scenario import Scenario
from radiosim.scenario.structs.air_tables import Interferer
from radiosim.units import dbm_to_mw, ns_from_ms, ns_from_s, ns_from_us

_LONGEST_CELL_NS = 1 << 30
EMITTER_PPB = 60_000
"""Crystals of the interferers' clocks."""
_BURSTS_WIDTH_MHZ = 20.0


def frequency_mhz(scenario: Scenario) -> float:
    """Centre of the link's channel."""
    return 2400.0 + scenario.radio.channel


def emitters_of(
    scenario: Scenario, start: int, name: str, interferer: Interferer
) -> Iterator[Emitter]:
    """The one or two regular transmitters that an interferer consists of."""
    profile = scenario.profile()
    key = key_of(scenario.seed, start, "interferer", name)
    own_mhz = frequency_mhz(scenario)
    width_mhz = interferer.width_mhz or (
        _BURSTS_WIDTH_MHZ if interferer.kind == "bursts" else profile.bandwidth_mhz
    )
    weigh = network_weight if interferer.kind == "bursts" else interference_weight
    weight = weigh(profile, own_mhz, interferer.channel_mhz, width_mhz)
    elsewhere_dbm = interferer.power_dbm_at_transmitters
    if elsewhere_dbm is None:
        elsewhere_dbm = interferer.power_dbm_at_receiver
    steady = Emitter(
        kind=STEADY,
        from_ns=ns_from_s(interferer.from_s),
        until_ns=FOREVER_NS
        if interferer.for_s is None
        else ns_from_s(interferer.from_s + interferer.for_s),
        at_receiver_mw=dbm_to_mw(interferer.power_dbm_at_receiver) * weight,
        at_transmitters_mw=dbm_to_mw(elsewhere_dbm) * weight,
        burst_ns=0,
        offset_ns=0,
        every_ns=1,
        ppb=draw_below(key, CLOCK, 2 * EMITTER_PPB + 1) - EMITTER_PPB,
        mean=0.0,
        none=1.0,
        key_low=key.low,
        key_high=key.high,
    )
    if interferer.kind == "jammer":
        yield steady
    elif interferer.kind == "transmitter":
        yield from _frames(scenario, interferer, steady, key)
    else:
        if interferer.duty > 0:
            yield _random_bursts(interferer, steady)
        if interferer.beacon_every_ms is not None:
            every_ns = ns_from_ms(interferer.beacon_every_ms)
            offset_ns = draw_below(key, PHASE, every_ns)
            burst_ns = min(every_ns, ns_from_ms(interferer.beacon_ms))
            yield steady._replace(
                kind=GRID, burst_ns=burst_ns, offset_ns=offset_ns, every_ns=every_ns
            )


def _random_bursts(interferer: Interferer, steady: Emitter) -> Emitter:
    """Bursts at random instants that together take the asked share of the time."""
    burst_ns = ns_from_ms(interferer.burst_ms)
    a_ns = -math.log1p(-interferer.duty) / burst_ns
    # So written that a share next to nothing, of which there is no reciprocal, has a cell too.
    is_rare = a_ns * _LONGEST_CELL_NS <= 1
    cell_ns = _LONGEST_CELL_NS if is_rare else max(1, round(1 / a_ns))
    mean = a_ns * cell_ns
    return steady._replace(
        kind=POISSON, burst_ns=burst_ns, every_ns=cell_ns, mean=mean, none=math.exp(-mean)
    )


def _frames(
    scenario: Scenario, interferer: Interferer, steady: Emitter, key: Key
) -> Iterator[Emitter]:
    """The frames of a neighbour of the link's own kind, and the acknowledgements to them."""
    profile, radio = scenario.profile(), scenario.radio

    def on_air_ns(payload_bytes: int) -> int:
        bits = frame_bits(
            payload_bytes,
            address_bytes=radio.address_bytes,
            crc_bytes=radio.crc_bytes or 2,
            preamble_bytes=profile.preamble_bytes,
            control_bits=profile.control_bits,
        )
        return bits_ns(bits, profile.bit_rate)

    every_ns, frame_ns = ns_from_ms(interferer.period_ms), on_air_ns(interferer.payload_bytes)
    offset_ns = draw_below(key, PHASE, every_ns)
    yield steady._replace(
        kind=GRID, burst_ns=min(every_ns, frame_ns), offset_ns=offset_ns, every_ns=every_ns
    )
    if interferer.acknowledge:
        later_ns = frame_ns + ns_from_us(profile.settle_us)
        yield steady._replace(
            kind=GRID,
            burst_ns=min(every_ns, on_air_ns(0)),
            offset_ns=offset_ns + later_ns,
            every_ns=every_ns,
        )
