"""What `verify` finds: each harm is done to the file by hand, past the store."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest

from broodsweep.store import backup, open_store, verify
from broodsweep.store.migrations import MIGRATIONS
from broodsweep.words import keys, render

TRIGGERS = (
    "journal_unchanged",
    "journal_undropped",
    "journal_unreplaced",
    "events_unchanged",
    "events_undropped",
)


def tamper(path, *statements):
    """Do what someone with a database browser could do, and put the triggers back as they were."""
    with closing(sqlite3.connect(path)) as raw:
        kept = raw.execute(
            f"SELECT name, sql FROM sqlite_master WHERE name IN ({','.join('?' * len(TRIGGERS))})", TRIGGERS
        ).fetchall()
        for name, _ in kept:
            raw.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            raw.execute(statement)
        for _, text in kept:
            raw.execute(text)
        raw.commit()


def unsound(verdict):
    return {check.name for check in verdict.checks if not check.is_sound}


def test_a_sound_store_is_sound(store):
    verdict = verify(store)
    assert verdict.is_sound
    assert unsound(verdict) == set()
    assert (verdict.version, verdict.schema_version, verdict.first_broken_seq) == (
        9,
        MIGRATIONS[-1].version,
        None,
    )
    assert verdict.free_bytes > 0
    assert verdict.log_bytes > 0, "the log is not folded in while the store is open"
    assert verdict.last_backup is None
    assert verdict.check("backup").is_warning


def test_every_check_has_words(store):
    for check in verify(store).checks:
        assert check.label.key in keys()
        assert render(check.detail)


@pytest.mark.parametrize(
    ("statement", "seq", "reason"),
    [
        ("UPDATE journal SET who = 'nobody' WHERE seq = 4", 4, "store.chain_hash"),
        ("UPDATE journal SET after = replace(after, '3', '9') WHERE seq = 2", 2, "store.chain_hash"),
        ("UPDATE journal SET at = '2026-05-04T09:30:00.000001Z' WHERE seq = 1", 1, "store.chain_hash"),
        ("UPDATE journal SET hash = upper(hash) WHERE seq = 5", 5, "store.chain_hash"),
        ("UPDATE journal SET previous_hash = hash WHERE seq = 6", 6, "store.chain_link"),
        ("DELETE FROM journal WHERE seq = 3", 4, "store.chain_gap"),
        ("DELETE FROM journal WHERE seq = 1", 2, "store.chain_gap"),
    ],
)
def test_the_first_broken_entry_is_named(store, path, statement, seq, reason):
    tamper(path, statement)
    verdict = verify(store)
    assert not verdict.is_sound
    assert verdict.first_broken_seq == seq
    detail = verdict.check("chain").detail
    assert detail.params["reason"].key == reason
    assert f"breaks at entry {seq}" in render(detail)


@pytest.mark.parametrize(
    ("statement", "key"),
    [
        ("UPDATE apiaries SET colonies = 99 WHERE apiary = 'A2'", "A2"),
        ("DELETE FROM keepers", "K1"),
        ("INSERT INTO keepers (keeper) VALUES ('K0')", "K0"),
        ("UPDATE settings SET value = '\"other\"'", "rulebook"),
        ("UPDATE settings SET value = 'no json'", "rulebook"),
        ("UPDATE events SET who = 'nobody' WHERE event = 'e1'", "e1"),
        ("UPDATE cases SET position = 5", '["AFB-2026-1","A1"]'),
        ("UPDATE keepers SET name = NULL", "K1"),
    ],
)
def test_a_row_changed_past_the_journal_is_named(store, path, statement, key):
    tamper(path, statement)
    verdict = verify(store)
    assert unsound(verdict) == {"tables"}
    assert verdict.check("tables").detail.params["key"] == key
    assert verdict.first_broken_seq is None


def test_a_rewritten_chain_still_differs_from_the_tables(store, path):
    """Entries cut off at the end leave a chain that is sound in itself, but rows that nobody entered."""
    tamper(path, "DELETE FROM journal WHERE seq = 9")
    verdict = verify(store)
    assert unsound(verdict) == {"tables"}
    assert verdict.check("tables").detail.params["key"] == "rulebook"


def test_a_cut_end_is_found_by_the_last_backup(store, path, tmp_path):
    backup(store, tmp_path / "copy.sqlite")
    assert verify(store).is_sound
    tamper(path, "DELETE FROM journal WHERE seq = 9", "DELETE FROM settings")
    assert unsound(verify(store)) == {"backup"}


def test_a_row_that_names_nothing_is_found(store, path):
    tamper(
        path, "INSERT INTO moves (move, moved_on, goods, to_apiary) VALUES ('m', '2026-01-01', 'honey', 'A?')"
    )
    verdict = verify(store)
    assert unsound(verdict) == {"references", "tables"}
    assert verdict.check("references").detail.params["table"] == "moves"


def test_a_missing_guard_is_found(store, path):
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("DROP TRIGGER journal_undropped")
        raw.execute("CREATE TABLE more (x)")
    verdict = verify(store)
    assert unsound(verdict) == {"schema"}
    assert verdict.check("schema").detail.params["names"] == ["journal_undropped", "more"]


def test_a_damaged_page_is_found(store, path, now, apiary, author):
    with store.work(author, "load") as work:
        work.save("apiaries", [apiary(f"B{number:05d}") for number in range(2000)])
    store.close()
    content = bytearray(path.read_bytes())
    middle = len(content) // 2 // 4096 * 4096
    content[middle : middle + 4096] = b"\xa5" * 4096
    path.write_bytes(content)
    with open_store(path, now=now) as damaged:
        verdict = verify(damaged)
    assert "file" in unsound(verdict)
    assert "restore the last backup" in render(verdict.check("file").detail)


def test_a_clock_behind_the_journal_is_told(store, path, now):
    store.close()
    with open_store(path, now=lambda: now() - timedelta(days=3)) as early:
        check = verify(early).check("clock")
    assert check.is_sound
    assert check.is_warning
    assert "Check the clock" in render(check.detail)


def test_progress_can_stop_it(store, author):
    with store.work(author, "load") as work:
        from broodsweep.register import Keeper

        work.save("keepers", [Keeper(keeper=f"B{number}") for number in range(5000)])
    told: list[float] = []

    def stop(share: float) -> None:
        told.append(share)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        verify(store, stop)
    assert 0 < told[0] < 1
    assert verify(store).is_sound
