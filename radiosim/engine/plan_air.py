"""The air of one start in whole numbers: paths, fading, and what sends from outside."""

import functools
import math
from typing import NamedTuple

from radiosim.chance import ONE_53, WAVE, Key, key_of, philox4x32, threshold_53
from radiosim.engine.plan_antennas import NO_PATTERN, antenna_of
from radiosim.engine.plan_emitters import emitters_of, frequency_mhz
from radiosim.engine.plan_rows import Antenna, Emitter, Point, Wave
from radiosim.radio.air_frame import frame_bits
from radiosim.radio.bit_errors import cochannel_weight, noise_mw
from radiosim.radio.propagation import (
    FREE_SPACE,
    LOG_DISTANCE,
    TWO_RAY,
    WAVES,
    anchor_shift_db,
    doppler_hz,
    free_space_db,
    path_loss_db,
)
from radiosim.registers.fault_kind import RECEIVER
from radiosim.scenario import Scenario
from radiosim.scenario.structs.range_tables import Place, Range
from radiosim.scenario.structs.transmitter_table import Transmitter
from radiosim.units import db_to_ratio, dbm_to_mw, ns_from_s

PATHS = {"free-space": FREE_SPACE, "two-ray": TWO_RAY, "log-distance": LOG_DISTANCE}
_WAVES = {"none": 0, "rayleigh": WAVES, "rician": WAVES + 1}
"""How many there are; Rician with a steady one."""
_SHADOW_STEPS = 20
"""Steps in which shadowing is drawn, on the way on which it changes."""
_TO_ONE = 2.0**-32
_NOWHERE = Place()


class Chances(NamedTuple):
    """The fields of a transmitter's row that tell what chance takes."""

    loss_53: int
    ack_loss_53: int
    bad_loss_53: int
    bad_ack_loss_53: int


class Path(NamedTuple):
    """The fields of a transmitter's row that tell how its level reaches the receiver."""

    path: int = FREE_SPACE
    frequency_mhz: float = 0.0
    height_m: float = 0.0
    beyond_m: float = 0.0
    exponent: float = 0.0
    gain_db: float = 0.0
    fixed_db: float = 0.0
    points: int = 0
    track: tuple[Point, ...] = ()
    shadow_db: float = 0.0
    shadow_ns: int = 1
    shadow_kept: float = 0.0
    waves: int = 0
    wave: tuple[Wave, ...] = ()
    antenna: Antenna = NO_PATTERN


class Weighing(NamedTuple):
    """The fields of the receiver's row that tell how signals are weighed."""

    weighs: int = 0
    noise_mw: float = 0.0
    strongest_mw: float = 0.0
    own_weight: float = 0.0
    beside_gain: float = 0.0
    bits_per_ns: float = 0.0
    good_ns: float = 0.0
    bad_ns: float = 0.0
    air_low: int = 0
    air_high: int = 0
    emitters: int = 0
    emitter: tuple[Emitter, ...] = ()
    antenna: Antenna = NO_PATTERN


def fits_length(scenario: Scenario, unit: Transmitter) -> bool:
    """Whether the receiver takes frames of this transmitter's length (rule B7)."""
    return scenario.radio.payload_length == "own" or unit.payload_length in (
        "link",
        scenario.radio.payload_length,
    )


def chances_of(scenario: Scenario, unit: Transmitter) -> Chances:
    """Below which draws chance takes attempts and acknowledgements, in good and bad bursts."""
    air = scenario.air
    good, bad = (0.0, 0.0) if air.burst is None else (air.burst.loss_good, air.burst.loss_bad)

    def below(loss: float, more: float) -> int:
        return threshold_53(loss + more - loss * more if more else loss)

    # A frame of a length that the receiver does not expect never passes its CRC.
    fits = fits_length(scenario, unit)
    return Chances(
        loss_53=below(air.loss, good) if fits else ONE_53,
        ack_loss_53=below(air.acknowledge_loss, good),
        bad_loss_53=below(air.loss, bad) if fits else ONE_53,
        bad_ack_loss_53=below(air.acknowledge_loss, bad),
    )


def path_of(scenario: Scenario, name: str) -> Path:
    """How the level of one transmitter reaches the receiver; a start draws its waves."""
    air = scenario.air.range
    if air is None:
        return Path()
    place = scenario.transmitter[name].place or _NOWHERE
    height_m = place.height_m or air.transmitter_height_m
    at_mhz = frequency_mhz(scenario)
    kind = PATHS[air.path]
    gain_db = _antennas_db(scenario, name) + anchored_db(scenario)
    track = _track_of(place) or _track_of(air)
    distance_m = place.distance_m or air.distance_m or 1.0
    if place.distance_m is not None:
        track = ()
    ends = (height_m, air.receiver_height_m, air.exponent)
    shadow_ns = max(1, ns_from_s(air.shadowing_m / air.speed_m_s / _SHADOW_STEPS))
    return Path(
        path=kind,
        frequency_mhz=at_mhz,
        height_m=height_m,
        beyond_m=air.receiver_height_m,
        exponent=air.exponent,
        gain_db=gain_db,
        fixed_db=gain_db - path_loss_db(kind, distance_m, at_mhz, *ends),
        points=len(track),
        track=track,
        shadow_db=air.shadowing_db or 0.0,
        shadow_ns=shadow_ns,
        shadow_kept=math.exp(-1 / _SHADOW_STEPS),
        waves=_WAVES[air.fading],
        antenna=antenna_of(scenario, name),
    )


def _antennas_db(scenario: Scenario, name: str) -> float:
    air, place = scenario.air.range, scenario.transmitter[name].place
    if air is None:
        return 0.0
    own = None if place is None else place.gain_dbi
    return (air.transmitter_gain_dbi if own is None else own) + air.receiver_gain_dbi


def anchored_db(scenario: Scenario) -> float:
    """What a measured point says beside the formulas; 0 without one."""
    air = scenario.air.range
    if air is None or air.anchor is None:
        return 0.0
    name = air.anchor.transmitter or next(iter(scenario.transmitter))
    unit, profile = scenario.transmitter[name], scenario.profile()
    height_m = (unit.place or _NOWHERE).height_m or air.transmitter_height_m
    loss_db = path_loss_db(
        PATHS[air.path],
        air.anchor.distance_m,
        frequency_mhz(scenario),
        height_m,
        air.receiver_height_m,
        air.exponent,
    )
    # Whoever measures turns the antennas to each other.
    turned_db = math.fsum(antenna.best_db for antenna in antennas_of(scenario, name))
    level_db = unit.power_dbm + _antennas_db(scenario, name) + turned_db - loss_db
    noise_db = 10 * math.log10(noise_mw(profile.sensitivity_dbm))
    return _shift_db(
        level_db - noise_db,
        own_frame_bits(scenario, name),
        air.fading,
        db_to_ratio(air.rician_k_db),
        air.shadowing_db or 0.0,
        air.anchor.delivery,
    )


_shift_db = functools.lru_cache(maxsize=256)(anchor_shift_db)


def own_frame_bits(scenario: Scenario, name: str) -> int:
    """Bits of a transmitter's frame on the air."""
    unit, profile, radio = scenario.transmitter[name], scenario.profile(), scenario.radio
    own = scenario.layout_of(name).size_bytes
    lengths = (unit.payload_length, radio.payload_length)
    padded = next((length for length in lengths if isinstance(length, int)), own)
    return frame_bits(
        padded,
        address_bytes=radio.address_bytes,
        crc_bytes=radio.crc_bytes,
        preamble_bytes=profile.preamble_bytes,
        control_bits=0 if unit.acknowledge is False else profile.control_bits,
    )


def _track_of(place: Place | Range) -> tuple[Point, ...]:
    return tuple(Point(ns_from_s(seconds), metres) for seconds, metres in place.track or ())


def waves_of(scenario: Scenario, start: int, name: str) -> tuple[Wave, ...]:
    """The waves of one transmitter's fading level in one start; none without fading."""
    air = scenario.air.range
    if air is None or air.fading == "none":
        return ()
    key = key_of(scenario.seed, start, "fading", name)
    return _waves(air, doppler_hz(air.speed_m_s, frequency_mhz(scenario)), key)


def _waves(air: Range, doppler: float, key: Key) -> tuple[Wave, ...]:
    """Of mean power 1; Rician: one of them steady."""
    steady = 0.0
    if air.fading == "rician":
        ratio = db_to_ratio(air.rician_k_db)
        steady = ratio / (1 + ratio)
    spread = math.sqrt((1 - steady) / WAVES / 2)
    waves = []
    for k in range(WAVES):
        angle, radius, turn, _ = _shares(key, k)
        # One angle in each part of the half circle: the mean over starts is J0 all the same.
        length = spread * math.sqrt(-2 * math.log1p(-radius))
        waves.append(
            Wave(
                _turns_64(doppler * math.cos(math.pi * (k + angle) / WAVES)),
                0,
                length * math.cos(2 * math.pi * turn),
                length * math.sin(2 * math.pi * turn),
            )
        )
    if steady:
        angle, _, turn, _ = _shares(key, WAVES)
        rate = _turns_64(doppler * math.cos(math.pi * angle))
        waves.append(Wave(rate, int(turn * 2**63), math.sqrt(steady), 0.0))
    return tuple(waves)


def _shares(key: Key, index: int) -> tuple[float, ...]:
    return tuple(word * _TO_ONE for word in philox4x32(index, 0, 0, WAVE, key.low, key.high))


def _turns_64(hertz: float) -> int:
    """A frequency in 2⁻⁶⁴ turns a nanosecond."""
    return round(hertz * 2.0**64 / 1e9)


def emitters_on_air(scenario: Scenario, start: int) -> tuple[Emitter, ...]:
    """What sends from outside in one start; of no effect where levels are not known."""
    if scenario.air.range is None:
        return ()
    return tuple(
        emitter
        for name, source in scenario.interferer.items()
        for emitter in emitters_of(scenario, start, name, source)
    )


def weighing_of(scenario: Scenario) -> Weighing:
    """How signals are weighed; a start draws the key of bursts, and what sends from outside."""
    profile, air, burst = scenario.profile(), scenario.air, scenario.air.burst
    weighing = Weighing(
        good_ns=0.0 if burst is None else burst.good_ms * 1e6,
        bad_ns=0.0 if burst is None else burst.bad_ms * 1e6,
    )
    if air.range is None:
        return weighing
    beside_db = free_space_db(air.between_transmitters_m or 1.0, frequency_mhz(scenario))
    return weighing._replace(
        weighs=1,
        noise_mw=noise_mw(profile.sensitivity_dbm),
        strongest_mw=dbm_to_mw(profile.max_input_dbm),
        own_weight=cochannel_weight(profile.cochannel_db),
        beside_gain=1 / db_to_ratio(beside_db),
        bits_per_ns=profile.bit_rate / 1e9,
        antenna=antenna_of(scenario, RECEIVER),
    )


def farthest_m(scenario: Scenario, name: str) -> float:
    """The greatest distance of a transmitter in a scenario with distances."""
    air, place = scenario.air.range, scenario.transmitter[name].place or _NOWHERE
    assert air is not None
    if place.distance_m is not None:
        return place.distance_m
    track = place.track or air.track
    return max(metres for _, metres in track) if track else air.distance_m or 1.0


def antennas_of(scenario: Scenario, name: str) -> tuple[Antenna, Antenna]:
    """The antennas at both ends of a transmitter's path."""
    return antenna_of(scenario, name), antenna_of(scenario, RECEIVER)


def level_dbm(scenario: Scenario, name: str, distance_m: float) -> float:
    """Level of a transmitter at the receiver, before shadowing and fading.

    Patterns count with their mean over the headings that come up.
    """
    air, unit = scenario.air.range, scenario.transmitter[name]
    assert air is not None
    loss_db = path_loss_db(
        PATHS[air.path],
        distance_m,
        frequency_mhz(scenario),
        (unit.place or _NOWHERE).height_m or air.transmitter_height_m,
        air.receiver_height_m,
        air.exponent,
    )
    mean_db = math.fsum(antenna.mean_db for antenna in antennas_of(scenario, name))
    fixed_db = _antennas_db(scenario, name) + anchored_db(scenario)
    return unit.power_dbm + fixed_db + mean_db - loss_db
