"""The planner's records in the admin: what was computed is read only; instructions are given on the working pages."""

from django.contrib import admin

from stockplan.planner.admin import forecasts, instructions, make_lists

__all__ = ["forecasts", "instructions", "make_lists"]

admin.site.site_header = "Stockplan"
admin.site.site_title = "Stockplan"
admin.site.index_title = "Start"
# The site is the admin: there is no other site to view.
admin.site.site_url = None
