import pytest

from radiosim.registers.figure_register import figure_paths
from radiosim.report.glossary import GlossaryError, entries, found
from radiosim.report.glossary.entry import Entry


def only(asked: str) -> Entry:
    (entry,) = found(asked)
    return entry


@pytest.mark.parametrize(
    "asked",
    [
        "transmitter.drive.period_ms",
        "transmitter.period_ms",
        'transmitter."drive".period_ms',
        " transmitter.drive.period_ms ",
    ],
)
def test_a_key_is_found_with_and_without_the_name_of_its_table(asked: str) -> None:
    assert only(asked).path[-1] == "period_ms"


def test_names_that_were_given_stand_in_all_paths() -> None:
    entry = only("transmitter.head.period_ms")

    assert entry.path == ("transmitter", "head", "period_ms")
    assert ("stream", "head", "gap_ms") in entry.moves
    assert only("failsafe.timeout_ms").path == ("failsafe", "NAME", "timeout_ms")
    assert ("transmitter", "head", "period_ms") in only("stream.head.gap_ms.max").moved_by
    assert ("output", "pan", "latency_ms") in only("output.pan.phase_ms").moves


@pytest.mark.parametrize(
    "asked", ["fault[0].at_s", "fault[N].at_s", "fault.0.at_s", "fault.at_s", "at_s"]
)
def test_elements_of_lists_are_found(asked: str) -> None:
    assert only(asked).meaning == "when, from the start"


@pytest.mark.parametrize(
    "asked", ["stream.drive.gap_ms.p99", "figures.stream.drive.gap_ms.p99", "gap_ms.p99"]
)
def test_parts_of_a_spread_are_found(asked: str) -> None:
    assert only(asked).meaning.startswith("time from one read to the next")
    assert only(asked).meaning.endswith(": 99 of 100 are no larger")


def test_the_longest_gap_says_what_it_includes() -> None:
    assert only("stream.drive.gap_ms.max").meaning == (
        "time from one read to the next: largest, faults and both ends included"
    )


def test_a_key_goes_before_a_table_of_that_name() -> None:
    assert only("output.servo").what == "key"
    assert only("output.left_track").what == "table"
    assert [entry.what for entry in found("output")] == ["word", "table"]


def test_a_key_and_a_figure_of_one_path_are_both_found() -> None:
    assert [entry.what for entry in found("output.pan.refresh_hz")] == ["key", "figure"]


def test_a_name_in_several_tables_gives_all_of_them() -> None:
    assert {entry.path[0] for entry in found("clock")} == {"transmitter", "receiver"}


@pytest.mark.slow
def test_every_entry_is_found_by_its_own_path() -> None:
    for entry in entries():
        hits = found(".".join(entry.path))
        assert entry.path in {hit.path for hit in hits}


@pytest.mark.parametrize("asked", ["loss burst", " Loss  Burst "])
def test_a_word_is_found_whatever_its_capitals(asked: str) -> None:
    assert (only(asked).what, only(asked).path) == ("word", ("loss burst",))


def test_a_verdict_is_told_from_the_same_in_other_letters() -> None:
    assert [only(text).path for text in ("starves", "STARVES")] == [("starves",), ("STARVES",)]


def test_a_word_that_is_a_key_too_is_told_as_both() -> None:
    assert [entry.what for entry in found("mix")] == ["word", "key"]


def test_every_figure_of_a_requirement_is_explained() -> None:
    for path in figure_paths(("drive",), ("motor",)):
        assert found(path)[-1].what == "figure"


def test_keys_and_figures_point_at_each_other() -> None:
    keys = {entry.path: entry for entry in entries() if entry.what == "key"}
    figures = {entry.path: entry for entry in entries() if entry.what == "figure"}

    for path, key in keys.items():
        for figure in key.moves:
            is_refused = key.note.startswith("refused so far")
            assert (path in figures[figure].moved_by) != is_refused
    for path, figure in figures.items():
        for key_path in figure.moved_by:
            assert path in keys[key_path].moves or path[:-1] in keys[key_path].moves


@pytest.mark.parametrize(
    ("asked", "hint"),
    [
        ("transmitter.drive.perid_ms", "did you mean transmitter.period_ms"),
        ("transmitter.perid_ms", "did you mean transmitter.period_ms"),
        ("receiver.lop_ms", "did you mean receiver.loop_ms"),
        ("stream.drive.gap_m", "did you mean stream.gap_ms"),
        ("loss busrt", "did you mean loss burst"),
        ("STILL DRIVN", "did you mean STILL DRIVEN"),
        ("zzz", "radiosim glossary lists them"),
        ("", "radiosim glossary lists them"),
        ("a..b", "radiosim glossary lists them"),
    ],
)
def test_what_is_unknown_gets_the_nearest(asked: str, hint: str) -> None:
    with pytest.raises(GlossaryError, match=hint):
        found(asked)
