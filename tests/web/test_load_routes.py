"""Loading through the API: looked at first, refused row by row, taken in on a word."""

from __future__ import annotations

import io
import time
import zipfile
from pathlib import Path
from typing import Any

import pytest

from broodsweep.web.loads import safe_name

from .conftest import TestClient

KEEPERS = "keeper,name\nK8,Brann Olve\n"
APIARIES = "apiary,keeper,place,colonies\nQ1,K8,OV 510 510,6\nQ2,K8,OV 512 512,4\n"
BAD = "apiary,keeper,place,colonies\nQ1,K8,OV 510 510,6\nQ2,K8,OV 512 512,minus two\nQ3,K8,XX 1,4\n"


def begin(client: TestClient, *files: tuple[str, str | bytes], table: str = "") -> dict[str, Any]:
    parts = [
        ("files", (name, io.BytesIO(text.encode() if isinstance(text, str) else text)))
        for name, text in files
    ]
    answer = client.post("/api/load", files=parts, data={"table": table})
    assert answer.status_code == 202, answer.text
    return wait(client, answer.json()["token"])


def wait(client: TestClient, token: str) -> dict[str, Any]:
    for _ in range(400):
        load: dict[str, Any] = client.get(f"/api/load/{token}").json()
        if load["state"] not in ("reading", "applying"):
            return load
        time.sleep(0.02)
    raise AssertionError(f"Expected the load to end, got {load['state']}.")


def apply(client: TestClient, token: str, *, skip_bad: bool = False) -> dict[str, Any]:
    answer = client.post(f"/api/load/{token}/apply", json={"skip_bad": skip_bad})
    assert answer.status_code == 202, answer.text
    return wait(client, token)


def total(client: TestClient) -> int:
    return int(client.get("/api/apiaries").json()["total"])


def test_a_load_is_looked_at_then_taken_in_and_twice_changes_nothing(client: TestClient) -> None:
    load = begin(client, ("keepers.csv", KEEPERS), ("apiaries.csv", APIARIES))
    assert load["state"] == "ready"
    assert {row["table"]: row["new"] for row in load["tables"]} == {"keepers": 1, "apiaries": 2}
    assert total(client) == 4, "nothing is taken in before one says so"
    done = apply(client, load["token"])
    assert (done["state"], done["changed_rows"]) == ("done", 3)
    assert total(client) == 6
    again = begin(client, ("keepers.csv", KEEPERS), ("apiaries.csv", APIARIES))
    assert {row["table"]: (row["new"], row["changed"]) for row in again["tables"]} == {
        "keepers": (0, 0),
        "apiaries": (0, 0),
    }


def test_every_refused_row_has_its_place_value_and_way_out(client: TestClient) -> None:
    load = begin(client, ("keepers.csv", KEEPERS), ("apiaries.csv", BAD))
    assert load["faults"] == 2
    first = load["refused"][0]
    assert (first["file"], first["line"], first["column"], first["value"]) == (
        "apiaries.csv",
        3,
        "colonies",
        "minus two",
    )
    assert first["what"]
    assert first["way_out"]
    refused = client.post(f"/api/load/{load['token']}/apply", json={"skip_bad": False})
    assert refused.status_code == 409
    assert total(client) == 4
    saved = client.get(f"/api/load/{load['token']}/refused.csv")
    assert "minus two" in saved.text
    assert apply(client, load["token"], skip_bad=True)["state"] == "done"
    assert total(client) == 5


def test_columns_under_other_names_are_mapped_once_and_remembered(client: TestClient) -> None:
    strange = "apiary,keeper,place,Bestand\nQ1,K1,OV 510 510,6\n"
    load = begin(client, ("apiaries.csv", strange))
    assert load["faults"] or load["trouble"]
    mapping = {"apiaries": {"Bestand": "colonies"}}
    client.put(f"/api/load/{load['token']}/mapping", json={"mapping": mapping})
    mended = wait(client, load["token"])
    assert mended["faults"] == 0
    assert apply(client, load["token"])["state"] == "done"
    next_one = begin(client, ("apiaries.csv", strange.replace("Q1", "Q5")))
    assert next_one["faults"] == 0
    assert next_one["mapping"] == mapping


def test_a_zip_of_tables_is_unpacked(client: TestClient) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as bundle:
        bundle.writestr("../../keepers.csv", KEEPERS)
        bundle.writestr("deep/apiaries.csv", APIARIES)
    load = begin(client, ("tables.zip", packed.getvalue()))
    assert sorted(load["files"]) == ["apiaries.csv", "keepers.csv"]
    assert apply(client, load["token"])["changed_rows"] == 3


def test_a_broken_zip_and_a_bomb_are_refused(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = client.post("/api/load", files=[("files", ("tables.zip", io.BytesIO(b"PK nonsense")))])
    assert broken.json()["error"]["key"] == "web.bad_zip"
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as bundle:
        bundle.writestr("keepers.csv", "0" * 200_000)
    monkeypatch.setattr("broodsweep.web.loads.UNPACKED_LIMIT", 100_000)
    packed.seek(0)
    bomb = client.post("/api/load", files=[("files", ("tables.zip", packed))])
    assert bomb.json()["error"]["key"] == "web.zip_too_large"


def test_a_file_that_is_no_table_of_ours_says_so(client: TestClient) -> None:
    load = begin(client, ("letter.csv", "dear,sir\n1,2\n"))
    assert load["state"] == "failed" or load["faults"]
    assert load["trouble"] or load["refused"]


def test_one_file_may_be_told_which_table_it_holds(client: TestClient) -> None:
    load = begin(client, ("my bees.csv", KEEPERS), table="keepers")
    assert load["tables"][0]["table"] == "keepers"


def test_a_load_that_was_dropped_is_gone_with_its_files(client: TestClient, home: Path) -> None:
    load = begin(client, ("keepers.csv", KEEPERS))
    assert list((home / "loads").iterdir())
    assert client.delete(f"/api/load/{load['token']}").status_code == 204
    assert client.get(f"/api/load/{load['token']}").status_code == 404
    assert not list((home / "loads").iterdir())


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("../../etc/keepers.csv", "keepers.csv"),
        ("C:\\tables\\apiaries.csv", "apiaries.csv"),
        ("..", "table.csv"),
        (".hidden", "hidden"),
        ("a\x00b.csv", "ab.csv"),
    ],
)
def test_a_files_name_cannot_lead_out_of_its_folder(given: str, kept: str) -> None:
    assert safe_name(given) == kept


@pytest.mark.parametrize("kind", ["csv", "xlsx", "geojson", "gpkg"])
def test_what_is_saved_can_be_loaded_again(client: TestClient, kind: str) -> None:
    saved = client.get(f"/api/export/ground.{kind}")
    assert saved.status_code == 200
    name = {"csv": "tables.zip", "geojson": "apiaries.geojson"}.get(kind, f"ground.{kind}")
    load = begin(client, (name, saved.content))
    assert load["faults"] == 0, load["refused"]
    assert {(row["new"], row["changed"]) for row in load["tables"]} == {(0, 0)}
