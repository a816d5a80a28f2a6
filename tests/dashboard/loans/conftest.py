"""The invented archive of the papers with a loan: two frames, one of which nobody may hear of."""

from __future__ import annotations

import importlib.util
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from isohume.dashboard.papers.keys import signing_key
from isohume.dashboard.store import Store
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive

CLAUSES = [
    {"air": "inside", "quantity": "rh_percent", "kind": "range", "low": 45, "high": 58,
     "notice": "Tell the lender within a day."},
    {"air": "inside", "quantity": "rh_percent", "kind": "swing in 24 h", "high": 5},
    {"air": "room", "quantity": "temperature_celsius", "kind": "range", "low": 16, "high": 25},
    {"air": "inside", "quantity": "rh_percent", "kind": "dew-point margin", "low": 3},
]  # fmt: skip
LOAN = {
    "id": "7/a", "title": "=Winter Light", "lender": "Kiln House", "frames": ["F01"], "terms": "T7",
    "status": "running", "contact": "M. Weir", "note": "SECRETLOANNOTE",
}  # fmt: skip


def told() -> Any:
    """Load the invented archive of the papers; conftest files cannot import each other."""
    path = Path(__file__).parents[1] / "papers" / "conftest.py"
    spec = importlib.util.spec_from_file_location("papers_conftest_for_loans", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def loan_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of an archive with a loan of F01, agreed terms and two legs."""
    module, folder = told(), tmp_path_factory.mktemp("loans")
    (folder / "register.toml").write_text(module.REGISTER, encoding="utf-8")
    with Archive.create(folder / "archive", by="the registrar") as held:
        held.load_register(folder / "register.toml")
        for name, level, swing in (("inside_1.csv", 52, 0.3), ("room_1.csv", 46, 5), ("other_1.csv", 50, 1)):
            held.ingest(module.file_of(module.logged(level, swing, len(name))), name=name)
        signing_key(held.folder)  # one for all copies, so that the same pack need not be set twice
        held.put("venues", {"id": "kiln", "name": "Hall B", "address": "1 Ferry Lane", "contact": "T. Lock"})
        held.put("terms", {"id": "T7", "name": "Loan 7", "source": "contract", "clauses": CLAUSES})
        held.put("loans", LOAN)
        held.put("legs", {"loan": "7/a", "kind": "journey", "venue": "kiln", "from": "2026-01-01", "to": "2026-01-02",
                          "crate": "C-7", "courier": "A. Sommer"})  # fmt: skip
        held.put("legs", {"loan": "7/a", "kind": "stay", "venue": "kiln", "from": "2026-01-02", "to": "2026-02-15"})
    return folder / "archive"


@pytest.fixture
def archive(loan_folder: Path, tmp_path: Path) -> Iterator[Archive]:
    """A copy of it; whatever is done to it is forgotten."""
    shutil.copytree(loan_folder, tmp_path / "archive")
    with Archive.open(tmp_path / "archive", by="the registrar") as held:
        yield held


@pytest.fixture
def site(archive: Archive) -> Site:
    return Store(archive).site()
