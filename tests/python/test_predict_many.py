"""Many cases at once: order, errors, executors."""

import pickle
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest

import libcure

HERE = Path(__file__).parent
CASES = HERE.parents[1] / "models" / "cases"
COLD, HOT = CASES / "cold_ground_winter.json", CASES / "hot_packer_summer.json"
BAD = HERE / "bad_cases" / "negative_thickness.json"


class InThisThread(Executor):
    """The smallest executor there is."""

    def submit(self, fn, /, *args, **kwargs):
        future = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except BaseException as error:
            future.set_exception(error)
        return future


class Unwilling(Executor):
    """An executor whose workers die."""

    def submit(self, fn, /, *args, **kwargs):
        future = Future()
        future.set_exception(RuntimeError("worker lost"))
        return future


def mixed():
    case = libcure.load_case(COLD)
    return [COLD, BAD, case.replace({"initial_temperature_C.packer": 20}), str(HOT), case.document, {"format": "x"}]


def check(rows):
    assert [row.index for row in rows] == list(range(6))
    assert [row.ok for row in rows] == [True, False, True, True, True, False]
    assert rows[0].times == rows[4].times == libcure.predict(COLD).times
    assert rows[3].verdict == libcure.predict(HOT, numerical_error=False).verdict
    assert "liner.thickness_mm: -3" in rows[1].error
    assert str(BAD) in rows[1].error
    assert "libcure/case/1" in rows[5].error
    assert rows[1].times is None and rows[1].verdict is None


@pytest.mark.parametrize("executor", [None, InThisThread()], ids=["threads of its own", "this thread"])
def test_one_bad_case_stops_nothing(executor):
    check(libcure.predict_many(mixed(), executor))


def test_threads_of_the_caller_stay_open():
    with ThreadPoolExecutor(2) as threads:
        check(libcure.predict_many(mixed(), threads))
        assert threads.submit(int, "3").result() == 3


def test_processes():
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as processes:
        check(libcure.predict_many(mixed(), processes))


def test_same_bits_whatever_the_thread_count():
    case = libcure.load_case(COLD)
    cases = [case.replace({"initial_temperature_C.packer": 8 + 2 * i}) for i in range(8)]
    one = libcure.predict_many(cases, InThisThread())
    with ThreadPoolExecutor(4) as threads:
        many = libcure.predict_many(cases, threads)
    assert [row.verdict for row in one] == [row.verdict for row in many]
    assert len({row.times.working_min for row in one}) == 8


def test_lost_workers_become_errors():
    rows = libcure.predict_many([COLD, HOT], Unwilling())
    assert [row.error for row in rows] == ["RuntimeError: worker lost"] * 2
    assert rows[0].name == str(COLD)


def test_nothing():
    assert libcure.predict_many([]) == []
    assert libcure.rows_to_dataframe([]).empty


def test_generator():
    assert len(libcure.predict_many(path for path in (COLD, HOT))) == 2


def test_rows_pickle():
    rows = libcure.predict_many([COLD, BAD])
    assert pickle.loads(pickle.dumps(rows)) == rows


def test_table():
    table = libcure.rows_to_dataframe(libcure.predict_many([COLD, BAD]))
    assert table.loc[0, "working_min"] == libcure.predict(COLD).times.working_min
    assert table["release_min"].dtype == float
    assert table.loc[1, "working_min"] != table.loc[1, "working_min"]  # NaN
    assert table.loc[1, "error"].startswith(str(BAD))
