"""Who is on the air now, and what spoils what (rules C1, C2 and C4)."""

from collections.abc import Callable
from dataclasses import dataclass

from radiosim.engine.plan import Plan
from radiosim.engine.rules.reception import locks
from radiosim.engine.timeline import FOREVER_NS
from radiosim.radio.interference import survives


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


@dataclass(slots=True, eq=False)
class Flight:
    """One attempt on the air."""

    frame: Frame
    attempt: int
    start_ns: int
    end_ns: int
    power_mw: float
    hit_ns: int = FOREVER_NS
    """When something first spoilt it."""
    shut_out: bool = False
    """The receiver was held by another frame when this one's address ended."""


@dataclass(slots=True, eq=False)
class Answer:
    """One acknowledgement on the air."""

    flight: Flight
    start_ns: int
    hit: bool = False


class Air:
    """Everything on the channel; at equal distances a level is the sender's own power."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.flights: list[Flight | None] = [None] * len(plan.tx)
        self.live: list[Flight] = []
        """Those on the air now, in file order, so that sums do not depend on who came first."""
        self.answer: Answer | None = None

    def begins(self, flight: Flight, could_hear: Callable[[Flight], bool]) -> None:
        """A flight starts; `could_hear` tells of one that the receiver hears if unspoilt."""
        stream = flight.frame.stream
        self.flights[stream] = flight
        if self.live or self.answer is not None:
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
        """What is on the air now meets what is too strong for it."""
        ratio = self.plan.rx.cochannel_ratio
        if len(self.live) > 1:
            for flight in self.live:
                if not survives(flight.power_mw, self.level_beside(flight), ratio):
                    flight.hit_ns = min(flight.hit_ns, now)
        if self.answer is not None and not survives(
            self.plan.rx.power_mw, self.level_beside(None), ratio
        ):
            self.answer.hit = True

    def level_beside(self, flight: Flight | None) -> float:
        """Power of all flights but one, mW; added one by one, since `sum` rounds otherwise."""
        level_mw = 0.0
        for other in self.live:
            if other is not flight:
                level_mw += other.power_mw
        return level_mw

    def ends(self, flight: Flight) -> None:
        """A flight is over, or was cut."""
        self.flights[flight.frame.stream] = None
        self.live.remove(flight)
