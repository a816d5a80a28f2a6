"""Where an archive lies by default, and which places are warned about."""

from __future__ import annotations

from pathlib import Path

import pytest

from isohume.ingest.archive import locate
from isohume.ingest.archive.archive import Archive


def test_the_environment_names_the_archive(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("ISOHUME_ARCHIVE", str(tmp_path / "collection"))
    assert locate.default_folder() == tmp_path / "collection"
    Archive.create().close()
    assert (tmp_path / "collection" / "archive.toml").exists()
    monkeypatch.delenv("ISOHUME_ARCHIVE")
    assert locate.default_folder().is_absolute()
    assert "isohume" in locate.default_folder().parts


# Lines as the manual of mount(8) shows them; the longest mount point above a folder counts.
MOUNTS = [("/", "ext4"), ("/srv", "xfs"), ("/srv/share", "nfs4"), ("/srv/share/local", "ext4"), ("/mnt/x", "cifs")]


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/srv/archive", "xfs"),
        ("/srv/share/archive", "nfs4"),
        ("/srv/share/local/archive", "ext4"),
        ("/srv/shared/archive", "xfs"),
        ("/mnt/x", "cifs"),
        ("/home/a", "ext4"),
    ],
)
def test_the_file_system_of_a_folder(folder: str, kind: str) -> None:
    assert locate.file_system_of(Path(folder), MOUNTS) == kind


def test_a_register_on_a_network_share_is_warned_about(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, postgres_url: str
) -> None:
    monkeypatch.setattr(locate, "_mounts", lambda: [("/", "ext4"), (str(tmp_path), "cifs")])
    with Archive.create(tmp_path / "archive") as archive:
        assert "network share" in archive.remarks[0]
    # A register in PostgreSQL does not lie on the share.
    with Archive.create(tmp_path / "team", register_url=postgres_url) as archive:
        assert archive.remarks == ()
