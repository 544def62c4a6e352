"""Keys with values of the kind that the scenario's structs have there: what is most often sound."""

from random import Random

from msgspec import inspect as mi

from radiosim.scenario.structs.scenario_file import ScenarioFile

FIELDS = ("throttle", "steer", "pan", "count", "value", "lamp")
UNITS = ("drive", "head", "receiver")
_TEXTS = (*FIELDS, *UNITS, "drive_v1", "head_v1", "C3 A1 5E 7B 01", "points.csv", "gfsk-2M", "i16")
_SCENARIO = mi.type_info(ScenarioFile)


def setting(random: Random, names: tuple[str, ...] = UNITS) -> tuple[str, str]:
    """A path of the schema, as `--set` takes it, and a value in TOML for it."""
    kind, path = _SCENARIO, ""
    while True:
        match kind:
            case mi.StructType():
                field = random.choice(kind.fields)
                path += f".{field.encode_name}" if path else field.encode_name
                kind = _chosen(field.type, random)
            case mi.DictType() if random.random() < 0.9:
                path += f".{random.choice(FIELDS if 'signals' in path else names)}"
                kind = _chosen(kind.value_type, random)
            case mi.VarTupleType() if random.random() < 0.5:
                path += f"[{random.choice((0, 0, 1))}]"
                kind = _chosen(kind.item_type, random)
            case _:
                break
        if isinstance(kind, mi.StructType) and random.random() < 0.3:
            break
    return path, _value(kind, random)


def _chosen(kind: mi.Type, random: Random) -> mi.Type:
    """One of the kinds that a key may have."""
    while isinstance(kind, mi.Metadata | mi.UnionType):
        if isinstance(kind, mi.Metadata):
            kind = kind.type
        else:
            kinds = [member for member in kind.types if not isinstance(member, mi.NoneType)]
            kind = random.choice(kinds)
    return kind


def _value(kind: mi.Type, random: Random) -> str:
    kind = _chosen(kind, random)
    match kind:
        case mi.StructType():
            text = _table(kind, random)
        case mi.DictType():
            pairs = [(name, _value(kind.value_type, random)) for name in random.sample(FIELDS, 2)]
            text = _inline(pairs)
        case mi.VarTupleType():
            text = _list([kind.item_type] * random.choice((0, 1, 1, 2, 2, 3, 9)), random)
        case mi.TupleType():
            text = _list(kind.item_types, random)
        case mi.LiteralType():
            text = f'"{random.choice(kind.values)}"'
        case mi.BoolType():
            text = random.choice(("true", "false"))
        case mi.IntType():
            text = str(_whole(kind, random))
        case mi.FloatType():
            text = _number(random)
        case _:
            text = f'"{random.choice(_TEXTS)}"'
    return text


def _table(kind: mi.StructType, random: Random) -> str:
    given = [field for field in kind.fields if field.required or random.random() < 0.3]
    pairs = [(field.encode_name, _value(field.type, random)) for field in given]
    if kind.tag_field:
        pairs.append((kind.tag_field, f'"{kind.tag}"'))
    return _inline(pairs)


def _inline(pairs: list[tuple[str, str]]) -> str:
    return "{" + ", ".join(f"{key} = {value}" for key, value in pairs) + "}"


def _list(kinds: list[mi.Type] | tuple[mi.Type, ...], random: Random) -> str:
    return "[" + ", ".join(_value(kind, random) for kind in kinds) + "]"


def _whole(kind: mi.IntType, random: Random) -> int:
    low = 0 if kind.ge is None else int(kind.ge)
    high = low + 40 if kind.le is None else int(kind.le)
    return random.choice((low, high, random.randint(low, high), random.randint(low, low + 9), 1))


def _number(random: Random) -> str:
    """Mostly of a size that times have in seconds, ms or us."""
    return random.choice(
        (
            f"{10 ** random.uniform(-9, 9):.6g}",
            f"{10 ** random.uniform(-3, 3):.3g}",
            f"{10 ** random.uniform(-3, 3):.3g}",
            str(random.randrange(50)),
            str(
                random.choice((0, 1, -1, 0.5, -0.5, 1e-9, 1e-3, 0.01, 0.02, 0.049, 500, 1500, 1e9))
            ),
        )
    )
