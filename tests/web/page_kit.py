"""What the tests of the page share: a job, how it is opened and asked, how documents are compared."""

import base64
import json
import math
from pathlib import Path

from libcure import models

CASES = sorted((Path(models.__file__).parent / "models" / "cases").glob("*.json"))
AXE = Path(__file__).parents[2] / "build" / "web-tools" / "axe_playwright_python" / "axe.min.js"
PACKED = ("epoxy-amine-fast", "epoxy-amine-medium", "epoxy-amine-slow")
ANSWERED = "document.body.dataset.ready === 'yes' && latest !== null"
WHOLE = ANSWERED + " && document.body.dataset.answer === 'whole'"
"""The answer behind the first, of as many samples as it takes."""
JOB = {
    "format": "libcure/job/1", "units": "metric", "like": "winter-road", "pipe": "clay", "bore": "150 mm", "depth": "1.2 m", "wall": "6 C",
    "water": "damp", "hot_water": "none", "thickness": "3 mm", "length": "600 mm", "resin": "epoxy-amine-fast", "resin_temperature": "15 C",
    "packer": "8 C", "air": "5 C", "fill": "air 6 C", "in_place": "14", "mixed_at": "09:12",
}  # fmt: skip


def link(page, job=JOB):
    return f"{page.as_uri()}#job={base64.urlsafe_b64encode(json.dumps(job).encode()).decode().rstrip('=')}"


def ask(browser, request):
    found = browser.evaluate(f"engine.ask({json.dumps(request)}).then(JSON.stringify)", seconds=300)
    return json.loads(found)


def differences(path, a, b, tolerance=1e-8):
    """Where two documents differ: numbers by more than a share, anything else at all."""
    if isinstance(a, dict) and isinstance(b, dict):
        yield from (f"{path}: keys {sorted(set(a) ^ set(b))}" for _ in range(bool(set(a) ^ set(b))))
        for key in set(a) & set(b):
            yield from differences(f"{path}.{key}", a[key], b[key], tolerance)
    elif isinstance(a, list) and isinstance(b, list):
        if len(a) != len(b):
            yield f"{path}: {len(a)} and {len(b)} elements"
        for i, (x, y) in enumerate(zip(a, b, strict=False)):
            yield from differences(f"{path}[{i}]", x, y, tolerance)
    elif isinstance(a, float) and isinstance(b, float):
        if not math.isclose(a, b, rel_tol=tolerance, abs_tol=1e-12):
            yield f"{path}: {a!r} and {b!r}"
    elif a != b:
        yield f"{path}: {a!r} and {b!r}"


