"""Records as probes and text have them: read back as they were, mended, or refused with a place."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.bench_log.csv_records import HEADER, Names, csv_lines, read_csv
from radiosim.bench_log.lives import counts_of, unit_log
from radiosim.bench_log.probe_records import decoded, encoded
from radiosim.bench_log.read import read_logs
from radiosim.bench_log.records import RECEIVER, RECORD, Event, LogError, Records
from tests.examples import examples

NAMES = Names(transmitters=("drive", "head"), outputs=("motor",))


def reads(t_us: list[int], values: list[int] | None = None, stream: int = 0) -> Records:
    rows = np.zeros(len(t_us), RECORD)
    rows["t_us"], rows["event"], rows["stream"] = t_us, Event.READ, stream
    rows["value"] = np.arange(len(t_us)) & 0xFFFF if values is None else values
    return rows


ROW = st.tuples(
    st.integers(0, 2**32 - 1),
    st.sampled_from([int(event) for event in Event]),
    st.integers(0, 15),
    st.integers(0, 0xFFFF),
)


@given(rows=st.lists(ROW, min_size=1, max_size=40))
@examples(200)
def test_what_a_probe_sends_is_read_back(rows: list[tuple[int, int, int, int]]) -> None:
    records = np.array(rows, RECORD)

    found, strange = decoded(encoded(records), "a")

    assert strange == 0
    assert found.tobytes() == records.tobytes()


@given(lost=st.integers(1, 7), at=st.integers(0, 8 * 60), size=st.integers(80, 120))
@examples(200)
def test_after_lost_bytes_all_records_but_the_cut_one_are_found(
    lost: int, at: int, size: int
) -> None:
    records = reads([7919 * k for k in range(size)])
    sent = encoded(records)

    found, strange = decoded(sent[:at] + sent[at + lost :], "a")

    whole = set(records["t_us"].tolist())
    there = found["t_us"].tolist()
    # One of 256 places passes for a record by chance: it may stand in for a true one.
    assert len(whole.intersection(there)) >= size - 4
    assert strange <= 8 * 4


def test_a_record_is_laid_out_as_the_header_says() -> None:
    record = np.array([(0x01020304, Event.READ, 1, 0xABCD)], RECORD)

    sent = encoded(record)

    assert sent[0] == 0x51
    assert sent[1:7] == bytes([0xCD, 0xAB, 4, 3, 2, 1])
    check = 0
    for byte in sent:
        check = (check << 1 & 0xFF | check >> 7) ^ byte
    assert check == 0x5A


@pytest.mark.parametrize("content", [b"", b"\x00" * 64, bytes(range(256)) * 4])
def test_bytes_that_are_no_records_are_refused(content: bytes) -> None:
    with pytest.raises(LogError, match="must be probe records"):
        decoded(content, "x.bin")


def test_text_is_read_back_as_it_was_written() -> None:
    records = np.array(
        [(0, Event.BOOT, 0, 1), (5, Event.READ, 1, 2), (9, Event.OUTPUT, 0, 1500)], RECORD
    )

    text = [HEADER, "# of the bench", "", *csv_lines(records, RECEIVER, NAMES)]

    assert read_csv(text, "a", NAMES)[RECEIVER].tobytes() == records.tobytes()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("1,receiver,read,drive", "x.csv:3: must have 5 cells"),
        ("1,rx,read,drive,2", "x.csv:3: unit must be one of drive, head, receiver, got 'rx'"),
        ("1,receiver,heard,drive,2", "x.csv:3: event must be one of boot, stamp, sample"),
        ("1,receiver,read,motor,2", "x.csv:3: stream of read must be transmitter drive, head"),
        ("1,receiver,output,drive,2", "x.csv:3: stream of output must be output motor"),
        ("-1,receiver,read,drive,2", "x.csv:3: t_us must be a whole number"),
        ("1.5,receiver,read,drive,2", "x.csv:3: t_us must be a whole number"),
        ("1,receiver,read,drive,65536", "x.csv:3: value must be a whole number from 0 to 65535"),
        ("1,receiver,read,drive,", "x.csv:3: value must be a whole number from 0 to 65535"),
    ],
)
def test_a_line_that_is_none_is_refused_with_its_number(line: str, said: str) -> None:
    with pytest.raises(LogError) as error:
        read_csv([HEADER, "0,receiver,read,drive,1", line], "x.csv", NAMES)

    assert str(error.value).startswith(said)
    assert "\n" not in str(error.value)


def test_a_counter_of_32_bits_goes_on_over_its_wrap() -> None:
    t_us = [2**32 - 1_000_000 + 20_000 * k for k in range(100)]

    log = unit_log(reads([t % 2**32 for t in t_us]), RECEIVER, "a")

    assert len(log.lives) == 1
    assert log.lives[0]["t_us"].tolist() == t_us


def test_a_reset_begins_a_life_and_one_that_was_not_logged_is_told() -> None:
    boot = np.array([(3, Event.BOOT, 0, 0xDEAD), (3, Event.STAMP, 0, 0xBEEF)], RECORD)
    rows = np.concatenate([boot, reads([50, 90_000_000]), boot, reads([60, 70_000_000, 40])])

    log = unit_log(rows, RECEIVER, "a")

    assert [len(life) for life in log.lives] == [4, 4, 1]
    assert log.stamps == (0xDEADBEEF,)
    (note,) = log.notes
    assert "begins again 1 time without a boot record" in note


def test_time_that_goes_back_is_refused() -> None:
    with pytest.raises(LogError, match=r"record 3 of receiver: time must not go back"):
        unit_log(reads([90_000_000, 95_000_000, 80_000_000, 81_000_000]), RECEIVER, "a")


def test_a_single_stray_time_is_left_out_and_told() -> None:
    log = unit_log(reads([10, 20_010, 4_000_000_000, 40_010, 60_010]), RECEIVER, "a")

    assert log.lives[0]["t_us"].tolist() == [10, 20_010, 40_010, 60_010]
    assert log.notes == ("1 record with a time out of all order left out",)


def test_records_of_another_unit_are_refused() -> None:
    with pytest.raises(LogError, match=r"record 1: must be of drive, got read, which the receiver"):
        unit_log(reads([1, 2]), "drive", "a")


@given(first=st.integers(0, 70_000), seed=st.integers(0, 2**32 - 1), bits=st.sampled_from([8, 16]))
@examples(100)
def test_counters_are_unwrapped(first: int, seed: int, bits: int) -> None:
    steps = np.random.default_rng(seed).integers(1, 41, 400)
    counts = first + np.cumsum(np.concatenate([[1, 1, 1], steps]))

    found = counts_of(reads((20_000 * counts).tolist(), (counts % 2**bits).tolist()))

    assert (found - found[0]).tolist() == (counts - counts[0]).tolist()


def test_more_than_a_turn_of_a_counter_that_was_lost_is_told_from_time() -> None:
    counts = np.concatenate([np.arange(300), np.arange(300 + 700, 1400)])

    found = counts_of(reads((20_000 * counts).tolist(), (counts % 256).tolist()))

    assert found.tolist() == counts.tolist()


@given(before=st.integers(300, 60_000), lost=st.integers(10, 400), after=st.integers(60, 500))
@examples(100)
def test_a_counter_that_begins_again_parts_the_log(before: int, lost: int, after: int) -> None:
    values = np.concatenate([np.arange(before), np.arange(after)])
    places = np.concatenate([np.arange(before), before + lost + np.arange(after)])
    log = unit_log(reads((20_000 * places).tolist(), values.tolist()), RECEIVER, "a")

    assert [len(life) for life in log.lives] == [before, after]
    assert any("begins again 1 time" in note for note in log.notes)


@pytest.mark.parametrize("strange", [0, 7, 40_000, 65_535])
def test_one_strange_counter_parts_nothing(strange: int) -> None:
    values = np.arange(300, 700)
    values[200] = strange

    log = unit_log(reads((20_000 * np.arange(400)).tolist(), values.tolist()), RECEIVER, "a")

    assert len(log.lives) == 1


def test_files_are_recognised_by_what_is_in_them(tmp_path) -> None:  # type: ignore[no-untyped-def]
    binary, text = tmp_path / "rx.bin", tmp_path / "tx.csv"
    binary.write_bytes(encoded(reads([5, 20_005])) + b"\x01")
    text.write_text(f"{HEADER}\n5,head,sample,head,1\n", encoding="utf-8")

    head, receiver = read_logs([str(binary), str(text)], NAMES)

    assert (head.unit, receiver.unit) == ("head", RECEIVER)
    assert receiver.notes == (
        "1 byte belong to no record: frames told of in them count as missing",
    )
    with pytest.raises(LogError, match="receiver twice"):
        read_logs([str(binary), f"receiver={binary}"], NAMES)
    with pytest.raises(LogError, match="logs are swapped"):
        read_logs([f"drive={binary}"], NAMES)
    with pytest.raises(LogError, match="must be of drive alone, got head"):
        read_logs([f"drive={text}"], NAMES)
    with pytest.raises(LogError, match="unit must be one of drive, head, receiver"):
        read_logs([f"rx={binary}"], NAMES)
    with pytest.raises(LogError, match="cannot be read: No such file"):
        read_logs([str(tmp_path / "none.bin")], NAMES)


@given(content=st.binary(max_size=400))
@examples(200)
def test_any_bytes_are_read_or_refused(content: bytes, tmp_path_factory) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path_factory.getbasetemp() / "any.log"
    path.write_bytes(content)

    try:
        logs = read_logs([str(path)], NAMES)
    except LogError as error:
        assert "\n" not in str(error)  # noqa: PT017
    else:
        assert all((np.diff(life["t_us"]) >= 0).all() for log in logs for life in log.lives)
