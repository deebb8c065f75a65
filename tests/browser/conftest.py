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


def _open(browser, kept, file, width, options):
    """Open a file in a window of its own; note it, what is said and what is asked."""
    contexts, said, asked = kept
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


def _assert_silent(contexts, said, asked):
    """Nothing was said, nothing but the files was asked for."""
    assert said == []
    assert {url.split(":")[0] for url in asked} <= {"file", "data"}
    assert len([url for url in asked if url.startswith("file")]) == len(contexts)


@pytest.fixture
def watched(browser):
    """Open a file; every test ends with nothing said and nothing else asked for."""
    kept = [], [], []

    def open_file(file, width=1280, **options):
        return _open(browser, kept, file, width, options)

    yield open_file
    for context in kept[0]:
        context.close()
    _assert_silent(*kept)


@pytest.fixture(scope="session")
def shelf(browser):
    """The browser, its pages by file and kind of window, what is noted of them."""
    kept = [], [], []
    yield browser, {}, kept
    for context in kept[0]:
        context.close()


@pytest.fixture
def shelved(shelf):
    """Show a file that stays open, for tests that only look: any width, any light."""
    browser, pages, kept = shelf

    def show(file, width=1280, *, unfolded=False, scheme="light", script=True):
        key = file, unfolded, script
        if key not in pages:
            page = _open(browser, kept, file, width, {"java_script_enabled": script})
            if unfolded and script:
                page.evaluate(
                    "document.querySelectorAll('details').forEach(e => e.open = true)"
                )
            elif unfolded:
                for summary in page.query_selector_all("details:not([open]) > summary"):
                    # What needs a script is not there.
                    if summary.is_visible():
                        summary.click()
            pages[key] = page
        page = pages[key]
        page.set_viewport_size({"width": width, "height": 800})
        page.emulate_media(media="null", color_scheme=scheme)
        return page

    yield show
    _assert_silent(*kept)
