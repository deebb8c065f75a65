"""What every test shares: solved wires are kept apart from the tester's own."""

import pytest


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory):
    """One cache for the whole run: what one test solved the next one reads."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SKIPLOBE_CACHE_DIR", str(tmp_path_factory.mktemp("cache")))
        yield
