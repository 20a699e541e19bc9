"""The span in which owners may expect a crew."""

from datetime import date, datetime, time, timedelta

STEP = timedelta(minutes=30)
SHORTEST = timedelta(hours=2)


def arrival_window(day: date, arrives_at: time, leaves_at: time) -> tuple[datetime, datetime]:
    """Return the wall clock times between which a crew comes and works, at least two hours.

    Half hours around the planned stop, so that owners do not read the order of a route from
    it, and so that a few minutes on the road change nothing (common practice).
    """
    midnight = datetime.combine(day, time())
    arrives, leaves = datetime.combine(day, arrives_at), datetime.combine(day, leaves_at)
    first = midnight + (arrives - midnight) // STEP * STEP
    last = midnight - (midnight - leaves) // STEP * STEP
    return first, max(last, first + SHORTEST)
