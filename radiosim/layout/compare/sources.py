"""Where each bit that a receiver reads comes from in a transmitter's frame."""

from dataclasses import dataclass
from typing import Literal

from radiosim.layout.bits import Owner, bits_of, owners
from radiosim.layout.field import Field
from radiosim.layout.layout import Layout

ZERO: Literal["zero"] = "zero"
"""Filled up by the radio."""
UNKNOWN: Literal["unknown"] = "unknown"
"""Whatever stood in memory: padding, or bytes that were never received."""

Source = Owner | Literal["zero", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """A transmitter's frame as it arrives at a receiver that expects another layout."""

    transmitter: Layout
    """How it was packed."""
    padded_to_bytes: int
    """Bytes on the air; those beyond the transmitter's are zero."""

    def sources(self, field: Field, receiver: Layout) -> tuple[Source, ...]:
        """Source of each bit, from the lowest, of a field as the receiver reads it."""
        sent = owners(self.transmitter)
        return tuple(self._source(sent, place) for place in bits_of(field, receiver.byte_order))

    def _source(self, sent: tuple[Owner | None, ...], place: int) -> Source:
        if place < len(sent):
            owner = sent[place]
            return UNKNOWN if owner is None else owner
        return ZERO if place < 8 * self.padded_to_bytes else UNKNOWN
