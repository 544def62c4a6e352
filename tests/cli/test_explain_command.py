import json

from tests.cli.typed import typed


def test_a_key_is_explained() -> None:
    done = typed("glossary", "receiver.loop_ms")

    assert done.code == 0
    assert done.out.startswith("receiver.loop_ms\n  means    one turn of its loop")


def test_without_a_key_all_are_listed() -> None:
    done = typed("glossary")

    assert done.code == 0
    assert "transmitter.NAME: layout, payload_bytes" in done.out


def test_an_unknown_key_is_refused_in_one_line() -> None:
    done = typed("glossary", "receiver.pas_ms")

    assert (done.code, done.out) == (2, "")
    assert done.err == (
        "KEY: must be a key of the scenario or a figure of the results, got 'receiver.pas_ms', "
        "did you mean receiver.loop_ms or receiver.delay_ms?\n"
    )


def test_json_is_a_list() -> None:
    assert json.loads(typed("glossary", "gap_ms.max", "--json").out)[0]["unit"] == "ms"
    assert len(json.loads(typed("glossary", "--json").out)) > 200
