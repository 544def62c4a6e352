import json

from radiosim.report.glossary import as_json, contents, entries, found, told


def test_a_key_is_told_in_full() -> None:
    assert told(found("transmitter.drive.retry_delay_us")) == (
        "transmitter.drive.retry_delay_us\n"
        "  means    from the end of an attempt to the next; radios know steps of 250\n"
        "  unit     us\n"
        "  allowed  a number >= 0.001 and <= 100000000\n"
        "  default  500 us (step 1)\n"
        "  moves    stream.drive.lost_collision, stream.drive.attempts_per_frame,\n"
        "           stream.drive.gap_ms, stream.drive.retries_used_up\n"
        "  measure  the retry set-up of the firmware, or the radio's retry register\n"
        "           printed\n"
        "  note     step number in firmware: delay / 250 - 1"
    )


def test_a_table_lists_its_keys() -> None:
    text = told(found("fault")[1:])

    assert text.startswith("fault[N]\n  means    what goes wrong, and when\n")
    assert "  for_s  how long it lasts; left out: for good" in text


def test_many_of_one_name_are_listed() -> None:
    text = told(found("every_ms"))

    assert text.startswith("Several have this name:\n")
    assert "  receiver.deaf[N].every_ms" in text


def test_nothing_is_wider_than_80_columns() -> None:
    texts = [contents(), *(told((entry,)) for entry in entries())]

    assert max(len(line) for text in texts for line in text.splitlines()) <= 80


def test_the_contents_name_every_key_and_figure() -> None:
    words = set(contents().replace(",", " ").replace(":", " ").replace("[N]", "").split())

    for entry in entries():
        if entry.what != "table" and entry.path[-1] not in ("mean", "median", "p95", "p99", "n"):
            steps = [step for step in entry.path if step != "N"]
            tails = {".".join(steps[at:]) for at in range(len(steps))}
            assert tails & words or entry.path[-1] == "max"


def test_json_has_the_same() -> None:
    (key,) = json.loads(as_json(found("failsafe.drive.timeout_ms")))["entries"]
    word, table = json.loads(as_json(found("failsafe")))["entries"]
    (figure,) = json.loads(as_json(found("stream.drive.gap_ms.max")))["entries"]

    assert key["unit"] == "ms"
    assert set(word) == {"path", "what", "meaning", "unit", "standard"}
    assert "reaction.drive.bound_ms" in key["moves"]
    assert "failsafe.NAME.timeout_ms" in table["keys"]
    assert "transmitter.drive.period_ms" in figure["moved_by"]
