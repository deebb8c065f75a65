"""Station files with every kind of damage: read, or refused in one line."""

import math

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from advisor.cli import main
from advisor.station.file import demo_station, starter_toml
from tests.fuzz import makers

pytestmark = [pytest.mark.fuzz, pytest.mark.slow]

STARTER = starter_toml()
DEMO = demo_station().read_text(encoding="utf-8")
KEYS = ("name", "place", "power_w", "emission", "noise", "noise_trim_db", "ground")
KEYS += ("horizon_deg", "horizon", "bands", "iaru_region", "time_zone", "to")
KEYS += ("far_end", "setups", "far_end.power_w", "setups.shape", "nonsense", '"a\\nb"')

VALUES = st.recursive(
    st.one_of(
        makers.NUMBERS,
        makers.SCRAPS,
        st.booleans(),
        st.integers(-(2**70), 2**70),
        st.sampled_from([10**400, "KF07jo", "20 m", "any", "dipole", 3, 0.0]),
        st.dates(),
        st.datetimes(),
    ),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["name", "shape", "a b", ""]), inner)
    ),
    max_leaves=6,
)


def toml(value):
    """Write a value as TOML; a text that TOML cannot hold as it stands, broken."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        if math.isnan(value) or math.isinf(value):
            return str(value)
        return repr(value)
    if isinstance(value, str):
        kept = value.replace("\\", "\\\\").replace('"', '\\"')
        return f'"{kept}"'
    if isinstance(value, list):
        return f"[{', '.join(map(toml, value))}]"
    if isinstance(value, dict):
        inside = ", ".join(f"{toml(key)} = {toml(each)}" for key, each in value.items())
        return "{" + inside + "}"
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


@st.composite
def wrong_values(draw):
    """A file whose keys hold anything."""
    lines = ['place = "KF07jo"'] if draw(st.booleans()) else []
    for key in draw(st.lists(st.sampled_from(KEYS), max_size=5)):
        lines.append(f"{key} = {toml(draw(VALUES))}")
    if draw(st.booleans()):
        lines.append(draw(st.sampled_from(["[[setups]]", "[setups]", "[far_end]"])))
        for key, value in draw(makers.wires(wild=0.2)).items():
            lines.append(f"{key} = {toml(draw(VALUES) if key == 'x' else value)}")
    return (
        draw(st.sampled_from(["\n", "\r\n", "\r"]))
        .join(lines)
        .encode(errors="surrogateescape")
    )


@st.composite
def cut_up(draw):
    """A good file with pieces cut out, doubled, swapped or overwritten."""
    data = bytearray(draw(st.sampled_from([STARTER, DEMO])).encode())
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(data)))
        length = draw(st.integers(0, 40))
        piece = draw(
            st.one_of(
                st.binary(max_size=8),
                st.just(b""),
                st.just(bytes(data[at : at + length]) * 2),
                st.sampled_from(
                    [
                        b"\x00",
                        b"\xff\xfe",
                        b"\xef\xbb\xbf",
                        b"\r",
                        b'"""',
                        b"[[",
                        b"]]",
                        b"= ",
                        b"nan",
                        b"1e400",
                        b"[" * 3000,
                        b"{a=" * 2000,
                        b"#",
                        b"a." * 2000,
                        "山".encode(),
                        b"\x1b[2J",
                        b"9" * 5000,
                    ]
                ),
            )
        )
        data[at : at + length] = piece
    return bytes(data)


FILES = st.one_of(
    wrong_values(),
    cut_up(),
    st.binary(max_size=200),
    st.text(max_size=200).map(lambda x: x.encode(errors="surrogatepass")),
    st.sampled_from([STARTER, DEMO]).flatmap(
        lambda text: st.sampled_from(
            [
                text.encode("utf-8-sig"),
                text.replace("\n", "\r\n").encode(),
                text.encode("utf-16"),
                text.encode("latin-1", errors="replace"),
                text.encode() * 2,
                text.encode() + b"#" * 2_000_000,
                b"",
            ]
        )
    ),
)


def test_station_files(portion, tally, tmp_path, monkeypatch):
    """Shown, or one line that names the file."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    file = tmp_path / "hill.toml"
    runner = CliRunner()

    @portion(0.25)
    @given(FILES, st.booleans())
    def show(content, as_json):
        file.write_bytes(content)
        words = ["station", "show", "--station", str(file)]
        result = runner.invoke(main, words + ["--json"] * as_json)
        if result.exception and not isinstance(result.exception, SystemExit):
            raise AssertionError(content) from result.exception
        if result.exit_code:
            assert result.exit_code == 2
            assert result.stdout == ""
            assert len(result.stderr.splitlines()) == 1, result.stderr
            assert len(result.stderr) < 1500, result.stderr
            assert result.stderr.rstrip("\n").isprintable(), result.stderr
            tally["station files", "refused"] += 1
            return
        assert result.stderr == ""
        assert result.stdout.replace("\n", "").isprintable(), result.stdout
        tally["station files", "answered"] += 1

    show()
