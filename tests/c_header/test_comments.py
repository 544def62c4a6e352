"""What comments of a header say of its fields: no change of one is silent."""

from dataclasses import dataclass

from hypothesis import given
from hypothesis import strategies as st

from radiosim.c_header.struct_reader import HeaderStruct, read_struct
from radiosim.layout import Layout, lay_out
from radiosim.layout.compare import compare
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


@dataclass(frozen=True)
class Header:
    """A struct of numbers; its comments stand anywhere."""

    types: tuple[str, ...]
    places: tuple[str, ...]
    said: tuple[str, ...]
    whole: str

    @property
    def text(self) -> str:
        rows = "".join(
            "  " + place.format(code=f"{type_} f{number};", said=said) + "\n"
            for number, (type_, place, said) in enumerate(
                zip(self.types, self.places, self.said, strict=True)
            )
        )
        return f"#include <stdint.h>\n// {self.whole}\nstruct Frame {{\n{rows}}};\n"


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
    return {"": struct.comment} | {field.name: field.comment for field in struct.fields}


@given(headers(), st.data())
@examples(60)
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
    old, new = read(before), read(after)
    compared = compare(laid_out(old), laid_out(new), comments=(said_in(old), said_in(new)))

    assert not compared.is_compatible("own")
    (question,) = compared.questions
    assert question.name == ("Frame" if number < 0 else f"f{number}")
    assert "1/50" in question.text


@given(headers())
@examples(30)
def test_the_same_comments_ask_nothing(header: Header) -> None:
    struct = read(header)
    said = said_in(struct)
    compared = compare(laid_out(struct), laid_out(struct), comments=(said, said))

    assert compared.questions == ()
    assert [field.comment.partition(";")[0] for field in struct.fields] == list(header.said)
    assert struct.comment == header.whole


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
