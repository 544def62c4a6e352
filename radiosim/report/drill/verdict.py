"""What a drill comes to: failures, and requirements that it judges."""

from dataclasses import dataclass

from radiosim.scenario import Scenario
from radiosim.study.drill.drilled import Drilled, OutputDrill
from radiosim.study.drill.trade import Room, Trade


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One requirement on a stopping time."""

    figure: str
    at_most: float
    measured: float | None
    """None: an output stays alive."""
    ok: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """All that a drill found, with what was asked of it."""

    scenario: Scenario
    drilled: Drilled
    trades: dict[str, tuple[Trade, ...]]
    rooms: dict[str, Room]
    nuisance_per_hour: float
    stop_ms: float
    speed_m_s: float | None

    @property
    def failures(self) -> tuple[OutputDrill, ...]:
        """Outputs that stay alive although they must not."""
        return tuple(row for row in self.drilled.drills if row.is_failed)

    @property
    def judged(self) -> tuple[Judged, ...]:
        """The scene's requirements on `worst.STREAM.stop_ms`."""
        return tuple(_judged(self))

    @property
    def ok(self) -> bool:
        """Nothing stayed alive, no other stream was touched, every requirement held."""
        return not (self.failures or self.drilled.others) and all(it.ok for it in self.judged)


def _judged(found: Examined) -> list[Judged]:
    rows = []
    for requirement in found.scenario.requirement:
        parts = requirement.figure.split(".")
        if parts[0] == "worst" and parts[-1] == "stop_ms" and requirement.at_most is not None:
            measured = found.drilled.worst_stop_ms.get(parts[1])
            ok = measured is not None and measured <= requirement.at_most
            rows.append(
                Judged(
                    figure=requirement.figure,
                    at_most=requirement.at_most,
                    measured=measured,
                    ok=ok,
                )
            )
    return rows
