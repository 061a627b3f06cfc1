"""Addresses of the working pages, all under the log-in of the admin site."""

from django.urls import path, re_path

from stockplan.planner.pages import (
    due,
    filament,
    forecast,
    home,
    line,
    make_list,
    oven,
    owner,
    purchases,
    run_card,
    sku,
    stock,
    week,
)

app_name = "pages"
urlpatterns = [
    path("", home.entry, name="home"),
    path("stock/", stock.stock, name="stock"),
    path("due/", due.due, name="due"),
    path("due/<int:order_id>/", due.order, name="due-order"),
    path("due/<int:order_id>/ship/", due.ship, name="ship"),
    path("skus/<str:code>/", sku.sku, name="sku"),
    path("forecast/", forecast.health, name="forecast"),
    path("make-list/", make_list.latest, name="make-list"),
    path("make-list/lines/", make_list.lines, name="lines"),
    path("make-list/compute/", make_list.compute, name="compute"),
    path("make-list/week/", week.week, name="week"),
    path("make-list/<uuid:make_list_id>/release/", make_list.release, name="release"),
    path("make-list/runs/<int:listed_run_id>/release/", make_list.release_run, name="release-run"),
    path("filaments/<str:code>/", filament.filament, name="filament"),
    re_path(r"^filaments/(?P<code>[^/]+)/(?P<kind>pin|forbid|resize)/$", filament.instruct, name="instruct"),
    path("instructions/<int:instruction_id>/withdraw/", filament.withdraw, name="withdraw"),
    path("line/", line.lines, name="line-choice"),
    path("line/<str:code>/", line.line, name="line"),
    path("line/<str:code>/start/", line.start, name="line-start"),
    path("line/<str:code>/diameters/", line.diameters, name="line-diameters"),
    path("line/<str:code>/finish/", line.finish, name="line-finish"),
    path("ovens/", oven.ovens, name="ovens"),
    path("ovens/pack/", oven.pack_spools, name="pack"),
    path("ovens/<str:code>/load/", oven.load, name="load"),
    path("ovens/<str:code>/unload/", oven.unload, name="unload"),
    path("owner/", owner.owner, name="owner"),
    path("owner/<str:name>.csv", owner.table, name="owner-table"),
    path("purchases/", purchases.purchases, name="purchases"),
    path("purchases/advise/", purchases.advise, name="advise"),
    path("run-cards/", run_card.run_cards, name="run-cards"),
    path("run-cards/<str:code>/", run_card.card, name="run-card"),
]
