"""What machine code is not made of is refused: where it stands, and what to write instead."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.machine.modules import loaded

machine = pytest.importorskip("radiosim.machine")

HEAD = """import math
import numpy as np
from radiosim.machine import compiled

NAMES = ('a', 'b')
TABLE = np.zeros(3)


@compiled
def pair(n):
    return n, n


"""
NEWLINE = "\n"
RECORD = np.dtype([("n", "i8"), ("x", "f8"), ("inner", [("m", "i8")]), ("many", "i8", 3)])

REFUSED = {
    "return [n for i in range(3)]": "ListComp is not taken; write a loop",
    "return {}": "Dict is not taken; keep numbers in a record",
    "return f'{n}'": "JoinedStr is not taken; work with numbers alone",
    "return (m := n)": "NamedExpr is not taken; assign in a line of its own",
    "return 'text'": "'text' is no number; use ints, floats, tuples or arrays of them",
    "return NAMES[0] == n": "'a' is no number",
    "return n ** 2": "Pow of ints is not taken; multiply, or shift by bits",
    "return x // 2.0": "FloorDiv of floats is not taken; use math.floor(a / b), a * a",
    "return missing + 1": "missing has no value here; assign it in a line above",
    "n += later\n    later = 1\n    return n": "later has no value here",
    "late += 1\n    return n": "late has no value yet; assign it in a line above",
    "assert n > 0\n    return n": "Assert is not taken; leave checks to what calls it",
    "raise ValueError": "Raise is not taken; return a number that says so",
    "try:\n        n += 1\n    finally:\n        pass": "Try is not taken; return a number",
    "for k in TABLE:\n        n += 1": "a loop over what is no range; write for i in range(len(x))",
    "for k in range(0, 9, n):\n        n += 1": "the step of a range is no plain number",
    "while n > 0:\n        n -= 1\n    else:\n        n = 5": "a loop has an else; set a bool",
    "return tried(n - 1, x, r)": "tried calls itself; write a loop",
    "return max(n)": "max() of 1 arguments; give it 2",
    "return math.gcd(n, 2)": "math.gcd has no machine code; use functions in plain",
    "return abs(x=n)": "arguments are given by name; give them in their order",
    "return r.what": "has no field what; name one that its class has",
    "r.n = 1.5": "a float stands where an int is kept; convert it with int(), float() or != 0",
    "r.inner = r.inner": "a record of m, … is assigned as a whole; assign each number of it",
    "return r.many[-1]": "an index is below 0; count from the length: x[len(x) - 1]",
    "return len(r.many[::2])": "a slice of what is no array, or with a step; write a loop",
    "return (n, n)[:1][0]": "a slice of what is no array, or with a step; write a loop",
    "return len(r.many[-2:])": "a slice begins or ends below 0; count from the length",
    "return pair(n)[0]": "pair gives back a tuple; write it in a record",
    "return (n, n)[n]": "a place in a tuple is not a plain number that it has; use an array",
    "y = n\n    y = r\n    return n": "one name or result is a record of n, x, inner, …",
    "return n or x": "`and`, `or` of what is no bool; compare it: x != 0",
    "return n is x": "Is is not taken; compare numbers",
    "return r + 1": "a record of n, x, inner, … is no number; name the number in it",
    "return x << 1": "LShift of floats is not taken",
    "a, b = n, n, n": "so many names are not given; name each part of a tuple",
    "if n > 0:\n        return n": "it ends without a result; return one here",
    "if n > 0:\n        return n\n    return": "it returns nothing here and a value there",
    "return 1 in TABLE": "`in` of what is no tuple; write a loop",
    "return r.inner": "gives back more than numbers",
    "return lambda: n": "Lambda is not taken; write a function of the module",
}


@pytest.mark.parametrize("body", REFUSED)
def test_what_is_not_taken_is_refused(body: str, tmp_path: Path) -> None:
    path = tmp_path / "refused_here.py"
    module = loaded(f"{HEAD}def tried(n, x, r):\n    {body}\n", path)

    with pytest.raises(machine.CompileError) as refused:
        machine.compiled(module.tried)(1, 2.0, np.zeros(1, RECORD)[0])

    said = str(refused.value)
    assert REFUSED[body] in said
    if "more than numbers" not in said:
        lines = body.count("\n") + 1
        assert said.startswith(
            tuple(f"{path}:{HEAD.count(NEWLINE) + 2 + k}: " for k in range(lines))
        )


GIVEN: dict[str, Any] = {
    "array with gaps": np.zeros((4, 2))[:, 0],
    "no machine code": "text",
    "not all of its array": np.zeros(2, RECORD)[1],
    "int32": np.zeros(3, np.int32),
}


@pytest.mark.parametrize("why", GIVEN)
def test_arguments_without_machine_code_are_refused(why: str, tmp_path: Path) -> None:
    module = loaded("def tried(x):\n    return 1\n", tmp_path / "given_here.py")

    with pytest.raises(machine.CompileError, match=why):
        machine.compiled(module.tried)(GIVEN[why])


def test_a_function_that_is_no_longer_as_it_stands_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "moved_here.py"
    module = loaded("def tried(n):\n    return n\n", path)
    path.write_text("\n\n\ndef tried(n):\n    return n + 1\n", encoding="utf-8")

    with pytest.raises(machine.CompileError, match="start anew if the file has changed"):
        machine.compiled(module.tried)(1)


def test_numbers_of_numpy_and_of_python_make_one_kind_of_code(tmp_path: Path) -> None:
    module = loaded("def tried(n, x, b):\n    return n + x, b\n", tmp_path / "kinds_here.py")
    root = machine.compiled(module.tried)

    assert root(2, 0.5, True) == root(np.int64(2), np.float64(0.5), np.bool_(True)) == (2.5, True)


def test_a_name_that_becomes_a_float_is_one_all_along(tmp_path: Path) -> None:
    lines = ("total = 0", "for i in range(n):", "    total += i / 2", "return total")
    source = "\n    ".join(("def tried(n):", *lines))
    module = loaded(source, tmp_path / "widened_here.py")

    assert machine.compiled(module.tried)(4) == 3.0
    assert isinstance(machine.compiled(module.tried)(0), float)
