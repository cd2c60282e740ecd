"""What `import fem` gives: names that are there, are typed, cost nothing until used, and do what is said of them."""

import ast
import doctest
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest

import fem
import fem.sweeps.designs
from tests.support.kept import KEPT

SOURCE = Path(fem.__file__)


def test_every_public_name_is_there_and_no_other():
    assert sorted(fem.__all__) == fem.__all__
    assert all(getattr(fem, name).__module__ for name in fem.__all__)
    assert set(fem.__all__) <= set(dir(fem))
    with pytest.raises(AttributeError, match="no attribute 'cheese'"):
        fem.cheese  # noqa: B018


def test_what_is_loaded_is_what_the_types_are_read_from():
    tree = ast.parse(SOURCE.read_text("utf-8"))
    (typed,) = (node for node in tree.body if isinstance(node, ast.If))
    told = {name.name: node.module for node in typed.body if isinstance(node, ast.ImportFrom) for name in node.names}
    assert told == fem._HOME
    assert set(told) == set(fem.__all__)


def test_no_folder_hides_a_public_name():
    assert not {path.stem for path in SOURCE.parent.iterdir()} & set(fem.__all__)


def test_importing_it_loads_nothing():
    code = "import sys, fem; print([m for m in ('numpy', 'scipy', 'skfem', 'gmsh', 'pydantic') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_what_the_docstring_shows_is_so(monkeypatch):
    monkeypatch.setattr(fem, "estimate", partial(fem.estimate, characteristics=KEPT))
    monkeypatch.setattr(fem, "winding_options", partial(fem.winding_options, kept=KEPT))
    assert doctest.testmod(fem).failed == 0
