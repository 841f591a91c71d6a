"""The sweeper and a request may want a PDF in the same moment: they draw one after the other."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier, BrokenBarrierError

import pytest

from app.reports import pdf


def test_two_threads_never_draw_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    together = Barrier(2)
    drawn = pdf._written  # noqa: SLF001  # what one thread alone may run

    def waits_for_another(page: str, *given: object) -> bytes:
        with pytest.raises(BrokenBarrierError):
            together.wait(timeout=0.2)
        together.reset()
        return drawn(page, *given)  # type: ignore[arg-type]  # passed on as they came

    monkeypatch.setattr(pdf, "_written", waits_for_another)
    with ThreadPoolExecutor(2) as threads:
        made = list(threads.map(pdf.make_pdf, ("<title>One</title>1", "<title>One</title>1")))

    assert made[0] == made[1]
