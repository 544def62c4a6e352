"""What functions mean as machine code, in Python: ints that wrap, floats that never stop."""

import ast
import math
import operator
import textwrap
from types import SimpleNamespace
from typing import Any

import numpy as np

_OPERATORS = {
    "Add": operator.add,
    "Sub": operator.sub,
    "Mult": operator.mul,
    "BitAnd": operator.and_,
    "BitOr": operator.or_,
    "BitXor": operator.xor,
    "FloorDiv": operator.floordiv,
    "Mod": operator.mod,
    "LShift": lambda a, b: a << b if 0 <= b < 64 else 0,
    "RShift": lambda a, b: a >> (b if 0 <= b < 64 else 63),
    "Div": operator.truediv,
}


LEAST, MOST = -(2**63), 2**63 - 1


def wrapped(value: Any) -> Any:
    """A whole number as 64 bits hold it; anything else as it is."""
    if isinstance(value, bool) or not isinstance(value, int):
        return value
    return (value + 2**63) % 2**64 - 2**63


def operated(name: str, a: Any, b: Any) -> Any:
    """What an operator makes of two numbers."""
    if name in ("Div", "Mod", "FloorDiv") and b == 0:
        if isinstance(a, int) and isinstance(b, int) and name != "Div":
            return 0
        if name == "Mod" or a == 0 or math.isnan(a):
            return math.nan
        return math.copysign(math.inf, a) * math.copysign(1.0, b)
    if name == "Mod" and isinstance(a, float) and math.isinf(a):
        return math.nan
    return wrapped(_OPERATORS[name](a, b))


def whole(value: Any) -> int:
    """A number without its fraction, or the nearest that 64 bits hold."""
    if not isinstance(value, float):
        return int(value)
    if math.isnan(value):
        return 0
    if math.isinf(value):
        return MOST if value > 0 else LEAST
    return min(max(math.trunc(value), LEAST), MOST)


def rounded(function: Any) -> Any:
    """A function that makes a whole number of a float, if it is one that 64 bits hold."""
    return lambda x: (
        whole(float(function(x))) if isinstance(x, float) and math.isfinite(x) else whole(x)
    )


MATH = SimpleNamespace(
    **{
        n: getattr(math, n)
        for n in ("isnan", "isfinite", "copysign", "fabs", "frexp", "nan", "inf")
    },
    **{name: rounded(getattr(math, name)) for name in ("floor", "ceil")},
    sqrt=lambda x: math.nan if x < 0 else math.sqrt(x),
    sin=lambda x: math.sin(x) if math.isfinite(x) else math.nan,
)


def in_32_bits(x: float) -> float:
    """A float as 32 bits hold it."""
    with np.errstate(over="ignore"):
        return float(np.float32(x))


MEANT = {
    "np": SimpleNamespace(float32=in_32_bits),
    "int": whole,
    "round": rounded(round),
    "abs": lambda x: wrapped(abs(x)),
    "math": MATH,
    "operated": operated,
    "wrapped": wrapped,
}


class _Meant(ast.NodeTransformer):
    """Operators become calls of what they mean."""

    def visit_BinOp(self, node: ast.BinOp) -> ast.AST:
        self.generic_visit(node)
        name = ast.Constant(type(node.op).__name__)
        return ast.Call(ast.Name("operated", ast.Load()), [name, node.left, node.right], [])

    def visit_UnaryOp(self, node: ast.UnaryOp) -> ast.AST:
        self.generic_visit(node)
        return ast.Call(ast.Name("wrapped", ast.Load()), [node], [])

    def visit_AugAssign(self, node: ast.AugAssign) -> ast.AST:
        now = ast.parse(ast.unparse(node.target), mode="eval").body
        return self.visit(ast.Assign([node.target], ast.BinOp(now, node.op, node.value)))


def meant(source: str, name: str) -> Any:
    """A function of a module, with the meaning that it has as machine code."""
    tree = ast.fix_missing_locations(_Meant().visit(ast.parse(textwrap.dedent(source))))
    module = dict(MEANT)
    exec(compile(tree, "<meant>", "exec"), module)
    module |= MEANT
    return module[name]
