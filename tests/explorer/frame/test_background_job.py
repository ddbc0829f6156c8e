"""Work beside the page."""

import threading
import time

import pytest
from streamlit.testing.v1 import AppTest

from explorer.frame import background_job
from explorer.frame.background_job import Job


def test_a_job_stops_drops_and_tells_errors():
    """property: a stopped job keeps its result, a dropped one that waits never begins, an error is kept."""

    def work(progress, cancelled):
        while not cancelled():
            progress(1, 2)
            time.sleep(0.005)
        return "part"

    job = Job(work)
    time.sleep(0.05)
    assert job.fraction == 0.5
    job.stop()
    assert job.join(5)
    assert job.result == "part"
    waiting = Job(work, wait=5.0)
    waiting.drop()
    assert waiting.join(5)
    assert waiting.result is None
    broken = Job(lambda progress, cancelled: 1 / 0)
    assert broken.join(5)
    assert isinstance(broken.error, ZeroDivisionError)


@pytest.mark.parametrize("stops", [True, False])
def test_a_way_to_stop_is_shown_only_where_it_works(monkeypatch, stops):
    """property: work that does not heed being stopped shows how far it is, and no button."""
    monkeypatch.setattr(background_job, "SHOWN_AFTER", 0.0)
    gate = threading.Event()
    job = Job(lambda progress, cancelled: (progress(1, 2), gate.wait(5)))
    while not job.fraction:
        time.sleep(0.001)

    def script(job, stops):
        from explorer.frame.background_job import watch

        watch(job, "work", "Working", stops=stops)

    page = AppTest.from_function(script, args=(job, stops)).run()
    gate.set()
    assert not page.exception
    assert [button.label for button in page.button] == ["Stop"] * stops
