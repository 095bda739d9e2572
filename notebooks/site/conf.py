"""How the documentation is built from what stands elsewhere: guide, contributor guide, reference of documents, docstrings, C++ headers."""

import re
import shutil
from pathlib import Path

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
MADE = HERE / "made"

project = "libcure"
version = re.search(r"project\(libcure\s+VERSION ([0-9.]+)", (ROOT / "CMakeLists.txt").read_text(encoding="utf-8"))[1]
copyright = "libcure contributors"
extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon", "sphinx.ext.viewcode"]
html_theme = "alabaster"
html_theme_options = {"page_width": "60em", "font_family": "sans-serif", "head_font_family": "sans-serif"}
html_title = f"libcure {version}"
html_show_sphinx = False
myst_heading_anchors = 4
autodoc_typehints = "description"
autodoc_member_order = "bysource"


def pages():
    """Copies of what the repository shows, with links that lead to pages of the site where there are any."""
    shutil.rmtree(MADE, ignore_errors=True)
    MADE.mkdir()
    shutil.copytree(ROOT / "notebooks/figures", MADE / "figures")
    sources = {"guide": "notebooks/guide.md", "developers": "DEVELOPERS.md", "documents": "models/schema/README.md", "changes": "CHANGELOG.md"}
    names = {Path(source).name if source != "models/schema/README.md" else "schema": name for name, source in sources.items()}
    for name, source in sources.items():
        text = (ROOT / source).read_text(encoding="utf-8")
        for file, target in names.items():
            text = re.sub(rf"\]\((?:\.\./)*{re.escape(file)}(#[\w-]+)?\)", rf"]({target}.md\1)", text)
        # What the site does not have is named, not linked.
        text = re.sub(r"\[([^\]]+)\]\((?!https?:|#|figures/|\w+\.md)[^)]+\)", r"\1", text)
        (MADE / f"{name}.md").write_text(text, encoding="utf-8")
    (MADE / "headers.md").write_text(headers(), encoding="utf-8")


def headers():
    """Each C++ header by its folder, with what its head comment says."""
    include = ROOT / "libcure/include/cure"
    parts = ["# C++ headers\n\nWhat each header models, its formulas, sources and errors. The declarations stand in the headers themselves.\n"]
    folder = None
    for path in sorted(include.rglob("*.hpp"), key=lambda p: (p.parent, p.name)):
        if path.parent != folder:
            folder = path.parent
            parts.append(f"\n## {folder.relative_to(include.parent).as_posix()}\n")
        said = []
        for line in path.read_text(encoding="utf-8").splitlines()[1:]:
            if not line.startswith("///"):
                break
            said.append(line.removeprefix("///").removeprefix(" "))
        parts.append(f"\n**`{path.relative_to(include.parent).as_posix()}`**\n\n```text\n" + "\n".join(said) + "\n```\n")
    return "".join(parts)


pages()
