"""What is worked out of a scenario once, and serves all of its starts."""

from collections.abc import Callable
from typing import Any, TypeVar

T = TypeVar("T")
MOST_SCENARIOS = 8
_KEPT: dict[int, tuple[object, dict[str, Any]]] = {}
"""By identity of a scenario: itself, so that no other has its identity meanwhile, and what was
made of it."""


def once(scenario: object, what: str, make: Callable[[], T]) -> T:
    """What `make` gives, made for the first start of a scenario that asks; nobody changes it."""
    kept = _KEPT.get(id(scenario))
    if kept is None:
        if len(_KEPT) >= MOST_SCENARIOS:
            _KEPT.clear()
        kept = _KEPT[id(scenario)] = (scenario, {})
    made = kept[1]
    if what not in made:
        made[what] = make()
    found: T = made[what]
    return found
