"""One module of LLVM's code: a root, all functions that it calls, and what it was made from."""

import ast
import functools
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from radiosim.machine.asked import looked_up, mark_of
from radiosim.machine.kinds import (
    F64,
    I1,
    I64,
    NUMBERS,
    VOID,
    ArrayKind,
    CompileError,
    Kind,
    TupleKind,
    double,
    in_c,
    in_llvm,
    kind_of,
)
from radiosim.machine.library import DECLARED, FREXP
from radiosim.machine.statements import Statements
from radiosim.machine.writer import RETURNED, Value, Widened, Writer

Function = Callable[..., Any]
LETTERS = {kind: letter for letter, kind in RETURNED.items()}
MOST_INLINED = 60
"""Lines of a function that is put in wherever it is called, and a longer one only if it is called
once: with many more it takes several times as long to make, and the code is no faster."""


@functools.cache
def trees(path: str) -> dict[str, ast.FunctionDef]:
    """The functions of a file by name."""
    tree = ast.parse(Path(path).read_bytes())
    return {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}


def tree_of(function: Function) -> ast.FunctionDef:
    """How a function stands in its file; CompileError if it does not, or no longer as it runs."""
    code = function.__code__
    found = trees(code.co_filename).get(function.__name__)
    lines = [] if found is None else [found.lineno, *(n.lineno for n in found.decorator_list)]
    if found is None or code.co_firstlineno not in lines:
        where = f"{code.co_filename}:{code.co_firstlineno}"
        raise CompileError(
            f"{where}: {function.__name__} does not stand there; write it at the top of its "
            "module, and start anew if the file has changed"
        )
    return found


@dataclass
class Module:
    """Functions of one module, and the files and globals that they come from."""

    link: Callable[[Function, tuple[Kind, ...]], tuple[str, str]]
    """Makes the code of another root: its symbol, and what it gives back."""
    files: set[str] = field(default_factory=set)
    globals: dict[tuple[str, ...], str] = field(default_factory=dict)
    """By module and name or names: its mark."""
    roots: dict[str, str] = field(default_factory=dict)
    """By symbol: what other roots that are called give back."""
    _made: dict[Any, tuple[str, Kind | None]] = field(default_factory=dict)
    _bodies: list[Statements] = field(default_factory=list)
    _text: list[str] = field(default_factory=list)
    """All but the bodies of functions."""
    _tables: dict[int, tuple[str, Kind, Any]] = field(default_factory=dict)

    def looked_up(self, function: Function, *names: str) -> Any:
        """A global of a function's module, or something of a module that stands there."""
        found = looked_up(function.__globals__, names)
        self.globals[function.__globals__["__name__"], *names] = mark_of(found)
        return found

    def function(self, function: Function, kinds: tuple[Kind, ...]) -> tuple[str, Kind | None]:
        """Name and result of a function for some kinds of arguments, written if it is not yet.

        The result is None while it is being written.
        """
        key = (function, kinds)
        if key not in self._made:
            name = f'"{function.__module__}.{function.__name__}.{len(self._made)}"'
            self._made[key] = (name, None)
            tree, widened = tree_of(function), dict[str, Kind]()
            while True:
                body = Statements(self, function, kinds, name, widened)
                with suppress(Widened):
                    body.write(tree)
                    break
            self.files.add(function.__code__.co_filename)
            self._made[key] = (name, body.result)
            self._bodies.append(body)
        return self._made[key]

    def root_apart(self, function: Function, kinds: tuple[Kind, ...]) -> tuple[str, str]:
        """Symbol of another root for some kinds of arguments, and what it gives back."""
        symbol, letters = self.link(function, kinds)
        if symbol not in self.roots and letters in RETURNED:
            self.roots[symbol] = letters
            types = ", ".join(text for kind in kinds for text in in_c(kind))
            returned = in_c(RETURNED[letters])[0]
            self._text.append(f'declare {returned} @"{symbol}"({types}) nounwind')
        return symbol, letters

    def table(self, values: Any) -> tuple[str, Kind]:
        """A constant array."""
        if id(values) not in self._tables:
            inner = kind_of(values.dtype)
            kind, name = ArrayKind(inner, 8, len(values)), f"@table.{len(self._tables)}"
            texts = (f"double {double(v)}" if inner == F64 else f"i64 {v}" for v in values.tolist())
            self._text.append(
                f"{name} = internal unnamed_addr constant [{len(values)} x {in_llvm(inner)}] "
                f"[{', '.join(texts)}], align 16"
            )
            self._tables[id(values)] = (name, kind, values)
        return self._tables[id(values)][:2]

    def entry(self, function: Function, kinds: tuple[Kind, ...], symbol: str) -> str:
        """The root, to be called from C: arguments one by one, a tuple's parts at an address.

        Letters of the struct module say what it gives back; after a bracket those of a tuple,
        each eight bytes long.
        """
        name, result = self.function(function, kinds)
        assert result is not None
        self._text.append(Entry(self, function, kinds, symbol, {}).text(name, result))
        parts = result.of if isinstance(result, TupleKind) else (result,)
        if not all(isinstance(part, str) for part in parts):
            raise CompileError(f"{function.__name__} gives back more than numbers; take them apart")
        return "(" * isinstance(result, TupleKind) + "".join(LETTERS[str(part)] for part in parts)

    def text(self, head: str) -> str:
        """All of it, as LLVM reads it."""
        calls = Counter(name for body in self._bodies for name in body.called)
        short = {b.name for b in self._bodies if len(b.lines) <= MOST_INLINED or calls[b.name] < 2}
        bodies = (body.whole(is_inlined=body.name in short) for body in self._bodies)
        return "\n".join([head, DECLARED, FREXP, *self._text, *bodies])


class Entry(Writer):
    """What C calls: puts arguments together, and takes results apart."""

    def raw(self, text: str) -> str:
        """One more argument of C."""
        self.flat.append(f"{text} %a{len(self.flat)}")
        return f"%a{len(self.flat) - 1}"

    def taken(self, kind: Kind) -> str:
        """One argument."""
        if kind == I1:
            return self.made(f"icmp ne i64 {self.raw(I64)}, 0")
        if isinstance(kind, TupleKind):
            return self.tuple_of([(self.taken(part), part) for part in kind.of])[0]
        if isinstance(kind, ArrayKind) and kind.length < 0:
            return self.array(self.raw("ptr"), self.raw(I64))
        return self.raw(in_llvm(kind))

    def text(self, called: str, result: Kind) -> str:
        """The whole of it."""
        self.flat: list[str] = []
        arguments = ", ".join(f"{in_llvm(kind)} {self.taken(kind)}" for kind in self.kinds)
        value = self.call(result, f"@{called}({arguments})")
        if isinstance(result, TupleKind):
            for k, part in enumerate(self.parts(value)):
                place = self.moved("%out", str(8 * k))
                self.put(f"store {self.given_back(part)}, ptr {place}")
            self.flat.insert(0, "ptr %out")
        self.put(f"ret {self.given_back(value)}" if result in NUMBERS else "ret void")
        returned = VOID if isinstance(result, TupleKind) else in_c(result)[0]
        head = f'define {returned} @"{self.name}"({", ".join(self.flat)}) nounwind {{'
        return "\n".join([head, *self.lines, "}"])

    def given_back(self, value: Value) -> str:
        """A number as C has it: a bool as a whole number."""
        text, kind = value
        return f"i64 {self.made(f'zext i1 {text} to i64')}" if kind == I1 else f"{kind} {text}"
