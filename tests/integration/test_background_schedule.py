"""What the clock calls exists, and a broker that is away hurts nobody."""

from datetime import timedelta
from pathlib import Path

import pytest
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from django.utils import timezone

from landscape_care.config.background import note_beat
from landscape_care.config.celery import ROUNDS_S, PatientTask, app
from landscape_care.config.health import BEAT
from tests.integration.test_start_settings import manage


def test_every_scheduled_name_is_registered() -> None:
    app.loader.import_default_modules()
    missing = [name for name in ROUNDS_S if name not in app.tasks]
    assert missing == []


def test_every_round_expires_before_the_next_one_comes() -> None:
    for entry in app.conf.beat_schedule.values():
        assert entry["options"]["expires"] <= entry["schedule"]


def test_the_time_limit_stays_below_the_moment_a_call_is_delivered_again() -> None:
    assert app.conf.task_time_limit < app.conf.broker_transport_options["visibility_timeout"]
    assert app.conf.task_acks_late
    assert app.conf.task_reject_on_worker_lost


def test_all_background_calls_are_patient() -> None:
    app.loader.import_default_modules()
    ours = [task for name, task in app.tasks.items() if name.startswith("landscape_care.")]
    assert ours
    assert all(isinstance(task, PatientTask) for task in ours)


ENQUEUE = """
from django.db import transaction
from kombu.utils import functional as retries
from landscape_care.config.background import note_beat
waits = []
retries.sleep = waits.append
with transaction.atomic():
    note_beat.delay_on_commit()
print("waited", sum(waits))
"""


@pytest.mark.parametrize("address", ["unix:///nowhere/valkey.sock", "redis://127.0.0.1:9/0"])
def test_enqueuing_while_the_broker_is_away_gives_up_at_once_and_raises_nothing(
    tmp_path: Path, address: str
) -> None:
    answer = manage(tmp_path, "shell", "-c", ENQUEUE, REDIS_URL=address)
    assert answer.returncode == 0, answer.stderr
    assert "The broker is away; the sweep will run" in answer.stderr
    assert float(answer.stdout.split("waited")[-1]) <= 0.2  # seconds of sleep between tries


@pytest.mark.django_db
def test_silence_of_over_two_minutes_is_noticed(client: Client) -> None:
    note_beat()
    assert client.get("/readyz/background").status_code == 200
    cache.set(BEAT, timezone.now() - timedelta(minutes=2, seconds=1), timeout=None)
    assert client.get("/readyz/background").status_code == 503


@pytest.mark.redis
@pytest.mark.django_db(transaction=True)
def test_a_call_reaches_the_broker_only_when_its_row_is_safe(broker: str) -> None:
    import redis

    queue = redis.Redis.from_url(broker)
    queue.delete("celery")
    with transaction.atomic():
        note_beat.delay_on_commit()  # type: ignore[attr-defined]
        assert queue.llen("celery") == 0
    assert queue.llen("celery") == 1
    queue.delete("celery")
