"""What no layout can tell of a change: whether a field still means the same."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from radiosim.c_header.c_field import Kind
from radiosim.layout.field import Field, array_of, is_counter, is_spare, is_version
from radiosim.layout.layout import Layout

Comments = Mapping[str, str]
"""What comments say, by field, or by `OF_LAYOUT` or `OF_FILE`."""
OF_LAYOUT, OF_FILE = "", "/"
"""In the place of a field: the layout as a whole; the file that it stands in."""
Values = Mapping[str, str]
"""What a header gives a name to besides its fields: macros, constants, code."""
OF_FIELD, OF_ITS_FILE = "what is said of {}", "what the file of {} says"
OF_RANGE, OF_VALUE = "the range of {}", "{}"
KEPT_WORDS = 4
"""Around what differs in two texts, as far as they are alike."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something that only who wrote both layouts knows."""

    name: str
    """The new name of the field, or the name of the layout or of a value."""
    before: str
    """Its name before; the same if only what is said of it changed."""
    comments: tuple[str, str]
    """What was said and is said of it; both are empty if only the name changed."""
    what: str = OF_FIELD
    """What it is that was said, with room for the name."""

    @property
    def names(self) -> frozenset[str]:
        """What the field is called on either side."""
        return frozenset((self.name, self.before))

    @property
    def group(self) -> str:
        """The new name without the places in arrays."""
        return array_of(self.name)

    @property
    def text(self) -> str:
        """What is asked."""
        if self.name != self.before:
            return f"{self.before} is called {self.name} now: the same thing, in the same unit?"
        was, is_ = (f'"{said}"' if said else "nothing" for said in _differing(*self.comments))
        same = "does all mean what it meant" if self.what == OF_VALUE else "the same scale"
        return f"{self.what.format(self.name)} was {was} and is {is_}: {same}?"


def _differing(*texts: str) -> tuple[str, ...]:
    """Texts without the words that they all begin or end with, but for some."""
    words = [text.split() for text in texts]
    shortest = min(map(len, words))
    first = next((n for n in range(shortest) if len({w[n] for w in words}) > 1), shortest)
    left = shortest - first
    last = next((n for n in range(left) if len({w[-1 - n] for w in words}) > 1), left)
    begin, end = max(0, first - KEPT_WORDS), max(0, last - KEPT_WORDS)
    return tuple(" ".join([*["…"][:begin], *w[begin : len(w) - end], *["…"][:end]]) for w in words)


def questions(
    old: Layout,
    new: Layout,
    comments: tuple[Comments, Comments],
    values: tuple[Values, Values],
) -> tuple[Question, ...]:
    """What must be asked of two layouts."""
    before, now = ({field.name: field for field in layout.fields} for layout in (old, new))
    gone = {
        (field.kind, field.bit_offset): field.name for field in old.fields if field.name not in now
    }
    return (
        *_of_said(new.name, OF_LAYOUT, comments),
        *_of_said(new.name, OF_FILE, comments, OF_ITS_FILE),
        *_of_values(*values),
        *(
            question
            for field in new.fields
            for question in _of_field(field, before, gone, comments)
        ),
    )


def _of_field(
    field: Field,
    before: Mapping[str, Field],
    gone: Mapping[tuple[Kind, int], str],
    comments: tuple[Comments, Comments],
) -> Iterator[Question]:
    if field.name in before:
        yield from _of_said(field.name, field.name, comments)
        yield from _of_range(before[field.name], field)
        return
    name = gone.get((field.kind, field.bit_offset))
    if name is not None and not (is_spare(name) and is_spare(field.name)):
        yield Question(name=field.name, before=name, comments=("", ""))


def _of_range(old: Field, new: Field) -> Iterator[Question]:
    """A number that stands for itself and now goes up to another end: full may still be full."""
    if is_counter(new.name) or is_spare(new.name) or not all(map(_is_plain, (old, new))):
        return
    was, is_ = (f"{field.minimum:.10g} to {field.maximum:.10g}" for field in (old, new))
    if was != is_:
        yield Question(name=new.name, before=new.name, comments=(was, is_), what=OF_RANGE)


def _is_plain(field: Field) -> bool:
    return field.kind != "float" and (field.scale, field.neutral, field.offset) == (1, 0, 0)


def _of_said(
    name: str, key: str, comments: tuple[Comments, Comments], what: str = OF_FIELD
) -> Iterator[Question]:
    was, is_ = (said.get(key, "") for said in comments)
    if was != is_:
        yield Question(name=name, before=name, comments=(was, is_), what=what)


def _of_values(old: Values, new: Values) -> Iterator[Question]:
    """Values that changed, came or went; not those that only got another name."""
    came = {value for name, value in new.items() if name not in old}
    gone = {value for name, value in old.items() if name not in new}
    for name in dict.fromkeys((*old, *new)):
        was, is_ = old.get(name, ""), new.get(name, "")
        is_renamed = (not was and is_ in gone) or (not is_ and was in came)
        if was != is_ and not is_renamed and not is_version(name):
            yield Question(name=name, before=name, comments=(was, is_), what=OF_VALUE)
