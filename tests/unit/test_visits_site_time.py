"""Minutes on site from moments at which crews began and ended, as somebody would count them by hand."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from landscape_care.visits.site_time import Moment, TimeOnSite, minutes_on_site, time_on_site

SEVEN = datetime(2026, 11, 25, 7, tzinfo=UTC)
MOMENTS = st.lists(
    st.builds(lambda m, s: Moment(SEVEN + timedelta(minutes=m), s), st.integers(0, 4000), st.booleans())
)


def began(minute: int) -> Moment:
    return Moment(SEVEN + timedelta(minutes=minute), started=True)


def ended(minute: int) -> Moment:
    return Moment(SEVEN + timedelta(minutes=minute), started=False)


def test_a_stop_with_a_pause_counts_both_stretches() -> None:
    spans = time_on_site([ended(130), began(0), began(90), ended(60)])
    assert [span.minutes for span in spans] == [60, 40]
    assert minutes_on_site(spans) == 100


def test_a_second_press_on_begin_changes_nothing() -> None:
    assert time_on_site([began(0), began(5), ended(30)]) == time_on_site([began(0), ended(30)])


def test_an_end_without_a_start_is_no_work() -> None:
    assert time_on_site([ended(30)]) == ()
    assert minutes_on_site(()) is None


def test_work_that_lasts_has_no_minutes_yet() -> None:
    assert time_on_site([began(0)]) == (TimeOnSite(SEVEN),)
    assert minutes_on_site(time_on_site([began(0)])) is None


def test_an_end_of_the_next_day_does_not_end_a_forgotten_start() -> None:
    spans = time_on_site([began(0), began(24 * 60), ended(25 * 60)])
    assert [span.minutes for span in spans] == [None, 60]


def test_an_hour_is_an_hour_where_the_clocks_go_back() -> None:
    """Denver, 1 November 2026: 1:30 comes twice (IANA time zone database)."""
    denver = ZoneInfo("America/Denver")
    first = datetime(2026, 11, 1, 1, 30, fold=0, tzinfo=denver)
    second = datetime(2026, 11, 1, 1, 30, fold=1, tzinfo=denver)
    spans = time_on_site([Moment(first.astimezone(UTC), True), Moment(second.astimezone(UTC), False)])
    assert minutes_on_site(spans) == 60


def test_a_moment_without_its_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="wanted a moment with its time zone"):
        Moment(SEVEN.replace(tzinfo=None), started=True)


@given(MOMENTS)
def test_stretches_never_overlap_and_a_moment_that_comes_again_changes_nothing(moments: list[Moment]) -> None:
    spans = time_on_site(moments)
    assert time_on_site([*moments, *moments]) == spans
    for one, other in pairwise(spans):
        assert one.started_at < other.started_at
        assert one.finished_at is None or one.finished_at <= other.started_at
