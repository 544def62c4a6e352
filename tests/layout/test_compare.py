"""What each end reads of the other's frames."""

import itertools
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from radiosim.errors import LayoutError
from radiosim.layout import FieldDescription, Layout, LayoutDescription, codec_of, lay_out
from radiosim.layout.compare import Comparison, FieldReading, Outcome, compare
from radiosim.layout.compare._domain import legal_wires
from radiosim.layout.compare.compared import Length
from radiosim.layout.field import is_spare, is_version
from tests.layout.layout_strategies import layouts

LONGEST = 4096
LENGTHS: tuple[Length, ...] = ("own", "fixed", "padded")


def field(name: str, type_name: str, **keys: Any) -> FieldDescription:
    return FieldDescription(name=name, type=type_name, **keys)  # type: ignore[arg-type]


COUNT = field("count", "u8")
THROTTLE = field("throttle", "i16", scale=0.001, min=-1.0, max=1.0)
STEER = field("steer", "i16", scale=0.001, min=-1.0, max=1.0)
SMALL_STEER = field("steer", "u8", scale=0.008, offset=127, min=-1.0, max=1.0)
VERSION = field("version", "u8")


def layout(*fields: FieldDescription, **keys: Any) -> Layout:
    return lay_out("frame", LayoutDescription(fields=fields, **keys), longest_bytes=LONGEST)


def verdicts(compared: Comparison) -> dict[str, tuple[str, str, str]]:
    return {
        name: (direction.own.verdict, direction.fixed.verdict, direction.padded.verdict)
        for name, direction in (
            ("new_to_old", compared.new_to_old),
            ("old_to_new", compared.old_to_new),
        )
    }


def reading(outcome: Outcome, name: str) -> FieldReading:
    return next(found for found in outcome.fields if found.name == name)


@given(layouts())
def test_a_layout_is_compatible_with_itself(one: Layout) -> None:
    compared = compare(one, one)

    assert set(verdicts(compared).values()) == {("compatible",) * 3}
    assert all(found.how == "by construction" for found in compared.new_to_old.own.fields)


@given(layouts(), st.data())
def test_a_renamed_field_is_never_called_compatible(one: Layout, data: st.DataObject) -> None:
    number = data.draw(st.integers(0, len(one.fields) - 1))
    name = data.draw(st.sampled_from(["renamed", "version", "spare", "seq"]))
    fields = list(one.fields)
    fields[number] = msgspec.structs.replace(fields[number], name=name)
    other = msgspec.structs.replace(one, fields=tuple(fields))
    for before, after in ((one, other), (other, one)):
        compared = compare(before, after)

        assert not any(compared.is_compatible(length) for length in LENGTHS)
        (question,) = compared.questions
        assert question.names == {f"f{number}", name}
        assert question.before in question.text
        assert question.name in question.text
        answered = compare(before, after, same=[question.name])
        assert answered.questions == ()


def test_an_answered_question_is_not_asked_again() -> None:
    before, after = layout(COUNT, STEER), layout(COUNT, replace(STEER, name="yaw"))

    assert set(verdicts(compare(before, after)).values()) == {("asked",) * 3}
    answered = compare(before, after, same=["yaw"])
    assert set(verdicts(answered).values()) == {("compatible",) * 3}
    with pytest.raises(LayoutError, match=r"must be what is asked about \(yaw\), got steer"):
        compare(before, after, same=["steer"])


def test_a_changed_comment_is_asked_about_once_for_an_array() -> None:
    array = [field(f"trim_{k}", "u8") for k in range(3)]
    one = layout(COUNT, *array)
    said = {f"trim_{k}": "1/100" for k in range(3)}
    compared = compare(one, one, comments=(said, dict.fromkeys(said, "1/50")))

    assert {question.group for question in compared.questions} == {"trim"}
    assert reading(compared.new_to_old.own, "trim_1").verdict == "asked"
    assert reading(compared.new_to_old.own, "count").verdict == "compatible"
    answered = compare(one, one, comments=(said, dict.fromkeys(said, "1/50")), same=["trim"])
    assert answered.is_compatible("own")
    whole = compare(one, one, comments=({"": "all in 1/100"}, {"": "all in 1/50"}))
    assert whole.new_to_old.own.verdict == "asked"
    assert "1/50" in whole.new_to_old.own.why


def test_a_swapped_pair_is_misread_whatever_the_length() -> None:
    compared = compare(layout(COUNT, THROTTLE, STEER), layout(COUNT, STEER, THROTTLE))

    assert set(verdicts(compared).values()) == {("misread",) * 3}
    throttle = reading(compared.new_to_old.own, "throttle")
    assert (throttle.verdict, throttle.how, throttle.says) == (
        "misread",
        "all values",
        "reads steer",
    )
    assert throttle.worst is not None
    assert (throttle.worst.sent, throttle.worst.read) == (-1.0, 1.0)
    assert reading(compared.new_to_old.own, "count").verdict == "compatible"


def test_a_widened_field_is_misread_or_rejected_by_its_length() -> None:
    compared = compare(layout(COUNT, SMALL_STEER, THROTTLE), layout(COUNT, STEER, THROTTLE))

    assert set(verdicts(compared).values()) == {("misread", "rejected", "misread")}
    assert "5 bytes are not the 4 bytes" in compared.new_to_old.fixed.why
    assert reading(compared.new_to_old.own, "throttle").says == "reads steer and throttle"
    assert (
        reading(compared.old_to_new.own, "throttle").says
        == "reads throttle and bytes that nobody set"
    )


def test_a_field_widened_at_the_end_is_read_where_frames_are_padded_with_zeros() -> None:
    widened = layout(COUNT, field("ms", "u8")), layout(COUNT, field("ms", "u32"))
    compared = compare(*widened, same=("ms",))

    assert verdicts(compared) == {
        "new_to_old": ("misread", "rejected", "misread"),
        "old_to_new": ("misread", "rejected", "compatible"),
    }


def test_an_added_version_byte_lets_one_old_frame_in_256_pass() -> None:
    compared = compare(layout(COUNT, THROTTLE, STEER), layout(VERSION, COUNT, THROTTLE, STEER))

    assert compared.versions == (1, 2)
    assert verdicts(compared) == {
        "new_to_old": ("misread", "rejected", "misread"),
        "old_to_new": ("misread", "rejected", "misread"),
    }
    assert compared.old_to_new.own.passes == 1 / 256
    assert compared.new_to_old.own.passes is None


def test_a_version_byte_that_old_frames_cannot_fake_refuses_them() -> None:
    old = layout(field("mode", "u8", max=3.0), THROTTLE, STEER)
    compared = compare(old, layout(VERSION, THROTTLE, STEER, field("mode", "u8")), versions=(1, 9))

    assert compared.old_to_new.own.verdict == "refused"
    assert compared.old_to_new.own.why == "version is never 9"


def test_two_versions_refuse_each_other_both_ways() -> None:
    compared = compare(layout(VERSION, THROTTLE, STEER), layout(VERSION, STEER, THROTTLE))

    assert set(verdicts(compared).values()) == {("refused",) * 3}


def test_a_version_that_was_not_raised_refuses_nothing() -> None:
    before, after = layout(VERSION, THROTTLE, STEER), layout(VERSION, STEER, THROTTLE)

    assert compare(before, after, versions=(4, 4)).new_to_old.own.verdict == "misread"
    with pytest.raises(LayoutError, match=r"must be 0 to 255 for frame\.version, got 256"):
        compare(before, after, versions=(4, 256))
    with pytest.raises(LayoutError, match="must be left out where no field is called version"):
        compare(layout(COUNT), layout(COUNT), versions=(1, 2))


def test_more_than_a_payload_is_never_sent() -> None:
    wide = [field(f"x{index}", "u64") for index in range(4)]
    compared = compare(layout(*wide), layout(COUNT, *wide))

    assert verdicts(compared)["new_to_old"] == ("rejected",) * 3
    assert compared.new_to_old.own.why == (
        "its 33 bytes do not fit a payload of 32: the radio sends no such frame"
    )
    assert verdicts(compared)["old_to_new"] == ("misread", "rejected", "misread")


def test_a_shorter_length_of_the_link_rejects_longer_frames() -> None:
    compared = compare(layout(COUNT, THROTTLE), layout(COUNT, THROTTLE, STEER), padded_to_bytes=4)

    assert compared.new_to_old.padded.verdict == "rejected"
    assert compared.new_to_old.padded.why == "its 5 bytes do not fit the 4 of the link"


def test_gaps_of_one_compiler_shift_the_fields_of_another() -> None:
    fields = (COUNT, THROTTLE, field("ms", "u32"))
    compared = compare(layout(*fields), layout(*fields, packed=False))

    assert set(verdicts(compared).values()) == {("misread", "rejected", "misread")}
    assert reading(compared.new_to_old.own, "count").verdict == "compatible"
    assert "bytes that nobody set" in reading(compared.new_to_old.own, "throttle").says


def test_a_turned_byte_order_is_misread() -> None:
    compared = compare(layout(COUNT, THROTTLE), layout(COUNT, THROTTLE, byte_order="big"))

    throttle = reading(compared.new_to_old.own, "throttle")
    assert (throttle.verdict, throttle.says) == ("misread", "reads the same bits otherwise")


def test_a_new_name_for_the_same_bits_is_compatible_once_it_means_the_same() -> None:
    layouts = layout(COUNT, THROTTLE), layout(COUNT, field("thr", "i16", scale=0.001))

    # The old transmitter stays inside -1 to 1, which the new receiver's field holds.
    assert compare(*layouts).old_to_new.own.verdict == "asked"
    outcome = compare(*layouts, same=["thr"]).old_to_new.own
    assert reading(outcome, "thr").says == "is the transmitter's throttle"
    assert outcome.verdict == "compatible"


def test_another_scale_of_the_same_bits_is_misread() -> None:
    finer = field("throttle", "i16", scale=0.0005, min=-1.0, max=1.0)
    compared = compare(layout(THROTTLE), layout(finer))

    throttle = reading(compared.old_to_new.own, "throttle")
    assert throttle.verdict == "misread"
    assert throttle.share is not None
    assert throttle.share == pytest.approx(2000 / 2001)  # all but rest


def test_an_added_field_at_the_end_harms_the_new_receiver_alone() -> None:
    compared = compare(layout(COUNT, THROTTLE), layout(COUNT, THROTTLE, field("lamp", "u8")))

    assert verdicts(compared) == {
        "new_to_old": ("compatible", "rejected", "compatible"),
        "old_to_new": ("misread", "rejected", "compatible"),
    }
    assert reading(compared.old_to_new.padded, "lamp").says == "not sent: reads 0"


def test_a_float_read_as_an_integer_is_tried_with_chosen_values() -> None:
    old = layout(field("throttle", "f32", min=-1.0, max=1.0))
    new = layout(field("throttle", "i32", scale=1e-6, min=-1.0, max=1.0))

    for direction in (compare(old, new).new_to_old, compare(old, new).old_to_new):
        throttle = reading(direction.own, "throttle")
        assert (throttle.verdict, throttle.how) == ("misread", "chosen values")


def test_a_wide_field_is_proved_by_its_bits_not_by_luck() -> None:
    old = layout(field("ms", "u32", max=100_000.0), COUNT)
    new = layout(field("ms", "u32", max=100_000.0), field("number", "u8"))

    assert reading(compare(old, new).old_to_new.own, "ms").how == "by construction"


@st.composite
def small_layouts(draw: st.DrawFn) -> Layout:
    """Up to two bytes, so that every frame can be tried; names are shared, swapped or new."""
    names = draw(st.permutations(["a", "b", "c"]))[: draw(st.integers(1, 3))]
    fields = []
    for name in names:
        bits = draw(st.integers(1, 6))
        type_name = draw(st.sampled_from(["u8", "i8"]))
        low, high = (0, (1 << bits) - 1) if type_name == "u8" else (-(1 << bits) // 2, 0)
        is_cut = bits > 2 and draw(st.booleans())
        fields.append(
            field(
                name,
                type_name,
                bits=bits,
                scale=draw(st.sampled_from([1.0, 0.5])),
                **({"min": 0.0, "max": 0.5} if is_cut and low == 0 and high else {}),
            )
        )
    made = LayoutDescription(fields=tuple(fields), byte_order="little")
    return lay_out("small", made)


@given(small_layouts(), small_layouts())
def test_compatible_means_that_no_value_of_any_field_is_misread(
    transmitter: Layout, receiver: Layout
) -> None:
    outcome = compare(receiver, transmitter).new_to_old.own
    length = max(transmitter.size_bytes, receiver.size_bytes)
    shared = [f.name for f in receiver.fields if f.name in {g.name for g in transmitter.fields}]
    wrong = set()
    for wires in itertools.product(
        *(range(low, high + 1) for low, high in map(legal_wires, transmitter.fields))
    ):
        sent = {f.name: f.to_value(w) for f, w in zip(transmitter.fields, wires, strict=True)}
        for filler in (0x00, 0xFF):
            data = codec_of(transmitter).pack(wires).ljust(length, bytes([filler]))
            unpacked = codec_of(receiver).values(data[: receiver.size_bytes])
            read = dict(zip((f.name for f in receiver.fields), unpacked, strict=True))
            wrong |= {name for name in shared if read[name] != sent[name]}

    told = {found.name for found in outcome.fields if found.verdict == "misread"}
    assert {name for name in told if name in shared} >= wrong
    if outcome.verdict == "compatible":
        assert not wrong
    # What is told to be misread and has all its bytes is misread for some value.
    if transmitter.size_bytes >= receiver.size_bytes and not transmitter.padding_bytes:
        padded_bits = any(found.says.find("nobody") >= 0 for found in outcome.fields)
        assert padded_bits or {name for name in told if name in shared} == wrong


@pytest.mark.parametrize("name", ["version", "ver", "protocol_version", "version_1"])
def test_versions_are_known_by_name(name: str) -> None:
    assert is_version(name)


@pytest.mark.parametrize("name", ["verb", "aversion", "pads", "special"])
def test_other_names_are_no_versions_and_carry_something(name: str) -> None:
    assert not is_version(name)
    assert not is_spare(name)
