"""Prose and pages without a screen: the answer's sentence, faults in the page's own labels, what is done once."""

import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from explorer.inputs.catalogue import INPUTS
from explorer.inputs.presets import PRESETS
from explorer.inputs.to_build import make_build
from explorer.page import words
from explorer.page.page import once
from physics.build.fields import BuildError
from physics.simulation.run import run
from tests.explorer.pages import CUTS_OUT, SUPERMOTO, page_of


def test_headlines():
    assert words.headline(page_of())[0] == "misses"
    assert words.headline(page_of(front_teeth=13.0, overcurrent_law="square of current"))[0] == "reaches"
    kind, sentence = words.headline(page_of(**CUTS_OUT))
    assert kind == "cuts out"
    assert "cuts out after" in sentence
    assert "under-voltage" in words.cut_out(page_of(**CUTS_OUT))


def test_a_run_that_is_still_gaining_is_gone_on_with_before_its_verdict():
    """property: there later is said where a run of that length is there by then, and nothing is promised where the
    settled speed, which a run of five minutes shows, is below the target.
    """
    early = page_of(duration=8.0, target=100.0)
    kind, sentence = words.headline(early)
    said = re.search(
        r"Not yet at 100 km/h after 8 s: .* and still gaining. It would get there after ([0-9.]+) s", sentence
    )
    assert kind == "misses"
    assert words.time_to_target(early) == "not yet"
    later = run(early.build, float(said.group(1)) + 0.1)
    assert later.reaches(100 / 3.6)[0]
    assert later.time_to(100 / 3.6)[0] == pytest.approx(float(said.group(1)), abs=0.06)
    short = page_of(duration=8.0)
    settled = f"{run(short.build, 300.0).top_speed[0] * 3.6:.1f} km/h"
    at_end = f"{short.run.top_speed[0] * 3.6:.1f} km/h"
    assert words.headline(short)[1].endswith(f"it tops out at {settled} ({at_end} after 8 s).")
    assert words.time_to_target(short) == "not reached"


def test_a_run_that_would_cut_out_on_its_way_says_so():
    """property: a pack whose peak time is over a little later than the run; the moment is that of a longer run."""
    page = page_of(duration=5.0, target=150.0, continuous_current=100.0, peak_current=300.0, peak_time=4.0)
    cut = run(page.build, 30.0).cut_out_time[0]
    assert 5.0 < cut < 30.0
    assert words.headline(page)[1].endswith(f"and the pack would cut out first, after {cut:.1f} s.")


def test_faults_speak_the_page_s_own_labels():
    with pytest.raises(BuildError) as caught:
        make_build(PRESETS[SUPERMOTO].values() | {"peak_current": 100.0, "tyre": "banana"})
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
