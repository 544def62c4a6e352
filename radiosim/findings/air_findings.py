"""Findings about the air: range, interference, loss bursts, addresses (B3, C1 to C4)."""

import math
from collections.abc import Iterator

from radiosim.engine.plan_air import farthest_m, level_dbm
from radiosim.errors import ScenarioError
from radiosim.findings.case import Case, Overrides
from radiosim.findings.clock_findings import Pair, other_of, pairs
from radiosim.findings.proof import Suspect
from radiosim.measure.summary import StreamFigures
from radiosim.radio.air_frame import LONGEST_US
from radiosim.radio.band import MEDIUM_USE_FROM_DBM, MEDIUM_USE_LIMIT, USUAL_LIMIT_DBM, medium_use
from radiosim.safety import LOCAL_RULES
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.scenario.checks.link_checks import poor_pattern
from radiosim.study.channels import best_channel
from radiosim.study.tune.varied import retry_delays_us

OUT_OF_RANGE_NOTABLE = 0.02
"""Share of attempts lost out of range from which on it is a finding."""
NEAR_M = 1.0


def out_of_range(case: Case) -> Iterator[Suspect]:
    """Streams of which a notable share of attempts is out of range."""
    scenario = case.scenario
    if scenario.air.range is None:
        return
    for name in scenario.transmitter:
        figures = case.summary.figures.stream[name]
        if figures.lost_range < OUT_OF_RANGE_NOTABLE * max(1, figures.attempts):
            continue
        far_m = farthest_m(scenario, name)
        margin_db = level_dbm(scenario, name, far_m) - scenario.profile().sensitivity_dbm
        side = "above" if margin_db >= 0 else "below"
        yield Suspect(
            what=f"{name} is too weak where it arrives",
            where=f"transmitter.{name}.power_dbm",
            why=f"{figures.lost_range} of {figures.attempts} attempts were out of range; at "
            f"{far_m:.0f} m the level is {abs(margin_db):.0f} dB {side} what the receiver needs, "
            f"{_apart(scenario, name)}",
            figure=f"stream.{name}.lost_range",
            removed=(f"transmitter.{name}.place={{distance_m={NEAR_M:g}}}",),
            cures=tuple(_out_of_range_cures(scenario, name)),
            advice="antennas higher and clear of bodies and metal come first: they cost nothing",
            measure=f"count {name}'s frames at the far end, then with the antennas held higher",
        )


def _apart(scenario: Scenario, name: str) -> str:
    """What the level of a transmitter leaves out."""
    if scenario.receiver.antenna or scenario.transmitter[name].antenna:
        return "with the mean of the antennas' patterns, before fading and shadowing"
    return "before fading and shadowing"


def _out_of_range_cures(scenario: Scenario, name: str) -> Iterator[Overrides]:
    """What gives the link more decibels, the cheapest first."""
    air, unit = scenario.air.range, scenario.transmitter[name]
    if scenario.radio.profile != "gfsk-250k" and (slower := _slowest(scenario)):
        yield slower
    if air is not None and air.path == "two-ray":
        yield (f"air.range.receiver_height_m={3 * air.receiver_height_m:g}",)
    if unit.power_dbm < USUAL_LIMIT_DBM:
        yield (f"transmitter.{name}.power_dbm={USUAL_LIMIT_DBM:g}",)


def _slowest(scenario: Scenario) -> Overrides:
    """The slowest profile, with steps of retry delays in which its acknowledgements come; empty if
    there are none."""
    retrying = {n: u for n, u in scenario.transmitter.items() if u.acknowledge is True}
    profile = "radio.profile=gfsk-250k"
    longest = (f"transmitter.{name}.retry_delay_us={LONGEST_US}" for name in retrying)
    try:
        steps = retry_delays_us(changed(scenario, (profile, *longest)))
    except ScenarioError:
        return ()
    kept = {unit.retry_delay_us for unit in retrying.values()} & set(steps)
    free = [step for step in steps if step not in kept]
    moved = [name for name, unit in retrying.items() if unit.retry_delay_us not in kept]
    if len(free) < len(moved):
        return ()
    # Far apart, so that long frames that collided come apart on a retry.
    apart = len(free) // max(1, len(moved))
    delays = zip(moved, free[::apart], strict=False)
    return (profile, *(f"transmitter.{name}.retry_delay_us={us}" for name, us in delays))


INTERFERENCE_NOTABLE = 0.01
"""Share of attempts that must have met something before anybody from outside is suspected."""
INTERFERENCE_SHARE = 0.9
"""Several may take frames side by side: without one of them a part of the losses stays."""
SILENT_DBM = -200


def silenced(interferer: str) -> Overrides:
    """What takes an interferer off the air."""
    return (
        f"interferer.{interferer}.power_dbm_at_receiver={SILENT_DBM}",
        f"interferer.{interferer}.power_dbm_at_transmitters={SILENT_DBM}",
    )


def interference(case: Case) -> Iterator[Suspect]:
    """Every interferer, where frames or acknowledgements are lost to others at all."""
    scenario, streams = case.scenario, case.summary.figures.stream
    if not scenario.interferer:
        return
    name = max(streams, key=lambda stream: streams[stream].lost_collision)
    figures = streams[name]
    if figures.lost_collision < INTERFERENCE_NOTABLE * max(1, figures.attempts):
        return
    channel = best_channel(scenario)
    moved = () if channel == scenario.radio.channel else ((f"radio.channel={channel}",),)
    for other in scenario.interferer:
        yield Suspect(
            what=f"{other} takes frames of the link",
            where=f"interferer.{other}",
            why=f"{figures.lost_collision} of {figures.attempts} attempts of {name} met something",
            figure=f"stream.{name}.lost_collision",
            removed=silenced(other),
            cures=moved,
            advice=f"another channel, on all radios alike; {LOCAL_RULES}",
            measure=f"count {name}'s frames with {other} switched off and on",
            share=INTERFERENCE_SHARE,
        )


LOSS_BURSTS_SHARE = 0.8
MOST_RETRIES = 15


def loss_bursts(case: Case) -> Iterator[Suspect]:
    """The stream that waits longest for a value, where the air has bursts."""
    scenario, streams = case.scenario, case.summary.figures.stream
    burst = scenario.air.burst
    if burst is None or burst.loss_bad <= burst.loss_good:
        return
    name = max(streams, key=lambda stream: streams[stream].gap_ms.max)
    figures = streams[name]
    yield Suspect(
        what=f"losses come in bursts, and {name} waits through them",
        where="air.burst",
        why=f"{figures.lost_chance} of {figures.attempts} attempts were lost by chance, and the "
        f"air is bad for {burst.bad_ms:g} ms on average; gaps of up to {figures.gap_ms.max:.0f} ms",
        figure=f"stream.{name}.gap_ms.max",
        removed=(f"air.burst.loss_bad={burst.loss_good:g}",),
        cures=tuple(_loss_bursts_cures(scenario, name)),
        advice="a failsafe timeout must outlast an ordinary burst; what makes the bursts is "
        "worth a search",
        measure="log which frame numbers arrive for an hour, and look for runs of losses",
        share=LOSS_BURSTS_SHARE,
    )


def _loss_bursts_cures(scenario: Scenario, name: str) -> Iterator[Overrides]:
    """More retries, further apart: some outlast the burst."""
    unit = scenario.transmitter[name]
    if unit.acknowledge is True:
        path = f"transmitter.{name}"
        yield (f"{path}.retry_limit={MOST_RETRIES}",)
        yield (f"{path}.retry_limit={MOST_RETRIES}", f"{path}.retry_delay_us={LONGEST_US:g}")


DROWNED_ACKNOWLEDGEMENTS_NOTABLE = 0.01
"""Share of attempts whose acknowledgement must be lost."""
FAR_M = 10_000
QUIETER_DB = 12


def drowned_acknowledgements(case: Case) -> Iterator[Suspect]:
    """Pairs of transmitters near each other of which one loses acknowledgements."""
    scenario = case.scenario
    if scenario.air.range is None:
        return
    for pair in pairs(scenario):
        if suspect := _of(case, pair):
            yield suspect


def _of(case: Case, pair: Pair) -> Suspect | None:
    scenario, streams = case.scenario, case.summary.figures.stream
    name = max(pair, key=lambda stream: _share(streams[stream]))
    figures, other = streams[name], other_of(pair, name)
    if _share(figures) < DROWNED_ACKNOWLEDGEMENTS_NOTABLE:
        return None
    between_m = scenario.air.between_transmitters_m or 0.0
    quieter = scenario.transmitter[other].power_dbm - QUIETER_DB
    return Suspect(
        what=f"{other}, {between_m:g} m away, drowns the acknowledgements to {name}",
        where="air.between_transmitters_m",
        why=f"{figures.acknowledgements_lost} acknowledgements of {figures.attempts} attempts of "
        f"{name} were lost",
        figure=f"stream.{name}.acknowledgements_lost",
        removed=(f"air.between_transmitters_m={FAR_M}",),
        cures=((f"transmitter.{other}.power_dbm={quieter:g}",),),
        advice="frames whose acknowledgements are lost arrive all the same; what they cost is "
        "air time",
        measure=f"count the retries of {name} with {other} switched off and on",
    )


def _share(figures: StreamFigures) -> float:
    """Acknowledgements lost, for each attempt."""
    return figures.acknowledgements_lost / max(1, figures.attempts)


_STEP = 0x35


def shared_address(case: Case) -> Iterator[Suspect]:
    """Pairs with one address; the rules alone show what follows."""
    scenario = case.scenario
    for first, second in pairs(scenario):
        one, other = (scenario.transmitter[name] for name in (first, second))
        if one.address != other.address:
            continue
        free = own_address(scenario, second)
        yield Suspect(
            what=f"{second} has {first}'s address: the receiver takes the frames of one for the "
            "other's, and each transmitter the other's acknowledgements for its own",
            where=f"transmitter.{second}.address",
            why="a frame counts as acknowledged that never arrived",
            figure=f"stream.{first}.delivery_ratio",
            removed=(free,),
            cures=((free,),),
            advice="an address of its own, in the firmware of the transmitter and of the receiver",
            measure=f"switch {first} off: what moves then is moved by {second}",
            better="more",
            is_certain=True,
        )


def own_address(scenario: Scenario, name: str) -> str:
    """A `KEY=VALUE` line that gives a transmitter an address that no other has."""
    octets = bytearray(scenario.transmitter[name].address_octets)
    taken = {unit.address_octets for unit in scenario.transmitter.values()}
    while bytes(octets) in taken or poor_pattern(bytes(octets)):
        octets[-1] = (octets[-1] + _STEP) % 256
        if bytes(octets) == scenario.transmitter[name].address_octets:
            break
    return f"transmitter.{name}.address={octets.hex(' ').upper()}"


def too_long_on_air(case: Case) -> Iterator[Suspect]:
    """Transmitters above 10 dBm whose power times duty is over a tenth of 100 mW (EN 300 328)."""
    for name, unit in case.scenario.transmitter.items():
        duty = case.summary.figures.stream[name].duty_cycle or 0.0
        use = medium_use(unit.power_dbm, duty)
        if unit.power_dbm <= MEDIUM_USE_FROM_DBM or use <= MEDIUM_USE_LIMIT:
            continue
        pace = "pause_ms" if unit.pacing == "after_send" else "period_ms"
        before_ms = getattr(unit, pace) or 1.0
        slower = f"transmitter.{name}.{pace}={math.ceil(before_ms * use / MEDIUM_USE_LIMIT)}"
        yield Suspect(
            what=f"{name} takes more of the medium than a common limit at its power",
            where=f"transmitter.{name}.{pace}",
            why=f"{100 * duty:.1f} % of the time at {unit.power_dbm:g} dBm are {100 * use:.0f} % "
            f"of the medium; {100 * MEDIUM_USE_LIMIT:.0f} % are a common limit above "
            f"{MEDIUM_USE_FROM_DBM:g} dBm for transmitters that do not listen first",
            figure=f"stream.{name}.duty_cycle",
            removed=(slower,),
            cures=((slower,),),
            advice=f"or send with less power, or shorter frames; {LOCAL_RULES}",
            measure="watch the supply current of the transmitter: the share of the time in its "
            "peaks",
            share=1.0,
            is_certain=True,
        )
