"""The same chart however it is computed: threads, processes, a cluster, a second run, a run that was killed."""

import json
import signal
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context

import pytest
from small_chart import records, small

import libcure
from libcure.charting import cells, store


def test_threads_and_processes_and_a_cluster_give_the_same(small_result):
    with ThreadPoolExecutor(2) as executor:
        assert records(libcure.chart(small(), executor=executor)) == records(small_result)
    with ProcessPoolExecutor(2, get_context("spawn")) as executor:
        assert records(libcure.chart(small(), executor=executor)) == records(small_result)
    assert records(libcure.chart(small(), threads=1)) == records(small_result)
    tasks = cells.tasks_of(small_result.chart)
    found, _ = store.compute_all(tasks, store.Store(None), busy=lambda: True)
    assert found[:4] == list(small_result.records.values())


def test_cells_of_a_group_are_those_of_each_by_itself(small_result):
    """Grounds of one hardener go to their holds together."""
    tasks = cells.tasks_of(small_result.chart)
    groups = cells.groups_of(tasks)
    assert sorted(len(group) for group in groups if group[0].kind == "cell") == [2, 2]
    for group in groups:
        assert cells.compute(group) == [record for task in group for record in cells.compute([task])]
    assert {len({task.case.document["resin"] for task in group}) for group in groups} == {1}


# The cluster's own threads and sockets may outlive it for a moment.
@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_dask_cluster_gives_the_same(small_result):
    from distributed import Client, LocalCluster

    with (
        LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster,
        Client(cluster) as client,
        client.get_executor() as executor,
    ):
        assert records(libcure.chart(small(), executor=executor)) == records(small_result)


def test_a_second_run_computes_nothing_and_writes_the_same(tmp_path, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    first = libcure.chart(small(), store=tmp_path / "store")
    files = [path.read_bytes() for path in first.save(tmp_path / "a")]
    monkeypatch.setattr(cells, "compute", None)
    second = libcure.chart(small(), store=tmp_path / "store")
    assert second.kept == 4
    assert [path.read_bytes() for path in second.save(tmp_path / "b")] == files
    assert sorted(p.name for p in (tmp_path / "a").iterdir()) == [
        "chart.csv",
        "chart.html",
        "chart.json",
        "chart.pdf",
        "chart.svg",
    ]


def test_a_fresh_run_writes_the_same_bytes(tmp_path, small_result):
    assert records(libcure.chart(small())) == records(small_result)


def test_damaged_and_foreign_files_in_the_store_do_no_harm(tmp_path, small_result):
    libcure.chart(small(), store=tmp_path)
    kept = sorted(tmp_path.glob("*.json"))
    assert len(kept) == 4
    kept[0].write_text('{"working_min": [1', encoding="utf-8")
    (tmp_path / "note.txt").write_text("mine", encoding="utf-8")
    again = libcure.chart(small(), store=tmp_path)
    assert again.kept == 3 and records(again) == records(small_result)


def test_other_inputs_take_nothing_from_the_store(tmp_path):
    libcure.chart(small(), store=tmp_path)
    assert libcure.chart(small(uncertain__seed=8), store=tmp_path).kept == 0
    # Only one of the two columns changes.
    assert libcure.chart(small(axes__1__values=[5, 16]), store=tmp_path).kept == 2


SLOW = """
import json, sys, time
import libcure

def show(done, of):
    print(done, flush=True)
    time.sleep(0.5)

libcure.chart(json.loads(sys.argv[1]), store=sys.argv[2], progress=show)
"""


def test_kill_loses_at_most_the_cell_in_work(tmp_path, small_result):
    document = small(axes__1__values=[5, 9, 12, 15])
    process = subprocess.Popen(
        [sys.executable, "-c", SLOW, json.dumps(document), str(tmp_path)], stdout=subprocess.PIPE, text=True
    )
    try:
        deadline = time.monotonic() + 120.0
        while len(list(tmp_path.glob("*.json"))) < 3:
            assert process.poll() is None and time.monotonic() < deadline
            time.sleep(0.02)
        process.send_signal(signal.SIGKILL)
    finally:
        process.kill()
        said, _ = process.communicate()
    finished = [path for path in tmp_path.glob("*.json") if json.loads(path.read_text(encoding="utf-8"))]
    assert 3 <= len(finished) < 8
    # Whatever was told to be done is kept.
    assert int(said.split()[-1]) <= len(finished)
    again = libcure.chart(document, store=tmp_path)
    assert again.kept == len(finished)
    assert records(again) == records(libcure.chart(document))


def test_an_interrupted_run_keeps_what_is_done(tmp_path):
    def stop(done, of):
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        libcure.chart(small(), store=tmp_path, progress=stop)
    assert libcure.chart(small(), store=tmp_path).kept == 2
