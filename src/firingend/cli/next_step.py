"""``firingend next``: one step at a time; asks, takes the answer, shows the new order; can be taken up again."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from firingend.errors import UserError

if TYPE_CHECKING:
    from firingend.cli.commands import Commands
    from firingend.diagnosis.diagnosis import Diagnosis, RankedStep
    from firingend.diagnosis.session import Session

HELP = """\
answer with the outcome (or its first letters), or:
  s           skip: this check cannot be done here
  p CHECK     pin: do this check first
  o CHECK WHERE OUTCOME   another check was done, e.g. o air-filter engine clean
  y SYMPTOM / n SYMPTOM   a symptom is there / is not
  m WHAT WHERE VALUE UNIT a number was taken, e.g. m compression-dry 2 7.8 bar
  r           the repair that is proposed was tried: cured, better or no-change follows
  u           undo the last answer      U  say it again
  w [CAUSE]   why: what speaks for and against
  c           the paragraph for the customer
  l           the list of causes and steps
  q           stop; the answers are kept"""
_SHOWN = 5


def add_to(commands: Commands) -> argparse.ArgumentParser:
    """Declare the command."""
    parser = commands.add_parser(
        "next",
        help="work through a case step by step",
        description="Shows the step worth doing next, takes its outcome, and shows the new order. Answers are kept "
        "beside the case file and taken up again; type h for help.",
    )
    parser.add_argument("case", metavar="CASE.toml", type=Path, help="the case file")
    parser.add_argument("--afresh", action="store_true", help="forget the answers given before")
    return parser


def run(args: argparse.Namespace) -> int:
    """Work through one case."""
    from firingend.cases.load import load_case
    from firingend.cases.run import run_case
    from firingend.diagnosis.session import Session

    result = run_case(load_case(args.case))
    start = result.case.evidence(result.readings)
    kept = args.case.with_suffix(".answers.json")
    session = Session(start)
    if kept.exists() and not args.afresh:
        session = Session.loads(_read(kept), start)
        print(f"taken up again after {len(session.entries)} answers (u undoes the last one)")
    print(result.comparison.sentence)
    talk = Talk(session, lambda now: _keep(kept, now))
    talk.show()
    while talk.going:
        try:
            line = input("? ")
        except EOFError:
            break
        talk.hear(line)
    return 0


class Talk:
    """The conversation: what is known, what was proposed, and what each line of input does."""

    def __init__(self, session: Session, keep: Callable[[Session], None], say: Callable[[str], None] = print) -> None:
        self.session, self.keep, self.say = session, keep, say
        self.going = True
        self.diagnosis = session.diagnosis()

    def show(self) -> None:
        """The likeliest causes, the advice, and the step proposed."""
        for line in _causes(self.diagnosis):
            self.say(line)
        if self.diagnosis.advice:
            self.say(self.diagnosis.advice)
        for _, question in self.diagnosis.questions[:1]:
            self.say(f"Worth asking: {question}")
        if step := self.proposed():
            for line in _step(step):
                self.say(line)
            self.say("answer: " + ", ".join(_answers(step)) + "   (h for help)")

    def proposed(self) -> RankedStep | None:
        """The step in front."""
        return self.diagnosis.next[0] if self.diagnosis.next else None

    def hear(self, line: str) -> None:
        """Take one line; what cannot be understood is said, and nothing changes."""
        words = line.split()
        if not words:
            return
        try:
            self._take(words)
        except UserError as error:
            self.say(f"not taken: {error}")

    def _take(self, words: list[str]) -> None:
        first, rest = words[0], words[1:]
        commands: dict[str, Callable[[list[str]], None]] = {
            "q": lambda _: setattr(self, "going", False),
            "h": lambda _: self.say(HELP),
            "l": lambda _: self._list(),
            "c": lambda _: self._customer(),
            "w": self._why,
            "u": lambda _: self._now(self.session.undo()),
            "U": lambda _: self._now(self.session.redo()),
            "s": lambda _: self._skip(),
            "p": lambda said: self._now(self.session.pin(_one(said, "p CHECK"))),
            "y": lambda said: self._now(self.session.symptom(" ".join(said), True)),
            "n": lambda said: self._now(self.session.symptom(" ".join(said), False)),
            "o": self._other,
            "m": self._measured,
            "r": self._tried,
        }
        if first in commands:
            commands[first](rest)
        else:
            self._answer(" ".join(words))

    def _now(self, session: Session) -> None:
        from firingend.diagnosis.explain import what_changed

        diagnosis = session.diagnosis()
        changed = what_changed(self.diagnosis, diagnosis)
        self.session, self.diagnosis = session, diagnosis
        self.keep(session)
        for line in changed:
            self.say("  " + line)
        self.show()

    def _answer(self, said: str) -> None:
        step = self.proposed()
        if step is None:
            raise UserError("nothing is proposed", "say o CHECK WHERE OUTCOME, u to undo or q to stop")
        fits = [answer for answer in _answers(step) if answer.startswith(said)]
        if len(fits) > 1 and said not in fits:
            raise UserError(f'"{said}" could be {" or ".join(fits)}', "type a little more of it")
        if not fits and step.kind != "check":
            raise UserError(f'"{said}" is not an answer here', "say one of: " + ", ".join(_answers(step)))
        answer = said if said in fits or not fits else fits[0]
        self._now(self.session.outcome(step.id, step.where, answer))

    def _tried(self, said: list[str]) -> None:
        step = next((s for s in self.diagnosis.next if s.kind == "repair"), None)
        if step is None:
            raise UserError("no repair is proposed", "say o repair:CAUSE WHERE no-change, better or cured")
        self._now(self.session.outcome(step.id, step.where, _one(said, "r cured, r better or r no-change")))

    def _skip(self) -> None:
        step = self.proposed()
        if step is None or step.kind != "check":
            raise UserError("no check is proposed", "skip only a check")
        self._now(self.session.skip(step.id))

    def _other(self, said: list[str]) -> None:
        if len(said) < 3:
            raise UserError("too few words", "say o CHECK WHERE OUTCOME, such as: o air-filter engine clean")
        self._now(self.session.outcome(said[0], " ".join(said[1:-1]), said[-1]))

    def _measured(self, said: list[str]) -> None:
        from firingend.diagnosis.evidence import Measurement

        if len(said) < 4:
            raise UserError("too few words", "say m WHAT WHERE VALUE UNIT, such as: m compression-dry 2 7.8 bar")
        try:
            value = float(said[-2])
        except ValueError as error:
            raise UserError(f'"{said[-2]}" is not a number', "say m WHAT WHERE VALUE UNIT") from error
        self._now(self.session.measurement(Measurement(said[0], " ".join(said[1:-2]), value, said[-1])))

    def _why(self, said: list[str]) -> None:
        from firingend.diagnosis.explain import explain

        lead = self.diagnosis.causes[0]
        if said:
            for line in explain(self.session.evidence(), " ".join(said)).sentences():
                self.say("  " + line)
        elif lead.repair and lead.id in _listed():
            for line in explain(self.session.evidence(), lead.id, lead.where).sentences():
                self.say("  " + line)

    def _customer(self) -> None:
        from firingend.diagnosis.explain import for_customer

        self.say(for_customer(self.diagnosis, self.session.evidence()))

    def _list(self) -> None:
        for line in _causes(self.diagnosis, 12):
            self.say(line)
        for step in self.diagnosis.next:
            self.say(f"  {step.expected_cost:8.0f}  {step.id}, {step.where} ({step.minutes:.0f} min)")


def _causes(diagnosis: Diagnosis, count: int = _SHOWN) -> Iterator[str]:
    for cause in diagnosis.causes[:count]:
        yield f"  {cause.probability:4.0%}  {cause.name}, {cause.where}"


def _step(step: RankedStep) -> Iterator[str]:
    yield f"\n>> {step.name}, {step.where}  ({step.minutes:.0f} min, parts {step.parts_cost:.0f})"
    yield from (f"   ! {caution}" for caution in step.cautions)
    yield from (f"   {k}. {line}" for k, line in enumerate(step.how, 1))
    yield f"   {step.why}"


def _answers(step: RankedStep) -> tuple[str, ...]:
    if step.kind == "check":
        from firingend.diagnosis.knowledge import load

        return tuple(load().checks[step.id].outcomes)
    return ("cured", "better", "no-change") if step.kind == "repair" else ()


def _listed() -> frozenset[str]:
    from firingend.diagnosis.knowledge import load

    return frozenset(load().causes)


def _one(said: list[str], usage: str) -> str:
    if len(said) != 1:
        raise UserError("one word is needed", f"say {usage}")
    return said[0]


def _read(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise UserError(f"{file.name} cannot be read ({error})", "say --afresh to start without it") from error


def _keep(file: Path, session: Session) -> None:
    """Write the answers whole or not at all."""
    partial = file.with_name(file.name + ".part")
    try:
        partial.write_text(session.dumps(), encoding="utf-8")
        partial.replace(file)
    except OSError as error:
        print(f"firingend: the answers could not be kept in {file.name} ({error})", file=sys.stderr)
