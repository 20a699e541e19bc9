"""Processor seconds to generate a thousand care tasks, beside as many dates of a plain recurrence rule.

`python -m tests.benchmarks.generation` prints JSON lines: one for each round, then the summary.
The recurrence rule computes dates alone; a care task also has a window, minutes, words and numbers.
"""

import json
import statistics
import time
from collections.abc import Iterable
from datetime import date, datetime, timedelta

from dateutil.rrule import DAILY, rrule

from landscape_care.trades.kinds import AsBuilt
from tests.unit.care_garden import PLACES, courtyard, tasks

ROUNDS, GARDENS = 9, 40
GOAL_TIMES = 3.0
# Care comes in series of about so many dates in thirteen months.
SERIES_LENGTH = 8


def gardens() -> list[AsBuilt]:
    """Courtyards in several places, each begun on a day of its own."""
    names = sorted(PLACES)
    return [
        courtyard(names[number % len(names)], start=date(2026, 1, 1) + timedelta(number * 9))
        for number in range(GARDENS)
    ]


def generate_care(places: Iterable[AsBuilt]) -> tuple[float, int]:
    """Processor seconds and count of thirteen months of care, garden by garden as planning does."""
    start, count = time.process_time(), 0
    for garden in places:
        first = garden.care_starts_on
        count += len(tasks(garden, today=first, through=first + timedelta(396)))
    return time.process_time() - start, count


def recur(count: int) -> tuple[float, int]:
    """Processor seconds and count of as many dates, in series of recurrence rules."""
    start, made = time.process_time(), 0
    while made < count:
        first = datetime(2026, 1, 1) + timedelta(made % 365)
        made += len(list(rrule(DAILY, dtstart=first, interval=14, count=SERIES_LENGTH)))
    return time.process_time() - start, made


def main() -> None:
    """Measure and print."""
    places = gardens()
    seconds, count = generate_care(places)
    print(json.dumps({"what": "first round, nothing remembered", "s_per_1000": seconds / count * 1000}))
    ours, theirs = [], []
    for number in range(ROUNDS):
        seconds, count = generate_care(places)
        ours.append(seconds / count * 1000)
        seconds, dates = recur(count)
        theirs.append(seconds / dates * 1000)
        print(
            json.dumps({"round": number, "generation_s_per_1000": ours[-1], "rrule_s_per_1000": theirs[-1]})
        )
    ratio = statistics.median(ours) / statistics.median(theirs)
    summary = {
        "tasks": count,
        "generation_s_per_1000": statistics.median(ours),
        "rrule_s_per_1000": statistics.median(theirs),
        "times_rrule": round(ratio, 2),
        "goal_times_rrule": GOAL_TIMES,
        "reached": ratio <= GOAL_TIMES,
    }
    print(json.dumps(summary))


if __name__ == "__main__":
    main()
