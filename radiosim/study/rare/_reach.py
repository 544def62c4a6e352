"""How rare a trip the model can speak of (rule H1)."""

from msgspec.structs import replace

from radiosim.measure.summary import Interval, RareFigures

REACH_HOURS = 1_000.0
"""Common practice, no source: of what nobody described, something trips a hand-built link more
often than that."""
LEFT_OUT = (
    "the model does not reach further: loose contacts, dips of the supply, bodies in the way and "
    "strangers on the air, which nobody described, trip a failsafe more often"
)


def within_reach(found: RareFigures) -> RareFigures:
    """What splitting found, without what is rarer than the causes that the model leaves out."""
    rarest = 1 / REACH_HOURS
    low, high = found.per_hour_ci95 if isinstance(found.per_hour_ci95, tuple) else (0.0, None)
    rate = high if found.per_hour is None else found.per_hour
    if rate is None:
        return found
    if rate >= rarest:
        in_reach = low if low >= rarest else 0.0
        return found if high is None else replace(found, per_hour_ci95=(in_reach, high))
    if not found.trusted:
        return replace(found, per_hour=None, per_hour_ci95=None, per_frame=None)
    limit = (0.0, max(rarest, high or 0.0))
    return replace(found, per_hour=None, per_hour_ci95=limit, per_frame=None, why=LEFT_OUT)


def beside_a_count(found: RareFigures, counted: Interval) -> RareFigures:
    """What splitting found, without a limit that is no lower than that of trips counted."""
    if not isinstance(counted, tuple) or not isinstance(found.per_hour_ci95, tuple):
        return found
    if found.per_hour is not None or found.per_hour_ci95[1] < counted[1]:
        return found
    why = "it got no further than the count of trips in these starts, which tells no less"
    return replace(found, per_hour_ci95=None, trusted=False, why=why)
