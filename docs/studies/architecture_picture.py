"""
Draw ``docs/architecture.svg``: groups of modules and what each imports.

Everything in the picture is read from the source: which modules there are and what they
import. Only the names of the groups stand here. A module that no group names counts to
the answers, for that is what is added most often. Usage, from the root of the checkout:
``python docs/studies/architecture_picture.py``
"""

import ast
import textwrap
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PICTURE = ROOT / "docs" / "architecture.svg"

GROUPS = {
    "command line": ("cli", "commands", "__main__"),
    "notebooks": ("", "api", "edge", "frames", "framing", "sky_frames", "wire_frames"),
    "show": ("show",),
    "chart data": ("chartdata", "sheetdata"),
    "answers": (),
    "chances": (
        "ask", "engine", "regions", "turning", "limits", "advice", "explain", "whatif",
        "spread", "storm_doubt", "shut",
    ),
    "one wire": (
        "wirework", "wire_feed", "wire_sky", "ends", "low_wires", "cautions",
    ),
    "question": ("question", "conditions"),
    "link": ("link",),
    "antenna": ("antenna",),
    "station": (
        "station", "stationfile", "setups", "checks", "synonyms", "bands", "emissions",
    ),
    "geo": (),
}  # fmt: skip
"""Modules and packages of ``advisor`` by group, from the outside in."""

REST = "answers"
"""Group of every module of ``advisor`` that is named in no other."""

LAZY = ("command line", "notebooks")
"""Groups that import where they use, so that start-up is quick."""

ABOUT = {
    "command line": "parse, call, show; clock, files, environment",
    "notebooks": "units and zones in, frames out",
    "show": "text, JSON, CSV, charts, pages; works nothing out",
    "chart data": "the numbers of each picture",
    "answers": "one module or two for each command",
    "chances": "link and pattern to a chance, a bearing, an advice",
    "one wire": "how it hangs, feed, gain",
    "question": "station, targets, hours, bands, sky",
    "link": "modes, MUF, losses, noise, chance of one link",
    "antenna": "wires to currents to patterns; feed",
    "station": "what may be asked, checked key by key",
    "geo": "where, when, what the sky is doing; reads tables/",
}


def modules() -> dict[str, Path]:
    """Every module of the two packages by its dotted name."""
    found = {}
    for package in ("geo", "advisor"):
        for path in sorted((ROOT / package).rglob("*.py")):
            name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
            found[name.removesuffix(".__init__")] = path
    return found


def group_of(module: str) -> str:
    """Group that a module is drawn in."""
    package, _, rest = module.partition(".")
    if package == "geo":
        return "geo"
    first = rest.partition(".")[0]
    return next((group for group, names in GROUPS.items() if first in names), REST)


def imports(path: Path, known: set[str]) -> Iterator[tuple[str, bool]]:
    """What a module imports, and whether only inside a function; types left out."""

    def walk(node: ast.AST, inside: bool) -> Iterator[tuple[str, bool]]:
        for child in ast.iter_child_nodes(node):
            test = getattr(child, "test", None)
            if isinstance(child, ast.If) and getattr(test, "id", "") == "TYPE_CHECKING":
                continue
            if isinstance(child, ast.Import):
                yield from ((each.name, inside) for each in child.names)
            elif isinstance(child, ast.ImportFrom):
                for each in child.names:
                    whole = f"{child.module}.{each.name}"
                    yield (whole if whole in known else str(child.module)), inside
            is_function = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef)
            yield from walk(child, inside or is_function)

    for name, inside in walk(ast.parse(path.read_text(encoding="utf-8")), False):
        if name in known:
            yield name, inside


def edges() -> tuple[set[tuple[str, str]], set[tuple[str, str]]]:
    """
    Group to group: what is imported at once, and what only where it is used.

    An import inside a function counts as one at once for the groups that import so by
    rule.
    """
    known = modules()
    at_once, later = set(), set()
    for name, path in known.items():
        own = group_of(name)
        for other, inside in imports(path, set(known)):
            pair = own, group_of(other)
            if pair[0] != pair[1]:
                (later if inside and own not in LAZY else at_once).add(pair)
    return at_once, later - at_once


def levels(pairs: set[tuple[str, str]]) -> dict[str, int]:
    """Longest way down from each group; an import round in a circle is an error."""

    def height(group: str, above: tuple[str, ...] = ()) -> int:
        if group in above:
            raise ValueError(f"groups import in a circle: {' -> '.join(above)}")
        below = [other for own, other in pairs if own == group]
        return max((1 + height(other, (*above, group)) for other in below), default=0)

    return {group: height(group) for group in GROUPS}


def needed(pairs: set[tuple[str, str]]) -> set[tuple[str, str]]:
    """Edges that do not follow from others: what is drawn."""

    def reaches(start: str, end: str) -> bool:
        return any(
            other == end or reaches(other, end) for own, other in pairs if own == start
        )

    return {
        (own, other)
        for own, other in pairs
        if not any(
            between != other and reaches(between, other)
            for first, between in pairs
            if first == own
        )
    }


def members(group: str) -> str:
    """Modules of a group as they are written in its box."""
    names = {
        f"{name.split('.')[1]}{'/' if name.count('.') > 1 else ''}"
        for name in modules()
        if "." in name and group_of(name) == group
    }
    packages = {name for name in names if name.endswith("/")}
    names -= {name.removesuffix("/") for name in packages}
    return " ".join(sorted(names, key=lambda name: (not name.endswith("/"), name)))


LEFT, RIGHT = (2.35, 4.3), (7.3, 4.6)
"""Middle and width of the two columns; a row of one group stands in the right one."""

HALF = 0.36
"""Half the height of a box, of a row of 1."""


def draw(target: Path = PICTURE) -> None:
    """Write the picture: text as text, the same bytes each time."""
    import matplotlib as mpl

    mpl.use("svg")
    from matplotlib import pyplot as plt

    at_once, later = edges()
    level = levels(at_once)
    rows: dict[int, list[str]] = {}
    for group in GROUPS:
        rows.setdefault(level[group], []).append(group)
    place = {
        group: (*column, float(row))
        for row, groups in rows.items()
        for group, column in zip(groups, (LEFT, RIGHT)[-len(groups) :], strict=True)
    }
    style = {"svg.fonttype": "none", "svg.hashsalt": "skiplobe"}
    with mpl.rc_context({**style, "font.family": "sans-serif"}):
        figure = plt.figure(figsize=(10.0, 1.15 * (max(rows) + 1)))
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set(xlim=(0.0, 10.0), ylim=(-0.5, max(rows) + 0.5))
        axes.axis("off")
        for group in GROUPS:
            _box(axes, group, *place[group])
        for pair in sorted(needed(at_once)):
            _arrow(axes, pair, place, "imports")
        for pair in sorted(later):
            _arrow(axes, pair, place, "looks up")
        without = {"Date": None, "Creator": None}
        figure.savefig(target, format="svg", transparent=True, metadata=without)
        plt.close(figure)


def _box(axes, group, x, width, y) -> None:
    """One group: name, what it is for, modules."""
    from matplotlib.patches import FancyBboxPatch

    corner = x - width / 2.0, y - HALF
    box = FancyBboxPatch(
        corner, width, 2.0 * HALF, boxstyle="round,pad=0,rounding_size=0.06",
        facecolor="#e8eef4", edgecolor="#5b6b7a", linewidth=1.0, zorder=2.0,
    )  # fmt: skip
    box.set_gid(f"group: {group}")
    axes.add_patch(box)
    named = textwrap.wrap(members(group), int(width * 15), break_on_hyphens=False)
    lines = [(group, 10.5, "bold", "normal"), (ABOUT[group], 7.5, "normal", "italic")]
    lines += [(line, 6.5, "normal", "normal") for line in named]
    down = 0.0
    for text, size, weight, slant in lines:
        axes.text(
            x, y + 0.25 - down, text, ha="center", va="center", color="#14202b",
            fontsize=size, fontweight=weight, fontstyle=slant, zorder=3.0,
        )  # fmt: skip
        down += 0.0165 * size


def _arrow(axes, pair, place, kind) -> None:
    """One arrow from what imports to what is imported, past the boxes between."""
    from matplotlib.patches import FancyArrowPatch

    (x1, w1, y1), (x2, w2, y2) = (place[group] for group in pair)
    bend = 0.0
    if abs(y1 - y2) > 1.5 and x1 == x2 == RIGHT[0]:
        start, end = (x1 + w1 / 2.0, y1), (x2 + w2 / 2.0, y2)
        bend = 0.2 if y2 > y1 else -0.2
    else:
        side = 1.0 if y2 < y1 else -1.0
        aside = -0.25 * side if x1 == x2 else 0.0
        # What leads to the other column leaves at the corner nearest to it.
        reach = 0.0 if x1 == x2 else 1.0 if x2 > x1 else -1.0
        start = x1 + aside + reach * (0.47 * w1), y1 - side * HALF
        end = x2 + aside - reach * (0.25 * w2), y2 + side * (HALF + 0.02)
    arrow = FancyArrowPatch(
        start, end, arrowstyle="-|>", mutation_scale=10.0, color="#7a7a7a",
        linestyle="-" if kind == "imports" else (0, (4, 3)), linewidth=1.2, zorder=1.0,
        connectionstyle=f"arc3,rad={bend}", shrinkA=0.0, shrinkB=0.0,
    )  # fmt: skip
    arrow.set_gid(f"{kind}: {pair[0]} -> {pair[1]}")
    axes.add_patch(arrow)


if __name__ == "__main__":
    draw()
