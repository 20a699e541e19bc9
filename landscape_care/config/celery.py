"""Background work: the Celery application and, in code, when what runs."""

import logging
from functools import partial
from typing import Any

from celery import Celery
from celery.contrib.django.task import DjangoTask
from django.db import transaction

log = logging.getLogger(__name__)


class PatientTask(DjangoTask):  # type: ignore[type-arg]
    """A background call that never hurts the caller when the broker is away.

    What must happen is a row in the database first; a sweep on the beat finds rows whose call was lost.
    """

    def delay_on_commit(self, *args: Any, **kwargs: Any) -> None:
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
