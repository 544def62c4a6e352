"""Machine code of plain Python functions: `compiled(function)`, called as the function is.

It loads LLVM, and is all that does. A function and all that it calls, a *root*, become one module
of LLVM's code at its first call with arguments of some kinds; the code is kept for later runs
(`kept.py`). The same functions still run as plain Python, and are read, debugged and tested so.

**What is taken.** Functions at the top of a module that call others of their kind, none itself:

- values: bool, int, float; tuples and NamedTuples of values; records (fields of int, float,
  records, and arrays of them) and arrays, which are handed in: those of numpy, int64 and float64,
  without gaps; globals that are numbers, tuples or one-dimensional arrays;
- slices of arrays, without a step: the same elements, where they lie;
- calls of other roots (`compiled`), whose code is made and kept apart, and which give back one
  number or nothing;
- `= += : int =` on names, fields, elements and tuples of them; if, elif, else; while; for over a
  range with a plain step, or over a tuple as it is written; break, continue; return;
- `+ - * / // % & | ^ ~ << >>`, comparisons in chains, `in` a tuple, and, or, not, `x if y else z`;
- `abs bool float int len max min round` of one number each (min and max: two or more),
  `math.acos asin atan ceil copysign cos exp expm1 fabs floor frexp isfinite isnan log log10 log1p
  sin sqrt tan`, `np.float32`; the C library computes them that Python itself calls.

All else is refused with `CompileError`: file, line, what stands there and what to write instead.

**What it means.** What Python means, to the last bit, as long as every int fits 64 bits, and but
for these, which Python refuses or would take further:

- ints wrap at 64 bits; a shift by 64 bits or more, or below 0, leaves nothing but the sign;
- `//` and `%` of ints by 0 give 0; of floats `/` by 0 gives infinity or NaN, `%` by 0 NaN;
  functions of math give NaN or infinity where Python raises;
- a float becomes an int by the nearest that 64 bits hold; NaN becomes 0;
- an int beside a float becomes a float first, also where they are compared, and in `/` both do:
  beyond 2⁵³ they are rounded;
- a name, a result and a field have one kind: a name that is an int here and a float there is a
  float all along, and so is an int in a field of floats; two tuples of other kinds are two kinds;
- a name that is not set yet is 0; indexes and bounds of slices are not checked, and those below 0
  do not count from the end; the sign of NaN is nobody's.

An argument of another kind (an int for a float) makes other code: hand in the same kinds each time.
"""

from radiosim.machine.kept import unkept
from radiosim.machine.kinds import CompileError
from radiosim.machine.root import Root, compiled

__all__ = ["CompileError", "Root", "compiled", "unkept"]
