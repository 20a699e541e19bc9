"""Background work: the Celery application and, in code, when what runs."""

import gc
import logging
from functools import partial
from typing import Any

from celery import Celery
from celery.contrib.django.task import DjangoTask
from celery.signals import worker_process_init, worker_ready
from django.db import transaction

log = logging.getLogger(__name__)


class PatientTask(DjangoTask):  # type: ignore[type-arg]
    """A background call that never hurts the caller when the broker is away.

    What must happen is a row in the database first; a sweep on the beat finds rows whose call was lost.
    """

    def delay_on_commit(self, *args: Any, **kwargs: Any) -> None:  # type: ignore[override]
        """Enqueue once the transaction is safe; a broker that is away is logged, not raised."""
        transaction.on_commit(partial(self.enqueue, *args, **kwargs))

    def enqueue(self, *args: Any, **kwargs: Any) -> None:
        """Enqueue now, or say in the log that the sweep has to catch up."""
        try:
            self.delay(*args, **kwargs)
        except self.OperationalError:
            log.warning("The broker is away; the sweep will run %s later.", self.name)


app = Celery("landscape_care", task_cls=PatientTask)
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(related_name="background")
# Each of these looks for rows that are due and not yet done, so a tick that comes twice finds nothing
# the second time and a tick that is lost is made good by the next. Ticks that nobody fetched expire.
ROUNDS_S = {
    "landscape_care.care.background.plan_due": 60.0,
    "landscape_care.care.background.ask_forecasts": 300.0,
    "landscape_care.properties.background.check_due": 60.0,
    "landscape_care.visits.background.bundle_due": 60.0,
    "landscape_care.dispatch.background.solve_waiting": 60.0,
    "landscape_care.dispatch.background.send_letters": 60.0,
    "landscape_care.calendars.background.sweep_notes": 3600.0,
    "landscape_care.config.background.note_beat": 30.0,
}
app.conf.beat_schedule = {
    name.removeprefix("landscape_care."): {"task": name, "schedule": seconds, "options": {"expires": seconds}}
    for name, seconds in ROUNDS_S.items()
}
# A month of routes takes seconds to minutes of computing; it must not stand in the way of short work.
SOLVER_QUEUE = "solver"
app.conf.task_routes = {"landscape_care.dispatch.background.solve_*": {"queue": SOLVER_QUEUE}}


@worker_ready.connect
def make_good_what_was_missed(**_: Any) -> None:
    """Do every round once when a worker comes up, instead of waiting for the next tick."""
    for name, seconds in ROUNDS_S.items():
        app.send_task(name, expires=seconds)


@worker_process_init.connect
def look_for_garbage_less_often(**_: Any) -> None:
    """Planning makes hundreds of thousands of small values; looking through them costs a quarter."""
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
