"""A folder for a while, that no end of the program leaves behind."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from radiosim.endings import before_any_end, taken_away_at_an_end


@contextmanager
def passing_folder(prefix: str, within: Path | None = None) -> Iterator[Path]:
    """A new folder that is gone afterwards, whenever the program ends. OSError if none can be."""
    with ExitStack() as stack:
        with before_any_end():
            folder = Path(tempfile.mkdtemp(prefix=prefix, dir=within))

            def take_away() -> None:
                shutil.rmtree(folder, ignore_errors=True)

            stack.callback(take_away)
            stack.enter_context(taken_away_at_an_end(take_away))
        yield folder
