"""Knows: what all tests share: Hypothesis without a clock, the same cases on every run in CI."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile("house", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", parent=settings.get_profile("house"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "house")
