"""Runs that take too much are refused, and runs that take long can be stopped."""

import json
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import libcure
from libcure import ensemble, fitting, studying
from libcure.sampling.resin_constants import resin_constants
from libcure.stopping import heed, in_threads, stopping
from libcure.studying.family import find_family
from libcure.studying.protocol import example

CASES = Path(__file__).parents[2] / "models" / "cases"
COLD, SECTION = CASES / "cold_ground_winter.json", CASES / "standing_water_invert.json"
CHART = CASES.parent / "charts" / "seasonal.json"
LOG = Path(__file__).parents[2] / "notebooks" / "data" / "follow" / "cold_ground.csv"
DSC = LOG.parents[1] / "dsc" / "fit.json"
PEAKS = {"format": "libcure/fit/1", "title": "Three peaks, invented", "peaks": [
    {"heating_rate_K_min": rate, "temperature_C": T} for rate, T in ((5, 110.0), (10, 127.1), (20, 146.3))]}
STUDY = example(find_family("epoxy-amine"), [5.0])
FINEST = {"cells": dict.fromkeys(("bladder", "liner", "pipe", "ground"), 2000)} | {
    "temperature_tolerance_K": 1e-9, "alpha_tolerance": 1e-12
}  # fmt: skip

MANY_STARTS = f"fitting.study.replace(fitting.load({str(DSC)!r}), options=fitting.Options(starts=4096))"
FITTED = f"fitting.fit_law(fitting.FitLaw('kamal-sourour'), fitting.load({str(DSC)!r}).runs[:3], options=fitting.Options(starts=2))"
# Each takes minutes to hours where nobody stops it, in calls of the core that themselves take as long.
START = """import sys
import libcure.cli
import numpy as np
import scipy.optimize, scipy.special  # which fits and studies load when they run
from libcure import ensemble, fitting, studying
case = libcure.load_case(sys.argv[1])
print("started", flush=True)
"""
LONG = {
    "predict": (SECTION, "libcure.predict(case)"),
    "predict_many": (SECTION, "libcure.predict_many([case] * 4)"),
    "ensemble": (COLD, "ensemble.simulate_many(case, {'resin.rate_factor': np.ones(1_000_000)}, threads=1)"),
    "ensemble of predictions": (
        SECTION,
        "ensemble.simulate_many(case, {'resin.rate_factor': np.ones(4)}, temperature_tolerance_K=1e-6, alpha_tolerance=1e-9)",
    ),
    "follow": (COLD, f"libcure.follow(case, {str(LOG)!r}, samples=16384, threads=1)"),
    "service times": (COLD, "ensemble.service_times(case, {'resin.rate_factor': np.ones(100_000)}, threads=2)"),
    "chart": (COLD, f"libcure.chart({str(CHART)!r}, samples=4096, threads=1)"),
    "study": (COLD, f"studying.run({STUDY!r}, samples=4096, threads=1)"),
    "fit": (COLD, f"fitting.run({MANY_STARTS})"),
    "bootstrap of a fit": (COLD, f"fitting.bootstrap({FITTED}, repetitions=20_000)"),
    "single temperature": (COLD, "case.resin.isothermal(np.full(1_000_000, 300.0), [1e6], 0.0)"),
}  # fmt: skip


def slow(path, folder):
    """A case that takes long: a section as fine as may be asked for."""
    document = json.loads(path.read_text())
    if path == SECTION:
        document["section"]["columns"] = 200
        document["numerics"] = {
            "cells": {"bladder": 20, "liner": 40, "pipe": 15, "ground": 25}, "temperature_tolerance_K": 1e-3
        }  # fmt: skip
    target = folder / "slow.json"
    target.write_text(json.dumps(document))
    return target


def interrupt(script, *arguments, after=""):
    """What a script says, and its exit code, that gets Ctrl-C a second after it has started, or has said a line more."""
    running = subprocess.Popen(
        [sys.executable, "-c", START + script, *map(str, arguments)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        # Tests started in the background are deaf to it, and would hand that on.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    try:
        assert running.stdout.readline() == "started\n"
        assert not after or running.stdout.readline() == after
        time.sleep(1.0)
        assert running.poll() is None, "ended by itself: too short to tell anything"
        running.send_signal(signal.SIGINT)
        asked = time.monotonic()
        # Far less than any of them takes; what is measured is printed.
        out, err = running.communicate(timeout=60)
        print(f"ended {time.monotonic() - asked:.2f} s after the interrupt")
    finally:
        running.kill()
    return out, err, running.returncode


STRUCK = """import os, signal, sys
class Strike:
    def find_spec(name, path=None, target=None):
        if name == wanted:
            os.kill(os.getpid(), signal.SIGINT)
wanted = sys.argv[1]
sys.meta_path.insert(0, Strike)
sys.argv = ["/bin/libcure", "models"]
from libcure.cli import main
main()
"""


@pytest.mark.parametrize("loading", ["libcure._core", "libcure.result", "libcure.cli.menu", "typer", "libcure.cli.models"])
def test_a_command_that_still_loads_ends_in_one_line(loading):
    ended = subprocess.run(
        [sys.executable, "-c", STRUCK, loading], capture_output=True, text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    assert (ended.returncode, ended.stdout, ended.stderr) == (130, "", "libcure: interrupted\n")


def test_another_program_keeps_its_own_ctrl_c():
    ended = subprocess.run([sys.executable, "-c", "import signal, libcure; assert signal.getsignal(signal.SIGINT) is signal.default_int_handler"],
                           preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL))  # fmt: skip
    assert ended.returncode == 0


def many_starts():
    return replace(fitting.load(DSC), options=fitting.Options(starts=4096))


def test_ctrl_c_while_the_report_is_drawn_leaves_no_file(tmp_path):
    document = json.loads(DSC.read_text(encoding="utf-8"))
    document["laws"], document["options"], document["runs"] = [{"law": "nth-order"}], {"starts": 1}, document["runs"][:3]
    for run in document["runs"]:
        run["file"] = str(DSC.parent / run["file"])
    (tmp_path / "job.json").write_text(json.dumps(document), encoding="utf-8")
    # The figures are so many that drawing takes long.
    script = """from libcure.render import fit_pictures
many = fit_pictures.first
fit_pictures.first = lambda study, size: (one for _ in range(10_000) for one in many(study, size))
import libcure.fitting
run = libcure.fitting.run
def told(*what):
    run(*what)
    print("fitted", flush=True)
libcure.fitting.run = told
libcure.cli.app(['fit', sys.argv[2], '--out', sys.argv[3]])"""
    out, err, code = interrupt(script, COLD, tmp_path / "job.json", tmp_path / "out", after="fitted\n")
    assert (out, err, code) == ("", "libcure: interrupted\n", 130)
    assert list((tmp_path / "out").iterdir()) == []


def test_an_event_ends_the_writing_of_a_fit(tmp_path):
    stop = threading.Event()
    stop.set()
    study = fitting.run(fitting.study.from_document(PEAKS, tmp_path))
    with pytest.raises(libcure.CureError, match="^stopped before the end$"):
        fitting.write(study, tmp_path / "out", stop=stop)
    assert list((tmp_path / "out").iterdir()) == []
    fitting.write(study, tmp_path / "out", stop=threading.Event())
    assert (tmp_path / "out" / "report.html").exists()


def test_what_raises_in_one_thread_ends_the_others():
    begun = []

    def work(i):
        begun.append(i)
        if i == 0:
            raise ValueError("first")
        while True:
            heed()
            time.sleep(0.01)

    with pytest.raises(ValueError, match="first"):
        list(in_threads(work, range(100), threads=4))
    assert len(begun) < 100


def test_an_event_of_an_inner_call_ends_that_call_alone():
    outer, inner = threading.Event(), threading.Event()
    inner.set()
    with stopping(outer):
        with pytest.raises(libcure.CureError, match="stopped before the end"), stopping(inner):
            pass
        heed()
        outer.set()
        with pytest.raises(libcure.CureError, match="stopped before the end"), stopping(outer):
            pass
    assert list(in_threads(lambda i: heed() or 2 * i, range(5), threads=2)) == [0, 2, 4, 6, 8]


def test_an_event_stops_a_chart_that_an_executor_computes():
    stop = threading.Event()
    threading.Timer(0.5, stop.set).start()
    with ThreadPoolExecutor(1) as executor, pytest.raises(libcure.CureError, match="stopped before the end"):
        libcure.chart(CHART, samples=256, threads=1, executor=executor, stop=stop)


@pytest.mark.parametrize("name", LONG)
def test_ctrl_c_stops_a_call(name, tmp_path):
    path, call = LONG[name]
    script = f"try:\n    {call}\n    print('finished')\nexcept KeyboardInterrupt:\n    print('interrupted')\n"
    out, err, code = interrupt(script, slow(path, tmp_path))
    assert (out, err, code) == ("interrupted\n", "", 0)


def test_ctrl_c_stops_the_command_in_one_line(tmp_path):
    target = tmp_path / "verdict.json"
    script = "libcure.cli.app(['predict', *sys.argv[1:]])"
    out, err, code = interrupt(script, slow(SECTION, tmp_path), "--json", target)
    assert (out, err, code) == ("", "libcure: interrupted\n", 130)
    assert not target.exists()


def test_an_event_stops_what_another_thread_runs(tmp_path):
    case = libcure.load_case(slow(SECTION, tmp_path))
    for call in (
        lambda stop: libcure.predict(case, stop=stop),
        lambda stop: ensemble.simulate_many(case, {"resin.rate_factor": [1.0] * 400}, stop=stop),
        lambda stop: ensemble.service_times(case, {"resin.rate_factor": [1.0] * 400}, stop=stop),
        lambda stop: libcure.follow(COLD, LOG, samples=16384, threads=1, stop=stop),
        lambda stop: libcure.advise(SECTION, stop=stop),
        lambda stop: libcure.chart(CHART, samples=4096, threads=1, stop=stop),
        lambda stop: studying.run(STUDY, samples=4096, threads=1, stop=stop),
        lambda stop: fitting.run(many_starts(), stop=stop),
        lambda stop: fitting.fit_law(many_starts().laws[0], many_starts().runs, options=many_starts().options, stop=stop),
    ):
        stop, raised = threading.Event(), []

        def run(call=call, stop=stop, raised=raised):
            with pytest.raises(libcure.CureError) as caught:
                call(stop)
            raised.append(str(caught.value))

        thread = threading.Thread(target=run)
        thread.start()
        time.sleep(0.2)
        stop.set()
        asked = time.monotonic()
        thread.join(60)
        # Half a second on a machine that does nothing else.
        assert time.monotonic() - asked < 5.0
        assert raised == ["stopped before the end"]


def test_an_event_is_heard_between_draws_of_resins(monkeypatch):
    constants = resin_constants(libcure.load_case(COLD).document, COLD.parent)
    z = np.random.default_rng(1).standard_normal((20, constants.dimensions))
    whole = [resin.isothermal([290.0], [3600.0], 0.01)[0] for resin in constants.resins(z)]
    monkeypatch.setattr("libcure.sampling.resin_constants.AT_ONCE", 8)
    assert np.array_equal([resin.isothermal([290.0], [3600.0], 0.01)[0] for resin in constants.resins(z, threading.Event())], whole)
    assert len(np.unique(whole)) > 10
    stop = threading.Event()
    stop.set()
    with pytest.raises(libcure.CureError, match="stopped before the end"):
        constants.resins(z, stop)


def test_an_event_that_is_not_set_stops_nothing():
    assert libcure.predict(COLD, stop=threading.Event()).times == libcure.predict(COLD).times


def test_what_is_no_event_is_told():
    with pytest.raises(AttributeError, match="is_set"):
        ensemble.simulate_many(libcure.load_case(COLD), {"resin.rate_factor": [1.0] * 30_000}, stop=3)


def test_a_case_over_the_budget_is_refused_in_one_line(tmp_path):
    document = json.loads(COLD.read_text()) | {"numerics": FINEST}
    path = tmp_path / "finest.json"
    path.write_text(json.dumps(document))
    target = tmp_path / "verdict.json"
    done = subprocess.run(
        [sys.executable, "-m", "libcure", "predict", str(path), "--json", str(target)],
        capture_output=True, text=True, timeout=120,  # before any sample is computed
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith("libcure: numerics: ")
    assert "at most 2e+06 steps and 1000 MB of history" in done.stderr
    assert "fewer numerics.cells" in done.stderr
    assert not target.exists()
