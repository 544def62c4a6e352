"""Compiler targets: what is not the same on each, and who stands for it when a header is read."""

import re
from collections.abc import Callable
from dataclasses import dataclass

Replacement = str | Callable[[re.Match[str]], str]

# The word struct or class of a definition: a brace follows, with nothing but names, a base and
# attributes before it.
_DEFINITION = (
    r"(\benum\s+)?\b(struct|class)\b"
    r"(?=(?:[\w\s:]|__attribute__\s*\(\(.*?\)\)|\[\[.*?\]\]|alignas\s*\(.*?\))*\{)"
)


def _packed(definition: re.Match[str]) -> str:
    """A definition with the attribute that leaves no gaps; an enum class is none."""
    return definition[0] if definition[1] else f"{definition[2]} __attribute__((packed))"


@dataclass(frozen=True, slots=True, kw_only=True)
class Abi:
    """How one target's compiler lays out a struct. All of them put the lowest byte first."""

    name: str
    """Name of the target, as a layout's `abi` gives it."""
    arguments: tuple[str, ...]
    """What makes clang lay out as the target's own gcc does."""
    aligns: bool
    """Does a number start at a multiple of its own size?"""
    authority: str
    """Whose layout it is: clang's own target, or a rule and its status."""
    rewrites: tuple[tuple[str, Replacement], ...] = ()
    """What clang takes otherwise than the target's gcc: pattern and replacement."""
    compiler: str
    """The compiler that the tests compare with; empty if there is none."""

    @property
    def label(self) -> str:
        """What is printed beside the name: nothing, if the target's compiler is compared with."""
        return "" if self.compiler else "by rule, unchecked"


# Sizes, alignments and bit-fields: facts 14. gcc for bare Arm makes an enum as small as its
# values allow (AAPCS32, "enumerated types"); clang needs to be told.
# avr-gcc aligns nothing: a bit field follows the one before even across bytes, whatever its type,
# where clang begins anew, and clang puts a short at even bytes. With packed structs, and int, which
# is as wide there, for short, both come out alike.
# Numbers of the xtensa targets have the sizes and alignments of riscv32's; clang as packaged for
# Python does not know xtensa (from memory; compared with the compiler in the tests).
ABIS = {
    abi.name: abi
    for abi in (
        Abi(
            name="avr",
            arguments=("--target=avr", "-mmcu=avr5"),
            aligns=False,
            rewrites=(
                (_DEFINITION, _packed),
                (r"\bshort\s+int\b", "int"),
                (r"\bshort\s+((?:un)?signed)(?:\s+int)?\b", r"\1 int"),
                (r"\bshort\b", "int"),
            ),
            authority="clang's target avr",
            compiler="avr-gcc",
        ),
        Abi(
            name="arm",
            arguments=("--target=arm-none-eabi", "-fshort-enums"),
            aligns=True,
            authority="clang's target arm",
            compiler="arm-none-eabi-gcc",
        ),
        Abi(
            name="xtensa",
            arguments=(
                "--target=riscv32-unknown-elf",
                "-U__riscv",
                "-U__riscv_xlen",
                "-D__XTENSA__=1",
                "-D__xtensa__=1",
            ),
            aligns=True,
            authority="the rules of riscv32, which are the same",
            compiler="xtensa-lx106-elf-gcc",
        ),
        Abi(
            name="riscv32",
            arguments=("--target=riscv32-unknown-elf",),
            aligns=True,
            authority="clang's target riscv32",
            compiler="riscv64-unknown-elf-gcc",
        ),
        Abi(
            name="host",
            arguments=("--target=x86_64-linux-gnu",),
            aligns=True,
            authority="clang's target x86-64, whichever machine this is",
            compiler="gcc",
        ),
    )
}
"""Every target by name."""
