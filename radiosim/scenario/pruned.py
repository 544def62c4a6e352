"""What is left of a document without its problems, so that the rest can be cross-checked."""

import copy
from typing import Any

from msgspec import inspect as mi

from radiosim.scenario.checks.view import Found
from radiosim.scenario.paths import Path, nearest
from radiosim.scenario.problems import problems
from radiosim.scenario.structs.scenario import SceneFile

Document = dict[str, Any]

_SCENARIO = mi.type_info(SceneFile)
_REFERRED_TO = ("transmitter", "layout", "output")


def pruned(document: Document) -> tuple[Document | None, list[Found]]:
    """A document without the keys that have problems, and these problems.

    None instead if nothing is left that could be judged without blaming what refers to it.
    """
    found = list(problems(document, _SCENARIO))
    left = document
    wrong = found
    while wrong:
        before, left = left, copy.deepcopy(left)
        if not all(_removed(left, path) for path, _ in wrong) or left == before:
            return None, found
        wrong = list(problems(left, _SCENARIO))
    return left, found


def _removed(document: Document, path: Path) -> bool:
    """Take the key at a path out, or the table around it if the key is missing.

    False if other tables may refer to what would have to go.
    """
    node: Any = document
    trail: list[tuple[Any, str | int]] = []
    for number, step in enumerate(path, 1):
        if isinstance(node, dict) and step not in node:
            if number < len(path):
                return True  # it went with another problem
            break
        trail.append((node, step))
        node = node[step]
    # An element is taken out with its list, so that the others keep their indexes.
    while trail and isinstance(trail[-1][0], list):
        trail.pop()
    if not _is_free(tuple(step for _, step in trail)):
        return False
    parent, key = trail[-1]
    del parent[key]
    return True


def _is_free(path: Path) -> bool:
    """Whether nothing else can refer to the key; misspelt names of tables are not free either."""
    if len(path) <= 1:
        return bool(path) and not nearest(path[0], (*_REFERRED_TO, "radio"))
    return len(path) > 2 or path[0] not in _REFERRED_TO
