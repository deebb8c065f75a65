"""How Sphinx makes pages for a browser: ``python -m sphinx -W -b html docs OUT``."""

import sys
import tomllib
import types
from pathlib import Path

from docutils.utils.math.latex2mathml import tex2mathml

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

project = "skiplobe"
author = "skiplobe developers"
with (ROOT / "pyproject.toml").open("rb") as lines:
    release = tomllib.load(lines)["project"]["version"]

extensions = ["myst_parser", "numpydoc", "sphinx.ext.apidoc", "sphinx.ext.autodoc"]
exclude_patterns = ["reference/*/modules.rst"]

# Prose, as it is.
myst_heading_anchors = 4
# Some links lead out of docs/; a test follows every one.
suppress_warnings = ["myst.xref_missing"]

# One page a module of both packages, made anew each time and not kept.
apidoc_modules = [
    {
        "path": str(ROOT / name),
        "destination": f"reference/{name}",
        "separate_modules": True,
        "module_first": True,
        "automodule_options": {"members"},
        "exclude_patterns": [str(ROOT / name / "**" / "__main__.py")],
    }
    for name in ("geo", "advisor")
]
autodoc_typehints = "none"
autodoc_member_order = "bysource"
add_module_names = False
default_role = "py:obj"
numpydoc_show_class_members = False

html_theme = "alabaster"
html_theme_options = {"page_width": "76rem", "body_max_width": "52rem"}
html_show_sourcelink = False
html_math_renderer = "mathml"


def _mathml(is_block):
    """Write a formula as browsers draw it by themselves: no script, no network."""

    def visit(writer, node):
        from docutils import nodes

        writer.body.append(tex2mathml(node.astext(), as_block=is_block))
        raise nodes.SkipNode

    return visit, None


def _skip_alias(*words):
    """Leave out names of types, whose documentation is that of `tuple` and the like."""
    return True if isinstance(words[3], types.GenericAlias) else None


def setup(app):
    """Register the renderer of formulas, and what is left out."""
    app.connect("autodoc-skip-member", _skip_alias)
    app.add_html_math_renderer("mathml", _mathml(False), _mathml(True))
