"""Where an archive lies by default, and whether that is a place for one."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path, PurePosixPath

import platformdirs

ENVIRONMENT_VARIABLE = "ISOHUME_ARCHIVE"
# File systems that other machines serve: SQLite's locks and its write-ahead log are not safe there.
NETWORK_FILE_SYSTEMS = frozenset(
    {"nfs", "nfs4", "cifs", "smb", "smbfs", "smb2", "smb3", "afpfs", "webdav", "davfs", "fuse.sshfs", "fuse.davfs2",
     "fuse.rclone", "9p", "afs", "ceph", "glusterfs", "fuse.glusterfs"}
)  # fmt: skip
WINDOWS_REMOTE_DRIVE = 4  # GetDriveType: DRIVE_REMOTE


def default_folder() -> Path:
    """Return the folder of the archive: the environment variable ISOHUME_ARCHIVE, else the platform's data folder."""
    named = os.environ.get(ENVIRONMENT_VARIABLE, "")
    return (
        Path(named).expanduser() if named else Path(platformdirs.user_data_dir("isohume", appauthor=False), "archive")
    )


def network_share_remark(folder: Path) -> str:
    """Return a warning where the folder is served by another machine; "" where it is not."""
    if not _is_on_network_share(folder.resolve()):
        return ""
    return (
        f"{folder} lies on a network share. The register is a database file, and two machines that write it over "
        "a share can damage it. Keep the archive on a local disk and back it up to the share (`isohume backup`), or "
        "keep the register in PostgreSQL."
    )


def _is_on_network_share(folder: Path) -> bool:
    if sys.platform == "win32":
        import ctypes

        anchor = folder.anchor
        remote: bool = ctypes.windll.kernel32.GetDriveTypeW(anchor) == WINDOWS_REMOTE_DRIVE
        return anchor.startswith("\\\\") or remote
    return file_system_of(folder, _mounts()) in NETWORK_FILE_SYSTEMS


def _mounts() -> list[tuple[str, str]]:
    """Return mount points with their file systems."""
    table = Path("/proc/mounts")
    if table.exists():
        rows = [line.split() for line in table.read_text(encoding="utf-8", errors="replace").splitlines()]
        return [(row[1].replace("\\040", " "), row[2]) for row in rows if len(row) > 2]
    try:  # macOS: "//server/share on /Volumes/share (smbfs, nodev)"
        text = subprocess.run(["/sbin/mount"], capture_output=True, text=True, check=True, timeout=5).stdout
    except (OSError, subprocess.SubprocessError):
        return []
    pairs = [line.partition(" on ")[2].rpartition(" (") for line in text.splitlines()]
    return [(point, rest.split(",")[0].rstrip(")")) for point, _, rest in pairs]


def file_system_of(folder: Path, mounts: list[tuple[str, str]]) -> str:
    """Return the type of the file system a folder stands on: that of the longest mount point above it."""
    here = PurePosixPath(folder.as_posix())
    above = [(point, kind) for point, kind in mounts if here.is_relative_to(point)]
    return max(above, key=lambda mount: len(mount[0]), default=("", ""))[1]
