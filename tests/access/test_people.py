"""People, passwords, codes, sessions, tries."""

from __future__ import annotations

import stat
import sys
import threading
from pathlib import Path

import pytest

from broodsweep.access import Access, open_access
from broodsweep.access.attempts import Attempts
from broodsweep.access.codes import Opens
from broodsweep.access.constants import SHORTEST_PASSWORD, TRIES
from broodsweep.access.file import VERSION
from broodsweep.access.tokens import digest_of_code, new_code
from broodsweep.desk.access import NotYoursError, Reach, Role, SignInError, TooManyTriesError
from broodsweep.errors import BroodsweepError, NotFoundError, RefusedError, TroubleError

from .conftest import WORDS, Clock


def add(access: Access, name: str = "Una Selvik", role: Role = Role.LEAD) -> str:
    code = access.people.add(name, role, by="test")
    access.people.set_password(name, WORDS, code=code)
    return code


def test_an_invitation_opens_once(access: Access) -> None:
    code = access.people.add("Una Selvik", Role.LEAD, by="test")
    assert access.codes.whose(Opens.INVITATION, code.lower().replace("-", " ")) == "Una Selvik"
    access.people.set_password("Una Selvik", WORDS, code=code)
    with pytest.raises(SignInError):
        access.people.set_password("Una Selvik", "another row of words", code=code)
    assert access.people.is_password("Una Selvik", WORDS)


def test_an_invitation_grows_old_and_a_newer_one_voids_it(access: Access, clock: Clock) -> None:
    first = access.people.add("Una Selvik", Role.LEAD, by="test")
    second = access.people.invite("Una Selvik", by="test")
    with pytest.raises(SignInError):
        access.codes.whose(Opens.INVITATION, first)
    clock.wait(days=4)
    with pytest.raises(SignInError):
        access.codes.whose(Opens.INVITATION, second)


def test_an_invitation_is_no_enrolment(access: Access) -> None:
    code = access.people.add("Una Selvik", Role.LEAD, by="test")
    with pytest.raises(SignInError):
        access.codes.use(Opens.ENROLMENT, code)


def test_of_two_who_use_a_code_at_once_one_gets_in(access: Access) -> None:
    code = access.codes.make(Opens.ENROLMENT, "Una Selvik", by="test")
    got: list[str] = []

    def use() -> None:
        try:
            got.append(access.codes.use(Opens.ENROLMENT, code))
        except SignInError:
            got.append("refused")

    threads = [threading.Thread(target=use) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(got) == ["Una Selvik", "refused", "refused", "refused"]


def test_letters_that_are_misread_are_the_figures_that_they_look_like() -> None:
    """Crockford's base 32: O reads as 0, I and L as 1 (the alphabet's published rule)."""
    assert digest_of_code("o1IL-ab") == digest_of_code("01 11AB")
    assert not set("ILOU") & set(new_code())


@pytest.mark.parametrize("password", ["short", "x" * 20, "una selvik una selvik", "y" * 300])
def test_a_password_that_is_easy_to_guess_is_refused(access: Access, password: str) -> None:
    code = access.people.add("Una Selvik", Role.LEAD, by="test")
    with pytest.raises(RefusedError):
        access.people.set_password("Una Selvik", password, code=code)
    assert access.codes.whose(Opens.INVITATION, code) == "Una Selvik", "the code is not used up by a refusal"
    assert SHORTEST_PASSWORD.value >= 8


def test_signing_in(access: Access, clock: Clock) -> None:
    add(access)
    token, session = access.sign_in("Una Selvik", WORDS, address="a")
    found = access.person_of(token)
    assert found and found[0].name == "Una Selvik" and found[1] == session
    clock.wait(hours=11)
    assert access.person_of(token), "used within the day"
    clock.wait(hours=11)
    assert access.person_of(token), "use keeps it open"
    clock.wait(hours=13)
    assert access.person_of(token) is None, "idle for longer than a day's work"


def test_a_session_ends_after_thirty_days_however_much_it_is_used(access: Access, clock: Clock) -> None:
    add(access)
    token, _ = access.sign_in("Una Selvik", WORDS, address="a")
    for _ in range(61):
        clock.wait(hours=11, minutes=50)
        last = access.person_of(token)
    assert last is None


def test_signing_out_ends_this_session_only(access: Access) -> None:
    add(access)
    first, second = (access.sign_in("Una Selvik", WORDS, address="a")[0] for _ in range(2))
    access.sessions.end(first)
    assert access.person_of(first) is None and access.person_of(second)


def test_a_new_password_ends_every_session(access: Access) -> None:
    add(access)
    token, _ = access.sign_in("Una Selvik", WORDS, address="a")
    access.people.set_password("Una Selvik", "other words for the gate", old=WORDS)
    assert access.person_of(token) is None
    with pytest.raises(SignInError):
        access.sign_in("Una Selvik", WORDS, address="a")


def test_wrong_name_and_wrong_password_are_refused_alike(access: Access) -> None:
    add(access)
    said = set()
    for name in ("Una Selvik", "Nobody Here"):
        with pytest.raises(SignInError) as refused:
            access.sign_in(name, "not these words at all", address="a")
        said.add(str(refused.value))
    assert len(said) == 1


def test_too_many_tries_by_name_and_by_address(access: Access, clock: Clock) -> None:
    add(access)
    for number in range(int(TRIES.value)):
        with pytest.raises(SignInError):
            access.sign_in("Una Selvik", f"guess number {number}", address=f"address {number}")
    with pytest.raises(TooManyTriesError):
        access.sign_in("Una Selvik", WORDS, address="another")
    clock.wait(minutes=15)
    access.sign_in("Una Selvik", WORDS, address="another")


def test_the_bucket_fills_again_evenly(clock: Clock) -> None:
    tries = Attempts(now=clock)
    for _ in range(int(TRIES.value)):
        tries.require("x")
        tries.fail("x")
    with pytest.raises(TooManyTriesError):
        tries.require("x")
    clock.wait(minutes=2)
    tries.require("x")
    tries.fail("x")
    with pytest.raises(TooManyTriesError):
        tries.require("x")
    tries.require("y")


def test_the_last_lead_stays(access: Access) -> None:
    add(access)
    with pytest.raises(RefusedError):
        access.people.retire("Una Selvik", by="test")
    with pytest.raises(RefusedError):
        access.people.change("Una Selvik", by="test", role=Role.READER, inspector=None)
    add(access, "Ottar Brask")
    access.people.retire("Una Selvik", by="test")
    with pytest.raises(SignInError):
        access.sign_in("Una Selvik", WORDS, address="a")


def test_whoever_is_retired_is_out_at_once(access: Access) -> None:
    add(access)
    add(access, "Ottar Brask", Role.INSPECTOR)
    token, _ = access.sign_in("Ottar Brask", WORDS, address="a")
    access.people.retire("Ottar Brask", by="Una Selvik")
    assert access.person_of(token) is None


def test_a_name_is_taken_whatever_its_case(access: Access) -> None:
    add(access)
    with pytest.raises(RefusedError):
        access.people.add("UNA selvik", Role.READER, by="test")
    with pytest.raises(RefusedError):
        access.people.add("  ", Role.READER, by="test")
    with pytest.raises(NotFoundError):
        access.people.person("Nobody Here")


def test_what_each_role_reaches(access: Access) -> None:
    reached = {}
    for role in Role:
        access.people.add(f"one who {role}", role, by="test")
        person = access.people.person(f"one who {role}")
        reached[role] = [person.may(reach) for reach in (Reach.LOOK, Reach.RECORD, Reach.LEAD)]
    assert reached == {
        Role.LEAD: [True, True, True],
        Role.INSPECTOR: [True, True, False],
        Role.READER: [True, False, False],
    }
    assert issubclass(NotYoursError, BroodsweepError)


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX rights")
def test_only_the_owner_reads_the_file_and_the_keys(access: Access, tmp_path: Path) -> None:
    for name in ("access.sqlite", "keys/seal.pem", "keys/sign.pem"):
        assert stat.S_IMODE((tmp_path / name).stat().st_mode) == 0o600
    add(access)
    held = (tmp_path / "access.sqlite").read_bytes() + (tmp_path / "access.sqlite-wal").read_bytes()
    assert WORDS.encode() not in held


def test_it_is_all_there_after_closing(access: Access, tmp_path: Path, clock: Clock) -> None:
    add(access)
    token, _ = access.sign_in("Una Selvik", WORDS, address="a")
    seal = access.keys.seal_public
    access.close()
    again = open_access(tmp_path, now=clock)
    assert again.person_of(token) and again.keys.seal_public == seal
    again.close()


def test_a_file_of_a_newer_version_is_refused_unchanged(tmp_path: Path, clock: Clock) -> None:
    import sqlite3

    open_access(tmp_path, now=clock).close()
    with sqlite3.connect(tmp_path / "access.sqlite") as there:
        there.execute(f"PRAGMA user_version = {VERSION + 1}")
    there.close()
    with pytest.raises(TroubleError, match="newer version"):
        open_access(tmp_path, now=clock)


def test_every_act_is_written_down(access: Access) -> None:
    from sqlalchemy import select

    from broodsweep.access.file import ACTS

    add(access)
    access.sign_in("Una Selvik", WORDS, address="a")
    done = [row.what for row in access.file.rows(select(ACTS).order_by(ACTS.c.seq))]
    assert done == ["person_added", "invitation_made", "password_set", "signed_in"]
