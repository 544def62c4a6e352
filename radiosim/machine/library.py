"""Functions of Python and of its math library that machine code has."""

import ast
import builtins
import math
from typing import Any, ClassVar

import numpy as np

from radiosim.machine.kinds import F64, I1, I64, UNARY, ArrayKind, TupleKind, in_words
from radiosim.machine.writer import Value, Writer

ROUNDED = {"abs": "fabs", "floor": "floor", "ceil": "ceil", "round": "rint"}
"""Functions that whole numbers need not, and what LLVM has for them."""
OTHERS = ("sqrt", "fabs", "floor", "ceil", "frexp", "isnan", "isfinite")
_COMPARED = {
    "Eq": ("eq", "oeq"),
    "NotEq": ("ne", "une"),
    "Lt": ("slt", "olt"),
    "LtE": ("sle", "ole"),
    "Gt": ("sgt", "ogt"),
    "GtE": ("sge", "oge"),
}
_PURE = "nounwind willreturn memory(none)"
DECLARED = "\n".join(
    [
        *(f"declare double @libm.{name}(double) {_PURE}" for name in UNARY),
        *(f"declare double @llvm.{name}.f64(double)" for name in (*ROUNDED.values(), "sqrt")),
    ]
)
"""What is declared for each of some names."""
FREXP = """
declare double @llvm.copysign.f64(double, double)
declare i64 @llvm.fptosi.sat.i64.f64(double)
declare i64 @llvm.abs.i64(i64, i1)
declare double @libm.fmod(double, double) nounwind willreturn memory(none)
declare double @libm.frexp(double, ptr) nounwind willreturn

define internal {double, i64} @both.frexp(double %x) nounwind alwaysinline {
  %bits = bitcast double %x to i64
  %shifted = lshr i64 %bits, 52
  %exponent = and i64 %shifted, 2047
  %less = sub i64 %exponent, 1
  %is.normal = icmp ult i64 %less, 2046
  br i1 %is.normal, label %quick, label %slow
quick:
  %kept = and i64 %bits, -9218868437227405313
  %half = or i64 %kept, 4602678819172646912
  %m = bitcast i64 %half to double
  %e = sub i64 %exponent, 1022
  %q = insertvalue {double, i64} poison, double %m, 0
  %quick.both = insertvalue {double, i64} %q, i64 %e, 1
  ret {double, i64} %quick.both
slow:
  %room = alloca i32
  store i32 0, ptr %room
  %slow.m = call double @libm.frexp(double %x, ptr %room)
  %is.finite = icmp ne i64 %exponent, 2047
  %held = load i32, ptr %room
  %wide = sext i32 %held to i64
  %slow.e = select i1 %is.finite, i64 %wide, i64 0
  %s = insertvalue {double, i64} poison, double %slow.m, 0
  %slow.both = insertvalue {double, i64} %s, i64 %slow.e, 1
  ret {double, i64} %slow.both
}
"""
"""Numbers that are not tiny need no library."""


class Library(Writer):
    """Calls of functions that are no plain Python."""

    FUNCTIONS: ClassVar[dict[Any, tuple[str, int]]] = {
        **{getattr(math, name): (name, 1) for name in (*UNARY, *OTHERS)},
        math.copysign: ("copysign", 2),
        np.float32: ("float32", 1),
        **{getattr(builtins, name): (name, 1) for name in ("abs", "bool", "float", "int", "len")},
        builtins.round: ("round", 1),
        builtins.min: ("min", -2),
        builtins.max: ("max", -2),
    }
    """Name and number of arguments; below 0: so many at least."""

    def of_library(self, node: ast.Call, called: Any, values: list[Value]) -> Value:  # noqa: PLR0911
        """A call of one of them."""
        name, count = self.FUNCTIONS[called]
        if len(values) != count and not (count < 0 and len(values) >= -count):
            self.refuse(node, f"{name}() of {len(values)} arguments; give it {abs(count)}")
        if name in ("min", "max"):
            return self.extreme(node, ast.Lt() if name == "min" else ast.Gt(), values)
        if name == "len":
            return self.length(node, values[0])
        if name in ("int", "bool", "float", *ROUNDED):
            return self.of_number(node, name, values[0])
        x, *more = (self.number(node, value, F64) for value in values)
        if name == "frexp":
            made = self.made(f"call {{double, i64}} @both.frexp(double {x})")
            return made, TupleKind((F64, I64))
        if name == "copysign":
            return self.copysign(x, *more), F64
        if name == "isnan":
            return self.made(f"fcmp uno double {x}, {x}"), I1
        if name == "isfinite":
            return self.made(f"fcmp ord double {self.made(f'fsub double {x}, {x}')}, 0.0"), I1
        if name == "float32":
            single = self.made(f"fptrunc double {x} to float")
            return self.made(f"fpext float {single} to double"), F64
        where = f"libm.{name}" if name in UNARY else f"llvm.{name}.f64"
        return self.made(f"call double @{where}(double {x})"), F64

    def of_number(self, node: ast.Call, name: str, value: Value) -> Value:
        """Functions that take whole numbers as they are."""
        if name == "bool":
            return self.truth(node, value), I1
        if name == "float":
            return self.number(node, value, F64), F64
        if value[1] != F64:
            text = self.number(node, value, I64)
            if name == "abs":
                text = self.made(f"call i64 @llvm.abs.i64(i64 {text}, i1 false)")
            return text, I64
        text = value[0]
        if name in ROUNDED:
            text = self.made(f"call double @llvm.{ROUNDED[name]}.f64(double {text})")
        if name == "abs":
            return text, F64
        return self.made(f"call i64 @llvm.fptosi.sat.i64.f64(double {text})"), I64

    def extreme(self, node: ast.Call, op: ast.cmpop, values: list[Value]) -> Value:
        """The least or most of some numbers, the first of those that are equal."""
        first = values[0]
        for other in values[1:]:
            kind, a, b = self.both(node, first, other, I1)
            is_taken = self.compared(node, op, (b, kind), (a, kind))
            first = (self.made(f"select i1 {is_taken}, {kind} {b}, {kind} {a}"), kind)
        return first

    def compared(self, node: ast.AST, op: ast.cmpop, left: Value, right: Value) -> str:
        """Whether a comparison holds."""
        name = type(op).__name__
        if name in ("In", "NotIn"):
            return self.is_one_of(node, left, right, name == "In")
        if name not in _COMPARED:
            self.refuse(node, f"{name} is not taken; compare numbers")
        words = _COMPARED[name]
        kind, a, b = self.both(node, left, right)
        word = f"fcmp {words[1]}" if kind == F64 else f"icmp {words[0]}"
        return self.made(f"{word} {kind} {a}, {b}")

    def is_one_of(self, node: ast.AST, value: Value, those: Value, wanted: bool) -> str:
        """Whether a tuple holds a number."""
        if not isinstance(those[1], TupleKind):
            self.refuse(node, "`in` of what is no tuple; write a loop")
        found = "false"
        for part in self.parts(those):
            found = self.made(f"or i1 {found}, {self.compared(node, ast.Eq(), value, part)}")
        return found if wanted else self.made(f"xor i1 {found}, true")

    def length(self, node: ast.AST, value: Value) -> Value:
        """How many elements an array has."""
        text, kind = value
        if isinstance(kind, TupleKind):
            return str(len(kind.of)), I64
        if not isinstance(kind, ArrayKind):
            self.refuse(node, f"the length of {in_words(kind)}; take that of an array")
        if kind.length >= 0:
            return str(kind.length), I64
        return self.made(f"extractvalue {{ptr, i64}} {text}, 1"), I64

    def copysign(self, x: str, y: str) -> str:
        """x with the sign of y."""
        return self.made(f"call double @llvm.copysign.f64(double {x}, double {y})")

    def remainder(self, a: str, b: str) -> str:
        """a % b of floats as Python has it: of b's sign; by 0, which Python refuses, NaN."""
        rest = self.made(f"call double @libm.fmod(double {a}, double {b})")
        is_zero = self.made(f"fcmp oeq double {rest}, 0.0")
        is_low, is_below = (self.made(f"fcmp olt double {x}, 0.0") for x in (rest, b))
        differ = self.made(f"xor i1 {is_low}, {is_below}")
        moved = self.made(f"fadd double {rest}, {b}")
        other = self.made(f"select i1 {differ}, double {moved}, double {rest}")
        return self.made(f"select i1 {is_zero}, double {self.copysign(rest, b)}, double {other}")
