"""What a maker puts on a chart: name and mark, batch and date, and a square code with the whole hash of the inputs."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import segno
from matplotlib.image import imread
from numpy.typing import NDArray

from libcure import _core
from libcure.charting.result import ChartResult
from libcure.errors import input_error
from libcure.render.chart_mark import mark_png

__all__ = ["code_squares", "code_text", "lines", "mark_picture"]

Box = tuple[float, float, float, float]


def code_text(result: ChartResult) -> str:
    """What the square code says: format, version, hash of all inputs, and where to compare it."""
    chart = result.chart
    return f"libcure/chart-result/1 {_core.__version__} inputs_hash {chart.inputs_hash} {chart.publication.where}"


def code_squares(text: str, x: float, y: float, size: float) -> list[Box]:
    """The dark fields of a QR code (ISO/IEC 18004), error correction M, in a square [mm] with its quiet zone of four fields."""
    code = segno.make(text, micro=False, error="m")
    rows = [list(row) for row in code.matrix_iter(scale=1, border=4)]
    field = size / len(rows)
    found = []
    for i, row in enumerate(rows):
        j = 0
        while j < len(row):
            # Neighbours are one rectangle: no hairlines between them.
            run = 1
            while j + run < len(row) and row[j + run] == row[j]:
                run += 1
            if row[j]:
                found.append((x + j * field, y + i * field, run * field, field))
            j += run
    return found


def lines(result: ChartResult) -> list[str]:
    """Batch, date, and what the square code is for."""
    chart = result.chart
    p = chart.publication
    return [
        *([chart.say("batch", batch=p.batch)] if p.batch else []),
        *([chart.say("valid_until", date=p.valid_until)] if p.valid_until else []),
        f"{chart.say('qr_says')}, {chart.say('check_at', where=p.where)}",
    ]


def mark_picture(mark: Path, room: tuple[float, float]) -> tuple[NDArray[np.float32], tuple[float, float]]:
    """The picture, and its size in the room [mm] with its proportions.

    Raises:
        CureError: no picture that can be read.
    """
    data = mark_png(mark)
    try:
        picture = np.asarray(imread(io.BytesIO(data), format="png"))
    except (OSError, ValueError, SyntaxError) as error:
        raise input_error("publication.mark", str(mark), "a PNG or SVG picture") from error
    tall, wide = picture.shape[:2]
    scale = min(room[0] / wide, room[1] / tall)
    return picture, (wide * scale, tall * scale)
