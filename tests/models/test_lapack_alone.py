"""The drying model loads LAPACK by itself: what scipy.linalg takes up later is the same, whichever comes first."""

import subprocess
import sys

import pytest

FIRST = "from flakeyard.models import drying_chain as ours; import sys; assert 'scipy.linalg' not in sys.modules; from scipy.linalg import lapack, solve"
LATER = "from scipy.linalg import lapack, solve; from flakeyard.models import drying_chain as ours"
SAME = "assert lapack.dgttrf is ours.dgttrf and abs(solve([[2.0]], [1.0])[0] - 0.5) < 1e-12"


@pytest.mark.parametrize("order", [FIRST, LATER])
def test_it_is_the_lapack_of_scipy_whichever_is_loaded_first(order):
    subprocess.run([sys.executable, "-c", f"{order}; {SAME}"], check=True)
