"""Every notebook runs from top to bottom without a warning, and is kept without outputs."""

from __future__ import annotations

import re
from pathlib import Path

import nbformat
import pytest
from ipykernel.kernelspec import write_kernel_spec
from nbclient import NotebookClient

NOTEBOOKS = sorted((Path(__file__).parent.parent / "notebooks").glob("*.ipynb"))
SECONDS = 30  # for any one cell
MACHINE_PATH = re.compile(
    r"(?<![\w.])/(?:home|Users|root|tmp|work|mnt|var)/|(?<![A-Za-z])[A-Za-z]:\\\\", re.I
)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebook_runs(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A kernel of the interpreter that runs the tests, whatever kernels the machine has."""
    write_kernel_spec(tmp_path / "kernels" / "these-tests")
    monkeypatch.setenv("JUPYTER_PATH", str(tmp_path))
    monkeypatch.setenv("IPYTHONDIR", str(tmp_path / "ipython"))
    notebook = nbformat.read(path, as_version=4)
    folder = {"metadata": {"path": str(path.parent)}}
    NotebookClient(notebook, timeout=SECONDS, kernel_name="these-tests", resources=folder).execute()
    outputs = [out for cell in notebook.cells for out in cell.get("outputs", [])]
    assert len(outputs) > 5
    assert [out["text"] for out in outputs if out.get("name") == "stderr"] == []


def test_notebooks_are_kept_without_outputs_and_machine_paths() -> None:
    assert len(NOTEBOOKS) >= 3
    for path in NOTEBOOKS:
        cells = [c for c in nbformat.read(path, as_version=4).cells if c.cell_type == "code"]
        assert [c.outputs for c in cells if c.outputs] == [], path.name
        assert [c.execution_count for c in cells if c.execution_count] == [], path.name
        assert MACHINE_PATH.findall(path.read_text(encoding="utf-8")) == [], path.name
