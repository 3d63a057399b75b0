"""Property tests of the domain judge values, not the speed of a shared machine, and the same values in every run."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

settings.register_profile(
    "values-only", deadline=None, derandomize=True, database=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("values-only")
