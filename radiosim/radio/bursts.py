"""Loss that comes in bursts: an air of two states, good and bad, in continuous time.

Each burst's length is exponential with its own mean. Sources: E. N. Gilbert, BSTJ 39, 1960; E. O.
Elliott, BSTJ 42, 1963 (in steps; restated); in continuous time derived from them.
"""

import math


def share_bad(good_ms: float, bad_ms: float) -> float:
    """Share of the time that is bad: bad / (good + bad), of the mean lengths."""
    return bad_ms / (good_ms + bad_ms)


def correlation(apart_ms: float, good_ms: float, bad_ms: float) -> float:
    """Correlation of the state with itself that much later: e^(−t (1/good + 1/bad))."""
    return math.exp(-apart_ms * (1 / good_ms + 1 / bad_ms))


def mean_loss(good_ms: float, bad_ms: float, loss_good: float, loss_bad: float) -> float:
    """Share of single attempts lost, both states together."""
    bad = share_bad(good_ms, bad_ms)
    return (1 - bad) * loss_good + bad * loss_bad


def both_lost(
    apart_ms: float, good_ms: float, bad_ms: float, loss_good: float, loss_bad: float
) -> float:
    """Chance that two attempts so far apart are both lost: more than the mean loss squared.

    Mean² + share bad · share good · (loss bad − loss good)² · correlation.
    """
    bad, lost = share_bad(good_ms, bad_ms), mean_loss(good_ms, bad_ms, loss_good, loss_bad)
    spread = bad * (1 - bad) * (loss_bad - loss_good) ** 2
    return float(lost**2 + spread * correlation(apart_ms, good_ms, bad_ms))
