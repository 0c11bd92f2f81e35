"""The yearly renewal: which years the tables must cover, what is due, proof, and the replacement as a whole.

Made to be run by cron every day for years. What is right is not touched, nor is anything else written; what is due or
out of date is built beside the live folder, read back, compared with two other finders of the Sun and with the year
before, and only then takes the live folder's name (generations.py). Tables are never deleted here: the next year is
compared with the old one, and a clock that was wrong for a day must not cost a table.
"""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from sunsched.base.civil_time import year_days
from sunsched.base.errors import CannotWriteError, CheckError, MissingFileError, SunschedError, UsageError
from sunsched.config import toml_file
from sunsched.config.configuration import Configuration
from sunsched.emit.forms import usual
from sunsched.emit.stamp import file_stem, plan_sha256
from sunsched.job import disk
from sunsched.job.pipeline import Built, plan_of, stamp_of
from sunsched.job.renewal import program as programs
from sunsched.job.renewal import record as records
from sunsched.job.renewal.due import Due, due_years, old_table, same_place, same_sun_settings
from sunsched.job.renewal.generations import SiteFolder, locked
from sunsched.job.renewal.program import Maker
from sunsched.job.renewal.record import ProgramRecord, Record
from sunsched.plan.place import doubtful_place
from sunsched.plan.year import YearPlan

AHEAD_DAYS = 60
PROOFS = ("readback", "zone file", "Skyfield", "astral below 58 degrees", "the year before where there is one")


@dataclass(frozen=True, slots=True)
class Ask:
    """What a renewal is to see to: tables in `out` from `today` to `ahead_days` later, in these forms.

    program   what makes the program's folder beside the tables; None: there is none
    until_told   a mark stays beside new tables until `told`: a run that is killed before it could say so is made up for
    """

    out: Path
    today: dt.date
    ahead_days: int = AHEAD_DAYS
    forms: tuple[str, ...] = field(default_factory=usual)
    program: Maker | None = None
    until_told: bool = False

    @property
    def years(self) -> tuple[int, ...]:
        """The years that the tables must cover."""
        last = self.today + dt.timedelta(days=self.ahead_days)
        return tuple(range(self.today.year, last.year + 1))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one configuration.

    status   "right" (nothing to do), "due" (only looked), "renewed", or "refused"
    reasons  why years were due, one line each; `repaired` says that a file was damaged or changed by hand
    same_minutes   only other forms were asked for: a chip that has the tables needs no new one
    remarks  what the keeper should know beside it: what could not be tidied up is said by every run while it is so
    """

    config: str
    status: str
    folder: str = ""
    years: tuple[int, ...] = ()
    reasons: tuple[str, ...] = ()
    repaired: bool = False
    files: tuple[str, ...] = ()
    same_minutes: bool = False
    error: str = ""
    exit_code: int = 0
    remarks: tuple[str, ...] = ()


@dataclass(slots=True)
class _Work:
    """One configuration on its way through a run."""

    config: str
    configuration: Configuration
    plans: dict[int, YearPlan]
    folder: SiteFolder
    record: Record = records.EMPTY
    due: dict[int, Due] = field(default_factory=dict)
    program_due: Due | None = None

    @property
    def all_due(self) -> list[Due]:
        """What is due of tables and program."""
        return [*self.due.values(), *([] if self.program_due is None else [self.program_due])]


def today() -> dt.date:
    """The machine's date: the only place beside the command line that asks for it."""
    return dt.date.today()


def told(outcomes: Sequence[Outcome]) -> None:
    """Take away the marks that the keeper has to be told, after that was done; see `Ask.until_told`."""
    for outcome in outcomes:
        live = Path(outcome.folder)
        if outcome.status == "renewed":
            with contextlib.suppress(OSError):
                live.with_name(f".{live.name}.untold").unlink(missing_ok=True)


def renew(configs: Sequence[str], ask: Ask, only_look: bool = False) -> list[Outcome]:
    """See to the tables of all configurations; one that is refused does not stop the others.

    only_look   report what is due and write nothing
    Raises UsageError when two configurations would share a folder.
    """
    if len(set(configs)) < len(configs):
        raise UsageError("a configuration is given twice; wanted each once")
    outcomes: list[Outcome] = []
    seen: dict[Path, str] = {}
    new: dict[int, _Work] = {}
    for config in configs:
        try:
            work = _looked_at(config, ask)
            other = seen.setdefault(work.folder.live, config)
            if other != config:
                raise UsageError(f"{config}: its site has the name of that in {other}; wanted another site.name")
            if not work.folder.live.exists():
                new[len(outcomes)] = work
            outcomes.append(_seen_to(work, ask, only_look))
        except SunschedError as error:
            outcomes.append(Outcome(config, "refused", error=_with_comfort(error, config), exit_code=error.exit_code))
        except OSError as error:
            # What was written is whole, and errors of writing say so themselves: this is a folder or file unread.
            unread = MissingFileError(f"{error.filename or ask.out}: {disk.reason(error)}; wanted tables to look at")
            outcomes.append(Outcome(config, "refused", error=_with_comfort(unread, config), exit_code=unread.exit_code))
    for number, work in new.items():
        remarks = (*outcomes[number].remarks, *_left_behind(work, ask.out, set(seen)))
        outcomes[number] = replace(outcomes[number], remarks=remarks)
    return outcomes


def _left_behind(work: _Work, out: Path, named: set[Path]) -> tuple[str, ...]:
    """Folders of another name with tables of the same place: a site that was renamed leaves one that none renews."""
    found = []
    for folder in sorted(out.iterdir()) if out.is_dir() else []:
        if folder in named or folder.name.startswith(".") or folder.name.endswith(".previous"):
            continue
        record = records.read(folder)
        table = old_table(folder, record.years[max(record.years)]) if record and record.years else None
        if table is not None and same_place(table, work.configuration):
            found.append(
                f"{folder} holds tables of the same place under another name and is not renewed by this: if the site "
                f"was renamed, take {work.folder.live} from now on and remove it"
            )
    return tuple(found)


def _with_comfort(error: SunschedError, config: str) -> str:
    """The error, and that nothing is lost, where it does not say so itself."""
    told = isinstance(error, (CheckError, CannotWriteError))
    return str(error) if told else f"{error}\n{config}: not renewed; the tables made before are as they were"


def _looked_at(config: str, ask: Ask) -> _Work:
    configuration = toml_file.read(config)
    plans = {year: plan_of(configuration, year, config) for year in ask.years}
    stem = file_stem(plans[ask.today.year]).rpartition("_")[0]
    return _Work(config, configuration, plans, SiteFolder(ask.out, stem, records.generation_of))


def _seen_to(work: _Work, ask: Ask, only_look: bool) -> Outcome:
    _find_due(work, ask)
    if not work.all_due and (only_look or not work.folder.interrupted):
        return Outcome(work.config, "right", str(work.folder.live), ask.years)
    if only_look:
        return replace(_outcome(work, "due", exit_code=CheckError.exit_code), remarks=_asked_about(work))
    with locked(ask.out, "renewal"):
        took_over = work.folder.interrupted and work.folder.recover()
        # Another run may have been here before the lock was ours.
        _find_due(work, ask)
        if work.all_due:
            files = tuple(str(work.folder.live / name) for name in _replaced(work, ask))
            outcome = replace(_outcome(work, "renewed"), files=files, remarks=_asked_about(work))
        elif took_over:
            outcome = Outcome(work.config, "renewed", str(work.folder.live), ask.years, (_UNTOLD,))
        else:
            outcome = Outcome(work.config, "right", str(work.folder.live), ask.years)
    return replace(outcome, remarks=(*outcome.remarks, *work.folder.remarks))


def _asked_about(work: _Work) -> tuple[str, ...]:
    """A doubtful place, told whenever tables are made or due: nothing is said while all is right."""
    doubt = doubtful_place(work.configuration.site)
    return () if doubt is None else (f"{work.config}: {doubt.text}. {doubt.to_do}",)


_UNTOLD = "by a run that ended before it had tidied up"


def _outcome(work: _Work, status: str, exit_code: int = 0) -> Outcome:
    # One reason often holds for several years: said once.
    reasons: dict[str, list[str]] = {}
    for year, due in work.due.items():
        reasons.setdefault(due.why, []).append(str(year))
    texts = tuple(f"{', '.join(years)}: {why}" for why, years in reasons.items())
    if work.program_due is not None:
        texts += (f"program: {work.program_due.why}",)
    repaired = any(due.damaged for due in work.all_due)
    folder = str(work.folder.live)
    same = bool(work.all_due) and all(due.same_minutes for due in work.all_due)
    return Outcome(
        work.config, status, folder, tuple(work.due), texts, repaired, same_minutes=same, exit_code=exit_code
    )


def _find_due(work: _Work, ask: Ask) -> None:
    record = records.read(work.folder.live)
    work.record = record or records.EMPTY
    if record is None:
        _refuse_foreign(work.folder.live)
    _refuse_clock_set_back(work, ask)
    live = work.folder.live
    work.due = due_years(live, record, work.configuration, work.plans, ask.forms)
    if ask.program is not None:
        digests = {year: plan_sha256(plan) for year, plan in work.plans.items()}
        folder = live / programs.folder_name(live.name)
        remembered = work.record.program
        work.program_due = programs.program_due(folder, remembered, work.configuration, work.plans, digests)


def _refuse_foreign(live: Path) -> None:
    """A folder that only happens to have the site's name is not ours to copy and replace."""
    held = list(live.iterdir()) if live.exists() else []
    if held and not any(path.name.startswith(f"{live.name}_") for path in held):
        raise CannotWriteError(f"{live} holds no tables of {live.name} and is left alone; wanted another --out")


def _refuse_clock_set_back(work: _Work, ask: Ask) -> None:
    made_for = work.record.made_for
    # A day's grace: machines in different zones may share a folder.
    if made_for and (ask.today + dt.timedelta(days=1)).isoformat() < made_for:
        raise CheckError(
            f"{work.folder.live}: today is {ask.today} by this machine, but its tables were renewed on {made_for}; "
            f"nothing was changed. Set the machine's clock, or, if it is right, delete "
            f"{work.folder.live / records.NAME} and the tables are made and proved anew"
        )


def _replaced(work: _Work, ask: Ask) -> list[str]:
    """Build the due years, prove them in the new folder, and put that in place of the old one."""
    files: dict[int, dict[str, bytes]] = {year: _files(work, ask, year) for year in work.due}
    digests = {year: plan_sha256(work.plans[year]) for year in work.due}
    years = dict(work.record.years)
    years |= {year: records.year_of(work.plans[year], digests[year], files[year]) for year in work.due}
    made = {name: content for of_year in files.values() for name, content in of_year.items()}
    remembered, in_program = _program(work, ask, made)
    record = Record(work.record.generation + 1, ask.today.isoformat(), years, remembered)
    made[records.NAME] = records.text(record).encode()

    def prove(folder: Path) -> None:
        faults = [fault for year in work.due for fault in _faults(work, folder, year, files[year])]
        faults += [
            f"{name} is not what was written" for name in in_program if (folder / name).read_bytes() != made[name]
        ]
        if faults:
            raise CheckError(
                "\n".join(f"{work.config}: {fault}" for fault in faults)
                + f"\n{work.config}: not renewed, {work.folder.live} is left as it was; install sunsched and tzdata "
                "again, and if that changes nothing do not put a new table on the chip"
            )

    work.folder.make(made, prove, sorted({name.partition("/")[0] for name in in_program}), ask.until_told)
    return list(made)


def _program(work: _Work, ask: Ask, made: dict[str, bytes]) -> tuple[ProgramRecord | None, list[str]]:
    """Add the program's files to `made` where it is due; what to remember of it, and the names of its files."""
    if ask.program is None or work.program_due is None:
        return work.record.program, []
    name = programs.folder_name(work.folder.live.name)
    plan = work.plans[ask.today.year]
    stamp = stamp_of(work.configuration, plan, ask.today.year, work.config)
    program = ask.program(Built(work.configuration, plan, stamp), Path(name), work.config)
    files = {f"{name}/{file}": content for file, content in program.files.items()}
    made |= files
    return programs.record_of(program, work.configuration), list(files)


def _files(work: _Work, ask: Ask, year: int) -> dict[str, bytes]:
    from sunsched.job.tables import year_files

    plan = work.plans[year]
    stamp = stamp_of(work.configuration, plan, year, work.config)
    return year_files(Built(work.configuration, plan, stamp), ask.forms)


def _faults(work: _Work, folder: Path, year: int, files: Iterable[str]) -> list[str]:
    from sunsched.job.renewal.proof import last_year_faults, readback_faults, sun_faults, zone_faults

    plan = work.plans[year]
    found = readback_faults(folder, files, plan)
    found += zone_faults(plan.site.zone)
    found += sun_faults(work.configuration.rules, plan)
    for before in (year - 1, year):
        old = work.record.years.get(before)
        if old is None or len(old.dawn_min) != year_days(before)[1]:
            continue
        table = old_table(work.folder.live, old)
        if table is not None and same_sun_settings(table, work.configuration):
            found += last_year_faults(old, year_days(before)[0], plan)
    return [f"{year}: {fault}" for fault in found]
