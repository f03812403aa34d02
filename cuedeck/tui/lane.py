"""What is asked of the player, one request after the other, in a thread that may wait for each."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable

from cuedeck.player.channel.requests import AnyRequest, ShowLook


class Lane:
    """Carries out requests in their order. Of several looks that wait to be shown, only the newest is kept."""

    def __init__(self, name: str, carry_out: Callable[[AnyRequest], None]) -> None:
        self._carry_out = carry_out
        self._news = threading.Condition()
        self._waiting: deque[AnyRequest] = deque()
        self._is_at_work = False
        self._is_over = False
        threading.Thread(target=self._work, name=name, daemon=True).start()

    @property
    def is_busy(self) -> bool:
        """Whether something is not carried out yet."""
        return self._is_at_work or bool(self._waiting)

    def put(self, request: AnyRequest) -> None:
        """Have a request carried out; returns at once."""
        with self._news:
            if isinstance(request, ShowLook) and self._waiting and isinstance(self._waiting[-1], ShowLook):
                self._waiting.pop()
            self._waiting.append(request)
            self._news.notify()

    def end(self) -> None:
        """Forget what waits; safe to call twice."""
        with self._news:
            self._is_over = True
            self._waiting.clear()
            self._news.notify()

    def _work(self) -> None:
        while True:
            with self._news:
                self._is_at_work = False
                self._news.wait_for(lambda: self._waiting or self._is_over)
                if self._is_over:
                    return
                request = self._waiting.popleft()
                self._is_at_work = True
            self._carry_out(request)
