"""Record how a part turned out: the trade's words for its defects, notes, photos, and what was weighed and measured."""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Iterator
from pathlib import Path

from layup.bench.afterwards import (
    ALLOWED,
    doubt_of,
    in_words,
    known_words,
    log_afterwards,
    meant_for,
    note_of,
    read_photo,
    weighed_of,
)
from layup.commands.command import quantity, said_back, takes
from layup.errors import InputError
from layup.files.workshop import Workshop
from layup.review.evidence import DEFECTS, GOOD
from layup.session.clock import SystemClock
from layup.session.journal import Journal
from layup.session.state import CouponBurnt, Event, Outcome, PartWeighed, ThicknessMeasured
from layup.session.text import NOTE_LIMIT, clean, clean_text

EXAMPLE = 'layup outcome 2026-03-07-touring-skis-168 "dry spot" --part "2410 g" --dry "1690 g" --left "45 g"'


class _Photo(argparse.Action):
    """Takes a photo, so far without a caption."""

    def __call__(self, _parser: object, namespace: argparse.Namespace, values: object, _flag: object = None) -> None:
        namespace.photo = [*namespace.photo, (str(values), "")]


class _Caption(argparse.Action):
    """Puts a caption under the photo before it."""

    def __call__(
        self, parser: argparse.ArgumentParser, namespace: argparse.Namespace, values: object, flag: object = None
    ) -> None:
        if not namespace.photo:
            parser.error(f"{flag} goes after the --photo that it belongs to")
        namespace.photo = [*namespace.photo[:-1], (namespace.photo[-1][0], str(values))]


NEEDED = ("--part", "--dry")
"""Neither weight says anything without the other."""


WORDS = f"""
SESSION
[WORD...]  how it turned out: {", ".join((GOOD, *DEFECTS))}; or a word of your own
--notes TEXT  anything worth knowing next time (default: keep those recorded before)
--note TEXT...  a note beside those of the day (default: none; may be given again)
--part MASS  the finished part, all pieces: "2410 g"
--dry MASS  its dry pieces before the layup, cloth, core, sheets, edges: "1690 g" (needed with --part)
--cloth MASS  of the dry pieces the cloth: "730 g" (default: as the plan has it)
--offcut MASS  what was trimmed off before the part was weighed (default: 0 g)
--left MASS  mix left in all cups, brushes and rollers: "45 g" (default: not known)
--coupon MASS RESIDUE  a coupon before and after burn-off: "2.10 g" "1.28 g"
--in-water MASS  what the coupon weighed hanging in water, for its voids: "0.95 g"
--thickness LENGTH  all full-width plies of one piece, without core, sheets, strips: "1.8 mm"
--workshop DIR
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup outcome`."""
    kept = f"{ALLOWED}, copied into the session's folder (default: none; may be given again)"
    parser.add_argument("--photo", metavar="FILE", action=_Photo, default=[], help=kept)
    parser.add_argument("--caption", metavar="TEXT", action=_Caption, help="what the photo before it shows")
    takes(WORDS)(parser)


def run(args: argparse.Namespace) -> int:
    """Append what was said to the session's journal, and say it back with what it replaces."""
    return said_back(_record, args, "recorded")


def _record(args: argparse.Namespace) -> list[str]:
    """Record all of it or, where something cannot be, nothing; return what to say once it is on the disk."""
    events = list(_events(args))
    photos = [read_photo(Path(file), caption) for file, caption in args.photo]
    if not events and not photos:
        allowed = "a word, --notes, --note, --photo, --part with --dry, --coupon or --thickness"
        raise InputError("outcome", "says nothing", allowed=allowed)
    folder = Workshop(args.workshop).session_path(args.session)
    with Journal.open(folder, SystemClock()) as journal:
        said = log_afterwards(journal, events, photos, keep_notes=args.notes is None)
    return [*said, *_doubts(args)]


def _doubts(args: argparse.Namespace) -> Iterator[str]:
    """Yield what may not be as it was meant: a word that is nearly a known one, and text that was cut."""
    tags = known_words(args.word)
    meant = meant_for(tags)
    yield from (doubt_of(word, near) for word, near in meant.items())
    if meant:
        again = shlex.join(["layup", "outcome", args.session, *dict.fromkeys(meant.get(tag, tag) for tag in tags)])
        yield f"note: all is kept as you typed it; this replaces the words only: {again}"
    if report := clean_text(args.notes or "", limit=NOTE_LIMIT).report:
        yield f"note: of the notes {report}"


def _events(args: argparse.Namespace) -> Iterator[Event]:
    """Yield what the words of the command say, in order."""
    with in_words():
        tags = known_words(args.word)
        if tags or args.notes is not None:
            yield Outcome(tags=tags, notes=clean(args.notes or "", NOTE_LIMIT))
        yield from (note_of(note) for note in args.note)
        if any((args.part, args.dry, args.cloth, args.offcut, args.left)):
            yield _weighed(args)
        if args.in_water and not args.coupon:
            raise InputError(
                "outcome", "has a weight in water without its coupon", todo="give --coupon MASS RESIDUE, too"
            )
        if args.coupon:
            coupon_g, residue_g = (_grams(text, "coupon") for text in args.coupon)
            in_water_g = _grams(args.in_water, "coupon in water") if args.in_water else None
            yield CouponBurnt(coupon_g=coupon_g, residue_g=residue_g, in_water_g=in_water_g)
        if args.thickness:
            yield ThicknessMeasured(thickness_m=quantity(args.thickness, "length", [], where="thickness"))


def _weighed(args: argparse.Namespace) -> PartWeighed:
    if not (args.part and args.dry):
        given = {"--part": args.part, "--dry": args.dry, "--cloth": args.cloth, "--offcut": args.offcut}
        given |= {"--left": args.left}
        again = " ".join(f'{flag} "{mass or "... g"}"' for flag, mass in given.items() if mass or flag in NEEDED)
        raise InputError(
            "outcome",
            "needs both --part and --dry",
            allowed="the finished part, and its dry pieces as weighed or as the plan has them",
            todo=f"type: layup outcome {args.session} {again}",
        )
    return weighed_of(vars(args))


def _grams(text: str, where: str) -> float:
    return quantity(text, "mass", [], where=where)
