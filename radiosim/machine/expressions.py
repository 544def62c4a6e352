"""Expressions: what a function computes, places in memory, and calls."""

import ast
import builtins
import inspect
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from radiosim.machine.kinds import (
    F64,
    I1,
    I64,
    NUMBERS,
    UNKNOWN_LENGTH,
    Apart,
    ArrayKind,
    RecordKind,
    TupleKind,
    double,
    in_llvm,
    in_words,
    wrapped,
)
from radiosim.machine.library import Library
from radiosim.machine.writer import RETURNED, Value

_BITS = {"BitAnd": "and", "BitOr": "or", "BitXor": "xor"}
_OF_WORDS = {"Add": "add", "Sub": "sub", "Mult": "mul"} | _BITS
_OF_FLOATS = {"Add": "fadd", "Sub": "fsub", "Mult": "fmul", "Div": "fdiv"}
_INSTEAD = {
    "Dict": "keep numbers in a record",
    "List": "keep numbers in an array of a record, or a tuple",
    "ListComp": "write a loop",
    "GeneratorExp": "write a loop",
    "Lambda": "write a function of the module",
    "NamedExpr": "assign in a line of its own",
    "JoinedStr": "work with numbers alone",
    "Starred": "name each of them",
}


class Expressions(Library):
    """Expressions of one function."""

    def value(self, node: ast.expr) -> Value:
        """The code of an expression."""
        name = type(node).__name__
        made: Callable[[ast.expr], Value] | None = getattr(self, f"_of_{name.lower()}", None)
        if made is None:
            self.refuse(node, f"{name} is not taken; {_INSTEAD.get(name, 'use plain arithmetic')}")
        return made(node)

    # Names and constants

    def constant(self, node: ast.AST, value: Any) -> Value:
        """What has a value before the function runs."""
        if isinstance(value, bool):
            return ("true" if value else "false"), I1
        if isinstance(value, int | np.integer):
            return str(wrapped(int(value))), I64
        if isinstance(value, float):
            return double(value), F64
        if isinstance(value, np.ndarray) and value.ndim == 1:
            return self.module.table(value)
        if isinstance(value, tuple):
            names = getattr(value, "_fields", ())
            return self.tuple_of([self.constant(node, part) for part in value], names)
        text = f"{value!r} is no number; use ints, floats, tuples or arrays of them"
        return self.refuse(node, text)

    def outside(self, node: ast.expr) -> Any:
        """What a name that is no variable stands for: a global, or something of a module."""
        first, *more = ast.unparse(node).split(".")
        if first not in self.function.__globals__ and not hasattr(builtins, first):
            instead = "assign it in a line above, or at the top of the module"
            self.refuse(node, f"{first} has no value here; {instead}")
        return self.module.looked_up(self.function, first, *more)

    def is_outside(self, node: ast.expr) -> bool:
        """Whether an expression names a global, or something of a module."""
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            of = self.function.__globals__.get(node.value.id)
            return self.is_outside(node.value) and inspect.ismodule(of)
        return isinstance(node, ast.Name) and node.id not in self.names

    def means(self, node: ast.expr, what: Any) -> bool:
        """Whether an expression names something that is no variable."""
        return self.is_outside(node) and self.outside(node) is what

    def _of_constant(self, node: ast.Constant) -> Value:
        return self.constant(node, node.value)

    def _of_name(self, node: ast.Name) -> Value:
        if node.id in self.names:
            return self.load_name(node.id)
        return self.constant(node, self.outside(node))

    def _of_tuple(self, node: ast.Tuple) -> Value:
        return self.tuple_of([self.value(part) for part in node.elts])

    # Places in memory

    def place(self, node: ast.expr) -> Value:
        """Address and kind of a field or an element."""
        if isinstance(node, ast.Attribute):
            return self.place_of_field(node, self.value(node.value))
        if isinstance(node, ast.Subscript):
            return self.place_of_element(node, self.value(node.value))
        text = "this is no place in memory; assign to a name, a field or an element"
        return self.refuse(node, text)

    def place_of_field(self, node: ast.Attribute, base: Value) -> Value:
        """Where a field of a record lies."""
        text, kind = base
        found = kind.field(node.attr) if isinstance(kind, RecordKind) else None
        if found is None:
            text = f"{in_words(kind)} has no field {node.attr}"
            self.refuse(node, f"{text}; name one that its class has")
        return self.moved(text, str(found[0])), found[1]

    def place_of_element(self, node: ast.Subscript, base: Value) -> Value:
        """Where an element of an array lies; that it is there, nobody checks."""
        kind = base[1]
        if not isinstance(kind, ArrayKind):
            self.refuse(node, f"{in_words(kind)} has no elements; take those of an array")
        index = self.whole_number(node.slice)
        if index.startswith("-"):
            self.refuse(node, "an index is below 0; count from the length: x[len(x) - 1]")
        return self.element(base[0], kind, index), kind.of

    def element(self, text: str, kind: ArrayKind, index: str) -> str:
        """Address of an element of an array."""
        if kind.length < 0:
            text = self.made(f"extractvalue {{ptr, i64}} {text}, 0")
        if _is_literal(index):
            return self.moved(text, str(int(index) * kind.stride))
        return self.moved(text, self.made(f"mul i64 {index}, {kind.stride}"))

    def whole_number(self, node: ast.expr) -> str:
        """An int."""
        return self.number(node, self.value(node), I64)

    def load(self, place: Value) -> Value:
        """What lies there: a number by value, all else by its address."""
        text, kind = place
        if kind in NUMBERS:
            return self.made(f"load {kind}, ptr {text}, align 8"), kind
        return place

    def _of_attribute(self, node: ast.Attribute) -> Value:
        if self.is_outside(node):
            return self.constant(node, self.outside(node))
        base = self.value(node.value)
        if isinstance(base[1], TupleKind) and node.attr in base[1].names:
            return self.part(base, base[1].names.index(node.attr))
        return self.load(self.place_of_field(node, base))

    def sliced(self, node: ast.Subscript, part: ast.Slice) -> Value:
        """Some elements of an array, where they lie; that they are there, nobody checks."""
        base = self.value(node.value)
        kind = base[1]
        if not isinstance(kind, ArrayKind) or part.step is not None:
            self.refuse(node, "a slice of what is no array, or with a step; write a loop")
        first = "0" if part.lower is None else self.whole_number(part.lower)
        end = self.whole_number(part.upper) if part.upper else self.length(node, base)[0]
        if first.startswith("-") or end.startswith("-"):
            self.refuse(node, "a slice begins or ends below 0; count from the length")
        place, count = self.element(base[0], kind, first), self.made(f"sub i64 {end}, {first}")
        is_some = self.made(f"icmp sgt i64 {count}, 0")
        count = self.made(f"select i1 {is_some}, i64 {count}, i64 0")
        return self.array(place, count), ArrayKind(kind.of, kind.stride, UNKNOWN_LENGTH)

    def _of_subscript(self, node: ast.Subscript) -> Value:
        if isinstance(node.slice, ast.Slice):
            return self.sliced(node, node.slice)
        base = self.value(node.value)
        if not isinstance(base[1], TupleKind):
            return self.load(self.place_of_element(node, base))
        k = node.slice.value if isinstance(node.slice, ast.Constant) else None
        if not isinstance(k, int) or k >= len(base[1].of):
            self.refuse(node, "a place in a tuple is not a plain number that it has; use an array")
        return self.part(base, k)

    # Arithmetic

    def _of_unaryop(self, node: ast.UnaryOp) -> Value:
        value = self.value(node.operand)
        if isinstance(node.op, ast.Not):
            return self.made(f"xor i1 {self.truth(node, value)}, true"), I1
        if isinstance(node.op, ast.UAdd):
            return value if value[1] == F64 else (self.number(node, value, I64), I64)
        if value[1] == F64 and isinstance(node.op, ast.USub):
            return self.made(f"fneg double {value[0]}"), F64
        text = self.number(node, value, I64)
        if isinstance(node.op, ast.Invert):
            return self.made(f"xor i64 {text}, -1"), I64
        is_plain = _is_literal(text)
        return str(wrapped(-int(text))) if is_plain else self.made(f"sub i64 0, {text}"), I64

    def _of_binop(self, node: ast.BinOp) -> Value:
        return self.operate(node, node.op, self.value(node.left), self.value(node.right))

    def operate(self, node: ast.AST, op: ast.operator, left: Value, right: Value) -> Value:
        """What two numbers make."""
        name = type(op).__name__
        if left[1] == right[1] == I1 and name in _BITS:
            return self.made(f"{_OF_WORDS[name]} i1 {left[0]}, {right[0]}"), I1
        kind, a, b = self.both(node, left, right, F64 if name == "Div" else I64)
        if kind == F64:
            if name == "Mod":
                return self.remainder(a, b), F64
            if name not in _OF_FLOATS:
                self.refuse(node, f"{name} of floats is not taken; use math.floor(a / b), a * a")
            return self.made(f"{_OF_FLOATS[name]} double {a}, {b}"), F64
        if name in _OF_WORDS:
            return self.made(f"{_OF_WORDS[name]} i64 {a}, {b}"), I64
        if name in ("LShift", "RShift"):
            return self.shifted(name, a, b), I64
        if name not in ("FloorDiv", "Mod"):
            self.refuse(node, f"{name} of ints is not taken; multiply, or shift by bits")
        return self.divided(name, a, b), I64

    def shifted(self, name: str, a: str, b: str) -> str:
        """Shift by any number of bits; one below 0, which Python refuses, counts as many."""
        if _is_literal(b) and 0 <= int(b) < 64:
            return self.made(f"{'shl' if name == 'LShift' else 'ashr'} i64 {a}, {b}")
        is_far = self.made(f"icmp ugt i64 {b}, 63")
        near = self.made(f"select i1 {is_far}, i64 63, i64 {b}")
        if name == "RShift":
            return self.made(f"ashr i64 {a}, {near}")
        return self.made(f"select i1 {is_far}, i64 0, i64 {self.made(f'shl i64 {a}, {near}')}")

    def divided(self, name: str, a: str, b: str) -> str:
        """Quotient or remainder rounded down; by 0, which Python refuses, both are 0."""
        divisor = b
        is_odd = None
        if not _is_literal(b) or int(b) in (0, -1):
            # Two divisors at which the processor stops; both give no remainder and a · b.
            is_odd = self.made(f"icmp ult i64 {self.made(f'add i64 {b}, 1')}, 2")
            divisor = self.made(f"select i1 {is_odd}, i64 1, i64 {b}")
        rest = self.made(f"srem i64 {a}, {divisor}")
        mixed = self.made(f"xor i64 {rest}, {divisor}")
        differ, is_rest = self.made(f"icmp slt i64 {mixed}, 0"), self.made(f"icmp ne i64 {rest}, 0")
        is_below = self.made(f"and i1 {is_rest}, {differ}")
        if name == "Mod":
            return self.made(
                f"add i64 {rest}, {self.made(f'select i1 {is_below}, i64 {divisor}, i64 0')}"
            )
        whole = self.made(f"sdiv i64 {a}, {divisor}")
        floor = self.made(f"add i64 {whole}, {self.made(f'sext i1 {is_below} to i64')}")
        if is_odd is None:
            return floor
        return self.made(f"select i1 {is_odd}, i64 {self.made(f'mul i64 {a}, {b}')}, i64 {floor}")

    # Comparisons and choices

    def _of_compare(self, node: ast.Compare) -> Value:
        if len(node.ops) > 1:
            return self.chosen(node)
        left, right = self.value(node.left), self.value(node.comparators[0])
        return self.compared(node, node.ops[0], left, right), I1

    def _of_boolop(self, node: ast.BoolOp) -> Value:
        return self.chosen(node)

    def chosen(self, node: ast.expr) -> Value:
        """A condition as a value."""
        return self.either(node, node, lambda: ("true", I1), lambda: ("false", I1), is_value=True)

    def either(
        self,
        node: ast.expr,
        test: ast.expr,
        yes: Callable[[], Value],
        no: Callable[[], Value],
        *,
        is_value: bool = False,
    ) -> Value:
        """One value or another; `is_value` as in `condition`."""
        then, other, after = self.fresh("then"), self.fresh("else"), self.fresh("after")
        name = f"{node.lineno} {node.col_offset}"
        self.condition(test, then, other, is_value=is_value)
        for label, make in ((then, yes), (other, no)):
            self.label(label)
            self.store_name(node, name, make())
            self.jump(after)
        self.label(after)
        return self.load_name(name)

    def condition(self, node: ast.expr, yes: str, no: str, *, is_value: bool = False) -> None:
        """Go one way or the other; `is_value`: what is asked for is a bool, whatever holds."""
        if isinstance(node, ast.BoolOp):
            for part in node.values[:-1]:
                more = self.fresh("more")
                ways = (more, no) if isinstance(node.op, ast.And) else (yes, more)
                self.condition(part, *ways, is_value=is_value)
                self.label(more)
            self.condition(node.values[-1], yes, no, is_value=is_value)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            self.condition(node.operand, no, yes)
        elif isinstance(node, ast.Compare) and len(node.ops) > 1:
            left = self.value(node.left)
            for k, (op, other) in enumerate(zip(node.ops, node.comparators, strict=True)):
                right = self.value(other)
                more = yes if k == len(node.ops) - 1 else self.fresh("more")
                self.branch(self.compared(node, op, left, right), more, no)
                left = right
                if more != yes:
                    self.label(more)
        else:
            value = self.value(node)
            if is_value and value[1] != I1:
                self.refuse(node, "`and`, `or` of what is no bool; compare it: x != 0")
            self.branch(self.truth(node, value), yes, no)

    def _of_ifexp(self, node: ast.IfExp) -> Value:
        yes, no = partial(self.value, node.body), partial(self.value, node.orelse)
        return self.either(node, node.test, yes, no)

    # Calls

    def _of_call(self, node: ast.Call) -> Value:
        if node.keywords:
            self.refuse(node, "arguments are given by name; give them in their order")
        if not self.is_outside(node.func):
            self.refuse(node, "what is called is no function of a module; write it at its top")
        given = self.outside(node.func)
        called = inspect.unwrap(given)
        values = [self.value(part) for part in node.args]
        if isinstance(given, Apart):
            return self.of_root(node, called, values)
        if called in self.FUNCTIONS:
            return self.of_library(node, called, values)
        if isinstance(called, type) and hasattr(called, "_fields"):
            if len(values) != len(called._fields):
                self.refuse(node, f"{called.__name__} is not given all its fields; give them all")
            return self.tuple_of(values, called._fields)
        if not inspect.isfunction(called):
            text = f"{ast.unparse(node.func)} has no machine code; use functions in plain Python"
            names = sorted(name for name, _ in self.FUNCTIONS.values())
            self.refuse(node, f"{text}, or of {', '.join(names)}")
        return self.of_function(node, called, values)

    def of_function(self, node: ast.Call, called: Any, values: list[Value]) -> Value:
        """A call of a function in plain Python, which is compiled too."""
        if len(values) != called.__code__.co_argcount:
            self.refuse(node, f"{called.__name__} is not given all its arguments; give them all")
        name, result = self.module.function(called, tuple(kind for _, kind in values))
        if result is None:
            self.refuse(node, f"{called.__name__} calls itself; write a loop")
        self.called.append(name)
        arguments = ", ".join(f"{in_llvm(kind)} {text}" for text, kind in values)
        return self.call(result, f"@{name}({arguments})")

    def of_root(self, node: ast.Call, called: Any, values: list[Value]) -> Value:
        """A call of another root, whose code is made and kept apart."""
        symbol, letters = self.module.root_apart(called, tuple(kind for _, kind in values))
        if letters not in RETURNED:
            self.refuse(node, f"{called.__name__} gives back a tuple; write it in a record")
        arguments = ", ".join(text for value in values for text in self.taken_apart(value))
        result = RETURNED[letters]
        text, kind = self.call(I64 if result == I1 else result, f'@"{symbol}"({arguments})')
        return (self.made(f"icmp ne i64 {text}, 0"), I1) if result == I1 else (text, kind)

    def taken_apart(self, value: Value) -> list[str]:
        """What C takes for an argument."""
        text, kind = value
        if kind == I1:
            return [f"i64 {self.made(f'zext i1 {text} to i64')}"]
        if isinstance(kind, TupleKind):
            return [part for inner in self.parts(value) for part in self.taken_apart(inner)]
        if isinstance(kind, ArrayKind) and kind.length < 0:
            halves = (self.made(f"extractvalue {{ptr, i64}} {text}, {k}") for k in (0, 1))
            return [f"{of} {half}" for of, half in zip(("ptr", I64), halves, strict=True)]
        return [f"{in_llvm(kind)} {text}"]


def _is_literal(text: str) -> bool:
    return text.lstrip("-").isdigit()
