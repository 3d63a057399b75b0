"""How much time a planning may take, who may stop it, and who hears of it."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from production.domain.plan.content import Preview

Progress = Callable[[str, int, int], None]
Better = Callable[[Preview], None]
Cancelled = Callable[[], bool]

STEPS = 5  # of a planning, as progress counts them


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """Seconds from `began_s` on, threads, and the ears of whoever asked; no seconds = one careful pass."""

    seconds: float = 0.0
    workers: int = 1
    seed: int = 0
    progress: Progress | None = None
    better: Better | None = None
    cancelled: Cancelled | None = None
    began_s: float = field(default_factory=time.monotonic)

    @property
    def passed_s(self) -> float:
        """Seconds since it began."""
        return time.monotonic() - self.began_s

    @property
    def counted_s(self) -> float:
        """Seconds that are told with the plan; a single careful pass is not timed, so that it can be repeated."""
        return self.passed_s if self.seconds > 0.0 else 0.0

    @property
    def is_stopped(self) -> bool:
        """Whether somebody has asked to stop."""
        return self.cancelled is not None and self.cancelled()

    def tell(self, note: str, done: int) -> None:
        """Tell how far it is."""
        if self.progress is not None:
            self.progress(note, done, STEPS)
