"""Arrays from and to the drawing library, on the same memory."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from vtkmodules.util import numpy_support

from model.spatial import Array

support: Any = numpy_support  # ships without annotations


def array_of(held: Any) -> NDArray[Any]:
    """An array of the drawing library's as one of ours: (n,), or (n, k) of k components."""
    return np.asarray(support.vtk_to_numpy(held))


def held_array(array: NDArray[Any]) -> Any:
    """An array (n,) or (n, k) as one of the drawing library's."""
    return support.numpy_to_vtk(np.ascontiguousarray(array))


def held_numbers(numbers: NDArray[Any]) -> Any:
    """Whole numbers of any shape as one row of the drawing library's kind of number."""
    return support.numpy_to_vtkIdTypeArray(np.ascontiguousarray(numbers, np.int64).ravel())


def matrix_of(held: Any) -> Array:
    """A matrix (4, 4) of the drawing library's as an array."""
    return np.array(held.GetData()).reshape(4, 4)
