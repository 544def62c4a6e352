"""What will take longer than a minute says so before it begins."""

import math
import time
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from radiosim.cli.console import tell
from radiosim.scenario.traffic import events_a_second, latest_boot_s

if TYPE_CHECKING:
    from radiosim.engine.simulate import Engine
    from radiosim.study.amount import Amount

LONG_S = 60.0
QUICK_EVENTS = {"fast": 2e7, "reference": 5e5}
"""Frames, pulses and the like that each engine has done well before a minute is over."""
TRIED_S, SHORTEST_S = 0.2, 1.0
"""How long the first start is tried for, and the least of it that is simulated."""
_UNITS = ((3600.0 * 24, "days"), (3600.0, "hours"), (60.0, "minutes"))

Clock = Callable[[], float]


def foretell(
    amounts: "Sequence[Amount]",
    engine: "Engine",
    workers: int,
    *,
    what: str = "this",
    advice: str = "",
    clock: Clock = time.process_time,
) -> None:
    """Tell how long work will take if that is longer than a minute.

    From what the beginning of the first start takes of a processor (other programs may run beside
    it, and a moment of theirs would count for hours), and how much there is to simulate; nothing is
    tried where there are too few events to take so long. `what`: the work; `advice`: what may be
    done about it.
    """
    events = math.fsum(events_a_second(one.scenario) * one.simulated_s for one in amounts)
    if events < QUICK_EVENTS["reference" if engine == "reference" else "fast"]:
        return
    takes_s = math.fsum(one.simulated_s * _cost(one, clock) for one in amounts) / workers
    if takes_s > LONG_S:
        hours = math.fsum(one.simulated_s for one in amounts) / 3600
        tell(
            f"{what} will take about {_in_words(takes_s)}, as its first start goes: "
            f"{float(f'{hours:.3g}'):,g} simulated hours on {workers} "
            f"{'processes' if workers > 1 else 'process'}; Ctrl-C stops it{advice}"
        )


def _cost(amount: "Amount", clock: Clock) -> float:
    """Seconds that a simulated second takes: longer and longer pieces, until one tells.

    The first one, in which units boot and hardly anything is on the air, is taken off.
    """
    whole_s = amount.scenario.duration_s
    boots_s = min(SHORTEST_S + latest_boot_s(amount.scenario), whole_s)
    # Untimed once: code is loaded and compiled, which the rest will not have to do.
    _took_s(amount, boots_s, clock)
    first_s = _took_s(amount, boots_s, clock)
    if first_s >= TRIED_S or boots_s >= whole_s:
        return first_s / boots_s
    piece_s = boots_s
    while True:
        piece_s = min(whole_s, 4 * piece_s)
        took_s = _took_s(amount, piece_s, clock)
        if took_s >= TRIED_S or piece_s >= whole_s:
            return max(took_s - first_s, 0.0) / (piece_s - boots_s)


def _took_s(amount: "Amount", piece_s: float, clock: Clock) -> float:
    """How long a piece of its first start takes."""
    from msgspec.structs import replace

    shorter = replace(amount.scenario, duration_s=piece_s, starts=1)
    began = clock()
    amount.simulate(shorter)
    return clock() - began


def _in_words(seconds: float) -> str:
    length, name = next((unit for unit in _UNITS if seconds >= 1.5 * unit[0]), (1.0, "seconds"))
    return f"{float(f'{seconds / length:.2g}'):g} {name}"
