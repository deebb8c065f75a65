"""The page on speed shows the ratios that were recorded."""


def test_the_page_shows_what_was_recorded(page_and_rows):
    """`pytest -m bench --record-ratios` writes both."""
    shown, rows = page_and_rows
    assert shown == rows
