"""Seeds 1 to 20 of the shipped seasonal chart against the sides of many samples: numbers that moved, and how.

    .venv/bin/python tests/benchmark/chart_seeds.py [--seeds 20] [--many 16384] [--threads 1]

Runs the shipped code for each seed. A number moved where what is printed differs by more than one rounding step from the side of many
samples as it would be printed; it is unsafe where it lies beyond that side itself. Cells that many samples do not let a crew use, or
that one seed does and another does not, are counted apart.
"""

import argparse
import json
import time

import libcure

CHART = libcure.models_folder() / "charts" / "seasonal.json"
PRINTED = (("in_place_min", "in_place_min", 0), ("working_min", "working_min", 0), ("release_min", "criterion_met_min", 2))


def chart(seed, threads, many=None):
    document = json.loads(CHART.read_text(encoding="utf-8")) | {"sensitivity": {"cells": "none"}}
    document["uncertain"]["seed"] = seed
    if many:
        document["uncertain"] |= {"samples": many, "samples_at_least": many}
    return libcure.chart(document, threads=threads)


def sides(many, index):
    """The three sides of a cell by many samples [min], in the order of PRINTED."""
    found = [float(many.numbers[quantity][index][side]) for _, quantity, side in PRINTED]
    # In place is printed no later than the end of the working time.
    return [min(found[:2]), *found[1:]]


def compared(many, few, told):
    """Counts of numbers seen, moved and unsafe of one seed; what moved goes to the list ``told``."""
    seen = moved = unsafe = 0
    for index, answer in few.answers.items():
        if not (answer.use and many.answers[index].use):
            continue
        for (printed, _, up), true in zip(PRINTED, sides(many, index), strict=True):
            steps = many.chart.release_steps if up else many.chart.working_steps
            shown, rounded = getattr(answer, printed), steps.up(true) if up else steps.down(true)
            seen += 1
            wrong = shown < true if up else shown > true
            # The step where it is coarsest between the two; infinite numbers must be alike.
            far = shown != rounded and not abs(shown - rounded) <= steps.step(max(shown, rounded)) * (1.0 + 1e-9)
            moved, unsafe = moved + far, unsafe + wrong
            if far or wrong:
                told.append(f"{few.where(index)}: {printed} {shown:g}, by many samples {true:g}{' UNSAFE' if wrong else ''}")
    return seen, moved, unsafe


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--many", type=int, default=16384)
    parser.add_argument("--threads", type=int, default=1)
    given = parser.parse_args()
    begin = time.process_time()
    many = chart(99, given.threads, given.many)
    usable = sum(answer.use for answer in many.answers.values())
    print(f"{given.many} samples a cell: {usable} of {len(many.answers)} cells may be used, {time.process_time() - begin:.0f} s", flush=True)
    sums, changed, told = [0, 0, 0], [0, 0], []
    for seed in range(1, given.seeds + 1):
        begin = time.process_time()
        few = chart(seed, given.threads)
        found = compared(many, few, told)
        sums = [a + b for a, b in zip(sums, found, strict=True)]
        for index, answer in few.answers.items():
            changed[answer.use] += answer.use != many.answers[index].use
        rows = sum(record["samples_most"] for record in few.records.values())
        print(f"seed {seed}: {rows} samples, seen, moved, unsafe {found}, {time.process_time() - begin:.1f} s", flush=True)
    print(*told, sep="\n")
    seen, moved, unsafe = sums
    print(f"{seen} numbers: {moved} moved by more than a step ({100.0 * moved / max(seen, 1):.2f} %), {unsafe} unsafe")
    print(f"may be used by many samples and not by a seed: {changed[False]}, the other way (unsafe): {changed[True]}")
    return 0 if moved <= 0.02 * seen and unsafe == changed[True] == 0 else 1


if __name__ == "__main__":
    raise SystemExit(main())
