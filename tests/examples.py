"""How many examples hypothesis draws: a tenth, or with EXAMPLES=all each of them."""

import os
from typing import Any

from hypothesis import settings

_OF = 10
"""Of so many examples one is drawn."""


def drawn(count: int) -> int:
    """How many of `count` examples are drawn here; never none."""
    return count if os.environ.get("EXAMPLES") == "all" else -(-count // _OF)


def examples(count: int, **others: Any) -> settings:
    """Settings of a test that has `count` examples in all; `others` as hypothesis has them."""
    return settings(max_examples=drawn(count), **others)
