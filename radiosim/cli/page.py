"""What every command that writes a page needs to know."""

import shlex
from collections.abc import Mapping, Sequence
from typing import Any


def command_line(command: str, *arguments: str, options: Mapping[str, Any]) -> str:
    """What a user types to get the same page again; options that were left out are None or ()."""
    words = ["radiosim", *command.split(), *arguments]
    for option, value in options.items():
        is_list = isinstance(value, Sequence) and not isinstance(value, str)
        for one in value if is_list else (value,):
            words += [] if one is None else [option, f"{one:.12g}" if _is_number(one) else str(one)]
    return shlex.join(words)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float)
