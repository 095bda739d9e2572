"""How the documentation is built from what stands elsewhere: guide, contributor guide, reference of documents, docstrings, C++ declarations."""

import re
import shutil
import subprocess
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
html_extra_path = ["made/pages"]
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


def declarations():
    """The C++ declarations with their comments, by doxygen: pages of their own in the folder cpp of the site."""
    (MADE / "pages").mkdir()
    done = subprocess.run(["doxygen", HERE / "Doxyfile"], cwd=ROOT, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(f"doxygen: {done.stderr}")


pages()
declarations()
