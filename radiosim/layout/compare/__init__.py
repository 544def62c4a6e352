"""What one end reads of what the other end sends, when their layouts differ."""

from radiosim.layout.compare.compared import Comparison, Direction, Outcome, compare
from radiosim.layout.compare.reading import FieldReading, Misreading

__all__ = ["Comparison", "Direction", "FieldReading", "Misreading", "Outcome", "compare"]
