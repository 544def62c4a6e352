"""How far a figure of the worst start is from its limit."""

from radiosim.measure.summary import RequirementFigures

MISSED_ALTOGETHER = -1.0
"""Beyond the limit by as much as the limit itself, or not measured at all: no margin is lower."""


def margin_of(it: RequirementFigures) -> float:
    """How far a figure is on the right side of its limit, as a share of it; below 0: missed.

    Of a share that must be high, what is missing to 1 is compared: 0.995 of at least 0.99 is
    half way. A limit of 0 is held in full or missed. A fault that must be noticed is, or is not:
    there is no more to gain.
    """
    if it.measured is None:
        return MISSED_ALTOGETHER
    found = []
    if it.at_most is not None:
        found.append(_below(it.measured, it.at_most))
    if it.at_least is not None:
        is_share = it.figure.endswith(".delivery_ratio") and 0 < it.at_least < 1
        missing, allowed = 1 - it.measured, 1 - it.at_least
        found.append(_below(missing, allowed) if is_share else _above(it.measured, it.at_least))
    margin = max(MISSED_ALTOGETHER, min(found))
    return 1.0 if it.figure.endswith(".trips_on_fault") and margin >= 0 else margin


def _below(measured: float, limit: float) -> float:
    if limit == 0:
        return 1.0 if measured <= 0 else MISSED_ALTOGETHER
    return (limit - measured) / abs(limit)


def _above(measured: float, limit: float) -> float:
    if limit == 0:
        return 1.0 if measured >= 0 else MISSED_ALTOGETHER
    return (measured - limit) / abs(limit)
