"""Which channels stay clear of a scenario's interferers and inside the band, in closed form."""

import math

import msgspec
from msgspec import Struct

from radiosim.engine.plan import make_plan
from radiosim.engine.plan_air import farthest_m, level_dbm
from radiosim.engine.plan_rows import GRID, POISSON, Emitter, Rx, Tx
from radiosim.engine.rules.levels import error_rate
from radiosim.errors import OptionError
from radiosim.radio.band import inside
from radiosim.radio.overlap import kept_beside_grid, kept_beside_random
from radiosim.scenario import Scenario
from radiosim.units import dbm_to_mw


class Channel(Struct, frozen=True, kw_only=True):
    """One channel of the band."""

    number: int
    mhz: int
    lost: dict[str, float]
    """Share of the attempts of each stream that interferers spoil, before retries."""
    worst: float
    """The share of the stream that loses most."""


def channels(scenario: Scenario) -> tuple[Channel, ...]:
    """Every channel that stays inside the band, the clearest first, of equals the nearest.

    Each attempt is taken at its farthest point, without fading, with the mean of patterns; each
    interferer alone, its bursts independent of the others'. OptionError for a scenario without
    distances.
    """
    if scenario.air.range is None:
        raise OptionError(
            f"{scenario.name}: interferer: must name who else sends, as --set "
            "'interferer.house={kind=\"bursts\",channel_mhz=2437}' (radiosim glossary interferer)"
        )
    found = [_channel(scenario, number) for number in inside(scenario.profile())]
    own = scenario.radio.channel
    return tuple(
        sorted(
            found,
            key=lambda entry: (float(f"{entry.worst:.1g}"), abs(entry.number - own), entry.number),
        )
    )


def best_channel(scenario: Scenario) -> int:
    """The clearest channel; the scenario's own if no other is clearer."""
    return channels(scenario)[0].number


def _channel(scenario: Scenario, number: int) -> Channel:
    radio = msgspec.structs.replace(scenario.radio, channel=number)
    moved = msgspec.structs.replace(scenario, radio=radio)
    plan = make_plan(moved, 0)
    lost = {}
    for name, tx in zip(plan.streams, plan.tx, strict=True):
        level_mw = dbm_to_mw(level_dbm(moved, name, farthest_m(moved, name)))
        kept = 1.0
        for emitter in plan.rx.emitter:
            kept *= kept_beside(plan.rx, tx, level_mw, emitter)
        # What arithmetic alone leaves is nothing lost.
        lost[name] = max(0.0, round(1.0 - kept, 12))
    return Channel(number=number, mhz=2400 + number, lost=lost, worst=max(lost.values()))


def kept_beside(rx: Rx, tx: Tx, level_mw: float, emitter: Emitter) -> float:
    """Share of attempts at random instants that an emitter leaves, of those that noise leaves.

    Hazards of noise and of both (facts 3): what noise does by itself is no emitter's doing.
    """
    alone = error_rate(rx, level_mw, 0.0)
    hazard = error_rate(rx, level_mw, emitter.at_receiver_mw) - alone
    if emitter.kind == POISSON:
        rate = emitter.mean / emitter.every_ns
        return kept_beside_random(tx.frame_ns, emitter.burst_ns, rate, hazard)
    if emitter.kind == GRID:
        return kept_beside_grid(tx.frame_ns, emitter.burst_ns, emitter.every_ns, hazard)
    return math.exp(-hazard * tx.frame_ns)
