"""What hands and heads do: each a value at an instant (rule A7)."""

from radiosim.signals.course import Span
from radiosim.signals.formulas import Constant, Counter, LookAround, Sine, Steps
from radiosim.signals.recorded import Csv, read_points

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
