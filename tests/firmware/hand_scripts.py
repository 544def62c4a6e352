"""Scripts for benches made by hand: which frames come when, without a scenario."""

from collections.abc import Iterable, Sequence

import numpy as np

from radiosim.firmware.script import (
    ARRIVAL,
    HEAD,
    MAGIC,
    PASSES,
    STEP,
    Script,
)

MS = 1_000_000
S = 1_000 * MS


def hand_script(
    *,
    until_ns: int,
    arrivals: Iterable[tuple[int, int, bytes]] = (),
    steps: Sequence[tuple[int, int]] = ((0, 0),),
    passes: Sequence[tuple[int, int, int]] = (),
    clock_ms: int = 0,
    ppb: int = 0,
    stuck_ns: int = S // 5,
) -> Script:
    """A script of eight servos and eight pipes.

    Arrivals are (at_ns, pipe, bytes), steps (at_ns, kind), passes (first_ns, step_ns, count).
    """
    rows = list(arrivals)
    table = np.zeros(len(rows), ARRIVAL)
    for k, (at_ns, pipe, content) in enumerate(rows):
        table[k]["at_ns"], table[k]["pipe"], table[k]["length"] = at_ns, pipe, len(content)
        table[k]["bytes"][: len(content)] = list(content)
    head = np.zeros(1, HEAD)
    for name, value in {
        "magic": MAGIC,
        "passes": len(passes),
        "arrivals": len(table),
        "steps": len(steps),
        "fifo_frames": 3,
        "outputs": 8,
        "pulses": 0xFF,
        "pipes": 0xFF,
        "until_ns": until_ns,
        "clock_us": 1000 * clock_ms,
        "ppb": ppb,
        "stuck_ns": stuck_ns,
        "endless_us": 1_000_000,
    }.items():
        head[name] = value
    parts = (head, np.array([*passes], PASSES), table, np.array([*steps], STEP))
    return Script(
        content=b"".join(part.tobytes() for part in parts),
        rows=np.arange(len(table), dtype=np.int64),
    )
