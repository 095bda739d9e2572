"""How fast the page answers in headless Chromium, beside the same calls by the native core with one thread of baseline vectors.

    bindings/web/build.sh --test && .venv/bin/python tests/benchmark/web_page.py [--repeat 15] [--json FILE]

Medians [ms]. "first answer" counts from the opening of the file; "slider" from a moved slider to its answer on the page; "whole" is
the answer with as many samples as it takes, which comes behind the first.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

import libcure
from libcure import ensemble
from libcure.job import job_of
from libcure.job.facts import fact_named, understood
from libcure.render.web_page import pack

sys.path.insert(0, str(Path(__file__).parents[1] / "web"))
from browser import Browser
from page_kit import ANSWERED, CASES, JOB, WHOLE, link

FEW = 128


def native(call: Callable[[], Any], repeat: int) -> float:
    """Median of a native call [ms]."""
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        call()
        times.append(1e3 * (time.perf_counter() - start))
    return statistics.median(times)


def asked(browser: Browser, request: dict[str, Any], repeat: int) -> float:
    """Median of a call to the page's engine [ms], as its worker counts it."""
    times = browser.evaluate(f"""(async () => {{ const times = []; for (let i = 0; i < {repeat}; ++i) {{
        await engine.ask({json.dumps(request)}); times.push(engine.milliseconds); }} return times; }})()""", seconds=600)
    return statistics.median(times[1:])


def slid(browser: Browser, repeat: int) -> float:
    """Median from a moved slider to its answer on the page [ms]."""
    return statistics.median(browser.evaluate(f"""(async () => {{
        const slide = $('q-wall').closest('.question').querySelector('.slide'), times = [];
        for (let i = 0; i < {repeat}; ++i) {{
          const shown = new Promise((done) => new MutationObserver((_, watch) => {{ watch.disconnect(); done(); }}).observe($('told'), {{ childList: true }}));
          const start = performance.now();
          slide.value = 6 + 0.5 * (i % 8);
          slide.dispatchEvent(new Event('input'));
          await shown;
          times.push(performance.now() - start);
        }}
        return times;
    }})()""", seconds=600))


def figures(repeat: int) -> dict[str, tuple[float, float | None]]:
    """Of the page and, where there is such a call, natively [ms]."""
    said = {k: understood(fact_named(k), v, "metric", k) for k, v in JOB.items() if k not in ("format", "units")}
    job = job_of(said)
    found: dict[str, tuple[float, float | None]] = {}
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "page.html"
        page.write_text(pack(), encoding="utf-8")
        browser = Browser(Path(folder) / "profile")
        try:
            opening = []
            for _ in range(max(3, repeat // 3)):
                browser.open(link(page), ANSWERED)
                opening.append(browser.evaluate("libcureTimes.sinceOpening"))
            found["first answer after opening"] = statistics.median(opening), None
            browser.wait(WHOLE)
            found["slider to answer"] = slid(browser, repeat), None
            browser.wait(WHOLE)
            request = {"call": "job", "job": JOB, "picture": True}
            kinds: list[tuple[str, dict[str, Any], Any]] = [
                ("point answer of a job", {"uncertain": "none"}, "none"), (f"job with {FEW} samples", {"samples": FEW}, job.ranges),
            ]  # fmt: skip
            for name, options, uncertain in kinds:
                samples = options.get("samples")
                here = asked(browser, {**request, **options}, repeat)
                found[name] = here, native(lambda u=uncertain, n=samples: libcure.predict(job.case, uncertain=u, samples=n), repeat)
            found["whole answer of a job"] = asked(browser, request, 4), native(lambda: libcure.predict(job.case, uncertain=job.ranges), 3)
            random = np.random.default_rng(7)
            inputs = {"ground.temperature_offset_K": random.normal(0.0, 1.0, FEW), "contact_factor": np.exp(random.normal(0.0, 0.7, FEW))}
            for file in (f for f in CASES if "section" not in json.loads(f.read_text(encoding="utf-8"))):
                case = libcure.load_case(file)
                rows = {"call": "rows", "case": case.document, "inputs": {k: list(v) for k, v in inputs.items()}}
                found[f"{FEW} rows, {file.stem}"] = (
                    asked(browser, rows, repeat),
                    native(lambda c=case: ensemble.simulate_many(c, inputs, threads=1, instructions="baseline"), repeat),
                )
            section = libcure.load_case(next(f for f in CASES if "section" in json.loads(f.read_text(encoding="utf-8"))))
            point = {"call": "answer", "case": section.document, "uncertain": "none", "numerical_error": False}
            found["point answer of a section"] = (
                asked(browser, point, 4), native(lambda: libcure.predict(section, uncertain="none", numerical_error=False), 3),
            )  # fmt: skip
        finally:
            browser.close()
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=15)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    found = figures(options.repeat)
    print(f"{'':38}{'page':>10}{'native':>10}   (load {os.getloadavg()[0]:.1f})")
    for name, (here, there) in found.items():
        print(f"{name:38}{here:10.1f}{'' if there is None else f'{there:10.1f}':>10}")
    if options.json:
        options.json.write_text(json.dumps({name: {"page_ms": a, "native_ms": b} for name, (a, b) in found.items()}, indent=2) + "\n")


if __name__ == "__main__":
    main()
