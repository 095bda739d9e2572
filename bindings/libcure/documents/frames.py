"""Tables for polars, which need neither pyarrow nor, of libcure, polars itself."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd
    import polars as pl

__all__ = ["WithFrames", "to_polars"]


class WithFrames(ABC):
    """What shows itself as a table, for pandas and for polars."""

    __slots__ = ()

    @abstractmethod
    def to_dataframe(self) -> pd.DataFrame:
        """The table for pandas."""

    def to_polars(self) -> pl.DataFrame:
        """The table of ``to_dataframe`` for polars: a named index is a column, what is missing is null.

        Raises:
            ImportError: polars, which libcure does not bring, is not installed.
        """
        return to_polars(self.to_dataframe())


def to_polars(table: pd.DataFrame) -> pl.DataFrame:
    """Any table of libcure's for polars: a named index is a column, what is missing is null.

    Raises:
        ImportError: polars, which libcure does not bring, is not installed.
    """
    try:
        import polars as pl
    except ImportError as error:
        raise ImportError("tables for polars need it installed: pip install polars") from error
    import pandas as pd

    if any(name is not None for name in table.index.names):
        table = table.reset_index()

    def column(values: pd.Series) -> pl.Series:
        if values.dtype.kind in "fiub":
            return pl.Series(values.to_numpy(), nan_to_null=True)
        return pl.Series([None if pd.isna(value) else value for value in values])

    return pl.DataFrame({str(name): column(table[name]) for name in table.columns})
