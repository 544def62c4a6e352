"""The workers of a dask.distributed cluster, as an executor that says when they are gone."""

import logging
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Executor
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Event, Thread
from typing import Any

from radiosim.errors import RadiosimError, one_line
from radiosim.study.scheduler_check import why_no_address, why_no_scheduler
from radiosim.study.worker_pool import WorkersError

LONGEST_CHECK_S = 5.0
"""For what is at an address to say that it is a scheduler."""
LONGEST_WAIT_S = 10.0
"""For the first of its workers."""


class ClusterError(RadiosimError):
    """A cluster that cannot be used, or not any longer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """How long a cluster may be without a worker under way, in seconds."""

    tell_s: float = 10.0
    """Until that is reported."""
    end_s: float = 600.0
    """Until the study ends: nobody may be there to be told."""
    look_s: float = 1.0
    """From one look to the next."""


@contextmanager
def cluster_executor(
    address: str,
    within_s: float = LONGEST_WAIT_S,
    tell: Callable[[str], None] | None = None,
    patience: Patience = Patience(),
) -> Iterator[Executor]:
    """The workers of a dask.distributed cluster; ClusterError if there are none in that time.

    A worker that is lost loses its points to the others: they are worked out again. If all are
    lost, that is reported, and points wait for new ones; ClusterError if none comes, or if the
    scheduler is lost. WorkersError for a point that takes one worker after another down with it.
    """
    try:
        from distributed import Client, KilledWorker  # noqa: PLC0415 - an extra, and loads slowly
    except ImportError:
        raise ClusterError(
            "--cluster: needs dask.distributed: python -m pip install -e '.[cluster]'"
        ) from None
    for name in ("distributed", "distributed.client", "distributed.comm"):
        # What it would tell in many lines, with tracebacks, is reported in one here.
        logging.getLogger(name).setLevel(logging.CRITICAL)
    if wrong := why_no_address(address) or why_no_scheduler(address, LONGEST_CHECK_S):
        raise ClusterError(f"--cluster: {one_line(wrong)}")
    try:
        client: Any = Client(address, timeout=within_s)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TimeoutError) as error:
        raise ClusterError(f"--cluster: must be the address of a scheduler: {error}") from None
    watch = _Watch(client=client, address=address, tell=tell, patience=patience)
    try:
        _wait_for_one(client, address, within_s)
        with watch.over(client.get_executor(pure=False)) as executor:
            yield executor
    except KilledWorker:
        raise WorkersError(
            f"--cluster: workers of {address} end before a point is done, perhaps for want of "
            "memory; see what they say, or give them more"
        ) from None
    except CancelledError:
        why = watch.why_ended or f"must keep its scheduler: {address} is gone; start it again"
        raise ClusterError(f"--cluster: {why} (what --resume keeps stays)") from None
    finally:
        client.close()


def _wait_for_one(client: Any, address: str, within_s: float) -> None:
    """ClusterError if no worker comes: points would wait for ever."""
    try:
        client.wait_for_workers(1, timeout=within_s)
    except TimeoutError:
        raise ClusterError(
            f"--cluster: must have workers: the scheduler at {address} has none after "
            f"{within_s:g} s; start some there"
        ) from None


@dataclass(slots=True, kw_only=True)
class _Watch:
    """Looks whether a worker is left, beside the study."""

    client: Any
    address: str
    tell: Callable[[str], None] | None
    patience: Patience
    why_ended: str = ""
    """What ended the study; empty while nothing has."""
    _is_over: Event = field(default_factory=Event)

    @contextmanager
    def over(self, executor: Executor) -> Iterator[Executor]:
        """The executor while it is looked after: all that waits for it is cancelled at the end."""
        thread = Thread(target=self._look, args=(executor,), daemon=True)
        thread.start()
        try:
            yield executor
        finally:
            self._is_over.set()
            # Bounded: who asks a scheduler that hangs waits for its acknowledgement.
            thread.join(self.patience.look_s)

    def _look(self, executor: Executor) -> None:
        without_s, is_told = 0.0, False
        while not self._is_over.wait(self.patience.look_s):
            if self._has_workers():
                without_s, is_told = 0.0, False
                continue
            without_s += self.patience.look_s
            if without_s >= self.patience.end_s:
                self.why_ended = (
                    f"must keep workers: {self.address} has had none for "
                    f"{self.patience.end_s:g} s; start some there"
                )
                executor.shutdown(wait=False)
                return
            if without_s >= self.patience.tell_s and not is_told:
                is_told = True
                self._tell()

    def _has_workers(self) -> bool:
        try:
            return bool(self.client.nthreads())
        except Exception:
            return True

    def _tell(self) -> None:
        if self.tell is not None:
            left_s = self.patience.end_s - self.patience.tell_s
            self.tell(
                f"--cluster: no worker is left at {self.address}: waiting {left_s:g} s for one; "
                "Ctrl-C stops, and what --resume keeps stays"
            )
