"""What comments of a header say of its fields: no change of one is silent."""

from dataclasses import dataclass, replace

from hypothesis import given
from hypothesis import strategies as st

from radiosim.c_header.struct_reader import HeaderStruct, read_struct
from radiosim.layout import Layout, lay_out
from radiosim.layout.compare import OF_FILE, OF_LAYOUT, Comparison, compare
from radiosim.layout.header_layout import described
from tests.examples import examples

PLACES = (
    "{code} // {said}",
    "{code} /* {said} */",
    "/* {said} */ {code}",
    "// {said}\n  {code}",
    "/** {said}\n   */\n  {code}",
    "//\n  // {said}\n\n  {code} // and more",
    "{code} ///< {said}",
)
TOPS = (
    "// all in {said}",
    "/* Frames of a boat.\n * All in {said}.\n */",
    "#pragma once // all in {said}",
    "#pragma once\n\n// all in {said}\n",
    "// all in {said}\nstruct Other {{ int x; }};",
    "typedef int permille; // {said}",
    "namespace a {{\n// all in {said}\n\nusing namespace std; }}",
)
VALUES = """
#define FULL 1000
#define STICK(raw) ((raw) / 1000.0f)
static const float STEP = 1.0f / 1000;
constexpr int TURN = 1000;
enum { SWING = 1000 };
inline float of(int raw) { return raw / 1000.0f; }
"""


@dataclass(frozen=True)
class Header:
    """A struct of numbers; its comments stand anywhere."""

    types: tuple[str, ...]
    places: tuple[str, ...]
    said: tuple[str, ...]
    whole: str
    top: str = "// by hand"
    value: str = "1000"

    @property
    def text(self) -> str:
        rows = "".join(
            "  " + place.format(code=f"{type_} f{number};", said=said) + "\n"
            for number, (type_, place, said) in enumerate(
                zip(self.types, self.places, self.said, strict=True)
            )
        )
        opened = f"{self.top}\n#include <stdint.h>\n"
        values = VALUES.replace("1000", self.value)
        return f"{opened}{values}// {self.whole}\nstruct Frame {{\n{rows}}};\n"


@st.composite
def headers(draw: st.DrawFn) -> Header:
    count = draw(st.integers(1, 5))

    def some(choices: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(draw(st.sampled_from(choices)) for _ in range(count))

    return Header(
        types=some(("uint8_t", "int16_t", "float", "unsigned char")),
        places=some(PLACES),
        said=some(("1/1000 of full", "percent", "degrees, 0.1 each")),
        whole=draw(st.sampled_from(["one frame", "all in 1/100"])),
    )


def read(header: Header) -> HeaderStruct:
    return read_struct("a.h", header.text, "Frame", "avr")


def laid_out(struct: HeaderStruct) -> Layout:
    return lay_out("Frame", described(struct, {}))


def said_in(struct: HeaderStruct) -> dict[str, str]:
    return {OF_LAYOUT: struct.comment, OF_FILE: struct.of_file} | {
        field.name: field.comment for field in struct.fields
    }


def of_both(before: Header, after: Header) -> Comparison:
    old, new = read(before), read(after)
    return compare(
        laid_out(old),
        laid_out(new),
        comments=(said_in(old), said_in(new)),
        values=(old.values, new.values),
    )


@given(headers(), st.data())
@examples(25)
def test_a_scale_that_changed_in_a_comment_alone_is_asked_about(
    before: Header, data: st.DataObject
) -> None:
    number = data.draw(st.integers(-1, len(before.said) - 1))
    if number < 0:
        after = Header(before.types, before.places, before.said, "all in 1/50")
    else:
        said = list(before.said)
        said[number] = "1/500 of full"
        after = Header(before.types, before.places, tuple(said), before.whole)
    compared = of_both(before, after)

    assert not compared.is_compatible("own")
    (question,) = compared.questions
    assert question.name == ("Frame" if number < 0 else f"f{number}")
    assert "1/50" in question.text


@given(headers())
@examples(15)
def test_the_same_comments_ask_nothing(header: Header) -> None:
    struct = read(header)

    assert of_both(header, header).questions == ()
    assert [field.comment.partition(";")[0] for field in struct.fields] == list(header.said)
    assert struct.comment == header.whole


@given(headers(), st.sampled_from(TOPS))
@examples(10)
def test_a_scale_said_of_the_whole_file_is_asked_about(header: Header, top: str) -> None:
    before, after = (replace(header, top=top.format(said=said)) for said in ("1/1000", "1/500"))
    compared = of_both(before, after)

    assert not compared.is_compatible("own")
    (question,) = compared.questions
    assert question.name == "Frame"
    assert "1/1000" in question.text
    assert "1/500" in question.text


@given(headers())
@examples(10)
def test_numbers_that_a_header_names_are_asked_about_each(header: Header) -> None:
    compared = of_both(header, replace(header, value="500"))

    assert not compared.is_compatible("own")
    asked = {question.name for question in compared.questions}
    assert asked == {"FULL", "STICK", "STEP", "TURN", "SWING", "of"}
    assert all("500" in question.text for question in compared.questions)


def test_a_number_that_the_layout_shows_or_that_only_got_another_name_is_not() -> None:
    old = "#define COUNT 2\n#define FULL 9\nstruct Frame { short x[COUNT]; };"
    new = "#define COUNT_OF 2\n#define WHOLE 9\nstruct Frame { short x[COUNT_OF]; };"
    before, after = (read_struct("a.h", text, "Frame", "avr") for text in (old, new))
    compared = compare(laid_out(before), laid_out(after), values=(before.values, after.values))

    assert before.values == {"FULL": "9"}
    assert compared.questions == ()


def test_a_comment_at_another_declaration_is_not_of_this_struct() -> None:
    text = "#pragma once\nstruct Other { int x; // 1/1000\n};\n// 9\nstruct Frame {\nint x; };"
    struct = read_struct("a.h", text, "Frame", "avr")

    assert (struct.of_file, struct.comment) == ("", "9")


def test_a_comment_of_a_nested_struct_belongs_to_its_fields() -> None:
    text = """
struct Stick { short x; // 1/1000
               short y; };
struct Frame { Stick left; // of the left hand
  Stick right; };
"""
    struct = read_struct("a.h", text, "Frame", "avr")

    assert [(field.name, field.comment) for field in struct.fields] == [
        ("left_x", "1/1000"),
        ("left_y", ""),
        ("right_x", "1/1000"),
        ("right_y", ""),
    ]
    assert struct.comment == "of the left hand"


@given(st.sampled_from(["uint8_t", "int16_t", "uint16_t", "int32_t"]), st.data())
@examples(10)
def test_a_number_that_stands_for_itself_and_goes_to_another_end_is_asked_about(
    was: str, data: st.DataObject
) -> None:
    now = data.draw(st.sampled_from(["int8_t", "uint32_t", "uint16_t"]).filter(lambda t: t != was))
    text = "#include <stdint.h>\nstruct Frame {{ uint8_t count; {} pull; }};"
    old, new = (laid_out(read_struct("a.h", text.format(t), "Frame", "avr")) for t in (was, now))
    compared = compare(old, new)

    assert not compared.is_compatible("padded")
    (question,) = compared.questions
    assert question.text.startswith('the range of pull was "')
    assert compare(old, new, same=("pull",)).questions == ()
