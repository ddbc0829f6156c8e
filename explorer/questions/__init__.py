"""The questions of the page, one folder each, by the moment in which they come up.

To add one, make its folder and put its name into a moment of `registry.MOMENTS`. A folder holds, as far as needed,

    __init__.py   its door: TITLE and draw
    section.py    what it draws: TITLE, the question as the rider would ask it, and draw(page)
    chart.py      its figure: a pure function from numbers to a dict, colours as "@blue" (see the palette)
    results.py    its numbers: cached, keyed by the frozen build; numbers, never figures
    words.py      its prose, and the derivation behind its verdict

`draw` gets the `explorer.page.page.Page`: `page.build`, `page.run` (a `physics.simulation.result.RunResult` of one
row), `page.baseline`, `page.baseline_run`, `page.target_speed`, `page.duration`, `page.headroom_wanted` (all SI)
and `page.fmt` (numbers to text in the rider's units: `page.fmt("speed", v)`). It ends by calling
`explorer.frame.layout.show`, which gives all sections one shape: verdict in words, chart, numbers as a table on
request, caution. It is called only while the section is unfolded, and no work is done at import. A whole section:

    from explorer.frame.layout import show
    from explorer.questions.coasting import chart, results, words

    TITLE = "How far does it roll?"

    def draw(page):
        answer = results.coasting(page.build)
        show(
            "coasting",
            verdict=words.verdict(answer, page.fmt),
            figure=chart.figure(answer, page.fmt),
            height=320,
            alt="Speed against distance while coasting.",
            table=lambda: words.table(answer, page.fmt),  # a pandas DataFrame, made only when asked for
            caution=words.CAUTION,
        )

Every input is declared once, in `explorer/inputs/catalogue.py`, so that it is checked, can be undone and goes into
the share link. Inputs that belong to one question get a group of their own there and are drawn by
`explorer.frame.sidebar.in_place(group)`; their values stand in `page.inputs` in home units. Widgets of a section
take keys that begin with its name. What is done in less than a millisecond, hardly more than a cache takes, is kept
with the page instead, by `explorer.page.page.once`. No question imports another; the setup sheet alone gathers.
"""
