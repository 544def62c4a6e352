"""What hands and heads do: one file a kind, each a value at an instant (rule A7)."""

from radiosim.signals.constant import Constant
from radiosim.signals.counter import Counter
from radiosim.signals.lookaround import LookAround
from radiosim.signals.sine import Sine
from radiosim.signals.span import Span
from radiosim.signals.steps import Steps
from radiosim.signals.table import Csv, read_points

Signal = Constant | Sine | Steps | Csv | LookAround | Counter
"""Any signal; told apart by `kind` in a scenario."""

__all__ = [
    "Constant",
    "Counter",
    "Csv",
    "LookAround",
    "Signal",
    "Sine",
    "Span",
    "Steps",
    "read_points",
]
