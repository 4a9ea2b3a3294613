"""How far a plan has come, and how long each stage took."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field


@dataclass(slots=True)
class Progress:
    """Seconds of each stage so far; `tell` hears each stage's name as it starts."""

    tell: Callable[[str], object] = lambda _stage: None
    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time a stage; the same name again adds up."""
        self.tell(name)
        start = time.perf_counter()
        try:
            yield
        finally:
            self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - start
