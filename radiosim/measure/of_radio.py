"""Time that each radio spends in each of its states, from counts of one start.

A radio that is set up sends, listens, turns round, or stands by. Before its program has set it up,
without its settings, and without power it counts as asleep, its crystal's start included.
"""

from dataclasses import dataclass, replace

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import ACKNOWLEDGING, RADIO_STARTS, RADIO_STOPS, Tx
from radiosim.measure.tally import RadioTally


@dataclass(frozen=True, slots=True, kw_only=True)
class Traffic:
    """What one stream brought on the air."""

    attempts: int
    cut: int
    """Attempts that a power cut ended."""
    on_air_ns: int
    acknowledgements: int
    """Acknowledgements that it earned."""
    acknowledgements_ns: int
    """Time of the acknowledgements on the air."""
    unheard: int
    """Acknowledgements that no transmitter took."""


def of_transmitter(plan: Plan, stream: int, traffic: Traffic) -> RadioTally:
    """Where a transmitter's radio spent its time (rules B1, B3 and B4).

    It listens until the acknowledgement's end, or, if none comes, until its window closes; where
    both fall in one, until the later: what spoils an acknowledgement may leave its address whole.
    """
    tx = plan.tx[stream]
    settling_ns = traffic.attempts * tx.settle_ns
    if tx.acknowledge != ACKNOWLEDGING:
        radio = RadioTally(transmit_settle_ns=settling_ns, transmit_ns=traffic.on_air_ns)
        return _with_rest(plan, stream, radio)
    listened = traffic.attempts - traffic.cut
    acknowledgement_ns = plan.rx.settle_ns - tx.settle_ns + tx.ack_ns
    in_vain_ns = window_ns(tx)
    taken = traffic.acknowledgements - traffic.unheard
    listening_ns = (
        taken * acknowledgement_ns
        + traffic.unheard * max(acknowledgement_ns, in_vain_ns)
        + max(0, listened - traffic.acknowledgements) * in_vain_ns
    )
    radio = RadioTally(
        transmit_settle_ns=settling_ns,
        transmit_ns=traffic.on_air_ns,
        receive_settle_ns=listened * tx.settle_ns,
        receive_ns=listening_ns,
    )
    return _with_rest(plan, stream, radio)


def window_ns(tx: Tx) -> int:
    """How long a transmitter listens for what does not come (rules B3 and B4).

    Its window, if it need not turn round before.
    """
    return max(0, min(tx.window_ns, tx.retry_ns - 2 * tx.settle_ns))


def of_receiver(plan: Plan, streams: list[Traffic]) -> RadioTally:
    """Where the receiver's radio spent its time: it listens, except to acknowledge (rule D1).

    While its program makes it deaf it counts as listening: that it draws no less is the safe side.
    """
    acknowledgements = sum(traffic.acknowledgements for traffic in streams)
    acknowledgements_ns = sum(traffic.acknowledgements_ns for traffic in streams)
    settling_ns = acknowledgements * plan.rx.settle_ns
    on_ns = radio_on_ns(plan, len(plan.tx))
    return RadioTally(
        transmit_settle_ns=settling_ns,
        transmit_ns=acknowledgements_ns,
        receive_settle_ns=settling_ns,
        receive_ns=max(0, on_ns - 2 * settling_ns - acknowledgements_ns),
        asleep_ns=plan.until_ns - on_ns,
    )


def radio_on_ns(plan: Plan, unit: int) -> int:
    """For how long a unit's radio is set up; the receiver is unit n."""
    total_ns, since_ns, is_on = 0, 0, False
    for step in plan.steps:
        if step.unit != unit or step.kind not in (RADIO_STARTS, RADIO_STOPS):
            continue
        if is_on:
            total_ns += step.at_ns - since_ns
        is_on, since_ns = step.kind == RADIO_STARTS, step.at_ns
    return total_ns + (plan.until_ns - since_ns if is_on else 0)


def _with_rest(plan: Plan, unit: int, radio: RadioTally) -> RadioTally:
    """Adds the time that a radio stands by, and that before it is set up."""
    on_ns = radio_on_ns(plan, unit)
    return replace(radio, standby_ns=max(0, on_ns - radio.busy_ns), asleep_ns=plan.until_ns - on_ns)
