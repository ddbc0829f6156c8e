"""The page as the README opens it: quiet, inside this machine, usable on a phone and in the dark."""

import socket

import pytest

LOOK = """() => [document.querySelector("[data-testid=stApp]"), document.querySelector(".headroom-chart")]
  .map((one) => getComputedStyle(one).backgroundColor)"""
GROUND = {"light": "rgb(251, 251, 249)", "dark": "rgb(16, 22, 26)"}


def errors(page):
    return [line for line in page.console if line.startswith(("error", "pageerror"))]


@pytest.mark.parametrize(("width", "scheme"), [(1400, "light"), (390, "dark")])
def test_it_opens_quietly_and_every_part_has_a_name(new_rider, page_server, width, scheme):
    """property: no error in console or server, nothing fetched from elsewhere, no sideways scrolling.

    What is drawn is also said, in words long enough to say something. Page and charts are in the rider's theme.
    """
    page = new_rider(page_server, width=width, color_scheme=scheme)
    assert page.evaluate(LOOK) == [GROUND[scheme]] * 2
    assert errors(page) == []
    assert page.refused == []
    assert page.get_by_test_id("stException").count() == 0
    assert page.locator(".headroom-chart[data-state=drawn]").count() >= 1
    assert page.locator(".headroom-chart[data-state=failed]").count() == 0
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    said = page_server.text()
    assert "Traceback" not in said
    assert "arning" not in said
    alts = page.locator(".headroom-chart [role=img]").evaluate_all("all => all.map((one) => one.ariaLabel)")
    assert alts
    assert all(len(words) >= 20 for words in alts), alts
    for slider in page.locator(".slider").all():
        assert slider.locator(".label").inner_text().strip()
        assert slider.locator(".range").get_attribute("aria-valuetext")


def test_an_instant_pointed_at_is_read_in_every_chart_of_the_run(new_rider, page_server):
    """property: speed and limit, volts, amps and kilowatts of one instant, wherever it was pointed at."""
    page = new_rider(page_server, height=1900)
    plot = page.locator("[data-key=chart_run] .nsewdrag").first.bounding_box()
    across, middle = plot["x"] + 0.5 * plot["width"], plot["y"] + 0.5 * plot["height"]
    labels = page.locator("[data-key=chart_sag] .hovertext")
    for step in range(41):  # down to the line, wherever it lies
        page.mouse.move(across, plot["y"] + plot["height"] * step / 40)
        page.wait_for_timeout(60)  # a chart looks for what is pointed at no more often
        if labels.count():
            break
    page.wait_for_function("document.querySelectorAll('[data-key=chart_run] .hovertext').length >= 2")
    said = " ".join(labels.evaluate_all("all => all.map((one) => one.textContent)"))
    assert " V" in said
    assert " A, " in said
    assert "kW" in said
    page.mouse.move(across, middle - plot["height"])
    page.wait_for_function("!document.querySelector('[data-key=chart_sag] .hovertext')")


def upgrade(server, host, origin):
    """The first line of the server's answer to a request for the page's live connection."""
    port = int(server.url.rsplit(":", 1)[1])
    lines = (
        "GET /_stcore/stream HTTP/1.1", f"Host: {host}", f"Origin: {origin}", "Upgrade: websocket",
        "Connection: Upgrade", "Sec-WebSocket-Version: 13", "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==", "", "",
    )  # fmt: skip
    with socket.create_connection(("127.0.0.1", port), timeout=10) as line:
        line.sendall("\r\n".join(lines).encode())
        return line.recv(200).split(b"\r\n")[0].decode()


def test_other_sites_cannot_reach_it(page_server):
    """property: a request under a foreign name is refused, even where the origin agrees with it."""
    assert " 101 " in upgrade(page_server, "127.0.0.1", page_server.url)
    assert " 403 " in upgrade(page_server, "elsewhere.example", "http://elsewhere.example")


def test_it_is_not_on_the_network(page_server):
    """property: the server listens on this machine's own address only."""
    port = int(page_server.url.rsplit(":", 1)[1])
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # sends nothing; tells which address faces the network
        outside = probe.getsockname()[0]
    if outside.startswith("127."):
        pytest.skip("This machine has no address but its own.")
    with pytest.raises(OSError), socket.create_connection((outside, port), timeout=2):
        pass
