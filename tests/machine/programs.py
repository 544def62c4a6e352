"""Random functions within what machine code is made of, and numbers to call them with."""

import random
from typing import NamedTuple

from hypothesis import strategies as st

INTS, FLOATS, BOOLS = ("i0", "i1", "i2"), ("f0", "f1", "f2"), ("b0", "b1")
EDGES = (0, 1, -1, 2, -2, 3, 7, 63, 64, 255, 2**31, -(2**31), 2**53 + 1, 2**62, 2**63 - 1, -(2**63))
REALS = (0.0, -0.0, 1.0, -1.0, 0.5, 2.5, -3.5, 1e-310, 1e18, -1e19, 1e300, 0.1)
WORDS = ("math.nan", "math.inf", "-math.inf")

HEAD = '''
import math
import numpy as np
from typing import NamedTuple


class Pair(NamedTuple):
    n: int
    x: float


LIMITS = (3, -4, 5)
TABLE = np.array([7, -7, 0, 1 << 62])
CURVE = np.array([0.5, -0.0, 1e9, 3.25])


def helper(r, part, n, x):
    """Changes records, and gives back several numbers."""
    part.n += n
    part.x = x
    if n & 1:
        return Pair(part.n, -x)
    r.a ^= n
    return Pair(n, part.x)


def ends(some):
    """Of the first and the last of some numbers, if there are any."""
    if len(some) == 0:
        return 0
    return (some[0] - some[len(some) - 1]) ^ len(some)


def nothing(r, n):
    """Gives nothing back."""
    if n < 0:
        return
    r.b = n
'''


class Draft:
    """A function on its way."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.loops = 0
        self.counters = 0

    def pick(self, *those: str) -> str:
        return self.random.choice(those)

    def whole(self, depth: int) -> str:
        """An expression that is a whole number."""
        if depth == 0:
            edge = self.random.choice(EDGES)
            small = self.random.randint(-9, 9)
            return self.pick(*INTS, "r.a", "r.b", "r.part[1].n", f"({edge})", f"({small})")
        a, b, x, c = (
            self.whole(depth - 1),
            self.whole(depth - 1),
            self.real(depth - 1),
            self.truth(depth - 1),
        )
        return self.pick(
            *(f"({a} {op} {b})" for op in ("+", "-", "*", "//", "%", "&", "|", "^")),
            *(f"({a} {op} ({b} & 127))" for op in ("<<", ">>")),
            f"({a} >> {self.random.randint(0, 63)})",
            f"({a} // {self.pick('3', '-7', '-1', '1000')})",
            f"({a} % {self.pick('3', '-7', '-1', '1000')})",
            f"(-{a})",
            f"(~{a})",
            f"abs({a})",
            f"min({a}, {b})",
            f"max({a}, {b}, {self.pick(*INTS)})",
            f"({a} if {c} else {b})",
            f"int({x})",
            f"int({c})",
            f"round({x})",
            f"math.floor({x})",
            f"math.ceil({x})",
            f"math.frexp({x})[1]",
            f"r.ints[{a} & 3]",
            f"r.part[{a} & 1].n",
            f"int(TABLE[{a} & 3])",
            f"len(r.ints) * {a}",
            f"LIMITS[{self.random.randint(0, 2)}] + {a}",
            f"({c} + {a})",
            f"helper(r, r.part[{a} & 1], {b}, {x}).n",
            f"ends(r.ints[{self.pick(f'{a} & 3', '', '1')} : {self.pick(f'{b} & 3', '', '3')}])",
            f"ends(r.ints[{a} & 3 :][: {b} & 1])",
        )

    def real(self, depth: int) -> str:
        """An expression that is a float."""
        if depth == 0:
            real = self.random.choice(REALS)
            return self.pick(*FLOATS, "r.x", "r.part[0].x", f"({real})", *WORDS)
        a, b, n, c = (
            self.real(depth - 1),
            self.real(depth - 1),
            self.whole(depth - 1),
            self.truth(depth - 1),
        )
        return self.pick(
            *(f"({a} {op} {b})" for op in ("+", "-", "*", "/", "%")),
            f"({a} * {n})",
            f"({n} - {a})",
            f"(({n} & 4095) / ({n} & 63))",
            f"(-{a})",
            f"abs({a})",
            f"math.fabs({a})",
            f"min({a}, {b})",
            f"max({a}, {b})",
            f"float({n})",
            f"math.sqrt({a})",
            f"math.sin({a})",
            # The sign of what is no number is nobody's.
            f"(math.copysign({a}, {b}) if not math.isnan({b}) else {a})",
            f"({a} if {c} else {b})",
            f"math.frexp({a})[0]",
            f"float(np.float32({self.pick(*FLOATS, '0.1')}))",
            f"r.floats[{n} & 3]",
            f"float(CURVE[{n} & 3])",
            f"helper(r, r.part[{n} & 1], {n}, {a})[1]",
        )

    def truth(self, depth: int) -> str:
        """An expression that is true or false."""
        if depth == 0:
            return self.pick(*BOOLS, "True", "False", "(i0 > 0)", "(f0 < f1)")
        a, b, c = self.whole(depth - 1), self.whole(depth - 1), self.whole(0)
        x, y, p, q = (
            self.real(depth - 1),
            self.real(depth - 1),
            self.truth(depth - 1),
            self.truth(depth - 1),
        )
        op, other = self.pick("<", "<=", ">", ">=", "==", "!="), self.pick("<", ">=", "==")
        return self.pick(
            f"({a} {op} {b})",
            f"({x} {op} {y})",
            f"({a} {op} {c} {other} {b})",
            f"({x} {op} {y} {other} {x})",
            f"({p} and {q})",
            f"({p} or {q} or {self.pick(*BOOLS)})",
            f"(not {p})",
            f"({p} & {q})",
            f"({p} ^ {q})",
            f"({p} == {q})",
            f"({a} in ({b}, {c}, 3))",
            f"({a} not in LIMITS)",
            f"math.isnan({x})",
            f"math.isfinite({x})",
            f"bool({a})",
        )

    def block(self, depth: int, indent: str) -> list[str]:
        """Some statements."""
        lines: list[str] = []
        for _ in range(self.random.randint(1, 3)):
            lines += [indent + line for line in self.statement(depth)]
        return lines

    def statement(self, depth: int) -> list[str]:
        """One statement, as lines."""
        n, x, c = self.whole(2), self.real(2), self.truth(2)
        i, f, b = self.pick(*INTS), self.pick(*FLOATS), self.pick(*BOOLS)
        simple = [
            [f"{i} = {n}"],
            [f"{f} = {x}"],
            [f"{b} = {c}"],
            [f"{i} {self.pick('+', '-', '*', '//', '%', '&', '|', '^')}= {n}"],
            [f"{f} {self.pick('+', '-', '*', '/')}= {x}"],
            [f"r.a, {f} = {n}, {x}"],
            ["i0, i1 = i1, i0"],
            [f"r.b = i2 = {n}"],
            [f"r.x = {x}"],
            [f"r.ints[{self.whole(1)} & 3] = {self.pick(n, c)}"],
            [f"r.floats[{self.whole(1)} & 3] = {x}"],
            [f"r.floats[{i} & 3] {self.pick('+', '-', '*')}= {x}"],
            [f"part = r.part[{self.whole(1)} & 1]", f"part.n -= {n}"],
            [f"part = r.part[{self.whole(1)} & 1 :][0]", f"part.n ^= {n}"],
            [f"nothing(r, {n})"],
            [f"pair = helper(r, r.part[1], {n}, {x})", f"{i}, {f} = pair", "i2 += pair.n"],
            [f"_, {f} = helper(r, r.part[0], {i}, {x})"],
            [f"{i}: int = {n}"],
            [f"if {c}:", f"    return {i}, {x}, {b}, {self.whole(1)}"],
        ]
        if self.loops:
            simple += [[f"if {c}:", f"    {self.pick('break', 'continue')}"]]
        if depth == 0 or self.random.random() < 0.5:
            return self.random.choice(simple)
        return self.compound(depth)

    def compound(self, depth: int) -> list[str]:
        """A branch or a loop, as lines."""
        inner = "    "
        c = self.truth(2)
        kind = self.random.randint(0, 4)
        if kind <= 1:
            lines = [f"if {c}:", *self.block(depth - 1, inner)]
            if self.random.random() < 0.5:
                lines += [f"elif {self.truth(1)}:", *self.block(depth - 1, inner)]
            if self.random.random() < 0.7:
                lines += ["else:", *self.block(depth - 1, inner)]
            return lines
        self.loops += 1
        if kind == 2:
            bounds = self.pick("4", "i0 & 3", "1, 4", "6, i1 & 3, -2", "-3, 4, 3")
            lines = [f"for j in range({bounds}):", f"{inner}i1 ^= j", *self.block(depth - 1, inner)]
        elif kind == 3:
            lines = [
                f"for j in ({self.whole(1)}, 2, i0):",
                *self.block(depth - 1, inner),
                f"{inner}i2 += j",
            ]
        else:
            self.counters += 1
            k, test = f"k{self.counters}", self.pick(c, "True")
            lines = [
                f"{k} = 0",
                f"while {test}:",
                f"{inner}{k} += 1",
                f"{inner}if {k} > 3:",
                f"{inner}    break",
                *self.block(depth - 1, inner),
            ]
        self.loops -= 1
        return lines

    def source(self) -> str:
        """A module with a function `tried`."""
        lines = self.block(3, "    ") + self.block(3, "    ") + self.block(2, "    ")
        body = "\n".join(lines)
        given = ", ".join((*INTS[:2], *FLOATS[:2], BOOLS[0]))
        first = "    i2, f2, b1 = 5, 0.25, False\n"
        last = "    return i0 ^ i1, f0, b1, i2"
        return f"{HEAD}\n\ndef tried(r, {given}):\n{first}{body}\n{last}\n"


programs = st.integers(0, 2**64).map(lambda seed: Draft(seed).source())

ints = st.sampled_from(EDGES) | st.integers(-(2**63), 2**63 - 1) | st.integers(-100, 100)
floats = st.floats() | st.sampled_from(REALS) | st.floats(-1e3, 1e3)


class Part:
    n: int
    x: float


class Given(NamedTuple):
    """What a function is called with, record included."""

    a: int
    b: int
    x: float
    ints: tuple[int, ...]
    floats: tuple[float, ...]
    numbers: tuple[int, int, float, float, bool]


given = st.builds(
    Given,
    ints,
    ints,
    floats,
    st.tuples(ints, ints, ints, ints),
    st.tuples(floats, floats, floats, floats),
    st.tuples(ints, ints, floats, floats, st.booleans()),
)
