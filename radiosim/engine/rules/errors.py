"""Bit errors as a budget: a signal is spoilt when what it met has used its own draw up (C2, C3).

A frame of which every bit fails independently survives with exp(−Σ h), h the hazard of each bit.
Its draw is exponential, so it survives exactly while the sum stays below the draw: whatever
lowers the sum never spoils a frame that was good before.
"""

import math

from radiosim.chance import ERRORS, WORD, branched, fraction_53, philox4x32
from radiosim.engine.plan_rows import Rx, Tx
from radiosim.engine.rules.emissions import NEVER_NS, outside_mw
from radiosim.marks import rule
from radiosim.radio.bit_errors import hazard_per_bit

_TO_ONE = 1.0 / 9007199254740992.0


@rule
def budgets(tx: Tx, frame: int, attempt: int) -> tuple[float, float]:
    """What an attempt can bear, and what its acknowledgement can."""
    what = branched(ERRORS, tx.branch)
    a, b, c, d = philox4x32(frame & WORD, frame >> 32, attempt, what, tx.key_low, tx.key_high)
    return (
        -math.log1p(-fraction_53(a, b) * _TO_ONE),
        -math.log1p(-fraction_53(c, d) * _TO_ONE),
    )


@rule
def error_rate(rx: Rx, level_mw: float, beside_mw: float) -> float:
    """Hazard a nanosecond of a signal beside noise and whatever else is on the air."""
    return hazard_per_bit(level_mw / (rx.noise_mw + beside_mw)) * rx.bits_per_ns


@rule
def errors_until(
    rx: Rx,
    at_receiver: bool,
    level_mw: float,
    quiet_rate: float,
    inside_mw: float,
    errors: float,
    budget: float,
    since_ns: int,
    now: int,
) -> tuple[float, int]:
    """Errors of a signal by now, and the instant at which they used up its budget, if they do.

    `errors`: by `since_ns`; `quiet_rate`: with nothing beside; `inside_mw`: what the link's other
    transmitters amount to all the while.
    """
    spoilt_ns = NEVER_NS
    while since_ns < now:
        outside, until_ns = outside_mw(rx, at_receiver, since_ns, now)
        beside_mw = inside_mw + outside
        rate = quiet_rate if beside_mw == 0.0 else error_rate(rx, level_mw, beside_mw)
        more = errors + rate * (until_ns - since_ns)
        if errors < budget <= more:
            spoilt_ns = since_ns + int((budget - errors) / rate)
        errors, since_ns = more, until_ns
    return errors, spoilt_ns
