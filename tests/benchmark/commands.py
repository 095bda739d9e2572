"""What a user waits for: the commands from start to finish, on shipped documents, as a table in Markdown.

    .venv/bin/python tests/benchmark/commands.py [runs]

Wall time [s] is the median of the runs (5), processor time that of all threads and processes. Run it on an idle machine;
a first run of each, which is not counted, reads the files into memory.
"""

import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from libcure.studying.family import find_family
from libcure.studying.protocol import example

ROOT = Path(__file__).parents[2]
CASES, DATA = ROOT / "models" / "cases", ROOT / "notebooks" / "data"
WINTER, SECTION = CASES / "cold_ground_winter.json", CASES / "standing_water_invert.json"
LOG, SITE = DATA / "follow" / "cold_ground.csv", DATA / "record" / "site.json"


def commands(folder: Path) -> dict[str, list[object]]:
    """Arguments by what they are for; files go into the folder."""
    study = folder / "study.json"
    study.write_text(json.dumps(example(find_family("epoxy-amine"), [5.0, 10.0])))
    return {
        "start of the command alone (`--version`)": ["--version"],
        "`predict` a winter job, 2048 samples": ["predict", WINTER],
        "`job` from a few answers": ["job", "--like", "winter-road", "--resin", "fast", "--wall", "4", "--mixed-at", "9:12"],
        "`advise` on a packer left in the sun": ["advise", CASES / "hot_packer_summer.json"],
        "`follow` a job by its log": ["follow", WINTER, LOG],
        "`record` of a job, with its pages": ["record", SITE, "--case", WINTER, "--log", LOG, "--out", folder / "record"],
        "`predict` around the pipe, 128 samples": ["predict", SECTION],
        "`advise` around the pipe": ["advise", SECTION],
        "`chart` for the seasons, sheet and page": ["chart", ROOT / "models" / "charts" / "seasonal.json", "--out", folder / "chart"],
        "`fit` of seven runs, with its report": ["fit", DATA / "dsc" / "fit.json", "--out", folder / "fit"],
        "`study` of a kit, with its report": ["study", study, "--out", folder / "study"],
    }


def timed(arguments: list[object]) -> tuple[float, float]:
    """Wall and processor time of a run [s].

    Raises:
        SystemExit: the command could not do it.
    """
    before, begin = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run([sys.executable, "-m", "libcure", *map(str, arguments)], capture_output=True, text=True)
    wall, after = time.perf_counter() - begin, resource.getrusage(resource.RUSAGE_CHILDREN)
    # 1: done, and the answer is not to do it.
    if done.returncode not in (0, 1):
        raise SystemExit(f"{arguments}: {done.returncode}\n{done.stderr}")
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    print("| what | wall [s] | processor [s] |\n| --- | --- | --- |")
    with tempfile.TemporaryDirectory() as folder:
        for what, arguments in commands(Path(folder)).items():
            timed(arguments)
            wall, processor = zip(*(timed(arguments) for _ in range(runs)), strict=True)
            print(f"| {what} | {statistics.median(wall):.2f} | {statistics.median(processor):.2f} |", flush=True)


if __name__ == "__main__":
    main()
