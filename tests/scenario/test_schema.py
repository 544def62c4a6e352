import json
from collections.abc import Iterator
from typing import Any

import pytest

from radiosim.radio.profiles import PROFILES
from radiosim.scenario import json_schema

SCHEMA = json_schema()
UNITS = {"ms": "ms", "us": "us", "s": "s", "hz": "Hz", "ppm": "ppm", "dbm": "dBm", "db": "dB"}
UNITS |= {"m_s": "m/s", "deg_s": "deg/s", "mhz": "MHz", "m": "m", "dbi": "dBi"}


def keys() -> Iterator[tuple[str, str, dict[str, Any], bool]]:
    """Table, key, its schema, and whether it must be given."""
    for table, described in SCHEMA["$defs"].items():
        for key, schema in described["properties"].items():
            yield table, key, schema, key in described["required"]


KEYS = list(keys())


def names(value: tuple[str, str, dict[str, Any], bool]) -> str:
    return f"{value[0]}.{value[1]}"


@pytest.mark.parametrize("described", KEYS, ids=names)
def test_every_key_has_its_meaning(described: tuple[str, str, dict[str, Any], bool]) -> None:
    assert len(described[2]["description"]) > 5


@pytest.mark.parametrize("described", KEYS, ids=names)
def test_every_key_that_may_be_left_out_has_a_default(
    described: tuple[str, str, dict[str, Any], bool],
) -> None:
    _, _, schema, is_required = described

    assert is_required != ("default" in schema)


@pytest.mark.parametrize("described", KEYS, ids=names)
def test_every_key_that_ends_in_a_unit_has_it(
    described: tuple[str, str, dict[str, Any], bool],
) -> None:
    table, key, schema, _ = described
    rates = (rate for rate in ("m_s", "deg_s") if key.endswith(f"_{rate}"))
    ending = next(rates, key.rsplit("_", 1)[-1])

    if ending in UNITS and key != ending:
        assert schema["unit"] == UNITS[ending], f"{table}.{key}"


def test_the_profiles_are_listed() -> None:
    assert SCHEMA["$defs"]["Radio"]["properties"]["profile"]["enum"] == list(PROFILES)


def test_the_schema_is_json() -> None:
    assert json.loads(json.dumps(SCHEMA)) == SCHEMA
    assert SCHEMA["$schema"].startswith("https://json-schema.org/")
