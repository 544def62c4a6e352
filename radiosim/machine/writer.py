"""What LLVM code of one function is written with: lines, blocks, rooms of names, conversions."""

import ast
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NoReturn

from radiosim.machine.kinds import (
    F64,
    I1,
    I64,
    NUMBERS,
    VOID,
    CompileError,
    Kind,
    TupleKind,
    in_llvm,
    in_words,
)

if TYPE_CHECKING:
    from radiosim.machine.module import Module

Value = tuple[str, Kind]
"""What stands in LLVM's code for a value, and its kind."""
RESULT = "return"
"""The name of the result: no variable can have it."""
RETURNED: dict[str, Kind] = {"q": I64, "d": F64, "?": I1, "": VOID}
"""By letter of the struct module: what a root gives back."""


class Widened(Exception):  # noqa: N818 - no error: all is written anew
    """A name holds a wider kind than it was first given."""


class Writer:
    """Code of one function as it comes to be."""

    def __init__(
        self,
        module: "Module",
        function: Callable[..., Any],
        kinds: tuple[Kind, ...],
        name: str,
        widened: dict[str, Kind],
    ) -> None:
        self.module, self.function, self.kinds, self.name = module, function, kinds, name
        self.widened = widened
        self.result = widened.get(RESULT)
        self.names: dict[str, Value] = {}
        """Where each variable lies, and what kind it is."""
        self.lines: list[str] = []
        self.rooms: list[str] = []
        self.is_over = False
        """Nothing that comes now can be reached."""
        self.loops: list[tuple[str, str]] = []
        """Where `continue` and `break` go, innermost last."""
        self.broken: set[str] = set()
        """Where some `break` goes."""
        self.called: list[str] = []
        """Functions of its own module, as often as it calls them."""
        self._count = 0

    def refuse(self, node: ast.AST, text: str) -> NoReturn:
        """Something stands there that is not taken; `text`: what, and what to write instead."""
        line = getattr(node, "lineno", self.function.__code__.co_firstlineno)
        raise CompileError(f"{self.function.__code__.co_filename}:{line}: {text}")

    def fresh(self, what: str = "v") -> str:
        """A name that nothing has."""
        self._count += 1
        return f"{what}{self._count}"

    def put(self, line: str) -> None:
        """One more line."""
        if not self.is_over:
            self.lines.append("  " + line)

    def made(self, what: str) -> str:
        """A line whose result is used."""
        name = f"%{self.fresh()}"
        self.put(f"{name} = {what}")
        return name

    def call(self, result: Kind, called: str) -> Value:
        """A call, and what it gives back."""
        if result == VOID:
            self.put(f"call void {called}")
            return "", VOID
        return self.made(f"call {in_llvm(result)} {called}"), result

    def label(self, name: str) -> None:
        """A block begins."""
        self.lines.append(f"{name}:")
        self.is_over = False

    def jump(self, name: str) -> None:
        """Go on in another block, if this point can be reached."""
        self.put(f"br label %{name}")
        self.is_over = True

    def branch(self, value: str, yes: str, no: str) -> None:
        """Go on in one of two blocks."""
        self.put(f"br i1 {value}, label %{yes}, label %{no}")
        self.is_over = True

    def whole(self, *, is_inlined: bool) -> str:
        """The function as LLVM reads it; `is_inlined`: it is put in wherever it is called."""
        arguments = ", ".join(f"{in_llvm(kind)} %a{k}" for k, kind in enumerate(self.kinds))
        head = f"define internal {in_llvm(self.result or VOID)} @{self.name}({arguments}) nounwind"
        if is_inlined:
            head += " alwaysinline"
        return "\n".join([f"{head} {{", "entry:", *self.rooms, *self.lines, "}"])

    # Variables

    def load_name(self, name: str) -> Value:
        """What a variable holds."""
        room, kind = self.names[name]
        return self.made(f"load {in_llvm(kind)}, ptr {room}"), kind

    def store_name(self, node: ast.AST, name: str, value: Value) -> None:
        """Give a variable a value; a room is empty, all bits 0, until it has one."""
        if name == "_":
            return
        if value[1] == VOID:
            self.refuse(node, "nothing is used as a value; let the function return one")
        if name not in self.names:
            kind = self.widened.get(name, value[1])
            room = f'%"n.{name}"'
            self.rooms.append(f"  {room} = alloca {in_llvm(kind)}")
            self.rooms.append(f"  store {in_llvm(kind)} zeroinitializer, ptr {room}")
            self.names[name] = (room, kind)
        room, kind = self.names[name]
        self.put(f"store {in_llvm(kind)} {self.converted(node, value, kind, name)}, ptr {room}")

    # Kinds

    def converted(self, node: ast.AST, value: Value, kind: Kind, name: str = "") -> str:
        """A value as a wider number; a name that is too narrow is widened, and all written anew."""
        text, own = value
        if own == kind:
            return text
        if own in NUMBERS and kind in NUMBERS:
            if NUMBERS.index(own) < NUMBERS.index(kind):
                word = "sitofp" if own == I64 else "zext" if kind == I64 else "uitofp"
                return self.made(f"{word} {own} {text} to {kind}")
            if name:
                self.widened[name] = own
                raise Widened
        here, there = in_words(own), in_words(kind)
        if name:
            text = f"one name or result is {here} here and {there} there"
            self.refuse(node, f"{text}; give each a name of its own")
        text = f"{here} stands where {there} is kept; convert it with int(), float() or != 0"
        return self.refuse(node, text)

    def both(
        self, node: ast.AST, left: Value, right: Value, least: str = I64
    ) -> tuple[str, str, str]:
        """Two numbers as one kind that holds them, no narrower than `least`: it, and each."""
        for _, kind in (left, right):
            if kind not in NUMBERS:
                self.refuse(node, f"{in_words(kind)} is no number; name the number in it")
        wide = max(str(left[1]), str(right[1]), least, key=NUMBERS.index)
        return wide, self.converted(node, left, wide), self.converted(node, right, wide)

    def number(self, node: ast.AST, value: Value, kind: str) -> str:
        """A value as a number of a kind that is no narrower."""
        if value[1] not in NUMBERS:
            self.refuse(node, f"{in_words(value[1])} is no number; name the number in it")
        return self.converted(node, value, kind)

    def truth(self, node: ast.AST, value: Value) -> str:
        """Whether a number counts as true."""
        text, kind = value
        if kind == I1:
            return text
        if kind == I64:
            return self.made(f"icmp ne i64 {text}, 0")
        return self.made(f"fcmp une double {self.number(node, value, F64)}, 0.0")

    # Places, arrays and tuples

    def moved(self, address: str, by: str) -> str:
        """An address so many bytes on."""
        if by == "0":
            return address
        return self.made(f"getelementptr inbounds i8, ptr {address}, i64 {by}")

    def array(self, address: str, length: str) -> str:
        """An array of a length that only the run knows."""
        half = self.made(f"insertvalue {{ptr, i64}} poison, ptr {address}, 0")
        return self.made(f"insertvalue {{ptr, i64}} {half}, i64 {length}, 1")

    def part(self, value: Value, k: int) -> Value:
        """The k-th of what a tuple holds."""
        assert isinstance(value[1], TupleKind)
        return self.made(f"extractvalue {in_llvm(value[1])} {value[0]}, {k}"), value[1].of[k]

    def parts(self, value: Value) -> list[Value]:
        """All that a tuple holds."""
        assert isinstance(value[1], TupleKind)
        return [self.part(value, k) for k in range(len(value[1].of))]

    def tuple_of(self, parts: Sequence[Value], names: tuple[str, ...] = ()) -> Value:
        """A tuple."""
        kind = TupleKind(tuple(k for _, k in parts), names)
        text = "poison"
        for k, (value, own) in enumerate(parts):
            text = self.made(f"insertvalue {in_llvm(kind)} {text}, {in_llvm(own)} {value}, {k}")
        return text, kind
