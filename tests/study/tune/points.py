"""Points of a tuning as a test wants them."""

from typing import Any

import msgspec

from radiosim.study.tune.period_pairs import Pair
from radiosim.study.tune.tune_results import PointFigures, Tried

BEATING = Pair(
    first="drive",
    second="head",
    clash_share=(0.02, 0.02),
    acknowledgement_share=(0.01, 0.01),
    is_beating=True,
    distance_ms=0.0,
    window_ms=0.3,
    every_s=100.0,
    burst_frames=130.0,
)
SOUND = PointFigures(
    starts=2,
    ok=True,
    margin=0.5,
    missed=0,
    nearest="stream.drive.gap_ms.max",
    cause="",
    measured={"stream.drive.gap_ms.max": 123.456},
    worst={},
    duty_cycle=0.1,
    charge_mah_per_hour=1.0,
    age_mean_ms=4.0,
    age_p99_ms=5.0,
    stream={},
    pairs=(),
)


def tried(*values: float | None, margin: float | None = 0.5, **figures: Any) -> Tried:
    """A point with a margin; None: it was refused."""
    if margin is None:
        return Tried(values=values, refused="no sound scenario", figures=None)
    judged = {"margin": margin, "ok": margin >= 0, "missed": int(margin < 0), **figures}
    return Tried(values=values, figures=msgspec.structs.replace(SOUND, **judged))
