"""A crew's day on paper: who may have it, what stands on it, and what never does."""

import io
from datetime import timedelta

import pytest
from django.test import Client
from pypdf import PdfReader

from landscape_care.dispatch import actions
from landscape_care.dispatch.models import Stop
from landscape_care.people.models import Language, User
from landscape_care.properties.models import Property
from landscape_care.visits import actions as visits
from tests.integration.dispatch_company import MONDAY, Company, add_company, add_task

pytestmark = pytest.mark.django_db
CODE = "4711#"


@pytest.fixture
def company() -> Company:
    company = add_company(gardens=4)
    for number, garden in enumerate(company.gardens):
        note = f"Code {CODE} at the blue door" if number else "Ring twice"
        Property.objects.filter(pk=garden.pk).update(access_note=note)
        garden.refresh_from_db()
        garden.gate_code = CODE
        garden.save(update_fields=["gate_code"])
        add_task(
            garden,
            f"first{number}",
            MONDAY + timedelta(1),
            MONDAY + timedelta(10),
            minutes=60,
            cautions=["heat"],
            details={"lines": {"en": ["Set zone 3 to 12 min"], "es": ["Ponga la zona 3 en 12 min"]}},
        )
        visits.bundle_property(garden.pk, today=MONDAY)
    plan = actions.propose(company.depot, MONDAY + timedelta(1), by=company.office, today=MONDAY, seconds=1)
    actions.solve_plan(plan.pk, today=MONDAY)
    actions.publish(plan.pk, by=company.office, today=MONDAY)
    return company


def a_stop() -> Stop:
    stop = Stop.objects.select_related("crew__depot", "visit__property").order_by("day", "position").first()
    assert stop is not None
    return stop


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def pdf(client: Client, stop: Stop, language: str = "en") -> str:
    answer = client.get(f"/crew/{stop.crew.code}/{stop.day}/sheet.pdf?language={language}")
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert "no-store" in answer["Cache-Control"]
    reader = PdfReader(io.BytesIO(answer.content))
    assert str(reader.root_object["/Lang"]) == language
    return "\n".join(page.extract_text() for page in reader.pages)


def test_paper_holds_the_day_and_no_gate_code(company: Company) -> None:
    stop, office = a_stop(), signed_in(company.office)
    page = office.get(f"/crew/{stop.crew.code}/{stop.day}/sheet/?language=en").content.decode()
    for text in (pdf(office, stop), page):
        assert stop.visit.property.name in text
        assert stop.visit.property.street in text
        assert "Set zone 3 to 12 min" in text
        assert "Gate code: see the phone." in text
        assert "4711" not in text
        assert "Cautions of the day" in text
        assert stop.crew.depot.name in text
        assert "4 mi" in text or " mi" in text
    assert page.count('class="sketch-leg"') >= 4


def test_a_crew_that_reads_spanish_gets_spanish_paper(company: Company) -> None:
    stop = a_stop()
    User.objects.filter(pk=company.lead.pk).update(language=Language.SPANISH)
    stop.crew.members.set([company.lead])
    answer = signed_in(company.office).get(f"/crew/{stop.crew.code}/{stop.day}/sheet/").content.decode()
    assert '<html lang="es"' in answer
    assert "Ponga la zona 3 en 12 min" in answer
    assert "Código de la puerta: véalo en el teléfono." in answer
    assert "Ponga la zona 3 en 12 min" in pdf(signed_in(company.lead), stop, "es")


def test_another_crew_and_owners_have_no_paper_of_it(company: Company) -> None:
    stop = a_stop()
    for path in ("sheet/", "sheet.pdf"):
        address = f"/crew/{stop.crew.code}/{stop.day}/{path}"
        assert signed_in(company.stranger).get(address).status_code == 404
        assert Client().get(address).status_code == 302


def test_a_day_without_stops_says_so(company: Company) -> None:
    office, crew = signed_in(company.office), company.crew
    day = MONDAY + timedelta(40)
    assert "Nothing is published" in office.get(f"/crew/{crew.code}/{day}/sheet/").content.decode()
    text = office.get(f"/crew/{crew.code}/{day}/sheet.pdf?language=en").content
    assert "Nothing is published" in PdfReader(io.BytesIO(text)).pages[0].extract_text()


def test_the_same_day_is_the_same_paper(company: Company) -> None:
    stop, office = a_stop(), signed_in(company.office)
    assert pdf(office, stop) == pdf(office, stop)
