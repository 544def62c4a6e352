"""Pulses measured at pins as what outputs were told: the form that benches of logic have."""

from dataclasses import replace

import numpy as np

from radiosim.firmware.board import Board
from radiosim.firmware.script import OUT, PULSE, Reply
from radiosim.scenario import Scenario
from radiosim.trace import Table
from radiosim.units import NS_PER_S

WIDTH_NS = 12_000
"""How far a pulse may be off: its edges wait for other interrupts and locked spans."""
_MISSED = 1.5
"""Periods without a pulse after which there are none."""


def told_of_pins(scenario: Scenario, board: Board, reply: Reply, until_ns: int) -> Reply:
    """A reply whose outs are widths in whole us, when the first pulse of a width begins; 0: none.

    What is no servo's stands as it does.
    """
    parts = [np.zeros(0, OUT)]
    for number, (name, output) in enumerate(scenario.output.items()):
        if name not in board.outputs:
            continue
        mine = reply.outs[reply.outs["output"] == number]
        if output.kind == "servo":
            mine = _changes(mine, round(NS_PER_S / output.refresh_hz), until_ns)
        parts.append(mine)
    outs = np.concatenate(parts)
    return replace(reply, outs=outs[np.argsort(outs["at_ns"], kind="stable")])


def _changes(pulses: Table, period_ns: int, until_ns: int) -> Table:
    """Rows of OUT in us, of one servo's pulses in ns."""
    rows: list[tuple[int, ...]] = []
    width_us, next_ns = 0, 0
    for at_ns, output, width_ns in zip(
        pulses["at_ns"].tolist(), pulses["output"].tolist(), pulses["value"].tolist(), strict=True
    ):
        if width_us and at_ns > next_ns:
            rows.append((next_ns, PULSE, output, 0, 0))
            width_us = 0
        if round(width_ns / 1000) != width_us:
            width_us = round(width_ns / 1000)
            rows.append((at_ns, PULSE, output, width_us, 0))
        next_ns = at_ns + round(_MISSED * period_ns)
    if width_us and next_ns < until_ns:
        rows.append((next_ns, PULSE, int(pulses["output"][0]), 0, 0))
    return np.array(rows, OUT)
