"""JSON Schemas and the reference page of the documents, made of the core's tables.

``python -m libcure.schemas --write models/schema`` puts them where editors and users find them;
without ``--write`` the names of those that differ from the files there are printed.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from libcure import _core, documents

__all__ = ["described", "differing"]


def described() -> dict[str, str]:
    """Texts of the files by their names, such as ``case.schema.json``."""
    return dict(_core.described_documents())


def differing(folder: Path) -> list[str]:
    """Names of the files in a folder that are not as described, or not there."""
    def text(name: str) -> str | None:
        path = folder / name
        return path.read_text(encoding="utf-8") if path.is_file() else None

    return [name for name, wanted in described().items() if text(name) != wanted]


def main() -> int:
    """Writes the files, or names those that differ; the exit code then says whether any does."""
    parser = argparse.ArgumentParser(prog="python -m libcure.schemas", description=__doc__)
    parser.add_argument("--write", type=Path, metavar="FOLDER", help="put the files into this folder")
    folder: Path | None = parser.parse_args().write
    if folder is None:
        names = differing(documents.models_folder() / "schema")
        print(*names, sep="\n", end="\n" if names else "")
        return 1 if names else 0
    for name, text in described().items():
        (folder / name).write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
