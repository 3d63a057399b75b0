"""Property tests of the domain judge values, not the speed of a shared machine."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("values-only", deadline=None)
settings.load_profile("values-only")
