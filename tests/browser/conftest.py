"""A real browser without a window, and what to say where there is none."""

import os
import shutil

import pytest

NEEDED = "SKIPLOBE_NEEDS_BROWSER"


def _missing(what):
    """Skip for want of a browser; fail where one is promised."""
    words = f"{what}: install Debian's chromium and the test extra"
    if os.environ.get(NEEDED) == "1":
        pytest.fail(f"{NEEDED}=1, but there is no {words}")
    pytest.skip(f"no {words}")


@pytest.fixture(scope="session")
def missing():
    """Call it with the name of what is not there."""
    return _missing


@pytest.fixture(scope="session")
def browser():
    """A browser without a window."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _missing("playwright")
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        _missing("chromium")
    with sync_playwright() as player:
        opened = player.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def watched(browser):
    """Open a file; every test ends with nothing said and nothing else asked for."""
    contexts, said, asked = [], [], []

    def open_file(file, width=1280, **options):
        context = browser.new_context(
            viewport={"width": width, "height": 800}, offline=True, **options
        )
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda request: asked.append(request.url))
        page.goto(file.as_uri())
        return page

    yield open_file
    for context in contexts:
        context.close()
    assert said == []
    assert {url.split(":")[0] for url in asked} <= {"file", "data"}
    assert len([url for url in asked if url.startswith("file")]) == len(contexts)
