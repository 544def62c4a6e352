"""What a receiver reads in one of its fields, over all that a transmitter may send."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from radiosim.layout.compare._domain import Raws, Tried, legal_wires, tried
from radiosim.layout.field import Field, is_spare, wire_range
from radiosim.layout.layout import Layout, Owner, bits_of, owners

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


How = Literal["by construction", "all values", "chosen values"]
Values = npt.NDArray[np.float64]

_EXACT = 1e-9
"""Share of a step, or of a value, by which two computations of one value may differ."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Misreading:
    """A value that went in and another that came out."""

    sent: float | None
    """Value in the transmitter's field of that name; None: it has no such field."""
    read: float
    """Value that the receiver reads."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldReading:
    """What comes of one field of the receiver."""

    name: str
    verdict: Literal["compatible", "asked", "misread"]
    """asked: all bits arrive, and whether they still mean the same must be asked."""
    how: How
    """What the verdict rests on: the bits' places, all values, or the choice of `tried`."""
    share: float | None
    """Share of the frames tried that are misread; None where what is read has nothing to do with
    what is sent under that name."""
    worst: Misreading | None
    """The misreading that is furthest from what was sent; None if there is none."""
    says: str
    """Where the bits come from, if not from the field itself."""


def field_reading(
    field: Field, transmitter: Layout, sources: tuple[Source, ...], receives: frozenset[str]
) -> FieldReading:
    """What a receiver's field reads, given the source of each of its bits.

    `receives` are the names of all fields of the receiver. Compatible is said only of what is
    proved: by the bits' places, or by trying every value.
    """
    if is_spare(field.name):
        return _compatible(field, "by construction", "carries nothing")
    same = _numbered(transmitter, field.name)
    if same is None:
        renamed = _renamed(field, transmitter, sources, receives)
        if renamed is not None:
            return _compatible(field, "by construction", f"is the transmitter's {renamed}")
        return _never_sent(field, transmitter, sources)
    sent = transmitter.fields[same]
    if _is_carried(field, sent, same, sources) and _converts_alike(field, sent):
        return _compatible(field, "by construction", "")
    return _tried(field, transmitter, same, sources)


def read_numbers(field: Field, sources: tuple[Source, ...], frames: Tried) -> Raws:
    """The bits of a receiver's field as one number, for each frame that is tried."""
    length = len(next(iter(frames.raws.values()), np.zeros(1)))
    raws = np.zeros(length, np.uint64)
    unknown = 0
    for bit, source in enumerate(sources):
        if source == ZERO:
            continue
        if source == UNKNOWN:
            number, taken = -1, unknown
            unknown += 1
        else:
            number, taken = source
        one = (frames.raws[number] >> np.uint64(taken)) & np.uint64(1)
        raws |= one << np.uint64(bit)
    return raws


def frames_for(transmitter: Layout, sources: tuple[Source, ...], also: int | None = None) -> Tried:
    """The frames to try for a field with these sources, and with the transmitter's field `also`."""
    numbers = {source[0] for source in sources if not isinstance(source, str)}
    if also is not None:
        numbers.add(also)
    return tried(
        {number: transmitter.fields[number] for number in sorted(numbers)},
        sum(source == UNKNOWN for source in sources),
    )


def values_of(field: Field, raws: Raws) -> Values:
    """Value in the field's own unit for each number of bits."""
    # Bits that make no number are part of what may be read: they need no warning.
    with np.errstate(all="ignore"):
        values: Values = (_wires(field, raws) - field.offset) * field.scale + field.neutral
    return values


def _wires(field: Field, raws: Raws) -> Values:
    """Number on the wire for each number of bits."""
    if field.kind == "float" and field.bits == 32:
        return raws.astype(np.uint32).view(np.float32).astype(np.float64)
    if field.kind == "float":
        return raws.view(np.float64)
    wires = raws.astype(np.float64)
    if field.kind == "signed":
        top = 1 << (field.bits - 1)
        wires -= np.where(raws >= top, 2.0 * top, 0.0)
    return wires


def _compatible(field: Field, how: How, says: str) -> FieldReading:
    return FieldReading(
        name=field.name, verdict="compatible", how=how, share=0.0, worst=None, says=says
    )


def _numbered(layout: Layout, name: str) -> int | None:
    return next((i for i, field in enumerate(layout.fields) if field.name == name), None)


def _renamed(
    field: Field, transmitter: Layout, sources: tuple[Source, ...], receives: frozenset[str]
) -> str | None:
    """Name of a transmitter's field that this one is, under another name."""
    numbers = {None if isinstance(source, str) else source[0] for source in sources}
    number = next(iter(numbers))
    if len(numbers) != 1 or number is None:
        return None
    sent = transmitter.fields[number]
    if sent.name in receives or not _converts_alike(field, sent):
        return None
    return sent.name if _is_carried(field, sent, number, sources) else None


def _is_carried(field: Field, sent: Field, number: int, sources: tuple[Source, ...]) -> bool:
    """Does every number that the transmitter may put in arrive, by the places of its bits?"""
    if sent.kind == "float" or field.kind == "float":
        whole = tuple((number, bit) for bit in range(sent.bits))
        return field.kind == sent.kind and sources == whole
    low, high = legal_wires(sent)
    lowest, highest = wire_range(field.kind, field.bits)
    if not lowest <= low <= high <= highest:
        return False
    # A number below 0 needs all its bits; one that is not has zeros above its highest.
    needed = min(field.bits, sent.bits) if low < 0 else min(high.bit_length(), field.bits)
    if low < 0 and field.bits > sent.bits:
        return False
    return all(
        source == (number, bit) if bit < needed else _is_zero(source, bit, number, sent)
        for bit, source in enumerate(sources)
    )


def _is_zero(source: Source, bit: int, number: int, sent: Field) -> bool:
    """Is a bit above the highest that a number can have always 0?"""
    return source == ZERO or (source == (number, bit) and bit < sent.bits)


def _converts_alike(field: Field, sent: Field) -> bool:
    return (field.scale, field.neutral, field.offset) == (sent.scale, sent.neutral, sent.offset)


def _never_sent(field: Field, transmitter: Layout, sources: tuple[Source, ...]) -> FieldReading:
    """A field that the transmitter does not have."""
    if all(source == ZERO for source in sources):
        value = field.to_value(0)
        if value == field.neutral:
            return _compatible(field, "by construction", f"not sent: reads {value:g}")
    frames = frames_for(transmitter, sources)
    read = values_of(field, read_numbers(field, sources, frames))
    at = int(np.argmax(_felt(field, read, field.neutral)))
    return FieldReading(
        name=field.name,
        verdict="misread",
        how="all values" if frames.is_all else "chosen values",
        share=None,
        worst=Misreading(sent=None, read=float(read[at])),
        says=f"not sent: reads {_named(transmitter, sources)}",
    )


def _tried(
    field: Field, transmitter: Layout, same: int, sources: tuple[Source, ...]
) -> FieldReading:
    """A field that both have, its bits not all in their place: every value is tried."""
    sent = transmitter.fields[same]
    says = _named(transmitter, sources)
    depends = any(not isinstance(source, str) and source[0] == same for source in sources)
    frames = frames_for(transmitter, sources, same if depends else None)
    read = values_of(field, read_numbers(field, sources, frames))
    how: How = "all values" if frames.is_all else "chosen values"
    if not depends:
        return _of_strangers(field, sent, read, how, f"reads {says}")
    meant = values_of(sent, frames.raws[same])
    distance = _distance(read, meant)
    tolerance = _EXACT * np.maximum(np.abs(meant), max(field.resolution, sent.resolution))
    wrong = ~(distance <= tolerance)
    if not wrong.any():
        if frames.is_all:
            return _compatible(field, how, "")
        return FieldReading(
            name=field.name, verdict="misread", how=how, share=0.0, worst=None, says="not proved"
        )
    at = int(np.argmax(_felt(field, read, meant)))
    is_own = says == sent.name
    return FieldReading(
        name=field.name,
        verdict="misread",
        how=how,
        share=float(wrong.mean()),
        worst=Misreading(sent=float(meant[at]), read=float(read[at])),
        says="reads the same bits otherwise" if is_own else f"reads {says}",
    )


def _of_strangers(field: Field, sent: Field, read: Values, how: How, says: str) -> FieldReading:
    """A field that reads bits which have nothing to do with its own: any pair may meet."""
    pairs = [
        (meant, float(found))
        for meant in (sent.minimum, sent.maximum, sent.neutral)
        for found in (read[int(np.argmax(_felt(field, read, meant)))],)
    ]
    worst = max(pairs, key=lambda pair: float(_felt(field, np.array([pair[1]]), pair[0])[0]))
    if all(meant == found for meant, found in pairs):
        return _compatible(field, how, "")
    return FieldReading(
        name=field.name,
        verdict="misread",
        how=how,
        share=None,
        worst=Misreading(sent=worst[0], read=worst[1]),
        says=says,
    )


def _felt(field: Field, read: Values, meant: "Values | float") -> Values:
    """How far a reading is off once it is cut to the receiver's range, as an output cuts it."""
    return _distance(np.clip(read, field.minimum, field.maximum), meant)


def _distance(read: Values, meant: "Values | float") -> Values:
    """How far a reading is off; what is no number is furthest of all."""
    with np.errstate(all="ignore"):
        off = np.abs(read - meant)
    return np.where(np.isnan(off), np.inf, off)


def _named(transmitter: Layout, sources: tuple[Source, ...]) -> str:
    """Where bits come from, in the order of the receiver's bits."""
    words: dict[str, None] = {}
    for source in sources:
        if source == UNKNOWN:
            words["bytes that nobody set"] = None
        elif source == ZERO:
            words["zeros"] = None
        else:
            words[transmitter.fields[source[0]].name] = None
    return " and ".join(words)
