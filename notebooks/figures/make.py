"""Makes the pictures of the README beside this file: python notebooks/figures/make.py"""

from pathlib import Path

from matplotlib.figure import Figure
from rich.console import Console
from rich.style import Style

import libcure
from libcure.render.verdict_view import VerdictView

HERE = Path(__file__).parent
COLUMNS, SIZE, DOTS = 80, 11.0, 110  # letters in a line; of a letter [pt]; per inch
PAPER, INK, DIM = "#fbfbfa", "#1d1d1f", "#77777a"
COLOURS = {1: "#b3261e", 3: "#8a5a00", 2: "#1b6e3c"}  # by ECMA-48: red, yellow, green


def colour_of(style: Style) -> str:
    if style.color is not None:
        return COLOURS.get(style.color.number, INK)
    return DIM if style.dim else INK


def terminal_picture(prediction: libcure.Prediction, path: Path) -> None:
    """Draws what the command prints, letter by letter in a fixed-width font."""
    console = Console(width=COLUMNS, legacy_windows=False, force_terminal=True)
    lines = console.render_lines(VerdictView(prediction), console.options.update(width=COLUMNS))
    # Advance and line height of DejaVu Sans Mono in whole pixels, so that the lines of boxes meet [inch].
    letter = round(SIZE * 0.602 * DOTS / 72.0) / DOTS
    row = int(SIZE * 1.164 * DOTS / 72.0) / DOTS
    margin = 0.18
    width, height = COLUMNS * letter + 2 * margin, len(lines) * row + 2 * margin
    figure = Figure(figsize=(width, height), facecolor=PAPER)
    for i, line in enumerate(lines):
        column = 0
        for segment in line:
            style = segment.style or Style.null()
            if segment.text.strip():
                figure.text(
                    (margin + column * letter) / width,
                    1.0 - (margin + (i + 0.8) * row) / height,
                    segment.text,
                    family="DejaVu Sans Mono",
                    size=SIZE,
                    weight="bold" if style.bold else "normal",
                    color=colour_of(style),
                    va="baseline",
                    parse_math=False,
                )
            column += segment.cell_length
    figure.savefig(path, dpi=DOTS, metadata={"Software": None}, pil_kwargs={"optimize": True})


def main() -> None:
    cold = libcure.predict(libcure.models_folder() / "cases" / "cold_ground_winter.json")
    terminal_picture(cold, HERE / "verdict.png")
    cold.plot(HERE / "cold_ground.png")


if __name__ == "__main__":
    main()
