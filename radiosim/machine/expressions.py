"""Expressions: what a function computes, places in memory, and calls."""

import ast
import builtins
import inspect
from typing import Any

import numpy as np

from radiosim.machine.kinds import (
    F64,
    I1,
    I64,
    NUMBERS,
    UNKNOWN_LENGTH,
    VOID,
    ArrayKind,
    RecordKind,
    TupleKind,
    double,
    in_llvm,
    in_words,
    wrapped,
)
from radiosim.machine.library import Library
from radiosim.machine.writer import RETURNED, Apart, Value

_OF_WORDS = {
    "Add": "add",
    "Sub": "sub",
    "Mult": "mul",
    "BitAnd": "and",
    "BitOr": "or",
    "BitXor": "xor",
}
_OF_FLOATS = {"Add": "fadd", "Sub": "fsub", "Mult": "fmul", "Div": "fdiv"}
_COMPARED = {
    "Eq": ("eq", "oeq"),
    "NotEq": ("ne", "une"),
    "Lt": ("slt", "olt"),
    "LtE": ("sle", "ole"),
    "Gt": ("sgt", "ogt"),
    "GtE": ("sge", "oge"),
}
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
        made = getattr(self, f"_of_{name.lower()}", None)
        if made is None:
            raise self.refused(
                node, f"{name} is not taken", _INSTEAD.get(name, "use plain arithmetic")
            )
        found: Value = made(node)
        return found

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
        raise self.refused(
            node, f"{value!r} is no number", "use ints, floats, tuples or arrays of them"
        )

    def outside(self, node: ast.expr) -> Any:
        """What a name that is no variable stands for: a global, or something of a module."""
        if isinstance(node, ast.Attribute):
            assert isinstance(node.value, ast.Name)
            self.outside(node.value)
            return self.module.looked_up(self.function, node.value.id, node.attr)
        assert isinstance(node, ast.Name)
        if node.id not in self.function.__globals__ and not hasattr(builtins, node.id):
            raise self.refused(
                node,
                f"{node.id} has no value here",
                "assign it in a line above, or at the top of the module",
            )
        return self.module.looked_up(self.function, node.id)

    def is_outside(self, node: ast.expr) -> bool:
        """Whether an expression names a global, or something of a module."""
        if isinstance(node, ast.Attribute):
            inner = node.value
            return (
                isinstance(inner, ast.Name)
                and self.is_outside(inner)
                and inspect.ismodule(self.function.__globals__.get(inner.id))
            )
        return isinstance(node, ast.Name) and node.id not in self.names

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
        raise self.refused(
            node, "this is no place in memory", "assign to a name, a field or an element"
        )

    def place_of_field(self, node: ast.Attribute, base: Value) -> Value:
        """Where a field of a record lies."""
        text, kind = base
        found = kind.field(node.attr) if isinstance(kind, RecordKind) else None
        if found is None:
            raise self.refused(
                node, f"{in_words(kind)} has no field {node.attr}", "name one that its class has"
            )
        offset, inner = found
        return self.moved(text, str(offset)), inner

    def place_of_element(self, node: ast.Subscript, base: Value) -> Value:
        """Where an element of an array lies; that it is there, nobody checks."""
        kind = base[1]
        if not isinstance(kind, ArrayKind):
            raise self.refused(node, f"{in_words(kind)} has no elements", "take those of an array")
        text = base[0] if kind.length >= 0 else self.made(f"extractvalue {{ptr, i64}} {base[0]}, 0")
        index = self.number(node.slice, self.value(node.slice), I64)
        if index.lstrip("-").isdigit():
            if int(index) < 0:
                raise self.refused(
                    node, "an index is below 0", "count from the length: x[len(x) - 1]"
                )
            return self.moved(text, str(int(index) * kind.stride)), kind.of
        return self.moved(text, self.made(f"mul i64 {index}, {kind.stride}")), kind.of

    def moved(self, address: str, by: str) -> str:
        """An address so many bytes on."""
        if by == "0":
            return address
        return self.made(f"getelementptr inbounds i8, ptr {address}, i64 {by}")

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
            raise self.refused(node, "a slice of what is no array, or with a step", "write a loop")
        first, end = "0", self.length(node, base)[0]
        if part.upper is not None:
            end = self.number(part.upper, self.value(part.upper), I64)
        if part.lower is not None:
            first = self.number(part.lower, self.value(part.lower), I64)
        if first.startswith("-") or end.startswith("-"):
            raise self.refused(node, "a slice begins or ends below 0", "count from the length")
        place = (
            base[0] if kind.length >= 0 else self.made(f"extractvalue {{ptr, i64}} {base[0]}, 0")
        )
        if first != "0":
            place = self.moved(place, self.made(f"mul i64 {first}, {kind.stride}"))
        count = self.made(f"sub i64 {end}, {first}")
        is_some = self.made(f"icmp sgt i64 {count}, 0")
        half = self.made(f"insertvalue {{ptr, i64}} poison, ptr {place}, 0")
        count = self.made(f"select i1 {is_some}, i64 {count}, i64 0")
        whole = self.made(f"insertvalue {{ptr, i64}} {half}, i64 {count}, 1")
        return whole, ArrayKind(kind.of, kind.stride, UNKNOWN_LENGTH)

    def _of_subscript(self, node: ast.Subscript) -> Value:
        if isinstance(node.slice, ast.Slice):
            return self.sliced(node, node.slice)
        base = self.value(node.value)
        if not isinstance(base[1], TupleKind):
            return self.load(self.place_of_element(node, base))
        k = node.slice.value if isinstance(node.slice, ast.Constant) else None
        if not isinstance(k, int) or k >= len(base[1].of):
            raise self.refused(
                node, "a place in a tuple is not a plain number that it has", "use an array"
            )
        return self.part(base, k)

    # Arithmetic

    def _of_unaryop(self, node: ast.UnaryOp) -> Value:
        value = self.value(node.operand)
        if isinstance(node.op, ast.Not):
            return self.made(f"xor i1 {self.truth(node, value)}, true"), I1
        if value[1] == F64 and not isinstance(node.op, ast.Invert):
            return (
                value[0] if isinstance(node.op, ast.UAdd) else self.made(f"fneg double {value[0]}")
            ), F64
        text = self.number(node, value, I64)
        if isinstance(node.op, ast.UAdd):
            return text, I64
        if isinstance(node.op, ast.Invert):
            return self.made(f"xor i64 {text}, -1"), I64
        return (
            str(wrapped(-int(text))) if _is_literal(text) else self.made(f"sub i64 0, {text}")
        ), I64

    def _of_binop(self, node: ast.BinOp) -> Value:
        return self.operate(node, node.op, self.value(node.left), self.value(node.right))

    def operate(self, node: ast.AST, op: ast.operator, left: Value, right: Value) -> Value:
        """What two numbers make."""
        name = type(op).__name__
        if left[1] == right[1] == I1 and name in ("BitAnd", "BitOr", "BitXor"):
            return self.made(f"{_OF_WORDS[name]} i1 {left[0]}, {right[0]}"), I1
        if name == "Div" or F64 in (left[1], right[1]):
            a, b = self.number(node, left, F64), self.number(node, right, F64)
            if name == "Mod":
                return self.remainder(a, b), F64
            if name not in _OF_FLOATS:
                raise self.refused(
                    node, f"{name} of floats is not taken", "use math.floor(a / b), a * a"
                )
            return self.made(f"{_OF_FLOATS[name]} double {a}, {b}"), F64
        a, b = self.number(node, left, I64), self.number(node, right, I64)
        if name in _OF_WORDS:
            return self.made(f"{_OF_WORDS[name]} i64 {a}, {b}"), I64
        if name in ("LShift", "RShift"):
            return self.shifted(name, a, b), I64
        if name not in ("FloorDiv", "Mod"):
            raise self.refused(node, f"{name} of ints is not taken", "multiply, or shift by bits")
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

    def compared(self, node: ast.AST, op: ast.cmpop, left: Value, right: Value) -> str:
        """Whether a comparison holds."""
        name = type(op).__name__
        if name in ("In", "NotIn"):
            return self.is_one_of(node, left, right, name == "In")
        if name not in _COMPARED:
            raise self.refused(node, f"{name} is not taken", "compare numbers")
        words = _COMPARED[name]
        if F64 in (left[1], right[1]):
            a, b = self.number(node, left, F64), self.number(node, right, F64)
            return self.made(f"fcmp {words[1]} double {a}, {b}")
        a, b = self.number(node, left, I64), self.number(node, right, I64)
        return self.made(f"icmp {words[0]} i64 {a}, {b}")

    def is_one_of(self, node: ast.AST, value: Value, those: Value, wanted: bool) -> str:
        """Whether a tuple holds a number."""
        if not isinstance(those[1], TupleKind):
            raise self.refused(node, "`in` of what is no tuple", "write a loop")
        found = "false"
        for part in self.parts(those):
            found = self.made(f"or i1 {found}, {self.compared(node, ast.Eq(), value, part)}")
        return found if wanted else self.made(f"xor i1 {found}, true")

    def _of_compare(self, node: ast.Compare) -> Value:
        if len(node.ops) > 1:
            return self.chosen(node)
        left, right = self.value(node.left), self.value(node.comparators[0])
        return self.compared(node, node.ops[0], left, right), I1

    def _of_boolop(self, node: ast.BoolOp) -> Value:
        return self.chosen(node)

    def chosen(self, node: ast.expr) -> Value:
        """A condition as a value."""
        yes, no, after = self.fresh("yes"), self.fresh("no"), self.fresh("after")
        name = f"{node.lineno} {node.col_offset}"
        self.condition(node, yes, no, is_value=True)
        for label, text in ((yes, "true"), (no, "false")):
            self.label(label)
            self.store_name(node, name, (text, I1))
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
                raise self.refused(node, "`and`, `or` of what is no bool", "compare it: x != 0")
            self.branch(self.truth(node, value), yes, no)

    def _of_ifexp(self, node: ast.IfExp) -> Value:
        then, other, after = self.fresh("then"), self.fresh("else"), self.fresh("after")
        name = f"{node.lineno} {node.col_offset}"
        self.condition(node.test, then, other)
        for label, part in ((then, node.body), (other, node.orelse)):
            self.label(label)
            self.store_name(node, name, self.value(part))
            self.jump(after)
        self.label(after)
        return self.load_name(name)

    # Calls

    def _of_call(self, node: ast.Call) -> Value:
        if node.keywords:
            raise self.refused(node, "arguments are given by name", "give them in their order")
        if not self.is_outside(node.func):
            raise self.refused(
                node, "what is called is no function of a module", "write it at its top"
            )
        given = self.outside(node.func)
        called = inspect.unwrap(given)
        values = [self.value(part) for part in node.args]
        if isinstance(given, Apart):
            return self.of_root(node, called, values)
        if called in self.FUNCTIONS:
            return self.of_library(node, called, values)
        if isinstance(called, type) and hasattr(called, "_fields"):
            if len(values) != len(called._fields):
                raise self.refused(
                    node, f"{called.__name__} is not given all its fields", "give them all"
                )
            return self.tuple_of(values, called._fields)
        if not inspect.isfunction(called):
            raise self.refused(
                node,
                f"{ast.unparse(node.func)} has no machine code",
                f"use functions in plain Python, or of {', '.join(self.names_of_functions())}",
            )
        return self.of_function(node, called, values)

    def of_function(self, node: ast.Call, called: Any, values: list[Value]) -> Value:
        """A call of a function in plain Python, which is compiled too."""
        if len(values) != called.__code__.co_argcount:
            raise self.refused(
                node, f"{called.__name__} is not given all its arguments", "give them all"
            )
        name, result = self.module.function(called, tuple(kind for _, kind in values))
        if result is None:
            raise self.refused(node, f"{called.__name__} calls itself", "write a loop")
        self.called.append(name)
        arguments = ", ".join(f"{in_llvm(kind)} {text}" for text, kind in values)
        call = f"call {in_llvm(result)} @{name}({arguments})"
        if result == VOID:
            self.put(call)
            return "", VOID
        return self.made(call), result

    def of_root(self, node: ast.Call, called: Any, values: list[Value]) -> Value:
        """A call of another root, whose code is made and kept apart."""
        symbol, letters = self.module.root_apart(called, tuple(kind for _, kind in values))
        if letters not in RETURNED:
            raise self.refused(
                node, f"{called.__name__} gives back a tuple", "write it in a record"
            )
        arguments = ", ".join(text for value in values for text in self.taken_apart(value))
        call, result = f'@"{symbol}"({arguments})', RETURNED[letters]
        if result == VOID:
            self.put(f"call void {call}")
            return "", VOID
        if result == I1:
            return self.made(f"icmp ne i64 {self.made(f'call i64 {call}')}, 0"), I1
        return self.made(f"call {result} {call}"), result

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
