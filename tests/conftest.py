"""What all tests share: how many examples the property tests draw, and no test that waits for the network."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

# Continuous integration draws the same examples every time and does not fail on a slow machine.
settings.register_profile("ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("developer", deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE") or "developer")
