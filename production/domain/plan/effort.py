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
PAPERS_SHARE = 0.06  # of the time, kept back for reasons, charges and purchases (own choice)
PAPERS_S = 0.4  # and at least so much of it (own choice)


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
    def left_s(self) -> float:
        """Seconds that the search may still take; what the papers need is kept back."""
        papers_s = min(max(PAPERS_S, PAPERS_SHARE * self.seconds), self.seconds / 2.0)
        return max(0.0, self.seconds - papers_s - self.passed_s)

    @property
    def is_stopped(self) -> bool:
        """Whether somebody has asked to stop."""
        return self.cancelled is not None and self.cancelled()

    def tell(self, note: str, done: int) -> None:
        """Tell how far it is."""
        if self.progress is not None:
            self.progress(note, done, STEPS)
