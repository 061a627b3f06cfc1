"""Addresses of the whole site."""

from django.contrib import admin
from django.urls import include, path
from django.views.generic import RedirectView
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView

from stockplan.api_versions import CURRENT

# A later version of the API gets its own prefix beside this one, with the views that differ.
API = f"api/{CURRENT}/"

urlpatterns = [
    path("", RedirectView.as_view(pattern_name="admin:index"), name="home"),
    # Above the admin, whose own addresses would swallow what is below it.
    path("admin/", include("stockplan.planner.pages.urls")),
    path("admin/", admin.site.urls),
    path(API, include("inventory.api.urls")),
    path(API, include("stockplan.planner.api.urls")),
    path(API + "schema/", SpectacularAPIView.as_view(), name="schema"),
    path(
        API + "docs/",
        SpectacularSwaggerSplitView.as_view(template_name="api/docs.html"),
        name="api-docs",
    ),
]

handler404 = "stockplan.api_errors.page_not_found"
