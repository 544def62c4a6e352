import pytest

from radiosim.scenario import json_schema
from radiosim.scenario.schema import Key, keys

KEYS_OF_KEYS = keys()
BY_PATH = {key.path: key for key in KEYS_OF_KEYS}
PLAIN = [key for key in KEYS_OF_KEYS if not key.is_table]


def name(key: Key) -> str:
    return ".".join(key.path)


def test_every_key_of_the_schema_is_there() -> None:
    described = {
        (schema["description"], schema.get("unit", ""))
        for table in json_schema()["$defs"].values()
        for key, schema in table["properties"].items()
        if not schema["description"].startswith("kind of signal")
    }

    assert described == {(k.meaning, k.unit) for k in KEYS_OF_KEYS if k.meaning != "kind of signal"}


def test_only_tables_of_keys_need_no_measuring() -> None:
    assert {name(key) for key in KEYS_OF_KEYS if key.is_table} == {
        *("radio", "layout", "receiver", "failsafe", "interferer", "fault", "requirement"),
        *("transmitter", "output", "air"),
    }


@pytest.mark.parametrize("key", PLAIN, ids=name)
def test_every_key_says_how_to_measure_it(key: Key) -> None:
    assert len(key.measure) > 5
    assert not key.measure.endswith(".")


def test_keys_without_figures_are_those_that_only_name_or_choose() -> None:
    assert {name(key) for key in PLAIN if not key.moves} == {
        *("title", "seed", "radio.channel"),
        *("layout.NAME.byte_order", "layout.NAME.header", "layout.NAME.struct"),
        *(f"layout.NAME.fields.N.{key}" for key in ("name", "offset", "at_bit")),
        "layout.NAME.convert.NAME.offset",
        "output.NAME.motor.idle_us",
        *("requirement.N.figure", "requirement.N.at_least", "requirement.N.at_most"),
    }


def test_a_retry_delay_has_its_step_number() -> None:
    assert BY_PATH["transmitter", "NAME", "retry_delay_us"].default == "500 us (step 1)"


def test_defaults_are_as_a_file_would_say_them() -> None:
    assert BY_PATH["receiver", "read"].default == '"one"'
    assert BY_PATH["receiver", "interrupt"].default == "false"
    assert BY_PATH["output", "NAME", "pulse_us"].default == "[1000, 2000]"
    assert BY_PATH["radio", "bit_rate"].default.startswith("by profile: 250000 (gfsk-250k)")
    assert BY_PATH["radio", "profile"].default == ""


def test_keys_that_several_kinds_of_signal_share_stand_once() -> None:
    amplitude = BY_PATH["transmitter", "NAME", "signals", "NAME", "amplitude"]

    assert amplitude.of_kinds == ("sine", "lookaround")
    assert len({(key.path, key.meaning) for key in KEYS_OF_KEYS}) == len(KEYS_OF_KEYS)
