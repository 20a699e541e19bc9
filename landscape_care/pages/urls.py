"""The addresses of the pages."""

from datetime import date

from django.urls import path, register_converter

from landscape_care.pages import office_urls
from landscape_care.pages.views import (
    addresses,
    ahead,
    another_day,
    board,
    books,
    colour,
    crew,
    crew_notes,
    crew_phone,
    crew_sheets,
    disruptions,
    entrance,
    garden,
    intake,
    moves,
    office,
    own_rules,
    photos,
    places,
    properties,
    publishing,
    reckon,
    reports,
    rules,
    tasks,
    things,
    visits,
    weather,
    years,
)


class DayConverter:
    """A day in an address, such as 2026-11-25."""

    regex = r"\d{4}-\d{2}-\d{2}"

    def to_python(self, written: str) -> date:
        """Read the day; what is no day is no address."""
        return date.fromisoformat(written)

    def to_url(self, day: date | str) -> str:
        """Write the day."""
        return str(day)


register_converter(DayConverter, "day")

app_name = "pages"
urlpatterns = [
    path("", office.first_page, name="first"),
    path("sign-in/", entrance.sign_in, name="sign_in"),
    path("sign-out/", entrance.sign_out, name="sign_out"),
    path("language/", entrance.choose_language, name="language"),
    # The month board
    path("board/", board.choose_board, name="boards"),
    path("board/<slug:depot>/<str:month>/", board.board, name="board"),
    path("board/<slug:depot>/<str:month>/propose/", board.propose, name="propose"),
    path("board/<slug:depot>/<str:month>/progress/", board.progress, name="progress"),
    path("board/<slug:depot>/<str:month>/stop/<int:number>/", board.stop_solving, name="stop_solving"),
    path(
        "board/<slug:depot>/<str:month>/discard/<int:number>/",
        board.withdraw_proposal,
        name="withdraw_proposal",
    ),
    path("board/<slug:depot>/<str:month>/publish/<int:number>/", publishing.publish, name="publish"),
    path(
        "board/<slug:depot>/<str:month>/withdraw/<int:number>/",
        publishing.withdraw_month,
        name="withdraw_month",
    ),
    path("board/<slug:depot>/<str:month>/disruptions/", disruptions.disrupt, name="disrupt"),
    path("disruptions/<int:number>/", disruptions.disruption, name="disruption"),
    path("disruptions/<int:number>/progress/", disruptions.disruption_progress, name="disruption_progress"),
    path("disruptions/<int:number>/confirm/", disruptions.confirm, name="confirm_disruption"),
    path("disruptions/<int:number>/drop/", disruptions.drop, name="drop_disruption"),
    path("letters/", disruptions.letters, name="letters"),
    path("board/<slug:depot>/<str:month>/what-if/", ahead.ask_what_if, name="ask_what_if"),
    path("what-ifs/<int:number>/", ahead.what_if, name="what_if"),
    path("what-ifs/<int:number>/progress/", ahead.what_if_progress, name="what_if_progress"),
    path("what-ifs/<int:number>/stop/", ahead.stop_what_if, name="stop_what_if"),
    path("labour/", ahead.choose_labour, name="labour"),
    path("labour/<slug:depot>/", ahead.labour_ahead, name="labour_ahead"),
    path("stops/<int:number>/move/", moves.move, name="move"),
    path("stops/<int:number>/hold/", moves.hold, name="hold"),
    path("stops/<int:number>/release/", moves.release, name="release"),
    # Properties and what is installed there
    path("properties/", properties.properties, name="properties"),
    path("properties/<slug:code>/", properties.sheet, name="property"),
    path("properties/<slug:code>/place/", places.change_place, name="change_place"),
    path("properties/<slug:code>/agreement/", places.agree, name="agree"),
    path("properties/<slug:code>/things/", things.choose_kind, name="choose_kind"),
    path("properties/<slug:code>/things/install/<str:kind>/", things.install, name="install"),
    path("properties/<slug:code>/things/<str:tag>/", things.change, name="change"),
    path("properties/<slug:code>/things/<str:tag>/remove/", things.remove, name="remove"),
    path("properties/<slug:code>/rules/", rules.property_rules, name="property_rules"),
    path("properties/<slug:code>/rules/<slug:rule>/", rules.adjust, name="adjust"),
    path("properties/<slug:code>/year/", years.year, name="year"),
    path("properties/<slug:code>/year.pdf", years.year_pdf, name="year_pdf"),
    path("properties/<slug:code>/weather/", weather.property_weather, name="property_weather"),
    path("weather/", weather.stations, name="weather"),
    path("weather/<slug:code>/days/", weather.take_observations, name="take_observations"),
    path("weather/<slug:code>/forecast/", weather.set_forecast, name="set_forecast"),
    path("properties/<slug:code>/reports/", reports.reports, name="reports"),
    path("reports/<int:number>/withdraw/", reports.withdraw_report, name="withdraw_report"),
    path("properties/<slug:code>/photos/", photos.add_photo, name="add_photo"),
    path("properties/<slug:code>/addresses/", addresses.issue, name="issue"),
    path("photos/<int:number>/", photos.photo, name="photo"),
    # Care tasks and visits
    path("tasks/<int:number>/", tasks.task, name="task"),
    path("tasks/<int:number>/settle/", tasks.settle, name="settle"),
    path("tasks/<int:number>/unsettle/", tasks.unsettle, name="unsettle"),
    path("tasks/<int:number>/hold/", tasks.hold, name="hold_task"),
    path("visits/<int:number>/withdraw/", visits.withdraw, name="withdraw_visit"),
    # Rules everywhere
    path("plants/", books.plant_list, name="plants"),
    path("plants/new/", books.new_plant, name="new_plant"),
    path("plants/<slug:key>/", books.own_plant, name="own_plant"),
    path("plants/<slug:key>/retire/", books.retire_plant, name="retire_plant"),
    path("plants/<slug:key>/return/", books.return_plant, name="return_plant"),
    path("climates/", books.climate_list, name="climates"),
    path("climates/new/", books.new_climate, name="new_climate"),
    path("climates/<slug:key>/", books.climate, name="climate"),
    path("climates/<slug:key>/change/", books.change_climate, name="change_climate"),
    path("climates/<slug:key>/retire/", books.retire_climate, name="retire_climate"),
    path("climates/<slug:key>/return/", books.return_climate, name="return_climate"),
    path("colour/", colour.colour, name="colour"),
    path("rules/", rules.rules, name="rules"),
    path("rules/own/new/", own_rules.own_rule, name="new_own_rule"),
    path("rules/own/<slug:rule>/", own_rules.own_rule, name="own_rule"),
    path("rules/own/<slug:rule>/end/", own_rules.end_own_rule, name="end_own_rule"),
    path("rules/<slug:rule>/", rules.adjust, name="adjust_everywhere"),
    path("adjustments/<int:number>/end/", rules.end_adjustment, name="end_adjustment"),
    # Figures for numbers in hand
    path("reckon/", reckon.figures, name="reckonings"),
    path("reckon/<slug:name>/", reckon.figure, name="reckon"),
    # Records from spreadsheets
    path("intake/", intake.bring_in, name="intake"),
    path("intake/checked/", intake.checked, name="intake_checked"),
    path("intake/take-in/", intake.take_in, name="take_in"),
    path("intake/template/", intake.template, name="intake_template"),
    # Crews and owners
    path("crew/", crew.crews, name="crews"),
    path("crew/worker.js", crew_phone.worker, name="crew_worker"),
    path("crew/manifest.webmanifest", crew_phone.manifest, name="crew_manifest"),
    path("crew/hello/", crew_phone.hello, name="crew_hello"),
    path("crew/no-signal/", crew_phone.no_signal, name="crew_no_signal"),
    path("crew/<slug:code>/days-off/", crew.give_day_off, name="give_day_off"),
    path("crew/<slug:code>/addresses/", addresses.issue_for_crew, name="issue_for_crew"),
    path("crew/<slug:code>/<day:day>/", crew.crew_day, name="crew_day"),
    path("crew/<slug:code>/<day:day>/sheet/", crew_sheets.sheet, name="crew_sheet"),
    path("crew/<slug:code>/<day:day>/sheet.pdf", crew_sheets.sheet_pdf, name="crew_sheet_pdf"),
    path("crew/<slug:code>/<day:day>/order/", crew.reorder, name="reorder"),
    path("crew/<slug:code>/<day:day>/<int:visit>/gate/", crew_phone.gate, name="gate"),
    path("crew/<slug:code>/<day:day>/<int:visit>/times/", crew_notes.mark_work, name="mark_work"),
    path("crew/<slug:code>/<day:day>/<int:visit>/<int:task>/", crew_notes.check_task, name="check_off"),
    path("addresses/", addresses.addresses, name="addresses"),
    path("addresses/<int:number>/", addresses.choose, name="choose_address"),
    path("addresses/<int:number>/reissue/", addresses.reissue, name="reissue"),
    path("addresses/<int:number>/revoke/", addresses.revoke, name="revoke"),
    path("subscribing/", addresses.subscribing, name="subscribing"),
    path("day-requests/<int:number>/settle/", another_day.settle, name="settle_day_request"),
    path("garden/visit/<str:link>/", another_day.visit, name="owner_visit"),
    path("garden/<str:token>/", garden.garden, name="garden"),
    *office_urls.urlpatterns,
]
