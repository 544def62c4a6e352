"""Every fault that a scenario's parts allow, drilled; and the trade of its timeouts."""

from radiosim.study.drill.results import Drilled
from radiosim.study.drill.run import Wishes, drill_failsafe

__all__ = ["Drilled", "Wishes", "drill_failsafe"]
