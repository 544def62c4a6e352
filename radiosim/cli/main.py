"""The command `radiosim`."""

import gc
import mmap
import os
import sys

from radiosim.cli.console import (
    expect_ends,
    failed,
    let_signals_end_it,
    open_standard_streams,
    stopped,
)

_SELDOM = 100_000, 20, 20
"""New objects after which the interpreter looks for waste, and how often for old waste."""
_ROOM_BYTES = 128_000_000


def main() -> None:
    """Run the command that the arguments name; ends the program."""
    # No product of matrices here is worth threads, which take time to start and memory to keep.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # What is loaded stays: to look through it for waste over and over takes a tenth of a short run.
    gc.set_threshold(*_SELDOM)
    try:
        expect_ends()
        open_standard_streams()
        _check_room()
        # Loaded here, so that Ctrl-C while it loads ends in one line too.
        if sys.argv[1:2] == ["run"]:
            from radiosim.cli.run_alone import app
        else:
            from radiosim.cli.app import app
        from radiosim.cli.console import READER_GONE

        whole = sys.stdout
        try:
            app()
        except SystemExit:
            # The library under the commands wraps a stream whose reader is gone, and exits with 1.
            if sys.stdout is not whole:
                sys.exit(READER_GONE)
            raise
    except KeyboardInterrupt:
        sys.exit(stopped())
    except Exception as error:
        sys.exit(failed(error))
    finally:
        let_signals_end_it()
        # The process ends: what it holds need not be looked through for waste either.
        gc.freeze()


def _check_room() -> None:
    """MemoryError where numpy would not find room for its libraries: they end the program."""
    try:
        mmap.mmap(-1, _ROOM_BYTES).close()
    except OSError:
        raise MemoryError from None
