"""Functions of Python and of its math library that machine code has."""

import ast
import builtins
import math
from typing import Any, ClassVar

import numpy as np

from radiosim.machine.kinds import F64, I1, I64, NUMBERS, ArrayKind, TupleKind, in_words
from radiosim.machine.writer import Value, Writer

UNARY = ("acos", "asin", "atan", "cos", "exp", "expm1", "log", "log10", "log1p", "sin", "tan")
"""Of a float, as the C library that Python itself calls computes them."""
OF_C = (*UNARY, "fmod", "frexp")
"""All that is called there, by names that LLVM does not know: what it makes of fmod of what is no
number is poison (LLVM 22)."""

DECLARED = "\n".join(
    [
        *(
            f"declare double @llvm.{n}.f64(double)"
            for n in ("sqrt", "fabs", "floor", "ceil", "rint")
        ),
        "declare double @llvm.copysign.f64(double, double)",
        "declare i64 @llvm.fptosi.sat.i64.f64(double)",
        *(
            f"declare double @libm.{name}(double) nounwind willreturn memory(none)"
            for name in UNARY
        ),
        "declare double @libm.fmod(double, double) nounwind willreturn memory(none)",
        "declare double @libm.frexp(double, ptr) nounwind willreturn",
    ]
)
FREXP = """
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
        **{getattr(math, name): (name, 1) for name in UNARY},
        **{getattr(math, name): (name, 1) for name in ("sqrt", "fabs", "floor", "ceil", "frexp")},
        math.isnan: ("isnan", 1),
        math.isfinite: ("isfinite", 1),
        math.copysign: ("copysign", 2),
        np.float32: ("float32", 1),
        **{getattr(builtins, name): (name, 1) for name in ("abs", "bool", "float", "int", "len")},
        builtins.round: ("round", 1),
        builtins.min: ("min", -2),
        builtins.max: ("max", -2),
    }
    """Name and number of arguments; below 0: so many at least."""

    @classmethod
    def names_of_functions(cls) -> list[str]:
        """Their names, for a message."""
        return sorted(name for name, _ in cls.FUNCTIONS.values())

    def of_library(self, node: ast.Call, called: Any, values: list[Value]) -> Value:  # noqa: PLR0911
        """A call of one of them."""
        name, count = self.FUNCTIONS[called]
        if len(values) != count and not (count < 0 and len(values) >= -count):
            raise self.refused(
                node, f"{name}() of {len(values)} arguments", f"give it {abs(count)}"
            )
        if name in ("min", "max"):
            return self.extreme(node, ast.Lt() if name == "min" else ast.Gt(), values)
        if name == "len":
            return self.length(node, values[0])
        if name in ("int", "bool", "float", "abs", "floor", "ceil", "round"):
            return self.of_number(node, name, values[0])
        x = self.number(node, values[0], F64)
        if name in UNARY:
            return self.made(f"call double @libm.{name}(double {x})"), F64
        if name == "frexp":
            made = self.made(f"call {{double, i64}} @both.frexp(double {x})")
            return made, TupleKind((F64, I64))
        if name == "copysign":
            return self.copysign(x, self.number(node, values[1], F64)), F64
        if name == "isnan":
            return self.made(f"fcmp uno double {x}, {x}"), I1
        if name == "isfinite":
            return self.made(f"fcmp ord double {self.made(f'fsub double {x}, {x}')}, 0.0"), I1
        if name == "float32":
            return self.made(
                f"fpext float {self.made(f'fptrunc double {x} to float')} to double"
            ), F64
        return self.made(f"call double @llvm.{name}.f64(double {x})"), F64

    def of_number(self, node: ast.Call, name: str, value: Value) -> Value:
        """Functions that take whole numbers as they are."""
        if name == "bool":
            return self.truth(node, value), I1
        if name == "float":
            return self.number(node, value, F64), F64
        if value[1] != F64:
            text = self.number(node, value, I64)
            if name == "abs":
                less, is_low = self.made(f"sub i64 0, {text}"), self.made(f"icmp slt i64 {text}, 0")
                text = self.made(f"select i1 {is_low}, i64 {less}, i64 {text}")
            return text, I64
        word = {"abs": "fabs", "floor": "floor", "ceil": "ceil", "round": "rint", "int": ""}[name]
        text = value[0]
        if word:
            text = self.made(f"call double @llvm.{word}.f64(double {text})")
        if name == "abs":
            return text, F64
        return self.made(f"call i64 @llvm.fptosi.sat.i64.f64(double {text})"), I64

    def extreme(self, node: ast.Call, op: ast.cmpop, values: list[Value]) -> Value:
        """The least or most of some numbers, the first of those that are equal."""
        first = values[0]
        for other in values[1:]:
            kind = self.wider(node, first[1], other[1])
            if kind not in NUMBERS:
                raise self.refused(node, f"the least of {in_words(kind)}", "name the number in it")
            a, b = self.converted(node, first, kind), self.converted(node, other, kind)
            is_taken = self.compared(node, op, (b, kind), (a, kind))
            first = (self.made(f"select i1 {is_taken}, {kind} {b}, {kind} {a}"), kind)
        return first

    def compared(self, node: ast.AST, op: ast.cmpop, left: Value, right: Value) -> str:
        """Whether a comparison holds."""
        raise NotImplementedError

    def length(self, node: ast.AST, value: Value) -> Value:
        """How many elements an array has."""
        text, kind = value
        if isinstance(kind, TupleKind):
            return str(len(kind.of)), I64
        if not isinstance(kind, ArrayKind):
            raise self.refused(node, f"the length of {in_words(kind)}", "take that of an array")
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
