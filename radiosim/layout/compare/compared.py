"""Two layouts of one frame: what each end makes of the other's, for each way to set the length."""

import dataclasses
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

import msgspec

from radiosim.errors import LayoutError
from radiosim.layout.compare._questions import Comments, Question, Values, questions
from radiosim.layout.compare._reading import (
    FieldReading,
    Frame,
    Source,
    field_reading,
    frames_for,
    read_numbers,
)
from radiosim.layout.field import Field, is_version
from radiosim.layout.layout import LONGEST_PAYLOAD_BYTES, Layout

Verdict = Literal["compatible", "asked", "rejected", "refused", "misread"]
Length = Literal["own", "fixed", "padded"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What becomes of one end's frames at the other, for one way to set the payload's length."""

    length: Length
    """own: each frame at its own length, and a program that does not check it; fixed: each end's
    radio set to its own struct; padded: both radios set to one length."""
    verdict: Verdict
    """compatible · asked, whether a field still means the same · rejected by the radio · refused by
    a version field · misread."""
    why: str
    """What decided, unless fields did."""
    passes: float | None
    """Share of frames that have the version expected by chance; None: no such check."""
    fields: tuple[FieldReading, ...]
    """What each field of the receiver reads; empty if it never gets that far."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Direction:
    """One end sends, the other receives."""

    own: Outcome
    fixed: Outcome
    padded: Outcome

    def of(self, length: Length) -> Outcome:
        """The outcome for one way to set the length."""
        return {"own": self.own, "fixed": self.fixed, "padded": self.padded}[length]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Both directions."""

    old: Layout
    new: Layout
    padded_to_bytes: int
    """What `padded` pads to."""
    versions: tuple[int, int] | None
    """Version numbers taken for old and new; None: neither has a version field."""
    new_to_old: Direction
    """A new transmitter and an old receiver."""
    old_to_new: Direction
    """An old transmitter and a new receiver."""
    questions: tuple[Question, ...]
    """What only who wrote both knows."""

    def is_compatible(self, length: Length) -> bool:
        """Does each end surely read all that the other sends?"""
        return all(
            direction.of(length).verdict == "compatible"
            for direction in (self.new_to_old, self.old_to_new)
        )


def compare(
    old: Layout,
    new: Layout,
    *,
    padded_to_bytes: int = LONGEST_PAYLOAD_BYTES,
    versions: tuple[int, int] | None = None,
    comments: tuple[Comments, Comments] = ({}, {}),
    values: tuple[Values, Values] = ({}, {}),
    same: Collection[str] = (),
) -> Comparison:
    """What an old and a new firmware make of each other's frames.

    `versions` are the numbers in their version fields; left out, they are the same for equal
    layouts, and 1 and 2 otherwise. `comments`: what old and new say at their fields; `values`: what
    their headers give a name to besides. `same`: new names of fields, layouts and values whose
    meaning did not change. Raises LayoutError for a number that does not fit, or a name that nobody
    asked about.
    """
    taken = _versions(old, new, versions)
    old_number, new_number = taken or (0, 0)
    asked = _asked(questions(old, new, comments, values), same)
    return Comparison(
        old=old,
        new=new,
        padded_to_bytes=padded_to_bytes,
        versions=taken,
        new_to_old=_direction(_pinned(new, new_number), old, old_number, padded_to_bytes, asked),
        old_to_new=_direction(_pinned(old, old_number), new, new_number, padded_to_bytes, asked),
        questions=asked,
    )


def _asked(every: tuple[Question, ...], same: Collection[str]) -> tuple[Question, ...]:
    """Questions that are open."""
    names = {name for question in every for name in (question.name, question.group)}
    for name in same:
        if name not in names:
            known = ", ".join(sorted(names)) or "nothing"
            raise LayoutError((("same", f"must be what is asked about ({known}), got {name}"),))
    return tuple(one for one in every if not {one.name, one.group} & set(same))


def version_field(layout: Layout) -> Field | None:
    """The field that tells this layout from another, by its name; None if there is none."""
    return next(
        (field for field in layout.fields if field.kind != "float" and is_version(field.name)), None
    )


def _versions(old: Layout, new: Layout, said: tuple[int, int] | None) -> tuple[int, int] | None:
    fields = [field for field in (version_field(old), version_field(new)) if field is not None]
    if not fields:
        if said is not None:
            text = f"must be left out where no field is called version, got {said[0]},{said[1]}"
            raise LayoutError((("versions", text),))
        return None
    highest = min(int(field.raw_range[1]) for field in fields)
    if said is None:
        first = 1 if highest > 1 else 0
        return (first, first if _fields(old) == _fields(new) else first + 1)
    for number, layout in zip(said, (old, new), strict=True):
        field = version_field(layout)
        if field is not None and not field.raw_range[0] <= number <= field.raw_range[1]:
            low, high = field.raw_range
            text = f"must be {low:g} to {high:g} for {layout.name}.{field.name}, got {number}"
            raise LayoutError((("versions", text),))
    return said


def _fields(layout: Layout) -> tuple[object, ...]:
    """All that the wire shows of a layout."""
    bare = tuple(msgspec.structs.replace(field, layout="") for field in layout.fields)
    return (layout.byte_order, layout.size_bytes, bare)


def _pinned(transmitter: Layout, version: int) -> Layout:
    """A transmitter whose version field holds nothing but its version."""
    field = version_field(transmitter)
    if field is None:
        return transmitter
    value = field.to_value(version)
    fixed = msgspec.structs.replace(field, minimum=value, maximum=value)
    fields = tuple(fixed if other is field else other for other in transmitter.fields)
    return msgspec.structs.replace(transmitter, fields=fields)


def _direction(
    transmitter: Layout,
    receiver: Layout,
    version: int,
    padded: int,
    asked: tuple[Question, ...],
) -> Direction:
    own = _outcome("own", transmitter, receiver, version, transmitter.size_bytes, asked)
    fixed, filled = own, own
    if transmitter.size_bytes != receiver.size_bytes:
        fixed = _rejected(_other_length(transmitter, receiver))
        filled = _outcome("padded", transmitter, receiver, version, padded, asked)
    if transmitter.size_bytes > padded:
        filled = _rejected(
            f"its {_bytes(transmitter.size_bytes)} do not fit the {padded} of the link"
        )
    if transmitter.size_bytes > LONGEST_PAYLOAD_BYTES:
        own = fixed = filled = _rejected(
            f"its {_bytes(transmitter.size_bytes)} do not fit a payload of "
            f"{LONGEST_PAYLOAD_BYTES}: "
            "the radio sends no such frame"
        )
    return Direction(
        own=dataclasses.replace(own, length="own"),
        fixed=dataclasses.replace(fixed, length="fixed"),
        padded=dataclasses.replace(filled, length="padded"),
    )


def _other_length(transmitter: Layout, receiver: Layout) -> str:
    if receiver.size_bytes > LONGEST_PAYLOAD_BYTES:
        return (
            f"no radio can be set to the receiver's {receiver.size_bytes} bytes: a payload has "
            f"{LONGEST_PAYLOAD_BYTES} at most"
        )
    return (
        f"its {_bytes(transmitter.size_bytes)} are not the {_bytes(receiver.size_bytes)} "
        "that the receiver's radio is set to"
    )


def _bytes(count: int) -> str:
    return "1 byte" if count == 1 else f"{count} bytes"


def _rejected(why: str) -> Outcome:
    return Outcome(length="own", verdict="rejected", why=why, passes=None, fields=())


def _outcome(
    length: Length,
    transmitter: Layout,
    receiver: Layout,
    version: int,
    padded: int,
    asked: tuple[Question, ...],
) -> Outcome:
    """What the receiver reads of frames that its radio takes."""
    frame = Frame(transmitter=transmitter, padded_to_bytes=padded)
    check = version_field(receiver)
    passes = None
    if check is not None:
        passes = _share_passing(check, frame.sources(check, receiver), transmitter, version)
        if passes == 0:
            why = f"{check.name} is never {version}"
            return Outcome(length=length, verdict="refused", why=why, passes=passes, fields=())
    names = frozenset(field.name for field in receiver.fields)
    readings = tuple(
        field_reading(field, transmitter, frame.sources(field, receiver), names)
        for field in receiver.fields
        if field is not check
    )
    readings = tuple(_with_question(reading, asked) for reading in readings)
    is_misread = any(reading.verdict == "misread" for reading in readings)
    named = {reading.name for reading in readings}
    # What is asked of the layout as a whole, or of its version, has no field to stand beside.
    others = [question.text for question in asked if not question.names & named]
    verdict: Verdict = "misread" if is_misread else "asked" if asked else "compatible"
    return Outcome(
        length=length,
        verdict=verdict,
        why="" if is_misread else " ".join(others),
        passes=passes,
        fields=readings,
    )


def _with_question(reading: FieldReading, asked: tuple[Question, ...]) -> FieldReading:
    """A reading in which all bits arrive, with what must be asked of them."""
    mine = [question.text for question in asked if reading.name in question.names]
    if reading.verdict != "compatible" or not mine:
        return reading
    return dataclasses.replace(reading, verdict="asked", says=" ".join(mine))


def _share_passing(
    check: Field, sources: tuple[Source, ...], transmitter: Layout, version: int
) -> float:
    """Share of a transmitter's frames whose bits look like the version; 0 only if none can."""
    frames = frames_for(transmitter, sources)
    wanted = version & ((1 << check.bits) - 1)
    share = float((read_numbers(check, sources, frames) == wanted).mean())
    if share == 0 and not frames.is_all:
        # More than were tried: as if every bit were drawn.
        return float(2.0**-check.bits)
    return share
