"""What no layout can tell of a change: whether a field still means the same."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from radiosim.c_header.c_field import Kind
from radiosim.layout.field import Field, is_spare
from radiosim.layout.layout import Layout

_PLACES = re.compile(r"(?:_\d+)+\Z")

Comments = Mapping[str, str]
"""What comments say, by field, and under no name what they say of the layout as a whole."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something that only who wrote both layouts knows."""

    name: str
    """The field's new name, or the layout's."""
    before: str
    """Its name before; the same if only the comment changed."""
    comments: tuple[str, str]
    """What comments said and say; both are empty if only the name changed."""

    @property
    def names(self) -> frozenset[str]:
        """What the field is called on either side."""
        return frozenset((self.name, self.before))

    @property
    def group(self) -> str:
        """The new name without the places in arrays."""
        return _PLACES.sub("", self.name)

    @property
    def text(self) -> str:
        """What is asked."""
        if self.name != self.before:
            return f"{self.before} is called {self.name} now: the same thing, in the same unit?"
        was, is_ = (f'"{said}"' if said else "nothing" for said in self.comments)
        return f"the comment at {self.name} said {was} and says {is_}: the same scale?"


def questions(
    old: Layout, new: Layout, comments: tuple[Comments, Comments], same: frozenset[str]
) -> tuple[Question, ...]:
    """What must be asked of two layouts; nothing of the new names in `same`."""
    before, now = ({field.name: field for field in layout.fields} for layout in (old, new))
    gone = {
        (field.kind, field.bit_offset): field.name for field in old.fields if field.name not in now
    }
    asked = [
        *_of_comments(new.name, ("", ""), comments),
        *(
            question
            for field in new.fields
            for question in _of_field(field, before, gone, comments)
        ),
    ]
    return tuple(question for question in asked if not same & {question.name, question.group})


def _of_field(
    field: Field,
    before: Mapping[str, Field],
    gone: Mapping[tuple[Kind, int], str],
    comments: tuple[Comments, Comments],
) -> Iterator[Question]:
    if field.name in before:
        yield from _of_comments(field.name, (field.name, field.name), comments)
        return
    name = gone.get((field.kind, field.bit_offset))
    if name is not None and not (is_spare(name) and is_spare(field.name)):
        yield Question(name=field.name, before=name, comments=("", ""))


def _of_comments(
    name: str, keys: tuple[str, str], comments: tuple[Comments, Comments]
) -> Iterator[Question]:
    was, is_ = (said.get(key, "") for said, key in zip(comments, keys, strict=True))
    if was != is_:
        yield Question(name=name, before=name, comments=(was, is_))
