"""The page for those who cannot see it well, or use no mouse: an automated audit, and the keyboard alone.

The audit is axe-core's, carried by the wheel of axe-playwright-python, with the rules of WCAG 2.0, 2.1 and 2.2 at
levels A and AA. Of a page that scrolls inside itself it judges only what is in view, so the window is made as high
as the page first. Words inside charts it cannot judge; tests/explorer/components/test_palette.py holds their
colours.
"""

import json
from importlib.resources import files
from itertools import pairwise

import pytest

from explorer.questions.registry import MOMENTS
from tests.browser import helpers
from tests.browser.test_journeys import LOG

LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
# Rule of the audit: (the part in which its findings are not ours to mend, why).
STREAMLITS_OWN = {
    "scrollable-region-focusable": (
        "[data-testid=stTable]",
        "A table that is wider than a phone scrolls in a frame of Streamlit's that no key can reach.",
    ),
}
# What depends on where things lie and how large they are; a narrow window changes no name, role or colour.
OF_A_WIDTH = ["target-size", "scrollable-region-focusable"]
# The audit would weigh each mark of each drawing against every word. They lie over a frame of fixed size, so that
# nothing moves while they are away.
WITHOUT_DRAWINGS = """async ([drawings, options]) => {
  const away = [...document.querySelectorAll(".headroom-chart svg.main-svg")]
    .map((one) => [one, one.parentNode, one.nextSibling]).reverse();
  away.forEach(([one]) => one.remove());
  try {
    return await window.axe.run(drawings, options);
  } finally {
    away.forEach(([one, parent, next]) => parent.insertBefore(one, next));
  }
}"""
# Another theme would make the drawings anew, only for them to be taken away; their frames change all the same.
KEPT = """(keep) => {
  window.react ??= window.Plotly.react;
  window.Plotly.react = keep ? async () => {} : window.react;
}"""
DARK = "() => getComputedStyle(document.querySelector('.headroom-chart')).backgroundColor === 'rgb(16, 22, 26)'"
# Every part of the page, also inside the sliders' own trees.
DEEP = """
  const inner = (one) => (one.shadowRoot ? deep(one.shadowRoot) : []);
  const deep = (root) => [...root.querySelectorAll("*")].flatMap((one) => [one, ...inner(one)]);
"""
CONTROLS = f"""() => {{{DEEP}
  const kinds = "button, a[href], input:not([type=hidden]), select, textarea, summary, [role=button]";
  const seen = (one) => one.checkVisibility({{ visibilityProperty: true }}) && one.getClientRects().length;
  window.controls = deep(document).filter((one) => one.matches(kinds) && seen(one) && !one.disabled);
  window.reached = new Set();
  return window.controls.length;
}}"""
NOTE = """() => {
  let one = document.activeElement;
  while (one?.shadowRoot?.activeElement) one = one.shadowRoot.activeElement;
  window.reached.add(one);
  const ours = one.closest(".slider, .headroom-chart");
  const unmarked = Boolean(ours) && getComputedStyle(one).outlineStyle === "none";
  return [one === document.body, window.controls.indexOf(one), unmarked];
}"""
# One of a row of radio buttons stands for all: arrow keys move among them. A file box's field is behind its button,
# and the arrow beside a list's field does what the down key does in the field.
MISSED = """() => window.controls.filter((one) => !window.reached.has(one)
    && !(one.tabIndex < 0 && one.closest("[data-testid=stSelectbox]")?.querySelector("input"))
    && !(one.role === "radio" && [...one.closest("[role=radiogroup]").querySelectorAll("[role=radio]")]
         .some((other) => window.reached.has(other)))
    && one.type !== "file").map((one) => one.outerHTML.slice(0, 160))"""


@pytest.fixture(scope="module")
def axe() -> str:
    return (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")


def switch(page, scheme):
    """Show the page in a theme."""
    page.emulate_media(color_scheme=scheme)
    page.wait_for_function(DARK if scheme == "dark" else DARK.replace("===", "!=="))
    helpers.settle(page)


def audit(page, axe, scheme, part="body", only=None) -> list[str]:
    """Rule, part of the page and reason of each finding that is not Streamlit's own."""
    switch(page, scheme)
    if not page.evaluate("Boolean(window.axe)"):
        page.evaluate(axe)
    # A theme changes colours alone, so the dark one needs no second look at names and roles.
    all_rules = {"type": "tag", "values": LEVELS} if scheme == "light" else ["color-contrast", "link-in-text-block"]
    options = {"runOnly": only or all_rules, "resultTypes": ["violations"]}
    result = page.evaluate(WITHOUT_DRAWINGS, [{"include": [[part]], "exclude": [[".katex"]]}, options])
    found = []
    for rule in result["violations"]:
        theirs, _ = STREAMLITS_OWN.get(rule["id"], ("", ""))
        for node in rule["nodes"]:
            target = node["target"]
            inside = "([at, part]) => Boolean(document.querySelector(at)?.closest(part))"
            if theirs and isinstance(target[0], str) and page.evaluate(inside, [target[0], theirs]):
                continue
            why = node["failureSummary"].replace("\n", " ")[:300]
            found.append(f"{scheme}: {rule['id']} | {json.dumps(target)[-160:]} | {node['html'][:200]} | {why}")
    return found


def make_window(page, width):
    """A window that all of a page fits into."""
    page.set_viewport_size({"width": width, "height": page.viewport_size["height"]})
    helpers.settle(page)
    high = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
    page.set_viewport_size({"width": width, "height": high + 100})
    helpers.settle(page)


def test_audit_of_everything_in_both_themes_and_on_a_phone(journey, axe):
    """property: no finding of WCAG 2.2 AA with every section unfolded and a log fitted; no sideways scrolling."""
    page = journey("/?base=Dry&base.rear_teeth=50&nonsense=1&b2=Other")
    found, part = [], "body"  # the first screen once, then the questions of each moment
    themes, widths = ["light", "dark"], [1400, 390]
    for name, _ in MOMENTS:
        helpers.open_moment(page, name)
        if name == "Afterwards":
            helpers.unfold(page, LOG)
            page.get_by_role("button", name="Try an invented log").click()
            page.get_by_role("button", name="Put these into the build").wait_for()
        helpers.unfold_all(page)
        for width in widths:
            make_window(page, width)
            if width == 1400:
                page.evaluate(KEPT, True)
                found += [f"{name}, wide, {line}" for scheme in themes for line in audit(page, axe, scheme, part)]
                page.evaluate(KEPT, False)
                themes.reverse()
            else:
                assert helpers.fits(page), helpers.widest(page)
                found += [f"{name}, phone, {line}" for line in audit(page, axe, themes[0], part, OF_A_WIDTH)]
        page.set_viewport_size({"width": width, "height": 900})  # what is out of sight is not drawn
        widths.reverse()  # the next moment begins as this one ends: all charts are drawn anew at each change
        part = ".st-key-moment_questions"
    assert not found, "\n".join(found)


def test_audit_of_all_inputs(new_rider, page_server, axe):
    """property: the same for every group at the side, on a phone, where it lies over the page."""
    page = new_rider(page_server, "/?drag_area=0.4&pack_resistance=60&b2=Other", width=390, height=844)
    page.get_by_role("button", name="Open the sliders").click()
    page.get_by_role("radio", name="All inputs", exact=True).click()
    helpers.settle(page)
    helpers.unfold_all(page, "stSidebar")
    page.set_viewport_size({"width": 390, "height": 9000})
    helpers.settle(page)
    found = [line for scheme in ("light", "dark") for line in audit(page, axe, scheme)]
    assert not found, "\n".join(found)


def test_every_control_is_in_reach_of_the_keyboard(new_rider, page_server):
    """property: Tab alone reaches each control that can be seen; sliders, boxes and charts show where it is."""
    page = new_rider(page_server)
    count = page.evaluate(CONTROLS)
    assert count > 40
    unmarked = set()
    for _ in range(3 * count):
        page.keyboard.press("Tab")
        at_the_end, place, is_unmarked = page.evaluate(NOTE)
        if at_the_end:
            break
        if is_unmarked:
            unmarked.add(place)
    assert page.evaluate(MISSED) == []
    shown = "places => places.map((place) => window.controls[place]?.outerHTML.slice(0, 160))"
    assert page.evaluate(shown, sorted(unmarked)) == []


HEADINGS = """() => [...document.querySelectorAll("h1, h2, h3, h4, [role=heading]")]
  .filter((one) => one.checkVisibility() && one.innerText.trim())
  .map((one) => [Number(one.getAttribute("aria-level") ?? one.tagName[1]), one.innerText])"""
UNSAID = """() => [...document.querySelectorAll("[data-testid=stIconMaterial], p span[role=img][translate=no]")]
  .filter((one) => !one.closest("[aria-hidden=true]")).map((one) => one.outerHTML.slice(0, 160))"""
SMALL = """() => [...document.querySelectorAll("[data-testid=stTooltipIcon] button")]
  .filter((one) => one.checkVisibility()).map((one) => one.getBoundingClientRect())
  .filter((box) => box.width < 24 || box.height < 24).length"""
# Contrast of each line of a question with the page behind it, all that fades it counted: WCAG 2.2, 1.4.3.
CONTRAST = """(part) => {
  const numbers = (text) => text.match(/[\\d.]+/g).map(Number);
  const light = (rgb) => rgb.map((one) => one / 255)
    .map((one) => (one <= 0.04045 ? one / 12.92 : ((one + 0.055) / 1.055) ** 2.4))
    .reduce((sum, one, at) => sum + one * [0.2126, 0.7152, 0.0722][at], 0);
  const behind = numbers(getComputedStyle(document.querySelector("[data-testid=stApp]")).backgroundColor);
  return [...document.querySelectorAll(part)].map((one) => {
    const [red, green, blue, alpha = 1] = numbers(getComputedStyle(one).color);
    let seen = alpha;
    for (let at = one; at; at = at.parentElement) seen *= Number(getComputedStyle(at).opacity);
    const mixed = [red, green, blue].map((own, at) => seen * own + (1 - seen) * behind[at]);
    const [low, high] = [light(mixed), light(behind.slice(0, 3))].sort((a, b) => a - b);
    return (high + 0.05) / (low + 0.05);
  });
}"""


def test_what_is_heard_and_pressed(new_rider, page_server):
    """property: questions are headings in order, icons silent, the answer is announced, help is large enough."""
    page = new_rider(page_server)
    page.get_by_role("radiogroup").get_by_text("Afterwards").click()
    helpers.settle(page)
    page.wait_for_function(f"({UNSAID})().length === 0")
    page.wait_for_function("document.querySelector('.st-key-answer').ariaLive === 'polite'")
    page.wait_for_function(f"({HEADINGS})().filter(([level]) => level === 2).length >= 2")
    levels = [level for level, _ in page.evaluate(HEADINGS)]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert page.evaluate(SMALL) == 0


def test_a_question_that_is_answered_can_still_be_read(new_rider, page_server):
    """published: a contrast of 4.5 to 1 at least (WCAG 2.2, success criterion 1.4.3), question and answers."""
    page = new_rider(page_server)
    page.get_by_role("radiogroup").get_by_text("Learning").click()
    helpers.settle(page)
    page.get_by_text("Experiments: guess first, then look", exact=True).click()
    helpers.settle(page)
    page.get_by_test_id("stRadio").get_by_role("radio").first.check(force=True)
    helpers.settle(page)
    page.get_by_role("button", name="Run both").click()
    for scheme in ("light", "dark"):
        switch(page, scheme)
        found = page.evaluate(CONTRAST, "[class*='st-key-experiments_guess_'] p")
        assert len(found) >= 3
        assert min(found) >= 4.5, (scheme, found)
