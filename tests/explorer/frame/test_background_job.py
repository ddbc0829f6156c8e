"""Work beside the page."""

import time

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
