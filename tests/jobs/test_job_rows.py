"""What happens to a job row; here jobs run in place."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine
from django.db import IntegrityError, OperationalError, connection, transaction
from django.utils import timezone

from production import queue
from production.domain.errors import Conflict, DoesNotFit
from production.jobs.tasks import run_job
from production.models import Job, Kitchen
from production.services import job_handlers, jobs
from production.services.jobs import JobContext, Result, job_cancel, job_claim, job_run, jobs_sweep
from tests.conftest import kitchen_row

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def handler(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[JobContext], Result]], None]:
    """Say what the work called `cook` does."""

    def say(work: Callable[[JobContext], Result]) -> None:
        monkeypatch.setitem(job_handlers.HANDLERS, "cook", work)

    return say


@pytest.fixture
def no_bell(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(queue, "ring", lambda _job_id: None)


def enqueue(kitchen: Kitchen, idempotency_key: str = "") -> Job:
    job_id = queue.enqueue(kind="cook", kitchen_id=kitchen.pk, payload={"pot": 3}, idempotency_key=idempotency_key)
    return Job.objects.get(pk=job_id)


def running(kitchen: Kitchen, *, attempts: int = 1, lease_s: float = 60) -> Job:
    now = timezone.now()
    return Job.objects.create(
        kitchen=kitchen,
        kind="cook",
        state=Job.State.RUNNING,
        attempts=attempts,
        created_at=now,
        started_at=now,
        rung_at=now,
        lease_until=now + timedelta(seconds=lease_s),
    )


def test_a_job_is_done_after_the_commit_and_keeps_its_result(kitchen: Kitchen, handler: Callable[..., None]) -> None:
    handler(lambda context: {"pot": context.payload["pot"], "attempt": context.attempt})
    with transaction.atomic():
        job = enqueue(kitchen)
        assert job.state == Job.State.QUEUED
    job.refresh_from_db()
    assert (job.state, job.result) == (Job.State.DONE, {"pot": 3, "attempt": 1})
    assert job.finished_at is not None
    assert job.lease_until is None


def test_a_job_of_a_rolled_back_request_leaves_nothing(kitchen: Kitchen, handler: Callable[..., None]) -> None:
    ran: list[int] = []

    def work(context: JobContext) -> Result:
        ran.append(context.job_id)
        return {}

    @transaction.atomic
    def refused_request() -> None:
        enqueue(kitchen)
        raise DoesNotFit("The pot is too small.")

    handler(work)
    with pytest.raises(DoesNotFit):
        refused_request()
    assert not Job.objects.exists()
    assert ran == []


def test_the_same_key_in_the_same_kitchen_is_one_job(kitchen: Kitchen, other_kitchen: Kitchen, no_bell: None) -> None:
    first = enqueue(kitchen, idempotency_key="week-12")
    assert enqueue(kitchen, idempotency_key="week-12").pk == first.pk
    assert enqueue(other_kitchen, idempotency_key="week-12").pk != first.pk


def test_jobs_without_a_key_are_separate(kitchen: Kitchen, no_bell: None) -> None:
    assert enqueue(kitchen).pk != enqueue(kitchen).pk


def test_a_key_used_for_another_request_is_a_conflict(kitchen: Kitchen, no_bell: None) -> None:
    enqueue(kitchen, idempotency_key="week-12")
    with pytest.raises(Conflict, match="already used"):
        queue.enqueue(kind="cook", kitchen_id=kitchen.pk, payload={"pot": 4}, idempotency_key="week-12")


def test_a_broker_that_is_away_does_not_fail_the_request_and_the_sweeper_rings_again(
    kitchen: Kitchen, handler: Callable[..., None], monkeypatch: pytest.MonkeyPatch, clock: time_machine.Traveller
) -> None:
    handler(lambda _context: {"served": True})

    def away(*_args: object, **_options: object) -> None:
        raise OSError("no broker")

    with monkeypatch.context() as broken:
        broken.setattr(run_job, "apply_async", away)
        job = enqueue(kitchen)
    assert job.state == Job.State.QUEUED

    assert jobs_sweep(now=timezone.now()) == 0, "too early: the bell may still be on its way"
    clock.shift(jobs.RING_AGAIN_AFTER + timedelta(seconds=1))
    assert jobs_sweep(now=timezone.now()) == 1
    job.refresh_from_db()
    assert job.state == Job.State.DONE


def test_a_bell_for_a_job_that_is_over_does_nothing(kitchen: Kitchen, handler: Callable[..., None]) -> None:
    handler(lambda context: {"attempt": context.attempt})
    job = enqueue(kitchen)
    run_job(job.pk)
    run_job(job.pk + 1000)
    job.refresh_from_db()
    assert job.attempts == 1


@pytest.mark.postgres
def test_two_workers_at_the_same_bell_do_not_both_get_the_job(kitchen: Kitchen, no_bell: None) -> None:
    job = enqueue(kitchen)
    together = threading.Barrier(4)
    claims: list[JobContext | None] = []

    def claim() -> None:
        together.wait()
        claims.append(job_claim(job_id=job.pk, now=timezone.now()))
        connection.close()

    workers = [threading.Thread(target=claim) for _ in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert len(claims) == 4
    assert len([context for context in claims if context is not None]) == 1


@pytest.mark.postgres
def test_a_run_that_was_taken_over_cannot_record_its_work(kitchen: Kitchen, no_bell: None) -> None:
    job = enqueue(kitchen)
    slow = job_claim(job_id=job.pk, now=timezone.now())
    assert slow is not None
    later = timezone.now() + jobs.LEASE + timedelta(seconds=1)
    quick = job_claim(job_id=job.pk, now=later)
    assert quick is not None

    with pytest.raises(jobs.JobStopped):
        slow.finish(lambda: {"by": "slow", "kitchen": kitchen_row("never-kept").pk})
    assert not slow.renew_lease()
    quick.finish(lambda: {"by": "quick"})
    job.refresh_from_db()
    assert job.result == {"by": "quick"}
    assert not Kitchen.objects.filter(code="never-kept").exists()


def test_rows_written_while_finishing_go_with_the_result_or_not_at_all(
    kitchen: Kitchen, handler: Callable[..., None]
) -> None:
    def work(context: JobContext) -> Result:
        def write() -> Result:
            kitchen_row("half-written")
            raise DoesNotFit("The shelf is full.")

        return context.finish(write)

    handler(work)
    job = enqueue(kitchen)
    job.refresh_from_db()
    assert (job.state, job.error_sentence) == (Job.State.FAILED, "The shelf is full.")
    assert not Kitchen.objects.filter(code="half-written").exists()


def test_a_refusal_is_told_in_its_own_sentence(kitchen: Kitchen, handler: Callable[..., None]) -> None:
    def work(_context: JobContext) -> Result:
        raise DoesNotFit("Pot 3 holds 90 L, the charge needs 104 L.", remedy="Choose a larger pot.")

    handler(work)
    job = enqueue(kitchen)
    job.refresh_from_db()
    assert (job.state, job.error_code) == (Job.State.FAILED, "does-not-fit")
    assert job.error_sentence == "Pot 3 holds 90 L, the charge needs 104 L. Choose a larger pot."


def test_a_fault_of_the_program_is_a_failed_job_with_a_plain_sentence(
    kitchen: Kitchen, handler: Callable[..., None], caplog: pytest.LogCaptureFixture
) -> None:
    handler(lambda context: {"pan": context.payload["pan"]})
    job = enqueue(kitchen)
    job.refresh_from_db()
    assert (job.state, job.error_code) == (Job.State.FAILED, "job-fault")
    assert "KeyError" not in job.error_sentence
    assert "KeyError" in caplog.text


def test_work_nobody_knows_is_a_failed_job(kitchen: Kitchen) -> None:
    job_id = queue.enqueue(kind="juggle", kitchen_id=kitchen.pk, payload={})
    job = Job.objects.get(pk=job_id)
    assert (job.state, job.error_code) == (Job.State.FAILED, "unknown-job-kind")


def test_a_database_fault_leaves_the_job_to_the_next_attempt(
    kitchen: Kitchen, handler: Callable[..., None], clock: time_machine.Traveller
) -> None:
    def work(context: JobContext) -> Result:
        if context.attempt == 1:
            raise OperationalError("database is locked")
        return {"attempt": context.attempt}

    handler(work)
    job = enqueue(kitchen)
    job.refresh_from_db()
    assert job.state == Job.State.RUNNING
    clock.shift(jobs.LEASE + timedelta(seconds=1))
    assert jobs_sweep(now=timezone.now()) == 1
    job.refresh_from_db()
    assert (job.state, job.result) == (Job.State.DONE, {"attempt": 2})


def test_a_job_that_never_ends_is_given_up_after_three_attempts(kitchen: Kitchen) -> None:
    job = running(kitchen, attempts=jobs.MAX_ATTEMPTS, lease_s=-1)
    assert job_claim(job_id=job.pk, now=timezone.now()) is None
    assert jobs_sweep(now=timezone.now()) == 0
    job.refresh_from_db()
    assert (job.state, job.error_code) == (Job.State.FAILED, "job-given-up")


def test_a_waiting_job_is_cancelled_at_once(kitchen: Kitchen, no_bell: None) -> None:
    job = enqueue(kitchen)
    assert job_cancel(job_id=job.pk, kitchen_id=kitchen.pk, now=timezone.now())
    job.refresh_from_db()
    assert job.state == Job.State.CANCELLED
    assert job_claim(job_id=job.pk, now=timezone.now()) is None


def test_a_running_job_stops_at_its_next_step_when_cancelled(kitchen: Kitchen, handler: Callable[..., None]) -> None:
    steps: list[str] = []

    def work(context: JobContext) -> Result:
        context.progress(1, 2, "first sheet")
        steps.append("first")
        assert job_cancel(job_id=context.job_id, kitchen_id=context.kitchen_id, now=timezone.now())
        context.progress(2, 2, "second sheet")
        steps.append("second")
        return {}

    handler(work)
    job = enqueue(kitchen)
    job.refresh_from_db()
    assert (job.state, steps) == (Job.State.CANCELLED, ["first"])
    assert (job.progress_done, job.progress_total, job.progress_note) == (1, 2, "first sheet")


def test_a_cancelled_job_whose_worker_died_is_not_started_again(kitchen: Kitchen) -> None:
    job = running(kitchen, lease_s=-1)
    Job.objects.filter(pk=job.pk).update(cancel_requested=True)
    assert jobs_sweep(now=timezone.now()) == 0
    job.refresh_from_db()
    assert job.state == Job.State.CANCELLED


def test_another_kitchen_cannot_cancel_the_job(kitchen: Kitchen, other_kitchen: Kitchen, no_bell: None) -> None:
    job = enqueue(kitchen)
    assert not job_cancel(job_id=job.pk, kitchen_id=other_kitchen.pk, now=timezone.now())
    job.refresh_from_db()
    assert job.state == Job.State.QUEUED


def test_a_job_that_is_over_cannot_be_cancelled(kitchen: Kitchen, handler: Callable[..., None]) -> None:
    handler(lambda _context: {})
    job = enqueue(kitchen)
    assert not job_cancel(job_id=job.pk, kitchen_id=kitchen.pk, now=timezone.now())


@pytest.mark.postgres
@pytest.mark.parametrize(
    "wrong",
    [
        {"state": "juggling"},
        {"state": "running"},
        {"state": "done"},
        {"state": "failed", "finished_at": timezone.now()},
    ],
    ids=["unknown state", "running without a lease", "over without a time", "failed without a reason"],
)
def test_the_database_refuses_a_row_that_cannot_be_true(kitchen: Kitchen, wrong: dict[str, object]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Job.objects.create(kitchen=kitchen, kind="cook", created_at=timezone.now(), **wrong)


def test_the_lease_is_renewed_while_the_body_runs(
    kitchen: Kitchen, no_bell: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs, "LEASE", timedelta(seconds=0.3))
    job = enqueue(kitchen)
    renewed = threading.Event()
    renew = JobContext.renew_lease

    def renew_and_tell(context: JobContext) -> bool:
        mine = renew(context)
        renewed.set()
        return mine

    monkeypatch.setattr(JobContext, "renew_lease", renew_and_tell)
    job_run(job_id=job.pk, handlers={"cook": lambda _context: {"renewed": renewed.wait(300)}})
    job.refresh_from_db()
    assert (job.state, job.result) == (Job.State.DONE, {"renewed": True})
