"""A large programme put together row by row from named columns, kept sparse.

The mix of one batch is small and dense (`model`); the winter has thousands of columns, each in a
few rows. `Book` collects columns and rows in any order and gives a `model.Problem` whose matrix
is a `Sparse`. Nothing here knows a solver.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ration.model import Problem
from ration.needs import Array

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Sparse:
    """A matrix as triplets, sorted by row; no place is named twice.

    Attributes
    ----------
    row, column : array of int (k,)
    value : array (k,)
    shape : tuple of int
    """

    row: Ints
    column: Ints
    value: Array
    shape: tuple[int, int]

    def __matmul__(self, x: Array) -> Array:
        """Row sums at x (n,), as (m,)."""
        return np.asarray(
            np.bincount(self.row, self.value * x[self.column], minlength=self.shape[0]), dtype=float
        )

    def transposed_times(self, y: Array) -> Array:
        """Column sums at y (m,), as (n,)."""
        return np.asarray(
            np.bincount(self.column, self.value * y[self.row], minlength=self.shape[1]), dtype=float
        )

    def by_row(self) -> Iterator[tuple[Ints, Array]]:
        """Columns and values of each row, in order."""
        ends = np.searchsorted(self.row, np.arange(self.shape[0] + 1))
        for i in range(self.shape[0]):
            yield self.column[ends[i] : ends[i + 1]], self.value[ends[i] : ends[i + 1]]


class Book:
    """Columns and rows by key; a column stands before the rows that use it."""

    def __init__(self) -> None:
        self.columns: dict[Hashable, int] = {}
        self._cost: list[float] = []
        self._lo: list[float] = []
        self._hi: list[float] = []
        self._whole: list[bool] = []
        self.rows: dict[Hashable, int] = {}
        self._row_lo: list[float] = []
        self._row_hi: list[float] = []
        self._at: list[tuple[int, int, float]] = []
        self._blocks: list[tuple[Ints, Ints, Array]] = []

    def column(
        self,
        key: Hashable,
        cost: float = 0.0,
        lo: float = 0.0,
        hi: float = np.inf,
        *,
        whole: bool = False,
    ) -> int:
        """A new column; its number."""
        number = len(self._cost)
        if self.columns.setdefault(key, number) != number:
            raise KeyError(key)
        self._cost.append(cost)
        self._lo.append(lo)
        self._hi.append(hi)
        self._whole.append(whole)
        return number

    def row(
        self,
        key: Hashable,
        terms: Mapping[Hashable, float] | Iterable[tuple[Hashable, float]],
        lo: float = -np.inf,
        hi: float = np.inf,
    ) -> int:
        """A new row lo <= sum of terms <= hi; its number. A column named twice is added up."""
        number = len(self._row_lo)
        if self.rows.setdefault(key, number) != number:
            raise KeyError(key)
        self._row_lo.append(lo)
        self._row_hi.append(hi)
        summed: dict[int, float] = {}
        for name, value in terms.items() if isinstance(terms, Mapping) else terms:
            j = self.columns[name]
            summed[j] = summed.get(j, 0.0) + value
        self._at.extend((number, j, v) for j, v in summed.items() if v != 0)
        return number

    def dense_rows(
        self, key: Hashable, first_column: int, matrix: Array, lo: Array, hi: Array
    ) -> None:
        """Rows (key, 0), (key, 1) ... over the block of columns that starts at one number."""
        first = len(self._row_lo)
        for i in range(len(matrix)):
            self.rows[key, i] = first + i
        self._row_lo.extend(map(float, lo))
        self._row_hi.extend(map(float, hi))
        at_row, at_column = np.nonzero(matrix)
        self._blocks.append((at_row + first, at_column + first_column, matrix[at_row, at_column]))

    @property
    def has_whole(self) -> bool:
        """Whether any column is whole."""
        return any(self._whole)

    def problem(self) -> Problem:
        """Everything collected, to be minimised."""
        m, n = len(self._row_lo), len(self._cost)
        loose = np.array(self._at, dtype=float).reshape(-1, 3)
        row = np.concatenate([loose[:, 0].astype(np.int64), *(b[0] for b in self._blocks)])
        column = np.concatenate([loose[:, 1].astype(np.int64), *(b[1] for b in self._blocks)])
        value = np.concatenate([loose[:, 2], *(b[2] for b in self._blocks)])
        order = np.lexsort((column, row))
        return Problem(
            cost=np.array(self._cost, dtype=float),
            matrix=Sparse(row[order], column[order], value[order], (m, n)),
            row_lo=np.array(self._row_lo, dtype=float),
            row_hi=np.array(self._row_hi, dtype=float),
            col_lo=np.array(self._lo, dtype=float),
            col_hi=np.array(self._hi, dtype=float),
            column_names=tuple(map(str, self.columns)),
            row_names=tuple(map(str, self.rows)),
            integer=np.array(self._whole, dtype=bool),
        )
