"""Prose and pages without a screen: the answer's sentence, faults in the page's own labels, what is done once."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.presets import FIRST, PRESETS
from explorer.inputs.to_build import make_build
from explorer.page import words
from explorer.page.page import once
from physics.build.fields import BuildError
from tests.explorer.pages import CUTS_OUT, page_of


def test_headlines():
    assert words.headline(page_of())[0] == "misses"
    assert words.headline(page_of(front_teeth=13.0, overcurrent_law="square of current"))[0] == "reaches"
    kind, sentence = words.headline(page_of(**CUTS_OUT))
    assert kind == "cuts out"
    assert "cuts out after" in sentence
    assert "under-voltage" in words.cut_out(page_of(**CUTS_OUT))
    assert "still gaining" in words.headline(page_of(duration=8.0))[1]


def test_faults_speak_the_page_s_own_labels():
    with pytest.raises(BuildError) as caught:
        make_build(PRESETS[FIRST].values() | {"peak_current": 100.0, "tyre": "banana"})
    sentences = words.faults(caught.value)
    assert any(text.startswith(f"“{INPUTS['peak_current'].label}”") for text in sentences)
    assert any("banana" in text and INPUTS["tyre"].label in text for text in sentences)
    assert not any("_" in text for text in sentences)


def test_what_knows_no_screen_imports_none():
    """Charts, words, inputs' table and numbers as text are importable without Streamlit."""
    names = "charts.ribbon charts.parts page.words inputs.catalogue inputs.to_build inputs.presets format"
    code = "import sys\n" + "\n".join(f"import explorer.{name}" for name in names.split())
    code += "\nassert 'streamlit' not in sys.modules and 'plotly' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(__file__).parents[3])


def test_what_is_worked_out_once_for_a_page_is_not_that_of_another():
    """property: asked twice, it is worked out once; a page with other inputs, or a copy, asks anew."""
    asked = []

    @once
    def target(page):
        asked.append(page)
        return page.target_speed

    slow, fast = page_of(target=60.0), page_of(target=90.0)
    assert [target(page) for page in (slow, fast, slow, fast)] == [60 / 3.6, 90 / 3.6] * 2
    assert asked == [slow, fast]
    assert target(replace(slow, target_speed=1.0)) == 1.0
