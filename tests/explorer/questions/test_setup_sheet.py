"""The setup sheet: what stands on it is what the page says, it is whole in itself, and text stays text."""

import re
from html.parser import HTMLParser

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from explorer.format import UnitFormatter
from explorer.inputs.catalogue import INPUTS
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.page.page import Page
from explorer.questions.setup_sheet import section as setup_sheet
from explorer.questions.setup_sheet import sheet, words
from physics.simulation.run import run
from physics.studies.speedometer import pooled_calibration
from tests.explorer.page.test_page import rerun, state_of, written
from tests.explorer.questions.test_builds import opened

HOSTILE = "</td><script>alert('1')</script> & \"x\""


class Reader(HTMLParser):
    """The tags, attributes and text of a document, and whether each tag that opens is closed."""

    def __init__(self, text: str):
        super().__init__()
        self.tags, self.attributes, self.open, self.wrong, self.pieces = [], [], [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_data(self, data):
        self.pieces.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.pieces).split())


def page_of(preset="supermoto", system="metric", name="Wet", **changes) -> Page:
    values = PRESETS[preset].values() | changes
    build = make_build(values, name)
    duration, target = float(values["duration"]), INPUTS["target"].si(values["target"])
    return Page(
        build=build, baseline=None, runs=run([build], duration), target_speed=target, duration=duration,
        headroom_wanted=3.0, fmt=UnitFormatter(system), inputs=values,
    )  # fmt: skip


def gathered(page: Page, link="http://127.0.0.1:8501/?v=1", calibration=None, phase_as="peak") -> sheet.Sheet:
    return words.gather(page, "1 April 2030, 09:00", link, calibration, phase_as)


def rows_of(made: sheet.Sheet) -> dict[str, str]:
    return {label: value for block in made.blocks for label, value in block.rows if label}


@pytest.mark.parametrize("preset", PRESETS)
def test_it_holds_everything_the_garage_needs(preset):
    made = gathered(page_of(preset))
    titles = [block.title for block in made.blocks]
    for title in ("Limits for today", "Pack voltage at rest", "Front wheel: throttle marks", "Speedometer"):
        assert title in titles
    read = Reader(sheet.as_html(made))
    assert not read.wrong
    assert not read.open
    for block in made.blocks:
        for label, value in block.rows:
            assert label in read.text
            assert " ".join(value.split()) in read.text
    for text in (*words.CAUTIONS, *words.BLANKS, made.link, made.when, "Wet"):
        assert text in read.text


def test_hand_worked_numbers_of_the_demo():
    """hand-worked: from the demo's inputs: 12/56, RMS is peak over root two, 24 cells full at 4.2 V each."""
    rows = {label: value.replace(" ○", "") for label, value in rows_of(gathered(page_of())).items()}
    assert rows["Sprockets"] == "12 / 56, ratio 4.67 in all"  # 56 / 12 = 4.667
    assert rows["Level 3, in use"] == "line 200 A, phase 480 A peak (339 A RMS)"  # 480 / 1.4142 = 339.4
    assert rows["Air"] == "6 °C, humidity 60 %"
    assert rows["Full"] == "100.8 V"  # 24 x 4.2 V
    assert rows["Peak current"] == "240 A for 10 s"


def test_what_is_not_given_is_marked():
    """property: typical and demo each by a mark of its own, what is given by none; and what they mean."""
    made = gathered(page_of(front_teeth=13.0, kv=70.0))
    rows = rows_of(made)
    assert rows["Sprockets"].startswith("13 / 56 ○, ")
    assert rows["Motor"].startswith("Kv 70 rpm/V, ")
    assert "○" in rows["Resistance"]
    assert "◐" in rows["Under-voltage"]
    assert "◐ typical, ○ from the demo" in str(made)


def test_the_riders_units_everywhere():
    rows = rows_of(gathered(page_of(system="US"), phase_as="RMS"))
    assert rows["Air"].startswith("42.8 °F")  # 6 x 1.8 + 32
    assert rows["Bike, rider with gear"].endswith("lb ○")
    assert "°C" not in str(gathered(page_of(system="US")))
    assert "km/h" not in str(gathered(page_of(system="US")))


@pytest.mark.parametrize(
    ("changes", "texts"),
    [
        ({"pack_temperature": -5.0}, {"Headroom before regen": "no regen: pack too cold"}),
        ({"pack_temperature": 50.0}, {"Headroom before regen": "no regen: pack too hot"}),
        (
            {"regen": 0.0, "target": 200.0, "speed_cap": 90.0},
            {
                "Headroom before regen": "no regen is set",
                "Lowest for 200 km/h": "out of reach within 30 s today",
                "Speed cap": "90 km/h",
            },
        ),
        (
            {"regen": 200.0, "pack_temperature": 6.0, "target": 20.0, "undervoltage": 1.5, "field_weakening": 60.0},
            {"Regen at most": "5.0 A", "Lowest for 20 km/h": "any, down to", "Field weakening": "60 A peak"},
        ),
        ({"chemistry": "lfp"}, {"Regen only at or below": "% charge"}),
        ({"continuous_current": None, "peak_current": None}, {"Line limit, highest today": "none needed"}),
        (
            {"undervoltage": 3.6, "charge": 20.0, "foldback_start": 80.0, "foldback_end": 70.0},
            {"Line limit, highest today": "none is low enough", "Low-voltage cutback": "80 V to 70 V"},
        ),
    ],
)
def test_answers_that_are_no_numbers_and_what_is_set_beyond_the_usual(changes, texts):
    rows = rows_of(gathered(page_of(**changes)))
    for label, text in texts.items():
        assert text in rows[label]


def test_calibration_constant():
    """hand-worked: a display that shows 50 at a true 48 with constant 1000 needs 1000 x 48 / 50 = 960."""
    page = page_of()
    assert rows_of(gathered(page))["New constant"] == "no readings yet"
    pooled = pooled_calibration(1000.0, [50 / 3.6, 75 / 3.6, 100 / 3.6], [48 / 3.6, 72 / 3.6, 96 / 3.6])
    assert rows_of(gathered(page, calibration=pooled))["New constant"] == "960"


def test_table_of_limits_marks_today_once():
    made = gathered(page_of(front_teeth=13))
    html = sheet.as_html(made)
    assert html.count('class="now"') == 1
    table = made.tables[0]
    assert len(table.rows) == words.MOST_ROWS
    today = next(row for row in table.rows if row[0].endswith(sheet.TODAY))
    column = next(place for place, head in enumerate(table.heads) if head.endswith(sheet.TODAY))
    assert f'class="now">{today[column]}<' in html
    assert rows_of(made)["Line limit, highest today"] == f"{today[column]} A or less"


def test_it_is_whole_in_itself():
    """property: nothing is loaded from anywhere and nothing is run; the only address is the share link."""
    read = Reader(sheet.as_html(gathered(page_of())))
    assert not {"script", "img", "link", "iframe", "object", "form", "svg"} & set(read.tags)
    leads = [value for name, value in read.attributes if name in ("src", "href", "action", "data", "style")]
    assert leads == ["http://127.0.0.1:8501/?v=1"]
    assert not [name for name, _ in read.attributes if name.startswith("on")]
    assert ("lang", "en") in read.attributes
    assert ("content", "default-src 'none'; style-src 'unsafe-inline'") in read.attributes
    assert "url(" not in sheet._STYLE
    assert "@import" not in sheet._STYLE


def test_hostile_text_stays_text():
    """property: wherever text stands on the sheet, tags in it are shown."""
    made = sheet.Sheet(
        HOSTILE, HOSTILE, HOSTILE, [sheet.Block(HOSTILE, [(HOSTILE, HOSTILE), ("", HOSTILE)])],
        [sheet.Table(HOSTILE, ["a", HOSTILE], [[HOSTILE, HOSTILE]], HOSTILE)], [HOSTILE], [HOSTILE], HOSTILE,
    )  # fmt: skip
    html = sheet.as_html(made)
    read = Reader(html)
    assert "script" not in read.tags
    assert not read.wrong
    assert html.count(HOSTILE) == 0
    assert read.text.count("alert('1')") == 16  # every text once, the name twice


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=80))
@example("http://")
def test_any_text_leaves_the_sheet_in_order(text):
    """property: no text, in any place, opens or closes a tag of the sheet."""
    link = "https://g" if text.startswith(("http://", "https://")) else "g"  # an address may be followed
    plain = sheet.Sheet("a", "b", "c", [sheet.Block("d", [("e", "f")])], link=link)
    made = sheet.Sheet(text, text, text, [sheet.Block(text, [(text or "e", text)])], link=text or "g")
    one, other = Reader(sheet.as_html(plain)), Reader(sheet.as_html(made))
    assert one.tags == other.tags
    assert not other.wrong


@pytest.mark.parametrize("link", ["javascript:alert(1)", "?v=1", "data:text/html,x", ""])
def test_only_a_page_can_be_followed(link):
    html = sheet.as_html(sheet.Sheet("a", "b", "c", [], link=link))
    assert "href" not in html


def test_a_long_link_is_cut_in_print_and_whole_to_follow():
    link = "http://127.0.0.1:8501/?v=1&x=" + "1" * 3000
    read = Reader(sheet.as_html(sheet.Sheet("a", "b", "c", [], link=link)))
    assert ("href", link) in read.attributes
    assert "1" * sheet.LONGEST_LINK not in read.text


@pytest.mark.parametrize("system", ["metric", "US"])
@pytest.mark.parametrize("seed", range(3))
def test_far_ends_of_the_inputs(seed, system):
    """property: corners of the inputs give a sheet without "nan", or no build at all."""
    chance = np.random.default_rng(seed)
    keys = ("charge", "air_temperature", "target", "line_3", "regen", "capacity", "undervoltage", "rear_teeth")
    changes = {key: getattr(INPUTS[key], chance.choice(["low", "high"])) for key in keys}
    text = Reader(sheet.as_html(gathered(page_of(system=system, **changes)))).text
    assert not re.search(r"\bnan\b|\binf\b|not known|None", text)


def test_section_offers_the_file_and_shows_what_stands_on_it():
    page = opened("setup_sheet", name="<b>Wet</b>")
    said = written(page).replace("\u2060", "").replace("\\", "")
    assert "The sheet for <b>Wet</b>" in said
    assert "Line limit today:" in said
    button = page.get("download_button")
    assert "Save the setup sheet" in [one.proto.label for one in button]
    page.session_state["table_setup_sheet"] = True
    rerun(page)
    assert len(page.table) == 7
    state_of(page).units = "US"
    rerun(page)
    assert "mph" in written(page)


def test_date_and_time_are_plain():
    assert re.fullmatch(r"\d{1,2} [A-Z][a-z]+ \d{4}, \d{2}:\d{2}", setup_sheet.now())
