"""Who is on the air now, and what spoils what (rules C1, C2 and C4)."""

from collections.abc import Callable
from dataclasses import dataclass, field

from radiosim.engine.plan import Plan
from radiosim.engine.plan_rows import Tx
from radiosim.engine.rules.levels import begins_bad, error_rate, errors_until, state_ns
from radiosim.engine.rules.noise import is_quiet
from radiosim.engine.rules.reception import locks
from radiosim.engine.timeline import FOREVER_NS
from radiosim.radio.bit_errors import survives


@dataclass(slots=True)
class Frame:
    """A frame from its sample until it is done."""

    stream: int
    frame: int
    sampled_ns: int
    values_ns: int
    values_frame: int
    number: int = -1
    ready_ns: int = 0
    attempts: int = 0
    slot: int = 0


@dataclass(slots=True, eq=False, kw_only=True)
class Signal:
    """An attempt or an acknowledgement as one listener has it."""

    level_mw: float
    budget: float = 0.0
    """Bit errors that it can bear (rules/levels.py)."""
    quiet_rate: float = 0.0
    """Errors a nanosecond with nothing beside it."""
    errors: float = 0.0
    accrued_ns: int
    """Until when its errors are added up."""
    hit_ns: int = FOREVER_NS
    """When something first spoilt it."""
    faint: bool = False
    """Out of range, or too strong for the listener."""


@dataclass(slots=True, eq=False, kw_only=True)
class Flight(Signal):
    """One attempt on the air, as the receiver has it."""

    frame: Frame
    attempt: int
    start_ns: int
    end_ns: int
    power_mw: float
    gain: float = 1.0
    """Gain of the path, the same both ways."""
    ack_budget: float = 0.0
    is_bad: bool = False
    """Whether the signal began in a bad burst of the air."""
    shut_out: bool = False
    """The receiver was held by another frame when this one's address ended."""


@dataclass(slots=True, eq=False, kw_only=True)
class Heard(Signal):
    """An acknowledgement as a transmitter has it that listens for one."""

    flight: Flight
    """What the transmitter listens for."""


@dataclass(slots=True, eq=False)
class Acknowledgement:
    """One acknowledgement on the air."""

    flight: Flight
    start_ns: int
    hit: bool = False
    """Spoilt for all who listen."""
    heard: list[Heard] = field(default_factory=list)


def is_faint(flight: Flight, tx: Tx) -> bool:
    """Whether a flight was out of range: noise alone would have spoilt it."""
    return flight.faint or flight.quiet_rate * tx.frame_ns > flight.budget


class Air:
    """Everything on the channel."""

    def __init__(self, plan: Plan) -> None:
        self.plan, self.rx = plan, plan.rx
        self.flights: list[Flight | None] = [None] * len(plan.tx)
        self.live: list[Flight] = []
        """Those on the air now, in file order, so that sums do not depend on who came first."""
        self.acknowledgement: Acknowledgement | None = None
        self.signal_ns = 0
        """When the last signal that the receiver could hear ended."""
        self.jammed = False
        self.burst, self.state_ends_ns = -1, 0
        self.bad = self.rx.good_ns > 0 and not begins_bad(self.rx)

    def is_bad(self, now: int) -> bool:
        """Whether an instant falls into a bad burst; instants never go back."""
        if self.rx.good_ns == 0:
            return False
        while self.state_ends_ns <= now:
            self.burst, self.bad = self.burst + 1, not self.bad
            self.state_ends_ns += state_ns(self.rx, self.burst, self.bad)
        return self.bad

    def begins(self, flight: Flight, could_hear: Callable[[Flight], bool]) -> None:
        """A flight starts; `could_hear` tells of one that the receiver hears if unspoilt."""
        stream = flight.frame.stream
        self.accrue_errors(flight.start_ns)
        self.flights[stream] = flight
        if self.jammed or flight.faint:
            flight.hit_ns = flight.start_ns
        if self.live or self.acknowledgement is not None:
            flight.shut_out = any(
                self.holds(other, flight) and could_hear(other) for other in self.live
            )
            self.live = [other for other in self.flights if other is not None]
            self.spoil(flight.start_ns)
        else:
            self.live = [flight]

    def holds(self, other: Flight, flight: Flight) -> bool:
        """Whether the receiver, if it heard `other`, is still held when this address ends."""
        tx = self.plan.tx
        address_end_ns = flight.start_ns + tx[flight.frame.stream].address_ns
        if other.shut_out or other.end_ns <= address_end_ns:
            return False
        address_ns = tx[other.frame.stream].address_ns
        return locks(other.start_ns, address_ns, other.hit_ns, flight.start_ns)

    def spoil(self, now: int) -> None:
        """What is on the air now meets what is too strong for it, where all are equally far."""
        if self.acknowledgement is not None and self.jammed:
            self.acknowledgement.hit = True
        if self.rx.weighs:
            return
        ratio = self.rx.cochannel_ratio
        if len(self.live) > 1:
            for flight in self.live:
                if not survives(flight.level_mw, self.level_beside(flight), ratio):
                    flight.hit_ns = min(flight.hit_ns, now)
        if self.acknowledgement is not None and not survives(
            self.rx.power_mw, self.power_beside(None), ratio
        ):
            self.acknowledgement.hit = True

    def jam(self, now: int) -> None:
        """A jammer begins: nothing that is on the air gets through."""
        self.jammed = True
        for flight in self.live:
            flight.hit_ns = min(flight.hit_ns, now)
        if self.acknowledgement is not None:
            self.acknowledgement.hit = True

    def accrue_errors(self, now: int) -> None:
        """Add up the errors of all that is on the air, since who sends is about to change."""
        if not self.rx.weighs:
            return
        for flight in self.live:
            self.add_errors(flight, True, self.level_beside(flight) * self.rx.own_weight, now)
        if self.acknowledgement is not None:
            for heard in self.acknowledgement.heard:
                self.add_errors(heard, False, self.inside_mw(heard), now)

    def add_errors(self, signal: Signal, at_receiver: bool, inside_mw: float, now: int) -> None:
        """The errors of one signal by now."""
        signal.errors, spoilt_ns = errors_until(
            self.rx,
            at_receiver,
            signal.level_mw,
            signal.quiet_rate,
            inside_mw,
            signal.errors,
            signal.budget,
            signal.accrued_ns,
            now,
        )
        signal.accrued_ns = now
        signal.hit_ns = min(signal.hit_ns, spoilt_ns)

    def inside_mw(self, heard: Heard) -> float:
        """What the link's other transmitters amount to where an acknowledgement is heard (rule
        C4)."""
        return self.power_beside(heard.flight) * self.rx.beside_gain * self.rx.own_weight

    def addresses(self, heard: Heard, until_ns: int) -> bool:
        """Whether an acknowledgement's address gets through, as things stand at its start."""
        if heard.faint or not self.rx.weighs:
            return not heard.faint
        errors, _ = errors_until(
            self.rx,
            False,
            heard.level_mw,
            heard.quiet_rate,
            self.inside_mw(heard),
            0.0,
            heard.budget,
            heard.accrued_ns,
            until_ns,
        )
        return errors < heard.budget

    def quiet_rate(self, level_mw: float) -> float:
        """Errors a nanosecond of a signal with nothing beside it."""
        return error_rate(self.rx, level_mw, 0.0) if self.rx.weighs else 0.0

    def level_beside(self, flight: Flight) -> float:
        """Level of all flights but one, mW; added one by one, since `sum` rounds otherwise."""
        level_mw = 0.0
        for other in self.live:
            if other is not flight:
                level_mw += other.level_mw
        return level_mw

    def power_beside(self, flight: Flight | None) -> float:
        """Power of all flights but those of one transmitter, mW."""
        power_mw = 0.0
        for other in self.live:
            if flight is None or other.frame.stream != flight.frame.stream:
                power_mw += other.power_mw
        return power_mw

    def ends(self, flight: Flight, now: int) -> None:
        """A flight is over, or was cut."""
        self.accrue_errors(now)
        self.flights[flight.frame.stream] = None
        self.live.remove(flight)
        if not is_faint(flight, self.plan.tx[flight.frame.stream]):
            self.signal_ns = now

    def is_quiet(self, since_ns: int, listening_ns: int) -> bool:
        """Whether the receiver has heard nothing but noise since an instant."""
        tx = self.plan.tx
        if any(not is_faint(flight, tx[flight.frame.stream]) for flight in self.live):
            return False
        return is_quiet(since_ns, listening_ns, self.signal_ns)
