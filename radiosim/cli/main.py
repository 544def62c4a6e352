"""The command `radiosim`."""

import sys

from radiosim.cli.console import (
    expect_ends,
    let_signals_end_it,
    open_standard_streams,
    stopped,
    unforeseen,
)


def main() -> None:
    """Run the command that the arguments name; ends the program."""
    try:
        expect_ends()
        open_standard_streams()
        # Loaded here, so that Ctrl-C while it loads ends in one line too.
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
        sys.exit(unforeseen(error))
    finally:
        let_signals_end_it()
