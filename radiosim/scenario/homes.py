"""In which tables of a scenario a key stands, for one that was written into the wrong one."""

from collections.abc import Iterator
from functools import cache

from msgspec import inspect as mi

from radiosim.scenario.structs.scenario import SceneFile

_MOST_NAMED = 2


def elsewhere(key: str) -> str:
    """A hint that names the tables which have this key; empty if none has."""
    homes = _homes().get(key, ())[:_MOST_NAMED]
    named = (home if "." in home else f"{home} at the top of the file" for home in homes)
    return f", did you mean {' or '.join(named)}?" if homes else ""


@cache
def _homes() -> dict[str, tuple[str, ...]]:
    """Every key of a scenario, and its paths: `transmitter.NAME.period_ms`."""
    homes: dict[str, list[str]] = {}
    for path, key in _keys(mi.type_info(SceneFile), ""):
        homes.setdefault(key, []).append(path)
    # Who looks for a key means a unit of the link before one from outside.
    return {
        key: tuple(sorted(dict.fromkeys(paths), key=lambda path: path.startswith("interferer")))
        for key, paths in homes.items()
    }


def _keys(kind: mi.Type, path: str) -> Iterator[tuple[str, str]]:
    match kind:
        case mi.Metadata():
            yield from _keys(kind.type, path)
        case mi.UnionType():
            for member in kind.types:
                yield from _keys(member, path)
        case mi.DictType():
            yield from _keys(kind.value_type, f"{path}.NAME")
        case mi.VarTupleType():
            yield from _keys(kind.item_type, f"{path}[N]")
        case mi.StructType():
            for field in kind.fields:
                here = f"{path}.{field.encode_name}" if path else field.encode_name
                yield here, field.encode_name
                yield from _keys(field.type, here)
