"""Addresses of the API."""

from django.urls import path, re_path

from landscape_care.api import calendars, index, intake, people, properties

app_name = "api"
urlpatterns = [
    path("", index.front, name="front"),
    path("schema/", index.Schema.as_view(), name="schema"),
    path("me/", people.Me.as_view(), name="me"),
    path("clients/", properties.ClientList.as_view(), name="clients"),
    path("clients/<slug:code>/", properties.ClientDetail.as_view(), name="client"),
    path("depots/", properties.DepotList.as_view(), name="depots"),
    path("depots/<slug:code>/", properties.DepotDetail.as_view(), name="depot"),
    path("properties/", properties.PropertyList.as_view(), name="properties"),
    path("properties/<slug:code>/", properties.PropertyDetail.as_view(), name="property"),
    path("properties/<slug:code>/agreement/", properties.PropertyAgreement.as_view(), name="agreement"),
    path("properties/<slug:code>/things/", properties.PropertyThings.as_view(), name="things"),
    path("properties/<slug:code>/photos/", properties.PropertyPhotos.as_view(), name="photos"),
    path("photos/<int:number>/picture/", properties.PhotoPicture.as_view(), name="picture"),
    path("things/<int:number>/", properties.ThingDetail.as_view(), name="thing"),
    path("things/<int:number>/removal/", properties.ThingRemoval.as_view(), name="removal"),
    path("things/<int:number>/changes/", properties.ThingHistory.as_view(), name="changes"),
    path("intake/check/", intake.IntakeCheck.as_view(), name="intake-check"),
    path("intake/template/", intake.IntakeTemplate.as_view(), name="intake-template"),
    path("addresses/", calendars.AddressList.as_view(), name="addresses"),
    path("addresses/<int:number>/", calendars.AddressDetail.as_view(), name="address"),
    path("addresses/<int:number>/revocation/", calendars.AddressRevocation.as_view(), name="revocation"),
    re_path(r"^.*$", index.Nothing.as_view(), name="nothing"),
]
