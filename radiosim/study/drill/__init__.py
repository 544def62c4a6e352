"""Every fault that a scenario's parts allow, drilled; and the trade of its timeouts."""

from radiosim.study.drill.drill import Wishes, drill_failsafe
from radiosim.study.drill.results import Drilled

__all__ = ["Drilled", "Wishes", "drill_failsafe"]
