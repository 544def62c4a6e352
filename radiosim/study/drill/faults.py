"""Which faults a scene's parts allow, and what they must lead to (rules E3 and F6)."""

from collections.abc import Iterator
from dataclasses import dataclass

from radiosim.scenario import Scenario
from radiosim.scenario.structs.fault import Fault, FaultKind

RECEIVER, AIR = "receiver", "air"
BROWNOUT_S = 0.5
"""How long a supply is down in the drill (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """One fault to be tried, or one for several units at once."""

    kind: FaultKind
    units: tuple[str, ...]
    name: str
    """What happens, in words."""
    silences: tuple[str, ...]
    """Streams whose outputs must come to their failsafe value, within rule F6's bound."""
    must_stop: bool
    """Outputs of those streams may not stay as they were."""
    lasts: bool
    """It has a length; others are over at once."""

    def faults(self, at_s: float, for_s: float) -> tuple[Fault, ...]:
        """The faults of the scene that it is tried in."""
        length = None if not self.lasts else BROWNOUT_S if self.kind == "brownout" else for_s
        return tuple(
            Fault(at_s=at_s, kind=self.kind, unit=unit, for_s=length) for unit in self.units
        )


def drills_of(scenario: Scenario) -> tuple[Drill, ...]:
    """Every drill, the senders' first; a new kind of fault is one line more."""
    return (*_of_senders(scenario), *_of_air(scenario), *_of_receiver(scenario))


def _of_senders(scenario: Scenario) -> Iterator[Drill]:
    names = tuple(scenario.transmitter)
    for name in names:
        yield _drill("power_off", (name,), f"{name} switched off", (name,))
    if len(names) > 1:
        yield _drill("power_off", names, "all senders switched off", names)
    for name in names:
        yield _drill("out_of_range", (name,), f"{name} out of range", (name,))
        yield _drill("frozen", (name,), f"{name} frozen: sends old values", (name,))
        yield _drill("reset", (name,), f"{name} resets and comes back", (), lasts=False)


def _of_air(scenario: Scenario) -> Iterator[Drill]:
    yield _drill("jam", (AIR,), "channel jammed", tuple(scenario.transmitter))


def _of_receiver(scenario: Scenario) -> Iterator[Drill]:
    names, unit = tuple(scenario.transmitter), (RECEIVER,)
    yield _drill("radio_reset", unit, "receiver's radio loses its settings", names, lasts=False)
    # A watchdog ends it: nothing is driven then until the program is back.
    stays = () if scenario.receiver.watchdog_ms else names
    yield _drill("hang", unit, "receiver's program hangs", stays)
    yield _drill("reset", unit, "receiver resets", (), lasts=False)
    yield _drill("brownout", unit, f"receiver's supply down for {BROWNOUT_S:g} s", ())


def _drill(
    kind: FaultKind,
    units: tuple[str, ...],
    name: str,
    silences: tuple[str, ...],
    *,
    lasts: bool = True,
) -> Drill:
    return Drill(
        kind=kind,
        units=units,
        name=name,
        silences=silences,
        must_stop=bool(silences),
        lasts=lasts,
    )
