"""``libcure follow --watch``: a log that grows line by line, until the bladder may come out, the log stops, or Ctrl-C."""

import io
import json
import os
import signal
import subprocess
import sys
from types import SimpleNamespace

import pytest
from follow_synthetic import CASES, Truth
from rich.console import Console
from test_cli import run

import libcure
from libcure.cli.follow import Job, run_watch
from libcure.following import watch
from libcure.following.watching import POLL_S

COLD = CASES / "cold_ground_winter.json"
HEADING = "time_min,temperature_C\n"


class Site:
    """A logger and a clock that nobody waits for: each sleep may write."""

    def __init__(self, path, writes):
        self.path, self.writes, self.now, self.slept = path, list(writes), 0.0, []

    def clock(self):
        return self.now

    def sleep(self, seconds):
        self.now += seconds
        self.slept.append(seconds)
        if self.writes and (text := self.writes.pop(0)) is not None:
            with self.path.open("a") as file:
                file.write(text)
            os.utime(self.path, ns=(0, int(1e9 * self.now)))


def said(text):
    return " ".join(text.replace("│", " ").split())


def rows(path):
    return sum(line[:1].isdigit() for line in path.read_text().splitlines(keepends=True) if line.endswith("\n"))


def watched(site, follow, quiet_min=1.0):
    return list(watch(site.path, follow, quiet_min=quiet_min, clock=site.clock, sleep=site.sleep))


def counting(path, out_at):
    """Stands for what follows: a bladder that may come out from so many rows on."""
    def follow():
        read = rows(path)
        return SimpleNamespace(status="may_come_out" if read >= out_at else "keep_in", rows=read)

    return follow


def test_each_line_is_followed_until_the_bladder_may_come_out(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(HEADING)
    site = Site(path, ["20,7.5\n", None, "21,7.6\n", "22,", "7.7\n", "23,7.8\n", "24,7.9\n"])
    seen = watched(site, counting(path, 4))
    assert [s.result.rows for s in seen] == [0, 1, 2, 2, 3, 4]
    assert [s.ended for s in seen] == [*[""] * 5, "may come out"]
    assert set(site.slept) == {POLL_S}
    assert site.writes == ["24,7.9\n"]


def test_a_log_that_stops_ends_the_watch(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(HEADING)
    site = Site(path, [*[None] * 20, "20,7.5\n"])
    seen = watched(site, counting(path, 4), quiet_min=2.0)
    assert [s.ended for s in seen] == ["", "", "quiet"]
    assert "has not changed for 2 min" in seen[-1].problem
    assert 160.0 <= site.now <= 160.0 + 2 * POLL_S


def test_a_file_that_is_away_for_a_moment_is_waited_for(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(HEADING)

    class Rewriting(Site):
        def sleep(self, seconds):
            super().sleep(seconds)
            if len(self.slept) == 2:
                path.unlink()
            if len(self.slept) == 4:
                path.write_text(HEADING + "20,7\n21,7\n")

    seen = watched(Rewriting(path, []), counting(path, 2))
    assert [s.result.rows for s in seen] == [0, 2]


def test_what_is_wrong_is_said_at_once_and_what_is_only_begun_is_waited_for(tmp_path):
    path = tmp_path / "log.csv"
    follow = lambda: libcure.follow(COLD, path, samples=64, threads=2)  # noqa: E731
    with pytest.raises(libcure.CureError, match="cannot be read"):
        watched(Site(path, []), follow)
    path.write_text("time_min,pressure\n20,7\n")
    with pytest.raises(libcure.CureError, match="no column for it"):
        watched(Site(path, []), follow)
    with pytest.raises(libcure.CureError, match="until_quiet: 0; allowed: above 0 min"):
        watched(Site(path, []), follow, quiet_min=0.0)
    path.write_text("")
    seen = watched(Site(path, ["time_min,temp", "erature_C\n", "20,7.5\n"]), follow, quiet_min=0.5)
    assert [s.result is None for s in seen] == [True, True, False, False, False]
    assert "empty" in seen[0].problem
    assert seen[-1].result.readings.time.size == 1


@pytest.fixture(scope="module")
def log():
    job = Truth("cold_ground_winter", (0.0, 0.0, 0.0, 0.0, 0.0))
    return [f"{t:.2f},{T:.3f}\n" for t, T in zip(*job.log(500, 6), strict=True)]


def job_of(path, tmp_path, **more):
    defaults = {"channel": "", "mixed_at": "", "at": "liner outer face", "now": None, "chart": None}
    return Job(libcure.load_case(COLD), COLD, path, json=tmp_path / "f.json", plot=tmp_path / "f.png", **{**defaults, **more})


@pytest.mark.parametrize("terminal", [False, True])
def test_page_and_files_are_those_of_the_newest_rows(tmp_path, log, terminal):
    path = tmp_path / "log.csv"
    path.write_text(HEADING + "".join(log[:100]))
    console = Console(width=100, height=60, file=io.StringIO(), force_terminal=terminal, color_system=None)
    site = Site(path, ["".join(log[100:200]), None, "".join(log[200:])])
    assert run_watch(job_of(path, tmp_path), console, 30.0, clock=site.clock, sleep=site.sleep)
    text = said(console.file.getvalue())
    assert "DO NOT LET THE BLADDER OUT ON THESE READINGS" in text
    assert text.rindex("has passed: the bladder may come out") > text.rindex("DO NOT LET THE BLADDER OUT")
    # A terminal shows one page at a time, and the last one stays when the watch ends; else each is written once.
    assert ("Ctrl-C ends" in text) == terminal
    assert terminal or text.count("has passed: the bladder may come out") == 1
    assert text.rindex("has passed: the bladder may come out") > text.rfind("Ctrl-C ends")
    document = json.loads((tmp_path / "f.json").read_text())
    assert document["status"] == "may_come_out"
    assert document["readings"]["rows"] == len(log)
    assert (tmp_path / "f.png").read_bytes().startswith(b"\x89PNG")


def test_a_clock_that_was_told_goes_on(tmp_path, log):
    path = tmp_path / "log.csv"
    path.write_text(HEADING + "".join(log[:100]))
    site = Site(path, [*[None] * 29, log[100]])
    now = float(log[100].split(",")[0])
    console = Console(width=100, file=io.StringIO())
    assert not run_watch(job_of(path, tmp_path, now=now), console, 1.0, clock=site.clock, sleep=site.sleep)
    assert json.loads((tmp_path / "f.json").read_text())["now_min"] == pytest.approx(now + 1.0)


def test_the_command_ends_as_it_says(tmp_path, log):
    path = tmp_path / "log.csv"
    path.write_text(HEADING + "".join(log))
    assert "may come out" in said(run("follow", COLD, path, "--watch").stdout)
    path.write_text(HEADING + "".join(log[:60]))
    done = run("follow", COLD, path, "--watch", "--until-quiet", "0.001", code=3)
    assert "has not changed for 0.001 min" in said(done.stdout)
    assert "--json" in run("follow", COLD, path, "--watch", "--json", "-", code=2).stderr


def test_ctrl_c_ends_the_watch_as_it_ends_others(tmp_path, log):
    path = tmp_path / "log.csv"
    path.write_text(HEADING + "".join(log[:60]))
    command = [sys.executable, "-u", "-m", "libcure", "follow", str(COLD), str(path), "--watch"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        # Tests started in the background are deaf to it, and would hand that on.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    ) as running:  # fmt: skip
        assert any("BLADDER OUT" in line for line in running.stdout)
        running.send_signal(signal.SIGINT)
        _, error = running.communicate(timeout=60)
    assert running.returncode == 130
    assert error == "libcure: interrupted\n"
