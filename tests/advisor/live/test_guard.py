"""What the live page's guard lets in: the page itself, and nothing else."""

import pytest

from advisor.live.guard import MOST_AT_ONCE, MOST_BYTES, Guard

HOST, TOKEN = "127.0.0.1:4711", "tell-nobody"
ASKS = {
    "host": HOST,
    "origin": f"http://{HOST}",
    "content-type": "application/json",
    "content-length": "2",
}


class Site:
    """An application behind a guard, with a clock that stands still."""

    def __init__(self):
        self.now, self.paths = 0.0, []
        self.guard = Guard(self.app, HOST, TOKEN, lambda: self.now)

    async def app(self, scope, receive, send):
        self.paths.append(scope["path"])
        while (await receive()).get("more_body"):
            pass
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b""})

    def ask(self, headers, method="POST", path=f"/{TOKEN}/answer", body=(b"{}",)):
        """Send a request; status and headers of what comes back."""
        parts = [
            {"type": "http.request", "body": each, "more_body": True} for each in body
        ]
        parts[-1]["more_body"] = False
        sent = []

        async def receive():
            return parts.pop(0)

        async def send(message):
            sent.append(message)

        pairs = headers.items() if isinstance(headers, dict) else headers
        scope = {
            "type": "http",
            "method": method,
            "path": path,
            "headers": [(k.encode(), v.encode()) for k, v in pairs],
        }
        # Nothing here waits, so that one step does it all.
        with pytest.raises(StopIteration):
            self.guard(scope, receive, send).send(None)
        return sent[0]["status"], dict(sent[0]["headers"])


@pytest.fixture
def site():
    return Site()


def test_the_page_itself_is_let_in_without_its_token(site):
    status, headers = site.ask(ASKS)
    assert (status, site.paths) == (200, ["/answer"])
    policy = headers[b"content-security-policy"].decode()
    assert "default-src 'none'" in policy
    assert "unsafe-eval" not in policy
    assert not any(name.startswith(b"access-control") for name in headers)
    assert site.ask({"host": HOST}, "GET", f"/{TOKEN}/")[0] == 200


@pytest.mark.parametrize(
    ("changed", "status"),
    [
        # A name of an attacker's that is made to point here (DNS rebinding).
        ({"host": "elsewhere.example:4711"}, 403),
        ({"host": "localhost:4711"}, 403),
        ({"host": "127.0.0.1:80"}, 403),
        ({"origin": "http://elsewhere.example"}, 403),
        ({"origin": "null"}, 403),
        ({"origin": None}, 403),
        ({"sec-fetch-site": "cross-site"}, 403),
        ({"content-type": "text/plain"}, 415),
        ({"content-length": str(MOST_BYTES + 1)}, 413),
        ({"content-length": None}, 411),
        ({"content-length": "-1"}, 411),
    ],
)
def test_what_is_not_from_the_page_is_refused_unread(site, changed, status):
    headers = {k: v for k, v in {**ASKS, **changed}.items() if v is not None}
    assert site.ask(headers)[0] == status
    assert site.paths == []


@pytest.mark.parametrize(
    "path", ["/", "/answer", "/wrong/answer", f"/{TOKEN}", f"/{TOKEN}x/", "/é/answer"]
)
def test_without_the_token_there_is_nothing(site, path):
    assert site.ask(ASKS, path=path)[0] == 404
    assert site.paths == []


def test_two_hosts_are_none(site):
    assert site.ask([*ASKS.items(), ("host", HOST)])[0] == 403


def test_more_than_was_said_is_not_read(site):
    part = b"x" * (MOST_BYTES // 2)
    assert site.ask(ASKS, body=(part, part, part))[0] == 413


def test_other_methods_are_none(site):
    assert site.ask(ASKS, "DELETE")[0] == 405


def test_too_many_are_refused_until_time_has_passed(site):
    """Attempts without the token do not use up what the page may ask."""
    for _ in range(3 * int(MOST_AT_ONCE)):
        site.ask(ASKS, path="/wrong/answer")
    found = [site.ask(ASKS)[0] for _ in range(int(MOST_AT_ONCE) + 5)]
    assert found == [200] * int(MOST_AT_ONCE) + [429] * 5
    site.now = 1.0
    assert site.ask(ASKS)[0] == 200
