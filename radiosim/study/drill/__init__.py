"""Every fault that a scenario's parts allow, drilled; and the trade-off of its timeouts."""

from radiosim.study.drill.drill import REPEATS, DrillOptions, drill_failsafe
from radiosim.study.drill.results import Drilled

__all__ = ["REPEATS", "DrillOptions", "Drilled", "drill_failsafe"]
