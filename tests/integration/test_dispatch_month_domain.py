"""What the tables say becomes the problem of a month: holidays, heat, loads, preferred crews, spacing."""

from datetime import date, time, timedelta
from itertools import pairwise

import pytest
from django.test import Client

from landscape_care.dispatch import actions, queries
from landscape_care.dispatch.models import MonthPlan, PreferredCrew
from landscape_care.dispatch.routing import RouteProblem
from landscape_care.people.models import AuditEntry
from landscape_care.properties import actions as properties
from landscape_care.properties.models import Property
from landscape_care.trades.limits import Refused
from landscape_care.visits.actions import bundle_property
from landscape_care.visits.models import Visit
from landscape_care.visits.queries import terms_of
from tests.integration.dispatch_company import MONDAY, Company, add_company, add_task

pytestmark = [pytest.mark.django_db, pytest.mark.both]
DECEMBER = date(2026, 12, 1)
CHRISTMAS = date(2026, 12, 25)


@pytest.fixture
def company() -> Company:
    return add_company(gardens=1)


def problem_of(company: Company, month: date = DECEMBER) -> RouteProblem:
    plan = MonthPlan(depot=company.depot, month=month, number=1)
    return queries.route_problem(plan, min(MONDAY, month))


def visited(company: Company, opens: date, closes: date, **details: object) -> Property:
    place = company.gardens[0]
    add_task(place, "swap", opens, closes, details={"numbers": details} if details else {})
    bundle_property(place.pk, today=MONDAY)
    return place


def keep_holidays(company: Company, worked: str = "") -> None:
    company.depot.holiday_region, company.depot.holidays_worked = "US-NM", worked
    company.depot.save()


def test_nobody_drives_on_a_public_holiday_unless_the_company_works_on_it(company: Company) -> None:
    assert all(CHRISTMAS in crew.days for crew in problem_of(company).crews)
    keep_holidays(company)
    assert not any(CHRISTMAS in crew.days for crew in problem_of(company).crews)
    keep_holidays(company, worked="Christmas Day")
    assert all(CHRISTMAS in crew.days for crew in problem_of(company).crews)


def test_a_visit_with_nothing_but_a_holiday_says_so(company: Company) -> None:
    keep_holidays(company)
    visited(company, CHRISTMAS, CHRISTMAS)
    plan = actions.propose(company.depot, DECEMBER, by=company.office, today=MONDAY, seconds=1)
    actions.solve_plan(plan.pk, today=MONDAY)
    (left,) = plan.unserved.all()
    assert "holiday" in left.reason
    assert "feriado" in left.reason_es


def test_a_load_stands_in_the_problem_and_a_small_vehicle_says_so(company: Company) -> None:
    visited(company, DECEMBER, DECEMBER + timedelta(20), gravel_yd3=2.0)
    (visit,) = problem_of(company).visits
    # Gravel at 1.4 short tons a cubic yard; common practice.
    assert (visit.load_lb, visit.load_yd3) == (5600, 2.0)
    for crew in (company.crew, company.other_crew):
        actions.change_crew(crew, {"payload_lb": 2000.0}, by=company.office)
    plan = actions.propose(company.depot, DECEMBER, by=company.office, today=MONDAY, seconds=1)
    actions.solve_plan(plan.pk, today=MONDAY)
    (left,) = plan.unserved.all()
    assert "5,600 lb" in left.reason


def test_in_usual_heat_the_shift_begins_as_early_as_the_crew_allows(company: Company) -> None:
    july = date(2027, 7, 1)
    opens, closes = (problem_of(company, july).crews[0].on(july).opens_minute for _ in range(2))
    assert opens == closes
    actions.change_crew(company.crew, {"heat_opens": time(5, 30)}, by=company.office)
    hot = next(crew for crew in problem_of(company, july).crews if crew.uid == company.crew.pk)
    cool = next(crew for crew in problem_of(company, DECEMBER).crews if crew.uid == company.crew.pk)
    assert cool.other_hours == {}
    for day in hot.days:
        shift = hot.on(day)
        assert 5 * 60 + 30 <= shift.opens_minute <= hot.opens_minute
        assert shift.shift_minutes == hot.shift_minutes


def test_the_preferred_crew_stands_in_the_problem(company: Company) -> None:
    place = visited(company, DECEMBER, DECEMBER + timedelta(20))
    actions.prefer_crew(place, company.other_crew, by=company.office)
    assert problem_of(company).visits[0].preferred_crew == company.other_crew.pk
    actions.prefer_crew(place, company.other_crew, by=company.office)
    assert AuditEntry.objects.filter(verb="prefer crew").count() == 1
    actions.prefer_crew(place, None, by=company.office)
    assert not PreferredCrew.objects.exists()
    assert problem_of(company).visits[0].preferred_crew is None


def test_a_crew_of_another_yard_cannot_be_preferred(company: Company) -> None:
    yard = {"code": "tucson", "name": "Tucson yard", "latitude_deg": 32.2, "longitude_deg": -110.9}
    other = properties.add_depot(yard | {"time_zone": "America/Phoenix"}, by=company.office)
    company.other_crew.depot = other
    company.other_crew.save()
    with pytest.raises(Refused, match="a crew of Albuquerque yard"):
        actions.prefer_crew(company.gardens[0], company.other_crew, by=company.office)


def test_days_between_visits_come_from_the_agreement_and_reach_the_visits(company: Company) -> None:
    place = company.gardens[0]
    properties.set_agreement(place, cadence="weekly", least_days=5, most_days=16, by=company.office)
    place.refresh_from_db()
    terms = terms_of(Property.objects.get(pk=place.pk))
    assert (terms.least_days, terms.most_days) == (5, 16)
    for number in range(4):
        opens = DECEMBER + timedelta(3 * number)
        add_task(place, f"task-{number}", opens, opens + timedelta(4))
    bundle_property(place.pk, today=MONDAY)
    spans = sorted(Visit.objects.filter(property=place).values_list("opens_on", "closes_on"))
    assert len(spans) > 1
    assert all((two[0] - one[1]).days >= 5 for one, two in pairwise(spans))


def test_days_between_visits_out_of_order_are_refused(company: Company) -> None:
    with pytest.raises(Refused, match="10 or more"):
        properties.set_agreement(
            company.gardens[0], cadence="weekly", least_days=10, most_days=5, by=company.office
        )


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"holiday_region": "US-ZZ"}, "ISO 3166-2"),
        ({"holiday_region": "US-NM", "holidays_worked": "Arbor Day"}, "Thanksgiving Day"),
        ({"holidays_worked": "Christmas Day"}, "no region"),
    ],
)
def test_holidays_nobody_knows_are_refused(company: Company, changes: dict[str, str], words: str) -> None:
    yard = {"code": "tucson", "name": "Tucson yard", "latitude_deg": 32.2, "longitude_deg": -110.9}
    with pytest.raises(Refused, match=words):
        properties.add_depot(yard | {"time_zone": "America/Phoenix"} | changes, by=company.office)


def test_the_agreement_page_keeps_spacing_and_crew(company: Company, client: Client) -> None:
    client.force_login(company.office)
    place = company.gardens[0]
    address = f"/properties/{place.code}/agreement/"
    shown = client.get(address)
    assert "Preferred crew" in shown.content.decode()
    given = {"cadence": "weekly", "weekdays": ["1", "3"], "least_days": "4", "most_days": "10"}
    assert client.post(address, given | {"preferred_crew": company.crew.pk}).status_code == 302
    agreement = Property.objects.get(pk=place.pk).agreement
    assert (agreement.weekdays, agreement.least_days, agreement.most_days) == ("13", 4, 10)
    assert queries.preferred_crew(place) == company.crew
    wrong = client.post(address, given | {"most_days": "2"})
    assert wrong.status_code == 422
    assert "4 or more" in wrong.content.decode()
