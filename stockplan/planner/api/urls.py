"""Addresses of make lists."""

from django.urls import path

from stockplan.planner.api import views

urlpatterns = [
    path("make-lists/", views.MakeListsView.as_view(), name="make-lists"),
    path("make-lists/latest/", views.LatestMakeListView.as_view(), name="make-list-latest"),
    path("make-lists/what-if/", views.WhatIfView.as_view(), name="what-if"),
    path("make-lists/order/", views.RunOrderView.as_view(), name="run-order"),
    path("make-lists/<uuid:make_list>/", views.MakeListView.as_view(), name="make-list"),
    path("make-lists/<uuid:make_list>/release/", views.MakeListReleaseView.as_view(), name="make-list-release"),
    path(
        "make-lists/<uuid:make_list>/runs/<int:rank>/release/",
        views.ListedRunReleaseView.as_view(),
        name="listed-run-release",
    ),
]
