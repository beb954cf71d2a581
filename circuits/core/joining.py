"""Which of many points hang together."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

Ints = NDArray[np.int64]


def join(count: int, pairs: Ints) -> tuple[int, Ints]:
    """Number the connected parts of `count` points joined by pairs, shape (pairs, 2): how many, and whose
    is whose.

    >>> how_many, part = join(3, np.array([[0, 2]]))
    >>> how_many, part.tolist()
    (2, [0, 1, 0])
    """
    pairs = pairs.reshape(-1, 2)
    graph = coo_array((np.ones(len(pairs), dtype=np.bool_), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    how_many, part = connected_components(graph, directed=False)
    return int(how_many), part.astype(np.int64)
