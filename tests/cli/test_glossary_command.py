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
    done = typed("glossary", "receiver.lop_ms")

    assert (done.code, done.out) == (2, "")
    assert done.err.startswith(
        "WORD: must be a word of the screens, a key of the scenario or a figure of the results, "
        "got 'receiver.lop_ms', did you mean receiver.loop_ms"
    )
    assert done.err.count("\n") == 1


def test_json_is_a_list_of_entries() -> None:
    (entry,) = json.loads(typed("glossary", "gap_ms.max", "--json").out)["entries"]

    assert entry["unit"] == "ms"
    assert len(json.loads(typed("glossary", "--json").out)["entries"]) > 200


def test_a_word_needs_no_quotation_marks() -> None:
    done = typed("glossary", "still", "driven")

    assert done.code == 0
    assert done.out.startswith("STILL DRIVEN\n  means    ")


def test_without_a_word_terms_verdicts_faults_and_causes_are_listed() -> None:
    out = " ".join(typed("glossary").out.split())

    assert "loss burst" in out
    assert all(f"{kind}: " in out for kind in ("terms", "verdicts", "kinds of fault"))
    words = {entry["what"] for entry in json.loads(typed("glossary", "--json").out)["entries"]}
    assert words == {"word", "verdict", "fault", "loss", "key", "table", "figure"}
