"""What can go wrong with a layout on the way from one firmware to another."""

from collections.abc import Callable, Hashable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from radiosim.c_header.c_field import CField
from radiosim.c_header.struct_reader import HeaderStruct
from radiosim.layout.field import Field, is_counter, is_spare, is_version
from radiosim.layout.layout import LONGEST_PAYLOAD_BYTES, Layout, unused_bits

Difference = tuple[str, str, str]
"""Field, what differs, and the cure."""


def of_targets(layout: Layout, targets: Mapping[str, HeaderStruct] | None) -> Iterator[Difference]:
    """Every cause for which a layout is not the same on all targets."""
    if targets:
        yield from _of_structs(targets)
    elif not layout.packed:
        yield from _of_gaps(layout)


def _of_gaps(layout: Layout) -> Iterator[Difference]:
    """A scenario's layout with gaps: the small target, which aligns nothing, has none."""
    if layout.padding_bytes:
        tight = layout.size_bytes - layout.padding_bytes
        what = f"{tight} bytes on avr, which leaves no gaps, and {layout.size_bytes} elsewhere"
        yield "", what, "pack it: packed = true here, __attribute__((packed)) in the firmware"


def _of_structs(targets: Mapping[str, HeaderStruct]) -> Iterator[Difference]:
    structs = list(targets.values())
    explained = False
    for index, first in enumerate(structs[0].fields):
        fields = {name: struct.fields[index] for name, struct in targets.items()}
        if _differs(fields, lambda field: field.bits):
            explained = True
            yield first.name, _sizes(fields), _cure_of_size(first)
        elif _differs(fields, lambda field: field.kind):
            explained = True
            signs = _grouped({name: field.kind for name, field in fields.items()})
            cure = "write int8_t for a number and uint8_t for a byte"
            yield first.name, f"plain {first.c_type} is {signs}", cure
        gaps = {name: _gap(struct, index) for name, struct in targets.items()}
        if len(set(gaps.values())) > 1:
            explained = True
            yield first.name, _gaps(first, gaps), "__attribute__((packed)) on the struct"
    sizes = {name: struct.size_bytes for name, struct in targets.items()}
    tails = {name: _tail(struct) for name, struct in targets.items()}
    if len(set(tails.values())) > 1 or (len(set(sizes.values())) > 1 and not explained):
        text = _grouped({name: _bytes(size) for name, size in sizes.items()})
        yield "", f"the struct is {text}: padding at its end", "__attribute__((packed)) on it"


def _differs(fields: Mapping[str, CField], of: Callable[[CField], Hashable]) -> bool:
    return len({of(field) for field in fields.values()}) > 1


def _gap(struct: HeaderStruct, index: int) -> int:
    """Bits between a field and the end of the one before."""
    before = struct.fields[index - 1] if index else None
    end = before.at_bit + before.bits if before else 0
    return struct.fields[index].at_bit - end


def _tail(struct: HeaderStruct) -> int:
    """Whole bytes after the last field."""
    last = struct.fields[-1]
    return struct.size_bytes - (last.at_bit + last.bits + 7) // 8


def _sizes(fields: Mapping[str, CField]) -> str:
    first = next(iter(fields.values()))
    sizes = _grouped({name: _bytes(field.bits // 8) for name, field in fields.items()})
    kind = "enum " if first.base == "enum" and not first.c_type.startswith("enum") else ""
    return f"{kind}{first.c_type} has {sizes}"


def _cure_of_size(field: CField) -> str:
    if field.base == "enum":
        return "give the enum a type (enum Name : uint8_t), or send a uint8_t"
    if field.kind == "float":
        return "send a float, or better an int16_t in small steps"
    letter = "" if field.kind == "signed" else "u"
    return f"write {letter}int16_t or {letter}int32_t, which have one size everywhere"


def _gaps(field: CField, gaps: Mapping[str, int]) -> str:
    words = {name: "no gap" if gap == 0 else f"a gap of {_bits(gap)}" for name, gap in gaps.items()}
    return f"before {field.name} there is {_grouped(words)}"


def _grouped(words: Mapping[str, str]) -> str:
    """Each word with the targets it holds for: 2 bytes on avr, 4 bytes on arm and host."""
    by_word: dict[str, list[str]] = {}
    for name, word in words.items():
        by_word.setdefault(word, []).append(name)
    return ", ".join(f"{word} on {_listed(names)}" for word, names in by_word.items())


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _bytes(count: int) -> str:
    return "1 byte" if count == 1 else f"{count} bytes"


def _bits(count: int) -> str:
    if count % 8 == 0:
        return _bytes(count // 8)
    return "1 bit" if count == 1 else f"{count} bits"


Severity = Literal["error", "warning", "note"]

SMALLEST_COUNTER_BITS = 3
"""A 2-bit counter comes round with the 2-bit packet number (facts 1): it tells nothing new."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trap:
    """One trap, and the way out."""

    field: str
    """Name of the field; empty if the layout as a whole is meant."""
    trap: str
    """A word for its kind."""
    severity: Severity
    what: str
    """What is found."""
    cure: str
    """What to do about it."""


def traps_of(
    layout: Layout,
    *,
    targets: Mapping[str, HeaderStruct] | None = None,
    counters: frozenset[str] = frozenset(),
    is_acknowledged: bool = True,
) -> tuple[Trap, ...]:
    """Every trap of a layout, the worst kind first.

    `targets` has the struct as each target's compiler lays it out, if it comes from a header;
    `counters` are the fields that count frames, besides those whose name says so.
    """
    found = [
        *_of_length(layout),
        *(
            Trap(field=field, trap="differs", severity="error", what=what, cure=cure)
            for field, what, cure in of_targets(layout, targets)
        ),
        *(_of_counter(layout, counters) if is_acknowledged else ()),
        *_of_padding(layout),
        *_of_floats(layout),
        *_of_order(layout),
        *_of_version(layout),
    ]
    rank = {"error": 0, "warning": 1, "note": 2}
    return tuple(sorted(found, key=lambda trap: rank[trap.severity]))


def _of_length(layout: Layout) -> Iterator[Trap]:
    if layout.size_bytes > LONGEST_PAYLOAD_BYTES:
        yield Trap(
            field="",
            trap="too long",
            severity="error",
            what=f"{layout.size_bytes} bytes do not fit a payload of {LONGEST_PAYLOAD_BYTES}",
            cure="send narrower fields, or two kinds of frame",
        )


def _of_counter(layout: Layout, counters: frozenset[str]) -> Iterator[Trap]:
    """Rule D3: an unchanged frame with an old packet number is taken for a duplicate."""
    found = [f for f in layout.fields if f.name in counters or is_counter(f.name)]
    if not found:
        yield Trap(
            field="",
            trap="no counter",
            severity="warning",
            what="while its values stand still, a frame after three lost ones is taken for a "
            "duplicate and dropped",
            cure="add a field that counts frames, such as a u8 called count",
        )
    elif all(field.bits < SMALLEST_COUNTER_BITS for field in found):
        yield Trap(
            field=found[0].name,
            trap="short counter",
            severity="warning",
            what=f"{found[0].bits} bits come round with the radio's own packet number",
            cure=f"give it {SMALLEST_COUNTER_BITS} bits or more",
        )


def _of_padding(layout: Layout) -> Iterator[Trap]:
    unused = unused_bits(layout)
    if not unused:
        return
    whole = layout.padding_bytes
    rest = unused - 8 * whole
    parts = ([_count(whole, "byte")] if whole else []) + ([_count(rest, "bit")] if rest else [])
    yield Trap(
        field="",
        trap="padding",
        severity="warning" if whole else "note",
        what=f"{' and '.join(parts)} carry nothing and send whatever stood in memory",
        cure="pack the struct, or set all of it to zero first: an unchanged frame may else differ",
    )


def _of_floats(layout: Layout) -> Iterator[Trap]:
    for field in layout.fields:
        if field.kind == "float":
            yield Trap(
                field=field.name,
                trap="float",
                severity="warning",
                what=f"{field.bits // 8} bytes where a control needs 1 or 2",
                cure=_integer_for(field),
            )


def _integer_for(field: Field) -> str:
    span = max(abs(field.minimum - field.neutral), abs(field.maximum - field.neutral))
    if span > 1e9:
        return "send an i16 in steps that a servo can still follow, such as 0.001"
    return f"send an i16 with a scale of {_round_up(span / 32767):g}"


def _round_up(step: float) -> float:
    """The next of 1, 2 or 5 times a power of ten."""
    power = 1.0
    while power > step:
        power /= 10
    while power * 10 <= step:
        power *= 10
    return next((power * m for m in (1, 2, 5) if power * m >= step), power * 10)


def _of_order(layout: Layout) -> Iterator[Trap]:
    if layout.byte_order == "big" and any(field.container_bits > 8 for field in layout.fields):
        yield Trap(
            field="",
            trap="byte order",
            severity="warning",
            what="the highest byte goes first; avr, arm, xtensa, riscv32 and host store the lowest "
            "first, so that a struct copied as it is comes out turned round",
            cure="pack byte by byte (radiosim layout emit --to c), or send the lowest first",
        )
    shared = [field.name for field in layout.fields if field.is_bit_field]
    if shared:
        yield Trap(
            field=shared[0],
            trap="bit order",
            severity="note",
            what="the order of bit fields in a byte is the compiler's choice; those of avr, arm, "
            "xtensa, riscv32 and host put the first lowest",
            cure="nothing to do among these",
        )


def _of_version(layout: Layout) -> Iterator[Trap]:
    if any(is_version(field.name) or is_spare(field.name) for field in layout.fields):
        return
    is_full = layout.size_bytes >= LONGEST_PAYLOAD_BYTES
    yield Trap(
        field="",
        trap="no version",
        severity="note",
        what="a receiver cannot tell this layout from the next one"
        + (", and there is no byte left for it" if is_full else ""),
        cure="begin with a few bits called version, and let the receiver drop all others",
    )


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
