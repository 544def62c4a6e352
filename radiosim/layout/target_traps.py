"""Where the compilers of two targets disagree about one struct, field by field, and why."""

from collections.abc import Callable, Hashable, Iterator, Mapping

from radiosim.layout.header import CField, HeaderStruct
from radiosim.layout.layout import Layout

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
