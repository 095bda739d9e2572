"""``libcure chart`` as a user runs it."""

import json
import os
import signal
import subprocess
import sys
import time

import numpy as np
import pytest
from small_chart import CHART, SHIPPED, command, small


def run(*arguments, code=0, **environment):
    done = subprocess.run(
        [sys.executable, "-m", "libcure", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=300,
        env={**os.environ, "COLUMNS": "80", **environment},
    )
    assert done.returncode == code, done.stderr
    return done


def test_the_command_writes_everything_and_goes_on(tmp_path):
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(small(sensitivity__cells="centre")), encoding="utf-8")
    first = run("chart", path, "--out", tmp_path / "out", "--samples", "32", "--threads", "2")
    assert "4 cells of 32 samples and 1 for sensitivity; inputs" in first.stdout
    assert "Most moves the release time: " in first.stdout
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [
        ".cells",
        "chart.csv",
        "chart.html",
        "chart.json",
        "chart.pdf",
        "chart.svg",
    ]
    table = (tmp_path / "out" / "chart.csv").read_bytes()
    second = command("chart", path, "--out", tmp_path / "out", "--samples", "32")
    assert "5 of them kept" in second.stdout
    assert (tmp_path / "out" / "chart.csv").read_bytes() == table
    command("chart", path, "--out", tmp_path / "fresh", "--samples", "32", "--threads", "1")
    assert (tmp_path / "fresh" / "chart.csv").read_bytes() == table


@pytest.mark.parametrize(
    ("arguments", "word"),
    [(("--samples", "100"), "a power of two"), (("--samples", "8"), "16 to 65536"), ((), 'did you mean "axes"')],
)
def test_a_bad_chart_is_one_line_and_nothing_is_written(tmp_path, arguments, word):
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(small(axis=[]) if not arguments else small()), encoding="utf-8")
    done = command("chart", path, "--out", tmp_path / "out", *arguments, code=2)
    assert done.stdout == "" and done.stderr.count("\n") == 1 and word in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_made_is_one_line(tmp_path):
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(small()), encoding="utf-8")
    (tmp_path / "file").write_text("", encoding="utf-8")
    done = command("chart", path, "--out", tmp_path / "file" / "out", code=2)
    assert done.stderr.count("\n") == 1 and "--out" in done.stderr


def test_check_knows_charts():
    done = command("check", SHIPPED)
    assert "valid" in done.stdout and "(72 cells)" in done.stdout


def test_ctrl_c_says_what_is_kept(tmp_path):
    path = tmp_path / "chart.json"
    grounds = [float(g) for g in np.linspace(2.0, 20.0, 14)]
    path.write_text(json.dumps(small(axes__1__values=grounds, layout__page="portrait", uncertain__samples=8192)), encoding="utf-8")
    store = tmp_path / "out" / ".cells"
    process = subprocess.Popen(
        [sys.executable, "-m", "libcure", "chart", str(path), "--out", str(tmp_path / "out")],
        stderr=subprocess.PIPE,
        text=True,
        # Tests started in the background are deaf to it, and would hand that on.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    try:
        deadline = time.monotonic() + 120.0
        while not list(store.glob("*.json")) if store.exists() else True:
            assert process.poll() is None and time.monotonic() < deadline
            time.sleep(0.02)
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=120)
    finally:
        process.kill()
        process.wait()
    assert process.returncode == 130
    assert "28 cells are kept; the same command goes on from there" in " ".join(said.split())
    assert "Traceback" not in said


def test_a_chart_that_no_page_holds_is_refused_before_it_is_computed(tmp_path):
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(small(axes__1__values=list(range(1, 41)))), encoding="utf-8")
    done = command("chart", path, "--out", tmp_path / "out", code=2)
    assert done.stderr.startswith(f"libcure: {path}: layout: 40 rows and 2 columns; allowed: at most ")
    assert not (tmp_path / "out").exists()


LOADED = """
import sys
from libcure.cli import app
try:
    app(sys.argv[1:])
finally:
    print(*sys.modules, file=sys.stderr)
"""


@pytest.mark.parametrize(
    ("name", "heavy"),
    [
        ("chart", {"scipy", "pandas", "xarray", "jsonschema"}),
        ("predict", {"numpy", "scipy", "pandas", "xarray", "matplotlib", "jsonschema", "libcure.charting", "libcure.advising"}),
    ],
)
def test_a_command_imports_nothing_heavy_that_it_does_not_need(tmp_path, name, heavy):
    """Each of these takes longer to import than a whole prediction."""
    path = tmp_path / "document.json"
    path.write_text(json.dumps(small() if name == "chart" else CHART["case"]), encoding="utf-8")
    # A prediction reads the ranges of a chart without what draws one.
    arguments = [name, str(path), *(["--out", str(tmp_path)] if name == "chart" else ["--uncertain", str(SHIPPED)])]
    done = subprocess.run([sys.executable, "-c", LOADED, *arguments], capture_output=True, text=True, timeout=300)
    loaded = set(done.stderr.split())
    assert "libcure._core" in loaded and not loaded & heavy
