"""
Rewrite the table of outside checks in docs/validation.md from the tests' own records.

Usage, from the root of the checkout: ``python docs/studies/build_validation.py``

Runs every test that takes the fixture ``outside`` (``pytest --write-validation``),
keeps what they recorded in docs/validation_records.json and puts the table between two
markers of the page. ``--table-only`` makes the table from the records as they are. A
run of the tests compares each check with its record, and the page with the records.
"""

import ast
import importlib.util
import subprocess
import sys
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "validation.md"
BEGIN = "<!-- Made by docs/studies/build_validation.py: do not edit. -->"
END = "<!-- End of what is made. -->"

# Files in the order in which an answer comes about; any other comes last.
ORDER = (
    "test_sphere", "test_locator", "test_places", "test_land", "test_operators",
    "test_bands", "test_sun",
    "test_magnetic", "test_igrf", "test_solar", "test_maps", "test_p1239_maps",
    "test_p1239_foe", "test_layers", "test_variability", "test_hop_tables",
    "test_p533_muf", "test_sky", "test_link_published", "test_hop_losses",
    "test_d_region", "test_noise", "test_p372_noise", "test_emission_needs",
    "test_chance",
    "test_ground", "test_sommerfeld", "test_antenna_textbook", "test_closedform",
    "test_grazing", "test_shapes", "test_currents", "test_wire_textbook", "test_wires",
    "test_contact", "test_radials_published",
    "test_practice_three_sided_wire", "test_feed_published", "test_exposure_published",
)  # fmt: skip


def helper():
    """Load tests/outside.py, which knows how records are kept."""
    if "outside" not in sys.modules:
        path = ROOT / "tests" / "outside.py"
        spec = importlib.util.spec_from_file_location("outside", path)
        module = importlib.util.module_from_spec(spec)
        sys.modules["outside"] = module
        spec.loader.exec_module(module)
    return sys.modules["outside"]


def functions(test):
    """Names of the functions of a test's file that record; none if it is gone."""
    return recording(ROOT / test.partition("::")[0])


@cache
def recording(path):
    """Names of the functions of a file that record."""
    if not path.exists():
        return []
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [
        node.name
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef)
        and "outside" in [each.arg for each in node.args.args]
    ]


def rows(records):
    """
    Group the records of all cases: one row for each check of a test.

    Returns a list of (test, row), row being the records that differ only in their
    case, in the order of the files and of the tests within them.
    """
    grouped = {}
    for test, cases in records.items():
        for made in cases.values():
            for record in made:
                named = ("what", "source", "status", "tolerance", "why", "kind")
                key = (test, *(record[name] for name in named))
                grouped.setdefault(key, []).append(record)

    def place(item):
        test = item[0][0]
        file, _, name = test.partition("::")
        stem = Path(file).stem
        order = ORDER.index(stem) if stem in ORDER else len(ORDER)
        names = functions(test)
        return order, file, names.index(name) if name in names else -1

    return [(key[0], row) for key, row in sorted(grouped.items(), key=place)]


def cells(test, row):
    """Seven cells of a row of the table."""
    show = helper().text
    first, count = row[0], sum(record["n"] for record in row)
    what = first["what"]
    if first["kind"] == "near":
        worst = max(row, key=lambda record: record["share"])
        expected, ours = show(worst["expected"]), show(worst["ours"])
        if count > 1:
            ours += f" (worst of {count})"
    elif first["kind"] == "between":
        least = min(helper().number(record["ours"][0]) for record in row)
        most = max(helper().number(record["ours"][1]) for record in row)
        several = {record["expected"] for record in row}
        expected = first["expected"] if len(several) == 1 else "a range for each"
        ours = show(least) if least == most else f"{show(least)} to {show(most)}"
        if count > 1:
            ours += f" ({count} values)"
        if len(several) > 1:
            expected += ": " + "; ".join(record["expected"] for record in row)
            ours = "; ".join(
                show(a) if a == b else f"{show(a)} to {show(b)}"
                for a, b in (record["ours"] for record in row)
            )
    else:
        several = [*dict.fromkeys(record["expected"] for record in row)]
        short = len("; ".join(several)) < 90
        expected = (
            "; ".join(several) if short else f"{several[0]}; ... ({count} values)"
        )
        ours = first["ours"]
    tolerance = ": ".join(part for part in (first["tolerance"], first["why"]) if part)
    file, _, name = test.partition("::")
    return (
        first["source"], what, expected, ours, tolerance or "-", first["status"],
        f"`{Path(file).stem}`: `{name}`",
    )  # fmt: skip


def table(records):
    """Return the part of the page between the markers, markers included."""
    body = rows(records)
    figures = sum(record["n"] for _, row in body for record in row)
    tests = len(records)
    cases = sum(len(each) for each in records.values())
    by_status = {status: [0, 0] for status in helper().STATUSES}
    for _, row in body:
        tally = by_status[row[0]["status"]]
        tally[0] += 1
        tally[1] += sum(record["n"] for record in row)
    lines = [
        BEGIN,
        "",
        f"{len(body)} rows, {figures} figures or facts, from {tests} tests in {cases} "
        "cases. What the status of a row is worth:",
        "",
        "| status | meaning | rows | figures |",
        "|---|---|---|---|",
    ]
    lines += [
        f"| {status} | {meaning} | {by_status[status][0]} | {by_status[status][1]} |"
        for status, meaning in helper().STATUSES.items()
    ]
    lines += [
        "",
        "| source and section | what | expected | ours | tolerance and its reason "
        "| status | test |",
        "|---|---|---|---|---|---|---|",
    ]
    for test, row in body:
        words = (cell.replace("|", "\\|") for cell in cells(test, row))
        lines.append("| " + " | ".join(words) + " |")
    return "\n".join([*lines, "", END])


def put_in(page, made):
    """Return the page with what stands between the markers replaced."""
    before, begin, rest = page.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not begin or not end:
        raise SystemExit(f"{PAGE.name} has no line {BEGIN!r} and {END!r}")
    return before + made + after


def renew(made):
    """Keep the records of the tests just run, drop those of tests that are gone."""
    records = {**helper().read_records(), **made}
    kept = {t: c for t, c in records.items() if t.partition("::")[2] in functions(t)}
    helper().write_records(kept)
    write_page(kept)


def write_page(records):
    """Put the table made of the records into the page."""
    page = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(put_in(page, table(records)), encoding="utf-8")


if __name__ == "__main__":
    if "--table-only" in sys.argv:
        write_page(helper().read_records())
    else:
        words = [sys.executable, "-m", "pytest", "-q", "--write-validation", "tests"]
        raise SystemExit(subprocess.run(words, cwd=ROOT, check=False).returncode)
