"""One value of a frame: its place in the bytes, and its conversion to and from the wire."""

from dataclasses import dataclass

from radiosim.errors import LayoutError
from radiosim.layout.wire import Kind, nearest_f32, round_half_away, wire_range

NOISE = 1e-6
"""Share of a step by which arithmetic may carry a value past the end of its range."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A field of a layout, with everything a codec, a signal or an output needs to know."""

    layout: str
    """Name of the layout it belongs to."""
    name: str
    """Its own name, unique in the layout."""
    kind: Kind
    """unsigned, signed or float."""
    container_bits: int
    """Width of the number that holds it."""
    bits: int
    """Its own width; less than the container's for a bit field."""
    is_bit_field: bool
    """Does it share its container with neighbours?"""
    container_offset_bytes: int
    """First byte of its container in the frame."""
    shift: int
    """Its lowest bit, counted from the lowest bit of the container's number."""
    scale: float
    """What one step on the wire stands for, in the field's own unit."""
    neutral: float
    """Value of a control at rest, in the field's own unit."""
    offset: int
    """Number on the wire at neutral."""
    minimum: float
    """Lowest value, in the field's own unit."""
    maximum: float
    """Highest value, in the field's own unit."""

    @property
    def bit_offset(self) -> int:
        """Bits of the frame before this field (little byte order: before its lowest bit)."""
        return 8 * self.container_offset_bytes + self.shift

    @property
    def raw_range(self) -> tuple[int, int] | tuple[float, float]:
        """Lowest and highest number the wire can hold."""
        return wire_range(self.kind, self.bits)

    @property
    def resolution(self) -> float:
        """Smallest difference that survives the wire, in the field's own unit; 0 for floats."""
        return 0.0 if self.kind == "float" else abs(self.scale)

    @property
    def steps(self) -> int:
        """Distinct numbers on the wire between minimum and maximum; 0 for floats."""
        if self.kind == "float":
            return 0
        return int(abs(self.to_wire(self.maximum) - self.to_wire(self.minimum))) + 1

    def to_wire(self, value: float) -> int | float:
        """Number on the wire for a value in the field's own unit.

        Whole-number fields round to the nearest step, halves away from zero; f32 rounds to the
        nearest single. Raises LayoutError for a value outside minimum..maximum, NaN included.
        """
        slack = NOISE * self.resolution
        if not self.minimum - slack <= value <= self.maximum + slack:
            raise LayoutError(
                (
                    (
                        f"layout.{self.layout}.{self.name}",
                        f"must be {self.minimum:g} to {self.maximum:g}, got {value!r}",
                    ),
                )
            )
        # The ends of the range fit (checked when it was laid out): what is cut is float noise.
        low, high = self.raw_range
        if self.kind == "float":
            exact = exact_wire(value, scale=self.scale, neutral=self.neutral, offset=self.offset)
            held = min(max(exact, low), high)
            return held if self.bits == 64 else nearest_f32(held)
        # The offset is added after rounding, so that halves are judged from neutral.
        steps = exact_wire(value, scale=self.scale, neutral=self.neutral, offset=0)
        return int(min(max(round_half_away(steps) + self.offset, low), high))

    def to_value(self, wire: int | float) -> float:
        """Value in the field's own unit for a number on the wire."""
        return (wire - self.offset) * self.scale + self.neutral


def exact_wire(value: float, *, scale: float, neutral: float, offset: int) -> float:
    """Number on the wire before rounding; infinite if it is beyond every number."""
    return (value - neutral) / scale + offset
