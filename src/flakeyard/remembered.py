"""What was worked out once and is kept: the one kind of memory in the package."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any


class Remembered:
    """Results by key, the latest ``most`` of them (None: all)."""

    def __init__(self, most: int | None = None):
        self.most, self._kept = most, OrderedDict()

    def __call__(self, key: Hashable, make: Callable[[], Any]) -> Any:
        """What was made for this key before, else made now."""
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key]
        found = self._kept[key] = make()
        if self.most is not None and len(self._kept) > self.most:
            self._kept.popitem(last=False)
        return found

    def __contains__(self, key: Hashable) -> bool:
        return key in self._kept

    def __iter__(self):
        return iter(self._kept)

    def __len__(self) -> int:
        return len(self._kept)
