"""Steps whose prediction needs no simulation: what each radio takes (rules B1 to B4)."""

import math
from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from radiosim.counted import counted
from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import ACKNOWLEDGING, Tx
from radiosim.engine.plan_units import CLOCK_PPB
from radiosim.scenario import Scenario
from radiosim.study.bench.rests import has_default, rests_on
from radiosim.study.bench.step import (
    Chapter,
    Prediction,
    Step,
    StepCase,
    assumed_where,
    each,
    exact,
    key_of,
)
from radiosim.study.tune.period_pairs import period_ns
from radiosim.units import NS_PER_S, ns_from_ms

Transmitters = Sequence[tuple[str, Tx]]
_FRAME = (
    *(f"transmitter.NAME.{key}" for key in ("layout", "payload_bytes", "payload_length")),
    "radio.payload_length",
)
ON_AIR_KEYS = (
    *(f"radio.{key}" for key in ("profile", "bit_rate", "preamble_bytes", "address_bytes")),
    *(f"radio.{key}" for key in ("control_bits", "crc_bytes", "settle_us", "interrupt_us")),
    *("transmitter.NAME.acknowledge", "receiver.acknowledge_payload_bytes", *_FRAME),
)
_RETRIES = (
    *("transmitter.NAME.retry_limit", "transmitter.NAME.retry_delay_us"),
    "radio.retry_settle",
)
UPLOAD_KEYS = ("transmitter.NAME.spi_hz", "transmitter.NAME.spi_overhead_us")
_CLOCK = ("transmitter.NAME.clock", "transmitter.NAME.clock_ppm")
"""Keys that closed forms are made of."""
_CRYSTAL = CLOCK_PPB["crystal"] / 1e9
"""A radio runs on a crystal, whatever its microcontroller runs on."""
_SAMPLE_US = 0.1
"""Of a logic analyser that takes ten million samples a second."""
_MEAN_MS = 0.01
"""Of a period counted for 100 s, and of an analyser whose own crystal is off by some ten ppm."""
_COUNTED_NS = 100 * NS_PER_S
_DEVIATIONS = 4
"""Of the mean of dithered periods: one of 15,000 lies beyond."""


def timing_chapter(scenario: Scenario, plan: Plan) -> Chapter:
    """Upload, time on the air, all retries, and the period."""
    transmitters = tuple(zip(plan.streams, plan.tx, strict=True))
    acknowledged = [(name, tx) for name, tx in transmitters if tx.acknowledge == ACKNOWLEDGING]
    return Chapter(
        title="Times of one frame",
        how=(
            "One transmitter on at a time. Logic analyser, 10 million samples a second or more; "
            "or the "
            "microsecond timer around the call, which itself adds some microseconds."
        ),
        steps=tuple(
            replace(step, cases=_assumed(scenario, step))
            for step in (
                _upload(scenario, transmitters),
                _cycle(scenario, transmitters),
                *((_retries_used_up(scenario, acknowledged),) if acknowledged else ()),
                _period(scenario, transmitters),
            )
        ),
    )


def _assumed(scenario: Scenario, step: Step) -> tuple[StepCase, ...]:
    """Cases, each named by its transmitter: what another one leaves out does not move it."""
    names = scenario.transmitter
    return assumed_where(lambda case, _: has_default(step.rests_on, case.title, names), step.cases)


def cycle_ns(tx: Tx) -> int:
    """From the start signal to the interrupt of a frame that gets through at once, ns."""
    one_way = tx.settle_ns + tx.frame_ns + tx.interrupt_ns
    return one_way + tx.settle_ns + tx.ack_ns if tx.acknowledge == ACKNOWLEDGING else one_way


def retries_used_up_ns(tx: Tx) -> int:
    """From the start signal to the end of a frame that nobody acknowledges, ns (rule B4)."""
    return tx.settle_ns + (1 + tx.retry_limit) * (tx.frame_ns + tx.retry_ns)


def _around_us(what: str, ns: float, width: float, text: str = "") -> Prediction:
    low, high = ns * (1 - width) / 1e3, ns * (1 + width) / 1e3
    return exact(what, low, high, "us", _SAMPLE_US, text=text)


def _upload(scenario: Scenario, transmitters: Transmitters) -> Step:
    names = [name for name, _ in transmitters]
    rates = [(name, f"{scenario.transmitter[name].spi_hz / 1e6:g} MHz") for name in names]
    return Step(
        key="upload",
        title="Upload of a frame",
        do="Let it send as ever.",
        measure="The bus's select pin, from its fall before the payload to its rise after.",
        cases=tuple(
            StepCase(
                key=f"upload.{name}",
                title=name,
                predicted=(_around_us("one upload", tx.upload_ns, _width(scenario, name)),),
            )
            for name, tx in transmitters
        ),
        if_not=(
            f"Longer: a bus slower than {each(rates)}, or pauses between bytes: "
            f"{key_of('transmitter', names)}.spi_hz, spi_overhead_us. Off by whole bytes: another "
            "frame length: layout, payload_length."
        ),
        rests_on=rests_on(scenario, *UPLOAD_KEYS, *_FRAME, *_CLOCK),
    )


def _cycle(scenario: Scenario, transmitters: Transmitters) -> Step:
    names = [name for name, _ in transmitters]
    acknowledged = {tx.acknowledge == ACKNOWLEDGING for _, tx in transmitters}
    title = {
        frozenset({True}): "A frame and its acknowledgement",
        frozenset({False}): "A frame",
    }.get(frozenset(acknowledged), "A frame, with its acknowledgement if it asks for one")
    return Step(
        key="on_air",
        title=title,
        do="Receiver on, side by side but not touching.",
        measure=(
            "From the start pin's rise to the radio's interrupt line: the shortest of some "
            "hundred; longer ones had a retry."
        ),
        cases=tuple(
            StepCase(
                key=f"on_air.{name}",
                title=name,
                predicted=(
                    _around_us("start to interrupt", cycle_ns(tx), _CRYSTAL, _terms(tx)),
                    _around_us("of it the frame", tx.frame_ns, _CRYSTAL, _without_ack(tx)),
                ),
            )
            for name, tx in transmitters
        ),
        if_not=(
            "Half or double: another bit rate: radio.profile. Off by 8 bits' time or a multiple: "
            "radio.address_bytes, crc_bytes, payload_length. Off by the acknowledgement: "
            f"{key_of('transmitter', names)}.acknowledge."
        ),
        rests_on=rests_on(scenario, *ON_AIR_KEYS),
    )


def _without_ack(tx: Tx) -> str:
    """How the frame alone is measured, which no pin shows."""
    less = (
        f"less {tx.settle_ns / 1e3:g} us of settling and {tx.interrupt_ns / 1e3:g} us of interrupt"
    )
    if tx.acknowledge != ACKNOWLEDGING:
        return f"start to interrupt, {less}"
    return f"with its acknowledgement off, start to interrupt, {less}"


def _terms(tx: Tx) -> str:
    parts = [f"settling {tx.settle_ns / 1e3:g}", "the frame"]
    if tx.acknowledge == ACKNOWLEDGING:
        parts += [f"turnaround {tx.settle_ns / 1e3:g}", f"acknowledgement {tx.ack_ns / 1e3:g}"]
    return " + ".join((*parts, f"interrupt {tx.interrupt_ns / 1e3:g} us"))


def _retries_used_up(scenario: Scenario, transmitters: Transmitters) -> Step:
    names = [name for name, _ in transmitters]
    return Step(
        key="retries_used_up",
        title="A frame that nobody acknowledges",
        do="Receiver off.",
        measure=(
            "From the start pin's rise to the interrupt that tells of retries used up; or around a "
            "send that waits for its result."
        ),
        cases=tuple(
            StepCase(
                key=f"retries_used_up.{name}",
                title=name,
                predicted=(
                    _around_us(
                        "start to retries used up",
                        retries_used_up_ns(tx),
                        _CRYSTAL,
                        counted(1 + tx.retry_limit, "attempt"),
                    ),
                    _around_us("attempt to attempt", tx.frame_ns + tx.retry_ns, _CRYSTAL),
                ),
            )
            for name, tx in transmitters
        ),
        if_not=(
            f"Other count of attempts: {key_of('transmitter', names)}.retry_limit. Other time: "
            "retry_delay_us (in firmware a step number: delay / 250 - 1). Some radios count the "
            "delay without settling: radio.retry_settle."
        ),
        rests_on=rests_on(scenario, *_RETRIES, *ON_AIR_KEYS),
    )


def _period(scenario: Scenario, transmitters: Transmitters) -> Step:
    names = [name for name, _ in transmitters]
    paces = each([(name, f'"{scenario.transmitter[name].pacing}"') for name in names])
    return Step(
        key="period",
        title="From sample to sample",
        do="Receiver on. Raise a spare pin where the controls are read.",
        measure="For the mean count its pulses for 100 s and divide.",
        cases=tuple(
            StepCase(
                key=f"period.{name}",
                title=name,
                predicted=tuple(_periods(scenario, name, tx)),
            )
            for name, tx in transmitters
        ),
        if_not=(
            "Mean too long: the loop adds its own time: "
            f"{key_of('transmitter', names)}.pacing is not the scenario's ({paces}), or loop_ms is "
            "longer. Single ones scatter: jitter_ms, work. Mean off by a share of a per cent: "
            "clock."
        ),
        rests_on=rests_on(scenario, *_period_keys(scenario)),
    )


def _period_keys(scenario: Scenario) -> tuple[str, ...]:
    """A grid needs its period; a program that waits for its radio needs all that sending takes."""
    paces = ("pacing", "period_ms", "jitter_ms", "dither_ms")
    keys = (*(f"transmitter.NAME.{key}" for key in paces), *_CLOCK)
    if all(unit.pacing == "timer" for unit in scenario.transmitter.values()):
        return keys
    more = ("pause_ms", "loop_ms", "prepare_us")
    return (*keys, *(f"transmitter.NAME.{key}" for key in more), *UPLOAD_KEYS, *ON_AIR_KEYS)


def _periods(scenario: Scenario, name: str, tx: Tx) -> Iterator[Prediction]:
    """Rules A1 to A3: jitter of a grid does not add up, a loop is late by up to a pass."""
    unit, width = scenario.transmitter[name], _width(scenario, name)
    own_ns = ns_from_ms(unit.period_ms or 0.0) * (1 + (unit.clock_ppm or 0.0) / 1e6)
    if unit.pacing == "timer":
        low, high = own_ns * (1 - width) / 1e6, own_ns * (1 + width) / 1e6
        # Means of draws in +-d have d / sqrt(3 n) of standard deviation (rule J0).
        walk_ms = _DEVIATIONS * tx.dither_ns / math.sqrt(3 * _COUNTED_NS / own_ns) / 1e6
        yield exact("mean of many", low - walk_ms, high + walk_ms, "ms", _MEAN_MS)
        drawn_ns, text = tx.jitter_ns + tx.dither_ns, ""
        low_ns, high_ns = own_ns * (1 - width) - drawn_ns, own_ns + drawn_ns
    elif unit.pacing == "elapsed":
        low_ns, high_ns = own_ns * (1 - width), own_ns + 1e6 * unit.loop_ms
        text = "longer where sending, with its retries, takes longer than that"
    else:
        shortest_ns = period_ns(scenario, name)
        low_ns, high_ns = shortest_ns * (1 - width), shortest_ns + tx.jitter_ns
        text = "longer by its retries where a send is retried"
    yield exact(
        "any single one", low_ns / 1e6, high_ns * (1 + width) / 1e6, "ms", _MEAN_MS, text=text
    )


def _width(scenario: Scenario, name: str) -> float:
    unit = scenario.transmitter[name]
    return 0.0 if unit.clock_ppm is not None else CLOCK_PPB[unit.clock] / 1e9
