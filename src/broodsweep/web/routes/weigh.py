"""Weighing a comb: the form, the answer, questions for the telephone, attaching it to a case; practice."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query

from broodsweep.desk import evidence, kits, looks, practice, weighing
from broodsweep.diagnosis.questions import MOST_QUESTIONS
from broodsweep.outbreak import EventKind
from broodsweep.web.context import ERRORS, Here, Locale, OnDay
from broodsweep.web.practising import PracticeShaper
from broodsweep.web.shapes.outbreaks import OutbreakNameShape
from broodsweep.web.shapes.practice import (
    MarkedShape,
    PracticeAnswer,
    PracticeCaseShape,
    PracticeRecordShape,
    Seed,
)
from broodsweep.web.shapes.weigh import (
    AttachAsked,
    KeepLookAsked,
    KeptLookShape,
    KitAsked,
    KitShape,
    LookAsked,
    QuestionAsked,
    QuestionShape,
    WeighedShape,
    WeighFormShape,
)
from broodsweep.web.shapes.weigh_place import LookPlaceShape
from broodsweep.web.weighing import WeighShaper, look_of
from broodsweep.words import render

router = APIRouter(prefix="/api", responses=ERRORS, tags=["weigh"])


@router.get("/weigh")
def weigh_form(here: Here, on: OnDay, locale: Locale) -> WeighFormShape:
    """Give what can be looked for and tested, how each test is done, and the kits on hand."""
    return WeighShaper(locale).form(kits.kits(here.desk, on))


@router.post("/weigh")
def weigh_comb(asked: LookAsked, here: Here, on: OnDay, locale: Locale) -> WeighedShape:
    """Weigh what was seen and tested; nothing is written down."""
    return WeighShaper(locale).weighed(weighing.weigh_look(here.desk, look_of(asked, on)))


@router.get("/weigh/around")
def weigh_around(
    here: Here,
    on: OnDay,
    locale: Locale,
    apiary: Annotated[str | None, Query(max_length=200)] = None,
    looked_on: Annotated[date | None, Query(description="Day of the look; the day asked about.")] = None,
) -> LookPlaceShape:
    """Give what the record tells of a place before a comb is seen, and from when a case is suspected there."""
    return WeighShaper(locale).place(weighing.place_facts(here.desk, apiary, looked_on or on))


@router.post("/weigh/question")
def weigh_question(asked: QuestionAsked, here: Here, on: OnDay, locale: Locale) -> QuestionShape:
    """Give the next question for a keeper on the telephone."""
    sign = weighing.question_after(here.desk, look_of(asked, on), frozenset(asked.asked))
    return QuestionShape(
        sign=sign,
        text=WeighShaper(locale).say(f"diagnosis.ask.{sign}") if sign else None,
        number=len(set(asked.asked)) + 1,
        most=MOST_QUESTIONS,
    )


@router.post("/weigh/kits")
def keep_lot(asked: KitAsked, here: Here, on: OnDay, locale: Locale) -> list[KitShape]:
    """Enter a lot of field tests in the register, or correct one; the answer is every lot."""
    kits.keep_lot(
        here.desk,
        here.author(asked.who),
        lot=asked.lot,
        disease=asked.disease,
        expires_on=asked.expires_on,
        count=asked.count,
        where=asked.where,
    )
    return [WeighShaper(locale).kit(kit) for kit in kits.kits(here.desk, on)]


@router.post("/weigh/attach", status_code=201)
def attach_weighing(asked: AttachAsked, here: Here, on: OnDay, locale: Locale) -> OutbreakNameShape:
    """Attach a weighing as evidence: open an outbreak on it, add a case, or add it to the case on record."""
    changed = evidence.attach(
        here.desk,
        here.author(asked.who),
        look_of(asked.look, on),
        disease=asked.disease,
        kind=EventKind(asked.kind),
        outbreak=asked.outbreak,
        write=lambda message: render(message, locale),
        kept_look=asked.kept_look,
    )
    return OutbreakNameShape(outbreak=changed.outbreak)


@router.get("/weigh/looks")
def kept_looks(
    here: Here, locale: Locale, apiary: Annotated[str, Query(max_length=200)]
) -> list[KeptLookShape]:
    """Give the looks at an apiary that were kept, the newest first."""
    here.desk.snapshot().apiary(apiary)
    return [WeighShaper(locale).kept_look(row) for row in looks.looks_at(here.desk, apiary)]


@router.post("/weigh/looks", status_code=201)
def keep_look(asked: KeepLookAsked, here: Here, on: OnDay, locale: Locale) -> KeptLookShape:
    """Keep a look at an apiary without a case; the answer says whether it leads to suspicion."""
    kept = looks.keep_look(
        here.desk,
        here.author(asked.who),
        look_of(asked.look, on),
        write=lambda message: render(message, locale),
    )
    return WeighShaper(locale).kept_look(kept)


@router.get("/practice/cases/{seed}")
def practice_case(seed: Seed, locale: Locale) -> PracticeCaseShape:
    """Give the invented case of that number, without its truth."""
    return PracticeShaper(locale).practice_case(practice.practice_case(seed, locale=locale))


@router.post("/practice/answers", status_code=201)
def answer_practice(answer: PracticeAnswer, here: Here, on: OnDay, locale: Locale) -> MarkedShape:
    """Score the answers to a case, keep them, and tell what it was."""
    author = here.author(answer.who)
    marked = practice.mark(
        practice.practice_case(answer.seed, locale=locale), answer.conditions, answer.signs
    )
    practice.keep_answers(here.desk, author, marked, answer.conditions, answer.signs, on)
    return PracticeShaper(locale).marked(marked, answer, practice.practice_record(here.desk, author.who))


@router.get("/practice/record")
def practice_record(
    here: Here, locale: Locale, who: Annotated[str | None, Query(max_length=200)] = None
) -> PracticeRecordShape:
    """Say how good somebody's answers have been."""
    return PracticeShaper(locale).record(practice.practice_record(here.desk, here.author(who).who))
