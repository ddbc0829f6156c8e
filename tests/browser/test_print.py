"""The page on paper: what a browser prints of it, at the width of A4 and of Letter."""

import pytest

from tests.browser import helpers

MILLIMETRE = 96 / 25.4  # CSS pixels
PAPERS = {"A4": 210.0, "Letter": 215.9}
MARGINS = 2 * 12.0

# Boxes of all that is seen of words and charts: kind, words, left, top, right, bottom.
SEEN = """() => {
  const boxes = [];
  const add = (kind, one, box) => { if (box.width && box.height && one.checkVisibility())
    boxes.push([kind, one.innerText.slice(0, 200), box.left, box.top, box.right, box.bottom]); };
  for (const one of document.querySelectorAll("p, li, h1, h2")) add("words", one, one.getBoundingClientRect());
  for (const one of document.querySelectorAll(".headroom-chart"))
    add("chart", one, (one.querySelector(".svg-container") ?? one).getBoundingClientRect());
  return boxes;
}"""
# The smallest letters of what is drawn, pixels; a title without colour is for the saved data alone.
SMALLEST = """() => Math.min(...[...document.querySelectorAll(".headroom-chart svg text")]
  .filter((one) => one.textContent && Number(getComputedStyle(one).opacity) > 0)
  .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height > 0)
  .map((one) => [one.getScreenCTM(), parseFloat(getComputedStyle(one).fontSize)])
  .map(([{ a, b }, size]) => size * Math.hypot(a, b)))"""
QUESTION = "What line limit is safe from a cut-out today?"


@pytest.fixture(scope="module")
def opened(browser, page_server):
    """The page with one question unfolded."""
    with helpers.opening(browser, page_server, "/?preset=supermoto") as page:
        helpers.settle(page)
        helpers.unfold(page, QUESTION)
        yield page


@pytest.mark.parametrize("paper", PAPERS)
def test_it_prints_legibly(opened, paper):
    """property: answer, charts and the unfolded question are on the paper, inside it, and cover nothing."""
    width = (PAPERS[paper] - MARGINS) * MILLIMETRE
    helpers.settle(opened)  # charts have their width on the screen again
    opened.evaluate("dispatchEvent(new Event('beforeprint'))")
    opened.emulate_media(media="print")
    try:
        boxes = opened.evaluate(SEEN)
        charts = [box for box in boxes if box[0] == "chart"]
        assert len(charts) >= 4
        assert opened.evaluate(SMALLEST) >= 9.0  # 7 points
        words = " ".join(box[1] for box in boxes).replace("\u00a0", " ")
        assert "115 km/h" in words
        assert QUESTION in words
        for hidden in ("stSidebar", "stHeader", "stToolbar"):
            assert not opened.get_by_test_id(hidden).first.is_visible()
        for hidden in ("tray", "moments", "bar_end"):
            assert not opened.locator(f".st-key-{hidden}").is_visible()
        left = opened.get_by_test_id("stMainBlockContainer").bounding_box()["x"]
        assert [box for box in boxes if box[4] - left > width + 1] == []
        for chart in charts:
            covered = [
                box for box in boxes
                if box is not chart and min(box[4], chart[4]) - max(box[2], chart[2]) > 2
                and min(box[5], chart[5]) - max(box[3], chart[3]) > 2
            ]  # fmt: skip
            assert covered == [], (chart, covered)
    finally:
        opened.evaluate("dispatchEvent(new Event('afterprint'))")
        opened.emulate_media(media="screen")
    assert len(opened.pdf(format=paper)) > 20_000


def test_an_experiment_alone_takes_one_page(browser, page_server):
    """property: from its projector link, guess, chart and reason are seen at 1024 by 768, the chart in letters of
    18 pixels and more, and print on one sheet of either paper."""
    with helpers.opening(browser, page_server, "/?experiment=line_current&projector=yes") as page:
        page.locator("[class*=st-key-experiments_guess_] label").filter(has_text="More top speed").first.click()
        page.get_by_role("button", name="Run both").click()
        page.wait_for_selector("[data-key^=chart_experiments][data-state=drawn]", timeout=60_000)
        assert not page.locator(".st-key-first").is_visible()
        page.set_viewport_size({"width": 1024, "height": 768})
        helpers.settle(page)
        reason = page.locator(".st-key-verdict_experiments_because").bounding_box()
        assert reason["y"] + reason["height"] <= 768
        assert page.evaluate(SMALLEST) >= 18.0
        for paper in PAPERS:
            assert page.pdf(format=paper).count(b"/Type /Page\n") == 1
