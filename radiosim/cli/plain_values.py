"""Values of options that are plain to read, without the library that reads all others."""

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, get_args

from radiosim.edges import Edges

if TYPE_CHECKING:
    from typer.core import TyperCommand as Base
else:
    Base = object

OTHER = object()
"""What is not plain: the library reads it, or refuses it in its words."""
_OF_KIND = (
    (int, re.compile("[0-9]{1,9}")),
    (float, re.compile(r"[0-9]{1,9}(\.[0-9]{1,9})?")),
)


def plain_value(kind: Any, edges: Edges | None, said: Any) -> Any:
    """The value of an option of some kind, as the library would read it; OTHER if it must.

    `said`: text, or a sequence of texts for a kind of tuple.
    """
    if isinstance(said, tuple | list):
        return list(said) if all(isinstance(one, str) for one in said) else OTHER
    kinds = get_args(kind) or (kind,)
    if isinstance(said, str):
        if str in kinds:
            return said
        for number, text in _OF_KIND:
            if number in kinds and text.fullmatch(said) and not _is_refused(edges, number(said)):
                return number(said)
    return OTHER


def _is_refused(edges: Edges | None, value: float) -> bool:
    return edges is not None and bool(edges.refusal(value))


def read_plainly(parameter: Any, plain: Callable[[Any], Any]) -> None:
    """Have a parameter read as `plain` says, and by the library only where that says OTHER."""
    in_full = parameter.process_value

    def process_value(context: Any, said: Any) -> Any:
        value = plain(said)
        return in_full(context, said) if value is OTHER else value

    parameter.process_value = process_value


class PlainHelp(Base):
    """A command whose --help is read by the library only where it is asked for."""

    def get_help_option(self, ctx: Any) -> Any:
        """The option, or None."""
        found = super().get_help_option(ctx)
        if found is not None and "process_value" not in vars(found):
            read_plainly(found, lambda said: None if said is None else OTHER)
        return found
