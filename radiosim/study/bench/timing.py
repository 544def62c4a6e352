"""Steps whose prediction needs no simulation: what each radio takes (rules B1 to B4)."""

from collections.abc import Iterator

from radiosim.engine.plan import CLOCK_PPB, Plan
from radiosim.engine.plan_rows import ANSWERED, Tx
from radiosim.scenario import Scenario
from radiosim.study.bench.step import Prediction, Step, exact
from radiosim.study.tune.pairs import period_ns
from radiosim.units import ns_from_ms

CHAPTER = "Times of one frame"
_CRYSTAL = CLOCK_PPB["crystal"] / 1e9
"""A radio runs on a crystal, whatever its microcontroller runs on."""


def timing_steps(scenario: Scenario, plan: Plan) -> Iterator[Step]:
    """Upload, time on the air, giving up, and the period, of each sender."""
    for name, tx in zip(plan.streams, plan.tx, strict=True):
        yield _upload(scenario, name, tx)
        yield _cycle(name, tx)
        if tx.acknowledge == ANSWERED:
            yield _giving_up(name, tx)
        yield _period(scenario, name, tx)


def cycle_ns(tx: Tx) -> int:
    """From the start signal to the interrupt of a frame that gets through at once, ns."""
    one_way = tx.settle_ns + tx.frame_ns + tx.interrupt_ns
    return one_way + tx.settle_ns + tx.ack_ns if tx.acknowledge == ANSWERED else one_way


def giving_up_ns(tx: Tx) -> int:
    """From the start signal to the end of a frame that nobody answers, ns (rule B4)."""
    return tx.settle_ns + (1 + tx.retry_limit) * (tx.frame_ns + tx.retry_ns)


def _around(what: str, ns: float, width: float, unit: str = "us") -> Prediction:
    size = 1e6 if unit == "ms" else 1e3
    return exact(what, ns * (1 - width) / size, ns * (1 + width) / size, unit)


def _upload(scenario: Scenario, name: str, tx: Tx) -> Step:
    unit = scenario.transmitter[name]
    return Step(
        chapter=CHAPTER,
        key=f"upload.{name}",
        title=f"{name}: upload of a frame to its radio",
        do=f"Let {name} send as ever.",
        measure=(
            "Logic analyser on the bus's select pin: from its falling edge before the payload to "
            "its rising edge after. No analyser: read the microsecond timer before and after the "
            "call that writes the payload; the call itself adds some microseconds."
        ),
        predicted=(_around("one upload", tx.upload_ns, _width(scenario, name)),),
        if_not=(
            f"Longer: the bus is slower than the scene's {unit.spi_hz / 1e6:g} MHz, or the library "
            f"pauses between bytes: transmitter.{name}.spi_hz, spi_overhead_us. Other by whole "
            f"bytes: the frame has another length: transmitter.{name}.layout, payload_length."
        ),
    )


def _cycle(name: str, tx: Tx) -> Step:
    answered = tx.acknowledge == ANSWERED
    parts = [("settling", tx.settle_ns), ("frame", tx.frame_ns)]
    if answered:
        parts += [("turn-round", tx.settle_ns), ("acknowledgement", tx.ack_ns)]
    parts.append(("interrupt", tx.interrupt_ns))
    terms = " + ".join(f"{what} {ns / 1e3:g}" for what, ns in parts)
    whole = "a frame and its acknowledgement" if answered else "a frame"
    return Step(
        chapter=CHAPTER,
        key=f"on_air.{name}",
        title=f"{name}: {whole}",
        do=f"Only {name} and the receiver on, side by side but not touching.",
        measure=(
            "Logic analyser: from the start pin's rising edge to the radio's interrupt line going "
            "active. Take the shortest of some hundred: longer ones had a retry."
        ),
        predicted=(
            _around(f"start to interrupt ({terms})", cycle_ns(tx), _CRYSTAL),
            _around("of it on the air: the frame", tx.frame_ns, _CRYSTAL),
        ),
        if_not=(
            "Half or double: another bit rate: radio.profile. Off by 8 bits' time or a multiple: "
            "address, checksum or payload length differ: radio.address_bytes, checksum_bytes, "
            f"payload_length. Ends too early or too late by the answer: transmitter.{name}."
            "acknowledge."
        ),
    )


def _giving_up(name: str, tx: Tx) -> Step:
    tries = 1 + tx.retry_limit
    return Step(
        chapter=CHAPTER,
        key=f"giving_up.{name}",
        title=f"{name}: a frame that nobody answers",
        do=f"Receiver off; only {name} on.",
        measure=(
            "Logic analyser: from the start pin's rising edge to the interrupt line that says "
            "'given up'. Or the microsecond timer around a send that waits for its result."
        ),
        predicted=(
            _around(f"start to giving up, {tries} attempts", giving_up_ns(tx), _CRYSTAL),
            _around("from one attempt to the next", tx.frame_ns + tx.retry_ns, _CRYSTAL),
        ),
        if_not=(
            f"Count the attempts: {tries} of them mean retry_limit = {tx.retry_limit}. Right "
            f"count, other time: transmitter.{name}.retry_delay_us (in firmware a step number: "
            "delay / 250 - 1). Some radios count the delay without settling: radio.retry_settle."
        ),
    )


def _period(scenario: Scenario, name: str, tx: Tx) -> Step:
    unit = scenario.transmitter[name]
    return Step(
        chapter=CHAPTER,
        key=f"period.{name}",
        title=f"{name}: from one sample to the next",
        do=f"Only {name} and the receiver on. Raise a spare pin where the controls are read.",
        measure="Logic analyser on that pin, or count its pulses for 100 s and divide.",
        predicted=tuple(_periods(scenario, name, tx)),
        if_not=(
            f"Mean too long: the loop adds its own time: transmitter.{name}.pacing is not "
            f'"{unit.pacing}", or loop_us is longer. Single ones scatter: transmitter.{name}.'
            "jitter_ms, work. Mean off by a share of a per cent: clock."
        ),
    )


def _periods(scenario: Scenario, name: str, tx: Tx) -> Iterator[Prediction]:
    """Rules A1 to A3: jitter of a grid does not add up, a loop is late by up to a turn."""
    unit, width = scenario.transmitter[name], _width(scenario, name)
    own_ns = ns_from_ms(unit.period_ms or 0.0) * (1 + (unit.clock_ppm or 0.0) / 1e6)
    if unit.pacing == "timer":
        yield _around("mean of many", own_ns, width, "ms")
        low_ns, high_ns, text = own_ns * (1 - width) - tx.jitter_ns, own_ns + tx.jitter_ns, ""
    elif unit.pacing == "elapsed":
        low_ns, high_ns = own_ns * (1 - width), own_ns + 1000 * unit.loop_us
        text = "longer where sending, with its retries, takes longer than that"
    else:
        shortest_ns = period_ns(scenario, name)
        low_ns, high_ns = shortest_ns * (1 - width), shortest_ns + tx.jitter_ns
        text = "longer by its retries where a send is retried"
    yield exact("any single one", low_ns / 1e6, high_ns * (1 + width) / 1e6, "ms", text)


def _width(scenario: Scenario, name: str) -> float:
    unit = scenario.transmitter[name]
    return 0.0 if unit.clock_ppm is not None else CLOCK_PPB[unit.clock] / 1e9
