"""What fuzzing begins with: corpus.py FOLDER writes a folder of inputs for each reader, from files that come with libcure, and words.dict.

Documents are written without blanks, so that more changes of a text change what it means.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
MODELS = ROOT / "models"
LINES = 60  # of a log or record; more only slow the search
LOGS = ("time_min,temperature_C\n1,7.8\n2,7.9\n3,\n", "|22:30\nTime;Temp (°F);Date\n22:58;50,5;24.3.2026\n0:02;51,0;25.3.2026\n",
        "inner|2026-03-24 22:30\nlogger 2\n\ndate,time,inner [C],outer [C]\n2026-03-24,10:58 pm,7.8,\"6.1\"\n")
JOBS: tuple[dict[str, Any], ...] = (
    {"format": "libcure/job/1", "units": "us", "resin": "medium", "wall": 48, "bore": "150 mm"},
    {"format": "libcure/job/1", "resin": "epoxy-amine-slow", "wall": "6 C", "bore": 150, "air": "4 to 9"},
)
STUDY: dict[str, Any] = {
    "format": "libcure/study/1", "id": "my-resin", "title": "Invented", "family": "epoxy-amine", "jobs_C": [5, 10],
    "measurements": [
        {"kind": "film_gel", "temperature_C": 20, "time_min": 90, "sd": 0.2, "hold_back": True},
        {"kind": "cup", "mass_g": 100, "air_C": 20, "gel_min": 28, "peak_C": 170, "peak_min": 33},
        {"kind": "releasable", "temperature_F": 41, "time_h": 12},
    ],
}


def documents(*patterns: str) -> list[dict[str, Any]]:
    """Documents of files below the root."""
    return [json.loads(path.read_text(encoding="utf-8")) for pattern in patterns for path in sorted(ROOT.glob(pattern))]


def inputs() -> dict[str, list[str]]:
    """Texts by reader."""
    charts, resins = documents("models/charts/*.json"), documents("models/resins/*.json")
    of = {
        "case": documents("models/cases/*.json"),
        "resin": [r for r in resins if "components" not in r],
        "blend": [r for r in resins if "components" in r],
        "material": documents("models/materials/*.json"),
        "ground": documents("models/grounds/*.json"),
        "stated": [chart["uncertain"] for chart in charts if "uncertain" in chart],
        "chart": charts,
        "fit": documents("notebooks/data/dsc/fit.json"),
        "study": [STUDY],
        "site": documents("notebooks/data/record/site.json"),
        "job": list(JOBS),
    }
    texts = {reader: [json.dumps(d, ensure_ascii=False, separators=(",", ":")) for d in found] for reader, found in of.items()}
    texts["case"] += [path.read_text(encoding="utf-8") for path in sorted((ROOT / "tests" / "python" / "bad_cases").glob("*.json"))]
    texts["json"] = [found[0] for found in texts.values()]
    logs = [*(ROOT / "notebooks" / "data" / "follow").glob("*.csv"), *(ROOT / "notebooks" / "data" / "record").glob("*.csv")]
    texts["readings"] = [*LOGS, *("".join(log.read_text(encoding="utf-8").splitlines(True)[:LINES]) for log in logs)]
    return texts


def words(node: object) -> Iterator[str]:
    """Keys and words that a schema knows."""
    if isinstance(node, dict):
        yield from node.get("properties", {})
        yield from (word for word in [*node.get("enum", []), node.get("const")] if isinstance(word, str))
    for value in node.values() if isinstance(node, dict) else node if isinstance(node, list) else ():
        yield from words(value)


def main() -> None:
    folder = Path(sys.argv[1])
    for reader, texts in inputs().items():
        assert texts, reader
        (folder / reader).mkdir(parents=True, exist_ok=True)
        for i, text in enumerate(texts):
            (folder / reader / f"shipped_{i}").write_text(text, encoding="utf-8")
    known = sorted({w for schema in documents("models/schema/*.json") for w in words(schema)} | {"1e308", "5e-324", "-0.0", "1e999", "null"})
    lines = [json.dumps(json.dumps(w) if w[0].isalpha() else w) for w in known if w.isascii() and '"' not in w and "\\" not in w]
    (folder / "words.dict").write_text("\n".join([*lines, ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
