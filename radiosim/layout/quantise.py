"""What many values come to after a trip over the wire."""

import numpy as np
import numpy.typing as npt

from radiosim.layout.field import NOISE, Field

Values = npt.NDArray[np.float64]

EXACT_BITS = 53
"""Whole numbers up to this width are exact in a double."""


def quantised(field: Field, values: Values) -> Values:
    """`field.to_value(field.to_wire(v))` for each value, to the last bit.

    Raises LayoutError for a value that the field refuses.
    """
    slack = NOISE * field.resolution
    fits = (values >= field.minimum - slack) & (values <= field.maximum + slack)
    if not fits.all() or field.kind == "float" or field.bits > EXACT_BITS:
        return np.array([field.to_value(field.to_wire(v)) for v in values.tolist()], np.float64)
    low, high = field.raw_range
    steps = (values - field.neutral) / field.scale
    whole = np.trunc(steps)
    whole += np.where(np.abs(steps - whole) >= 0.5, np.where(steps > 0, 1.0, -1.0), 0.0)
    wire = np.clip(whole + field.offset, low, high)
    back: Values = (wire - field.offset) * field.scale + field.neutral
    return back
