"""Laws of weather in care: for every garden and every forecast names stay, days only narrow, words agree."""

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from landscape_care.almanac.climate import climate
from landscape_care.care.catalog import catalog
from landscape_care.care.explanations import Facts, explain
from landscape_care.care.generation import History, Wanted
from landscape_care.care.reconciliation import Stored, reconcile
from landscape_care.care.season_reasons import say_day
from landscape_care.care.weather_limits import Ahead, DayAhead
from landscape_care.trades.kinds import AsBuilt
from tests.invariants.test_care_laws import gardens, plan

# Days of which some are bad for anything a rule avoids, and some say nothing.
hard_days = st.tuples(
    st.none() | st.floats(0, 130),
    st.none() | st.floats(-20, 90),
    st.none() | st.floats(0, 60),
    st.none() | st.floats(0, 3),
    st.none() | st.floats(0, 100),
)
forecasts = st.tuples(st.integers(0, 380), st.lists(hard_days, min_size=1, max_size=8))


def ahead_of(garden: AsBuilt, forecast: tuple[int, list[tuple[float | None, ...]]]) -> Ahead:
    first = garden.care_starts_on + timedelta(forecast[0])
    days = ((first + timedelta(n), values) for n, values in enumerate(forecast[1]))
    return {day: DayAhead(day, *values) for day, values in days}


@given(gardens(), forecasts)
@settings(max_examples=50)
def test_weather_renames_nothing_adds_nothing_and_only_narrows_windows(
    garden: AsBuilt, forecast: tuple[int, list[tuple[float | None, ...]]]
) -> None:
    ahead = ahead_of(garden, forecast)
    usual = {want.key: want for want in plan(garden, garden.care_starts_on)}
    found = {want.key: want for want in plan(garden, garden.care_starts_on, History(ahead=ahead))}
    assert found.keys() == usual.keys()
    for key, want in found.items():
        if "weather" not in want.details:
            assert want == usual[key]
            continue
        avoid, before, after = catalog()[want.rule].avoid, usual[key].window, want.window
        assert avoid is not None
        assert before.opens <= after.opens <= after.due <= after.closes <= before.closes
        bad = [day for day, each in ahead.items() if avoid.met_by(each) and before.contains(day)]
        assert bad
        assert want.details["weather"]["nowhere"] or not any(map(after.contains, bad))
        assert want.details["weather"]["usual_due"] == before.due.isoformat()


@given(gardens(), forecasts, st.integers(0, 500))
@settings(max_examples=30)
def test_a_day_that_passes_moves_no_care_that_the_weather_moved(
    garden: AsBuilt, forecast: tuple[int, list[tuple[float | None, ...]]], later: int
) -> None:
    history = History(ahead=ahead_of(garden, forecast))
    before = plan(garden, garden.care_starts_on, history)
    after = {w.key: w for w in plan(garden, garden.care_starts_on + timedelta(later), history)}
    gone = {
        t.uid
        for t in garden.things
        if t.removed_on and t.removed_on <= garden.care_starts_on + timedelta(later)
    }
    assert all(after[w.key].window == w.window for w in before if w.thing_uid not in gone)


@given(gardens(), forecasts)
@settings(max_examples=30)
def test_planning_again_in_the_same_weather_changes_nothing_and_told_care_is_never_moved(
    garden: AsBuilt, forecast: tuple[int, list[tuple[float | None, ...]]]
) -> None:
    history = History(ahead=ahead_of(garden, forecast))
    found = plan(garden, garden.care_starts_on, history)
    stored = [_stored(want) for want in found]
    assert not reconcile(plan(garden, garden.care_starts_on, history), stored)
    told = [_stored(want, told_for=want.window.due) for want in plan(garden, garden.care_starts_on)]
    changes = reconcile(found, told)
    assert not changes
    elsewhere = {have.key for have, _ in changes.elsewhere}
    moved = {w.key for w in found if "weather" in w.details}
    assert elsewhere <= moved
    # Whose told day is bad is pointed out, each once.
    due = {each.key: each.told_for for each in told}
    for want in found:
        told_for = due[want.key]
        if want.key in moved and told_for is not None and not want.window.contains(told_for):
            assert want.key in elsewhere


def _stored(want: Wanted, *, told_for: date | None = None) -> Stored:
    told = told_for is not None
    return Stored(
        None, want.key, want.series, want.shown(), fixed=told, withdrawn=False, told=told, told_for=told_for
    )


@given(gardens(), forecasts)
@settings(max_examples=30)
def test_the_words_name_the_days_that_the_weather_left(
    garden: AsBuilt, forecast: tuple[int, list[tuple[float | None, ...]]]
) -> None:
    found = plan(garden, garden.care_starts_on, History(ahead=ahead_of(garden, forecast)))
    for want in found:
        weather = want.details.get("weather")
        if weather is None:
            continue
        for language, said in enumerate(_explained(garden, want)):
            assert say_day(date.fromisoformat(weather["day"]))[language] in said
            if weather["nowhere"]:
                assert ("no day that is left is better", "ningún día restante es mejor")[language] in said
                continue
            assert say_day(want.window.opens)[language] in said
            assert say_day(want.window.closes)[language] in said
            if weather["usual_due"] != want.window.due.isoformat():
                assert say_day(want.window.due)[language] in said


def _explained(garden: AsBuilt, want: Wanted) -> tuple[str, str]:
    rule = catalog()[want.rule]
    facts = Facts(
        series=want.series,
        occurrence=want.occurrence,
        window=want.window,
        starts_on=garden.care_starts_on,
        installed=False,
        climate=climate(garden.climate),
        every_days=rule.every_days,
        numbers=want.details.get("numbers", {}),
        weather=want.details.get("weather"),
    )
    return explain(rule, rule, facts)
