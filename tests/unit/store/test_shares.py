from __future__ import annotations

from pathlib import Path, PurePosixPath

import pytest

from strikeline.bootstrap import records
from strikeline.errors import StoreError
from strikeline.store.shares import share_of, share_under

MOUNTS = """\
/dev/sda1 / ext4 rw,relatime 0 0
proc /proc proc rw 0 0
nas:/shop /srv/shop nfs4 rw 0 0
/dev/sdb1 /srv/shop/local ext4 rw 0 0
//nas/b /home/b/piano\\040shop cifs rw 0 0
/dev/sdc1 /home/c ext4 rw 0 0
server:/c /home/c fuse.sshfs rw 0 0
"""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/home/a/pianos", None),
        ("/srv/shop", "nfs4"),
        ("/srv/shop/data/media", "nfs4"),
        ("/srv/shop/local/data", None),
        ("/srv/shopping", None),
        ("/home/b/piano shop/data", "cifs"),
        ("/home/b/piano", None),
        ("/home/c/data", "fuse.sshfs"),
    ],
)
def test_a_folder_belongs_to_the_innermost_mount_above_it(folder: str, kind: str | None) -> None:
    assert share_of(PurePosixPath(folder), MOUNTS) == kind


def test_a_folder_of_this_computer_is_no_share(tmp_path: Path) -> None:
    assert share_under(tmp_path) is None


def test_a_record_on_a_share_is_refused_unless_the_database_is_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(records, "share_under", lambda _folder: "nfs4")
    with pytest.raises(StoreError, match=r"share \(nfs4\).*STRIKELINE_DATABASE_URL"):
        records.open_records(tmp_path / "data", environment={})
    assert not (tmp_path / "data" / "records.sqlite3").exists()
