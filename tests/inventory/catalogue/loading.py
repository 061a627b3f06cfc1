"""What tests of loading a plant look at."""

from __future__ import annotations

from django.apps import apps


def assert_nothing_loaded() -> None:
    counts = {model.__name__: model._default_manager.count() for model in apps.get_app_config("inventory").get_models()}
    assert {name: count for name, count in counts.items() if count} == {}
