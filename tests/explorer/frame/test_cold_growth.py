"""Growth in the cold from two measurements, at the side of the page."""

from explorer.inputs.catalogue import PACK
from tests.explorer.pages import opened, state_of


def test_two_measurements_are_entered():
    """hand-worked: 50 mohm at 25 C and 80 mohm at 5 C: 20 K are 2.41167e-4 of 3.06976e-4 /K, so the
    growth to 0 C is 1.6 ^ (3.06976 / 2.41167) = 1.819."""
    page = opened()
    page.session_state["side_view"], page.session_state[f"group_{PACK}"] = "All inputs", True
    page.run()
    page.number_input(key="cold_growth:mild:degC").set_value(25.0).run()
    assert any("1.82 times" in element.value for element in page.markdown)
    page.button(key="cold_growth:enter").click().run()
    assert not page.exception
    assert state_of(page).values["cold_growth"] == 1.82


def test_temperatures_too_close_are_refused_in_a_sentence():
    page = opened()
    page.session_state["side_view"], page.session_state[f"group_{PACK}"] = "All inputs", True
    page.run()
    page.number_input(key="cold_growth:mild:degC").set_value(6.0).run()
    assert not page.exception
    assert any("too close" in element.value for element in page.warning)
