"""One module of LLVM's code: a root, all functions that it calls, and what it was made from."""

import ast
import functools
import hashlib
import inspect
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from radiosim.machine.kinds import (
    F64,
    I1,
    I64,
    VOID,
    ArrayKind,
    CompileError,
    Kind,
    TupleKind,
    double,
    in_llvm,
    kind_of,
)
from radiosim.machine.library import DECLARED, FREXP
from radiosim.machine.statements import Statements
from radiosim.machine.writer import RETURNED, Widened

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


def mark_of(value: Any) -> str:
    """What tells a global apart from another of its name."""
    if isinstance(value, np.ndarray):
        return f"{value.dtype.str} {hashlib.sha256(value.tobytes()).hexdigest()[:20]}"
    if inspect.ismodule(value):
        return value.__name__
    if callable(value):
        named = inspect.unwrap(value)
        fields = " ".join(getattr(value, "_fields", ()))
        return f"{getattr(named, '__module__', '')}.{named.__qualname__} {fields}"
    return repr(value)


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
                try:
                    body.write(tree)
                    break
                except Widened:
                    continue
            self.files.add(function.__code__.co_filename)
            self._made[key] = (name, body.result)
            self._bodies.append(body)
        return self._made[key]

    def root_apart(self, function: Function, kinds: tuple[Kind, ...]) -> tuple[str, str]:
        """Symbol of another root for some kinds of arguments, and what it gives back."""
        symbol, letters = self.link(function, kinds)
        if symbol not in self.roots and letters in RETURNED:
            self.roots[symbol] = letters
            taken = _Entry()
            for kind in kinds:
                taken.taken(kind)
            types = ", ".join(flat.split()[0] for flat in taken.flat)
            self._text.append(
                f'declare {_returned(RETURNED[letters])} @"{symbol}"({types}) nounwind'
            )
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
        entry = _Entry()
        values = [f"{in_llvm(kind)} {entry.taken(kind)}" for kind in kinds]
        self._text.append(entry.whole(f"@{name}({', '.join(values)})", result, symbol))
        parts = result.of if isinstance(result, TupleKind) else (result,)
        if not all(isinstance(part, str) for part in parts):
            raise CompileError(f"{function.__name__} gives back more than numbers; take them apart")
        return "(" * isinstance(result, TupleKind) + "".join(LETTERS[str(part)] for part in parts)

    def text(self, head: str) -> str:
        """All of it, as LLVM reads it."""
        calls = Counter(name for body in self._bodies for name in body.called)
        bodies = (
            body.whole(is_inlined=len(body.lines) <= MOST_INLINED or calls[body.name] <= 1)
            for body in self._bodies
        )
        return "\n".join([head, DECLARED, FREXP, *self._text, *bodies])


def looked_up(names_of: dict[str, Any], names: tuple[str, ...]) -> Any:
    """A global, or something of a module that is one; builtins count."""
    known = names_of if names[0] in names_of else vars(__import__("builtins"))
    found = known[names[0]]
    return found if len(names) == 1 else getattr(found, names[1])


def _returned(result: Kind) -> str:
    """What C is given back: a bool as a whole number; nothing for what lies at an address."""
    return F64 if result == F64 else I64 if result in (I64, I1) else VOID


@dataclass
class _Entry:
    """What C calls: puts arguments together, and takes results apart."""

    flat: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)

    def made(self, what: str) -> str:
        name = f"%v{len(self.lines)}"
        self.lines.append(f"{name} = {what}")
        return name

    def raw(self, text: str) -> str:
        self.flat.append(f"{text} %a{len(self.flat)}")
        return f"%a{len(self.flat) - 1}"

    def taken(self, kind: Kind) -> str:
        """One argument."""
        if kind == I1:
            return self.made(f"icmp ne i64 {self.raw(I64)}, 0")
        if isinstance(kind, TupleKind):
            parts = [(in_llvm(part), self.taken(part)) for part in kind.of]
        elif isinstance(kind, ArrayKind) and kind.length < 0:
            parts = [("ptr", self.raw("ptr")), (I64, self.raw(I64))]
        else:
            return self.raw(in_llvm(kind))
        whole = "poison"
        for k, (text, value) in enumerate(parts):
            whole = self.made(f"insertvalue {in_llvm(kind)} {whole}, {text} {value}, {k}")
        return whole

    def whole(self, called: str, result: Kind, symbol: str) -> str:
        call = f"call {in_llvm(result)} {called}"
        if result == VOID:
            self.lines += [call, "ret void"]
        elif isinstance(result, TupleKind):
            whole = self.made(call)
            for k, part in enumerate(result.of):
                value = self.widened(
                    self.made(f"extractvalue {in_llvm(result)} {whole}, {k}"), part
                )
                place = self.made(f"getelementptr i8, ptr %out, i64 {8 * k}")
                self.lines.append(f"store {I64 if part == I1 else part} {value}, ptr {place}")
            self.lines.append("ret void")
            self.flat.insert(0, "ptr %out")
        else:
            value = self.widened(self.made(call), result)
            self.lines.append(f"ret {I64 if result == I1 else result} {value}")
        head = f'define {_returned(result)} @"{symbol}"({", ".join(self.flat)}) nounwind {{'
        return "\n".join([head, *(f"  {line}" for line in self.lines), "}"])

    def widened(self, value: str, kind: Kind) -> str:
        return self.made(f"zext i1 {value} to i64") if kind == I1 else value
