"""Addresses of setting up, searching, lists, drawing, and the pictures of an owner."""

from django.urls import path

from landscape_care.pages.views import garden, lists, outlines, search, setting_up, users

urlpatterns = [
    path("properties/<slug:code>/plan/", outlines.plan, name="plan"),
    path("properties/<slug:code>/plan/<str:tag>/", outlines.draw_area, name="draw_area"),
    path("garden/<str:token>/photos/<int:number>/", garden.garden_photo, name="garden_photo"),
    path("search/", search.search, name="search"),
    path("lists/", lists.lists, name="lists"),
    path("lists/<int:number>/forget/", lists.forget, name="forget_list"),
    path("lists/<slug:key>/", lists.one_list, name="list"),
    path("lists/<slug:key>/keep/", lists.keep, name="keep_list"),
    path("lists/<slug:key>/csv/", lists.list_csv, name="list_csv"),
    path("setup/", setting_up.setup, name="setup"),
    path("setup/clients/", setting_up.clients, name="clients"),
    path("setup/clients/new/", setting_up.new_client, name="new_client"),
    path("setup/clients/<slug:code>/", setting_up.client, name="client"),
    path("setup/depots/", setting_up.depots, name="depots"),
    path("setup/depots/new/", setting_up.new_depot, name="new_depot"),
    path("setup/depots/<slug:code>/", setting_up.depot, name="depot"),
    path("setup/crews/", setting_up.crew_list, name="crew_list"),
    path("setup/crews/new/", setting_up.new_crew, name="new_crew"),
    path("setup/crews/<slug:code>/", setting_up.crew, name="crew_change"),
    path("setup/crews/<slug:code>/rest/", setting_up.rest_crew, name="rest_crew"),
    path(
        "setup/crews/<slug:code>/days-off/<int:number>/take-back/",
        setting_up.take_back_day_off,
        name="take_back_day_off",
    ),
    path("setup/people/", users.users, name="users"),
    path("setup/people/new/", users.new_user, name="new_user"),
    path("setup/people/<int:number>/", users.user, name="user"),
    path("setup/people/<int:number>/password/", users.password, name="user_password"),
    path("setup/people/<int:number>/account/", users.open_or_close, name="user_account"),
]
