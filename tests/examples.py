"""How many examples hypothesis draws: all of them in CI, a fifth at a desk."""

import os
from typing import Any

from hypothesis import settings

_AT_A_DESK = 5
"""Of so many examples a desk draws one."""


def drawn(count: int) -> int:
    """How many of `count` examples are drawn here; never none."""
    return count if os.environ.get("CI") else -(-count // _AT_A_DESK)


def examples(count: int, **others: Any) -> settings:
    """Settings of a test that is given `count` examples in CI; `others` as hypothesis has them."""
    return settings(max_examples=drawn(count), **others)
