"""The only place that names numba: rules and parts of the loop become machine code.

numba does not notice that a called function has changed, so its cache lies in a folder whose
name holds a digest of all sources that the loop is made of, and of numba's version.
"""

import functools
import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
from numba.extending import register_jitable

from radiosim.engine.rules import antennas, drift, levels, reception, timing
from radiosim.marks import RULES
from radiosim.radio import bit_errors, propagation

F = TypeVar("F", bound=Callable[..., Any])

_ENGINE = Path(__file__).parents[1]
_PACKAGE = _ENGINE.parent
_SOURCES = (
    *sorted(_ENGINE.glob("fast/*.py")),
    *sorted(_ENGINE.glob("rules/*.py")),
    _ENGINE / "plan_rows.py",
    _ENGINE / "payload.py",
    _ENGINE / "timeline.py",
    _PACKAGE / "chance.py",
    _PACKAGE / "trace.py",
    _PACKAGE / "units.py",
    _PACKAGE / "layout" / "field.py",
    *sorted(_PACKAGE.glob("radio/*.py")),
    *sorted(_PACKAGE.glob("signals/*.py")),
    # Folds over rows are compiled too, from above this package.
    *sorted(_PACKAGE.glob("vehicle/fold/*.py")),
    _PACKAGE / "vehicle" / "timer_view.py",
    _PACKAGE / "measure" / "histogram.py",
    _PACKAGE / "measure" / "of_output.py",
    _PACKAGE / "measure" / "stream_rows.py",
)
RULE_MODULES = (drift, timing, reception, antennas, levels, bit_errors, propagation)
"""Imported so that their rules are marked before they are registered."""


@functools.cache
def cache_folder() -> Path:
    """Where compiled code is kept."""
    digest = hashlib.sha256(numba.__version__.encode())
    for source in _SOURCES:
        digest.update(source.read_bytes())
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(base) / "radiosim" / digest.hexdigest()[:20]


def is_compiled() -> bool:
    """Whether a run before this one has left compiled code."""
    return any(cache_folder().rglob("loop.advance*.nbi"))


# Compiled code makes no arrays and holds on to none, so it need not count who does: up to three
# times as fast where it is given several.
_OPTIONS: dict[str, Any] = {"error_model": "numpy", "_nrt": False}

_registered: set[Callable[..., Any]] = set()


def register_rules() -> None:
    """Make every function marked by now known to compiled code."""
    for function in RULES:
        if function not in _registered:
            register_jitable(error_model="numpy", forceinline=True)(function)
            _registered.add(function)


register_rules()


def compiled_loop(function: F) -> F:
    """A loop from elsewhere, made of marked functions."""
    register_rules()
    return loop(function)


def part(function: F) -> F:
    """A part of the loop."""
    return _compiled(function, forceinline=True)


def loop(function: F) -> F:
    """The loop itself; it lets other threads run."""
    return _compiled(function, nogil=True)


def _compiled(function: F, *, forceinline: bool = False, nogil: bool = False) -> F:
    """Machine code, made at the first call and kept in our own folder where that can be written.

    numba takes the folder from its settings as a function is decorated; other users of numba in
    this process keep theirs.
    """
    theirs = numba.config.CACHE_DIR  # type: ignore[attr-defined]  # set as numba loads
    numba.config.CACHE_DIR = str(cache_folder())  # type: ignore[attr-defined]
    made = numba.njit(forceinline=forceinline, nogil=nogil, **_OPTIONS)(function)
    try:
        made.enable_caching()
    except RuntimeError:
        # No folder to write to: it compiles anew each time, and works all the same.
        return cast(F, made)
    finally:
        numba.config.CACHE_DIR = theirs  # type: ignore[attr-defined]
    return cast(F, made)
