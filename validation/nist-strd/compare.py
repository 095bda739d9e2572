from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from libcure.fitting import compress, covariance, solve
from libcure.validation import Comparison

Array = NDArray[np.float64]
HERE = Path(__file__).parent
DIGITS = 6.0
MOST = 11.0  # the certified values have no more digits

# As the files print them.
MODELS: dict[str, Callable[[Array, Array], Array]] = {
    "Misra1a": lambda b, x: b[0] * (1 - np.exp(-b[1] * x)),
    "Misra1b": lambda b, x: b[0] * (1 - (1 + b[1] * x / 2) ** -2),
    "Misra1c": lambda b, x: b[0] * (1 - (1 + 2 * b[1] * x) ** -0.5),
    "Chwirut2": lambda b, x: np.exp(-b[0] * x) / (b[1] + b[2] * x),
    "DanWood": lambda b, x: b[0] * x ** b[1],
    "Lanczos3": lambda b, x: b[0] * np.exp(-b[1] * x) + b[2] * np.exp(-b[3] * x) + b[4] * np.exp(-b[5] * x),
    "Kirby2": lambda b, x: (b[0] + b[1] * x + b[2] * x**2) / (1 + b[3] * x + b[4] * x**2),
    "Hahn1": lambda b, x: (b[0] + b[1] * x + b[2] * x**2 + b[3] * x**3) / (1 + b[4] * x + b[5] * x**2 + b[6] * x**3),
    "MGH17": lambda b, x: b[0] + b[1] * np.exp(-x * b[3]) + b[2] * np.exp(-x * b[4]),
    "Roszman1": lambda b, x: b[0] - b[1] * x - np.arctan(b[2] / (x - b[3])) / np.pi,
    "MGH09": lambda b, x: b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3]),
    "Thurber": lambda b, x: (b[0] + b[1] * x + b[2] * x**2 + b[3] * x**3) / (1 + b[4] * x + b[5] * x**2 + b[6] * x**3),
    "BoxBOD": lambda b, x: b[0] * (1 - np.exp(-b[1] * x)),
    "Rat42": lambda b, x: b[0] / (1 + np.exp(b[1] - b[2] * x)),
    "Rat43": lambda b, x: b[0] / (1 + np.exp(b[1] - b[2] * x)) ** (1 / b[3]),
    "MGH10": lambda b, x: b[0] * np.exp(b[1] / (x + b[2])),
    "Eckerle4": lambda b, x: (b[0] / b[1]) * np.exp(-0.5 * ((x - b[2]) / b[1]) ** 2),
    "Bennett5": lambda b, x: b[0] * (b[1] + x) ** (-1 / b[2]),
}


def read(name: str) -> tuple[list[Array], Array, Array, Array, Array, str]:
    """Two starts, certified parameters, their standard deviations, x, y, level of difficulty."""
    text = (HERE / f"{name}.dat").read_text(encoding="ascii")
    number = r"([-+]?\d*\.?\d+(?:[Ee][-+]?\d+)?)"
    rows = re.findall(rf"^\s*b\d+\s*=\s*{number}\s+{number}\s+{number}\s+{number}\s*$", text, re.MULTILINE)
    table = np.array(rows, float)
    data = text[re.search(r"^Data:\s+y\s+x\s*$", text, re.MULTILINE).end() :]  # type: ignore[union-attr]
    y, x = np.array(data.split(), float).reshape(-1, 2).T
    level = re.search(r"(Lower|Average|Higher) Level", text).group(1).lower()  # type: ignore[union-attr]
    return [table[:, 0], table[:, 1]], table[:, 2], table[:, 3], x, y, level


def triangle_of(name: str, x: Array, y: Array) -> Callable[[Array], Array]:
    """The compressed problem, with derivatives by complex steps (exact to round-off)."""
    model = MODELS[name]

    def triangle(b: Array) -> Array:
        with np.errstate(all="ignore"):
            r = model(b, x) - y
            J = np.empty((len(x), len(b)))
            for k in range(len(b)):
                step = 1e-30 * max(abs(b[k]), 1e-10)
                moved = b.astype(complex)
                moved[k] += 1j * step
                J[:, k] = np.imag(model(moved, x)) / step
        if not (np.all(np.isfinite(r)) and np.all(np.isfinite(J))):
            return np.asarray(np.full((len(b) + 1, len(b) + 1), 1e50))
        return compress(J, r)

    return triangle


def agreeing_digits(computed: Array, certified: Array) -> float:
    """Least number of digits that agree, -log10 of the relative difference, at most eleven."""
    off = np.abs(computed / certified - 1.0)
    return float(np.min(np.where(off > 0, -np.log10(np.maximum(off, 10**-MOST)), MOST)))


@cache
def results() -> dict[tuple[str, int], tuple[float, float]]:
    """Digits of parameters and of standard deviations, by set and start."""
    out = {}
    for name in MODELS:
        starts, certified, deviation, x, y, _ = read(name)
        triangle = triangle_of(name, x, y)
        for i, start in enumerate(starts, 1):
            end = solve(triangle, start, tolerance=1e-15, evaluations=20000)
            error = np.sqrt(np.diag(covariance(end.triangle, len(x) - len(certified))))
            out[name, i] = agreeing_digits(end.x, certified), agreeing_digits(error, deviation)
    return out


def compare() -> list[Comparison]:
    rows = []
    for (name, start), (parameters, deviations) in results().items():
        level = read(name)[-1]
        for what, digits in (("parameters", parameters), ("standard deviations", deviations)):
            rows.append(Comparison("NIST StRD", f"{name} ({level}), start {start}: agreeing digits of {what}", DIGITS, digits,
                            "digits", 0.0, "closed form", ">="))
    return rows


def figure(fig: Figure) -> None:
    ax = fig.subplots()
    names = list(MODELS)
    for start, marker in ((1, "o"), (2, "s")):
        for k, (color, what) in enumerate((("#0072B2", "parameters"), ("#D55E00", "standard deviations"))):
            ax.plot(names, [results()[name, start][k] for name in names], marker, color=color, alpha=0.7,
                    mfc="none" if start == 2 else color, label=f"{what}, start {start}")
    ax.axhline(DIGITS, color="#222222", lw=0.8)
    ax.set_ylim(0, MOST + 1)
    ax.set_ylabel("digits that agree")
    ax.tick_params(axis="x", rotation=60)
    ax.legend(fontsize=7, ncols=2)
