"""Every word of the phone's screens is in the catalogue, and the catalogue holds none that no screen shows."""

from __future__ import annotations

import re
from pathlib import Path

from broodsweep.words import has_key, keys

FIELD = Path(__file__).parents[2] / "field/src/fieldbook"
PREFIX = "fieldbook.screen_"
CALL = re.compile(r"\bw\(\s*((?:[^()`']|'[^']*'|`[^`]*`|\([^()]*\))*?)\)")
LITERAL = re.compile(r"'([a-z][a-z_0-9]*)'")
DYNAMIC = re.compile(r"`([^`]*\$\{[^`]*)`")


def texts() -> list[str]:
    """The code of the screens and their parts."""
    return [
        path.read_text()
        for folder in ("parts", "screens")
        for path in sorted((FIELD / folder).iterdir())
        if path.suffix in (".ts", ".svelte")
    ]


def calls() -> list[str]:
    """What stands between the brackets of every call that puts a key into words."""
    return [found for text in texts() for found in CALL.findall(text)]


def named() -> set[str]:
    """Keys written out, also both sides of a choice, and those that a screen works out by name."""
    heads = [call.split(", {")[0] for call in calls()]
    found = {
        name for head in heads for name in LITERAL.findall(head) if not re.search(rf"=== '{name}'", head)
    }
    return found | {"sign_needs_keeper", "sign_needs_strokes", "sign_needs_name"}


def patterns() -> list[re.Pattern[str]]:
    """Families of keys, with a name put in."""
    return [
        re.compile("^" + re.sub(r"\$\{[^}]*\}", "[a-z_0-9]+", family) + "$")
        for call in calls()
        for family in DYNAMIC.findall(call)
    ]


def test_every_key_that_a_screen_names_has_its_sentence() -> None:
    assert len(named()) > 200
    assert {name for name in named() if not has_key(PREFIX + name)} == set()


def test_every_name_of_a_closed_list_has_its_word() -> None:
    lists = {
        "purpose": "sweep reinspection surveillance call training",
        "wind": "calm light moderate strong calm_hint light_hint moderate_hint strong_hint",
        "rain": "none drizzle rain",
        "sum_rain": "none drizzle rain",
        "state": "clean suspect not_opened step_done step_begun step_open step_optional",
        "hive": "clean suspect not_opened none",
        "what": "clean suspect not_opened",
        "of": "brood_comb larva bees honey debris brood_comb_how larva_how bees_how honey_how debris_how",
        "kit": "hands tools smoker clothing boots vehicle",
        "step": "place weather colonies keeper washing notes sign",
        "gap": "place weather colonies keeper washing notes",
        "stop": "signed in_hand not_begun",
        "ring": "in out cannot_tell",
        "point": "n ne e se s sw w nw",
        "moment": "early soon now late",
        "flow": "now late",
        "label": "form again used camera",
        "mode": "touch_note run_note not_opened_note",
        "page": "signs tests photos samples weighing",
        "kind": "visit_begun place_confirmed weather_seen colonies_counted colony_looked sign_seen test_done"
        " sample_taken sample_handed photo_taken kit_cleaned keeper_said evidence_weighed note_written"
        " apiary_found visit_signed visit_amended visit_dropped",
    }
    wanted = {f"{family}_{name}" for family, names in lists.items() for name in names.split()}
    assert {name for name in wanted if not has_key(PREFIX + name)} == set()


def test_every_step_and_caution_of_the_guides_has_its_sentence_and_no_more() -> None:
    plan = (FIELD / "parts/guides.ts").read_text()
    wanted = set()
    for name, steps, cautions in re.findall(r"name: '(\w+)', steps: (\d+), cautions: (\d+)", plan):
        wanted.add(f"guide_{name}")
        wanted |= {f"guide_{name}_{number}" for number in range(1, int(steps) + 1)}
        wanted |= {f"guide_{name}_caution_{number}" for number in range(1, int(cautions) + 1)}
    held = {key.removeprefix(PREFIX) for key in keys() if key.startswith(f"{PREFIX}guide_")}
    assert held == wanted


def test_no_sentence_is_left_that_no_screen_shows() -> None:
    written = {name for text in texts() for name in LITERAL.findall(text)}
    families = patterns()
    idle = {
        name
        for name in (key.removeprefix(PREFIX) for key in keys() if key.startswith(PREFIX))
        if name not in written and not any(family.match(name) for family in families)
    }
    assert idle == set()
