"""The five moments: every question in one of them, one open at a time, one caution for what is unfolded."""

import pytest
from streamlit.testing.v1 import AppTest

from explorer.questions.registry import FOLDED, MOMENTS
from tests.explorer.pages import APP, rerun, written

pytestmark = pytest.mark.own_moments


def opened() -> AppTest:
    return rerun(AppTest.from_file(APP, default_timeout=60))


def titles(page: AppTest) -> set[str]:
    return {fold.label for fold in page.main.expander} & {question.TITLE for question in FOLDED}


def test_each_question_stands_in_one_moment():
    assert len(MOMENTS) == 5
    assert len(set(FOLDED)) == len(FOLDED)
    assert len({question.TITLE for question in FOLDED}) == len(FOLDED)


def test_one_moment_is_open_at_a_time():
    """property: its questions are there, folded, and no others; another tap closes it."""
    page = opened()
    assert not titles(page)
    for name, questions in MOMENTS:
        page.segmented_control(key="moment").set_value(name).run()
        assert not page.exception
        assert titles(page) == {question.TITLE for question in questions}
        assert not page.warning
    page.segmented_control(key="moment").set_value(None).run()
    assert not titles(page)


def test_a_tap_scrolls_there_once():
    """property: the script differs at each tap and stays the same where the page runs for another reason."""
    page = opened()
    page.segmented_control(key="moment").set_value(MOMENTS[2][0]).run()
    script = page.get("html")[-1].proto.body
    assert "st-key-moments" in script
    rerun(page)
    assert page.get("html")[-1].proto.body == script
    page.segmented_control(key="moment").set_value(MOMENTS[3][0]).run()
    assert page.get("html")[-1].proto.body != script


def test_one_caution_for_all_that_is_unfolded():
    page = opened()
    page.segmented_control(key="moment").set_value("At the track").run()
    for name in ("headroom", "voltage_window"):
        rerun(page, f"section_{name}")
    assert len(page.warning) == 1
    for words in ("Charging cold lithium cells", "Count the ride back"):
        assert words in written(page)


def test_a_link_opens_its_experiment():
    """property: the moment, the question and the experiment that the link names, nothing run before the guess."""
    page = AppTest.from_file(APP, default_timeout=60)
    page.query_params["experiment"] = "tuck"
    rerun(page)
    assert page.segmented_control(key="moment").value == "Learning"
    assert page.selectbox(key="experiments_choice").value == "tuck"
    assert "**Why:**" not in written(page)
    assert "".join(page.query_params["experiment"]) == "tuck"
    page.selectbox(key="experiments_choice").set_value("sprocket").run()
    rerun(page)
    assert "".join(page.query_params["experiment"]) == "sprocket"
