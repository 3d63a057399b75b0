"""The life of a job row: claimed under a lease, finished once, cancelled, or given up.

A worker may die at any moment and a bell may ring twice, so every change of state is one conditional UPDATE:
whoever changes the row has the job. A body may therefore run more than once, but only one run is recorded.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db import OperationalError, connection, transaction
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils import timezone

from production.domain.errors import PotwrightError
from production.models import Job
from production.queue import ring_again

LEASE = timedelta(seconds=60)
RING_AGAIN_AFTER = timedelta(seconds=10)
MAX_ATTEMPTS = 3
LOOK_EVERY_S = 0.5
SHOW_EVERY_S = 1.0

Result = dict[str, Any]
logger = logging.getLogger(__name__)


class JobStopped(Exception):
    """The job was cancelled, or another worker has taken it over; this run's work does not count."""


@dataclass(slots=True)
class JobContext:
    """What a handler is given: the request, and ways to tell how far it is."""

    job_id: int
    attempt: int
    kitchen_id: int
    payload: dict[str, Any]
    requested_by: int | None
    finished: bool = field(default=False, init=False)
    _looked_at: float = field(default=float("-inf"), init=False)
    _stopped: bool = field(default=False, init=False)
    _shown_at: float = field(default=float("-inf"), init=False)
    _to_show: dict[str, Any] | None = field(default=None, init=False)
    _own_thread: int = field(default_factory=threading.get_ident, init=False)
    _one_at_a_time: threading.RLock = field(default_factory=threading.RLock, init=False)

    def progress(self, done: int, total: int, note: str = "") -> None:
        """Show how far the work is, and stop here if it was cancelled or taken over."""
        with self._at_the_row():
            changed = self._mine().update(
                progress_done=done, progress_total=total, progress_note=note[:200], lease_until=timezone.now() + LEASE
            )
        if not changed:
            raise JobStopped

    def cancelled(self) -> bool:
        """Was the job cancelled or taken over, or is what it has shown enough? May be asked often and from any thread:
        the row is looked at twice a second at most.
        """
        with self._at_the_row():
            now = time.monotonic()
            if now - self._looked_at >= LOOK_EVERY_S:
                self._looked_at = now
                self._stopped = self._stopped or not self._mine().filter(enough=False).exists()
                self._show_what_waits(now)
            return self._stopped

    def better(self, preview: dict[str, Any]) -> None:
        """Show the best so far, once a second at most: of several within a second the last is shown."""
        with self._at_the_row():
            self._to_show = preview
            self._show_what_waits(time.monotonic())

    def _show_what_waits(self, now: float) -> None:
        if self._to_show is not None and now - self._shown_at >= SHOW_EVERY_S:
            self._mine().update(preview=self._to_show, lease_until=timezone.now() + LEASE)
            self._shown_at, self._to_show = now, None

    @contextmanager
    def _at_the_row(self) -> Iterator[None]:
        """Solvers call from threads of their own; those leave no connection behind."""
        with self._one_at_a_time:
            try:
                yield
            finally:
                if threading.get_ident() != self._own_thread:
                    connection.close()

    def finish(self, write: Callable[[], Result]) -> Result:
        """Write rows and mark the job done in one transaction, only while the job is still this run's own."""
        with transaction.atomic():
            if not self._mine().update(lease_until=timezone.now() + LEASE):
                raise JobStopped
            result = write()
            self._mine().update(
                state=Job.State.DONE, result=result, preview=None, lease_until=None, finished_at=timezone.now()
            )
        self.finished = True
        return result

    def renew_lease(self) -> bool:
        return bool(self._mine().update(lease_until=timezone.now() + LEASE))

    def _mine(self) -> Any:
        return Job.objects.filter(
            pk=self.job_id, attempts=self.attempt, state=Job.State.RUNNING, cancel_requested=False
        )


Handler = Callable[[JobContext], Result]


def job_claim(*, job_id: int, now: datetime) -> JobContext | None:
    """Take a waiting job, or one whose worker has let its lease lapse. None: it is somebody else's or over."""
    with transaction.atomic():
        claimed = Job.objects.filter(
            Q(state=Job.State.QUEUED) | Q(state=Job.State.RUNNING, lease_until__lt=now),
            pk=job_id,
            attempts__lt=MAX_ATTEMPTS,
            cancel_requested=False,
        ).update(
            state=Job.State.RUNNING,
            attempts=F("attempts") + 1,
            enough=False,
            preview=None,
            lease_until=now + LEASE,
            started_at=Coalesce(F("started_at"), now),
        )
        if not claimed:
            return None
        row = Job.objects.get(pk=job_id)
    return JobContext(
        job_id=row.pk,
        attempt=row.attempts,
        kitchen_id=row.kitchen_id,
        payload=row.payload,
        requested_by=row.requested_by_id,
    )


def job_run(*, job_id: int, handlers: dict[str, Handler]) -> None:
    """Claim the job and do it; how it ended is written into the row."""
    context = job_claim(job_id=job_id, now=timezone.now())
    if context is None:
        return
    kind = Job.objects.values_list("kind", flat=True).get(pk=job_id)
    try:
        with _lease_kept(context):
            handler = handlers.get(kind)
            if handler is None:
                raise PotwrightError(f"There is no work called {kind!r}.", code="unknown-job-kind")
            result = handler(context)
            if not context.finished:
                context.finish(lambda: result)
    except JobStopped:
        _settle_cancelled(context)
    except PotwrightError as error:
        _fail(context, code=error.code, sentence=f"{error.sentence} {error.remedy}".strip())
    except OperationalError:
        # The database was away or busy: the lease lapses and the job is tried again.
        logger.exception("Job %s met a database fault in attempt %s.", job_id, context.attempt)
    except Exception:
        logger.exception("Job %s stopped in attempt %s.", job_id, context.attempt)
        _fail(
            context,
            code="job-fault",
            sentence="The work stopped because of a fault in the program. Tell the administrator; the log has details.",
        )


def job_cancel(*, job_id: int, kitchen_id: int, now: datetime) -> bool:
    """Cancel: at once when waiting, at the next step when running. False: it was already over."""
    rows = Job.objects.filter(pk=job_id, kitchen_id=kitchen_id)
    if rows.filter(state=Job.State.QUEUED).update(state=Job.State.CANCELLED, cancel_requested=True, finished_at=now):
        return True
    return bool(rows.filter(state=Job.State.RUNNING).update(cancel_requested=True))


def job_enough(*, job_id: int, kitchen_id: int, now: datetime) -> bool:
    """Let a search stop and keep the best it has shown. False: it has shown nothing yet, or is over.

    A search whose worker has died has nothing to keep any more; it is done again in full.
    """
    showing = Job.objects.filter(pk=job_id, kitchen_id=kitchen_id, state=Job.State.RUNNING, preview__isnull=False)
    return bool(showing.filter(lease_until__gte=now).update(enough=True))


def jobs_sweep(*, now: datetime) -> int:
    """Ring again for lost jobs, give up those that failed too often; returns how many were rung for."""
    lapsed = Job.objects.filter(state=Job.State.RUNNING, lease_until__lt=now)
    lapsed.filter(cancel_requested=True).update(state=Job.State.CANCELLED, lease_until=None, finished_at=now)
    lapsed.filter(attempts__gte=MAX_ATTEMPTS).update(
        state=Job.State.FAILED,
        lease_until=None,
        finished_at=now,
        error_code="job-given-up",
        error_sentence=f"The work was started {MAX_ATTEMPTS} times and never finished. "
        "Try it again, or tell the administrator.",
    )
    lost = Job.objects.filter(
        Q(state=Job.State.QUEUED) | Q(state=Job.State.RUNNING, lease_until__lt=now),
        Q(rung_at__isnull=True) | Q(rung_at__lt=now - RING_AGAIN_AFTER),
    ).order_by("pk")
    job_ids = list(lost.values_list("pk", flat=True)[:200])
    ring_again(job_ids, now=now)
    return len(job_ids)


def _fail(context: JobContext, *, code: str, sentence: str) -> None:
    Job.objects.filter(pk=context.job_id, attempts=context.attempt, state=Job.State.RUNNING).update(
        state=Job.State.FAILED,
        error_code=code,
        error_sentence=sentence,
        lease_until=None,
        finished_at=timezone.now(),
    )


def _settle_cancelled(context: JobContext) -> None:
    Job.objects.filter(
        pk=context.job_id, attempts=context.attempt, state=Job.State.RUNNING, cancel_requested=True
    ).update(state=Job.State.CANCELLED, lease_until=None, finished_at=timezone.now())


@contextmanager
def _lease_kept(context: JobContext) -> Iterator[None]:
    """Renew the lease while the body runs, however long a solver or a renderer takes."""
    done = threading.Event()

    def keep() -> None:
        try:
            while not done.wait(LEASE.total_seconds() / 3):
                try:
                    if not context.renew_lease():
                        return
                except OperationalError:
                    logger.warning("The lease of job %s could not be renewed; trying again.", context.job_id)
        finally:
            connection.close()

    keeper = threading.Thread(target=keep, name=f"lease-of-job-{context.job_id}", daemon=True)
    keeper.start()
    try:
        yield
    finally:
        done.set()
        keeper.join()
