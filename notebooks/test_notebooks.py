"""Runs every notebook from top to bottom; the asserts in their cells are the checks."""

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

HERE = Path(__file__).parent
NOTEBOOKS = sorted(HERE.glob("*.ipynb"))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_runs(path):
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(notebook, timeout=120, resources={"metadata": {"path": str(HERE)}}).execute()
    outputs = [output for cell in notebook.cells if cell.cell_type == "code" for output in cell.outputs]
    assert any("image/png" in output.get("data", {}) for output in outputs), "no picture was drawn"


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_is_stored_without_outputs(path):
    for cell in nbformat.read(path, as_version=4).cells:
        assert not cell.get("outputs") and not cell.get("execution_count"), cell["id"]


def test_all_three_are_here():
    assert [path.stem for path in NOTEBOOKS] == ["path_of_one_field", "petition_area", "watershed_by_reach"]
