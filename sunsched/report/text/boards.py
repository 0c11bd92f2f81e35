"""The boards as plain text, and the rows that docs/boards.md has as well."""

from __future__ import annotations

from collections.abc import Sequence

from sunsched.hardware.board_proofs import Proof
from sunsched.job.board_list import COMPILED_ONLY, NOT_RUN, BoardLine
from sunsched.report.text.answer import Answer, Block, told
from sunsched.report.text.plain import columns, wrapped

PROOF_HEAD: tuple[str, ...] = ("board", "compiled with", "executed on", "days lived", "decisions compared")
PROOF_HEAD += ("flash", "RAM", "stack", "a step")
READER_HEAD = ("chip", "compiled with", "executed on", "days read", "minutes compared")
NEEDS_HEAD = ("board", "chip", "clock", "supply", "pins", "flash", "table room")
_UNKNOWN = "-"


def boards_text(lines: Sequence[BoardLine], every: bool) -> str:
    """The answer, the proofs, then what each board needs; with `every` also what else was compiled or asked for."""
    programs = [line for line in lines if line.part == "program"]
    rest = [line for line in lines if line.part != "program"]
    blocks = [
        Block("WHAT WAS RUN\n" + _proofs(programs) + _notes(programs)),
        Block("WHAT EACH NEEDS\n" + _needs(lines), "what each needs (pins, clock, room)"),
        Block("THE TABLE READER ALONE\n" + _readers(rest), "the table reader on other chips"),
    ]
    return told(_answer(programs), blocks, every)


def _answer(programs: Sequence[BoardLine]) -> Answer:
    names = {line.name for line in programs}
    ran = {line.name for line in programs if line.word not in (NOT_RUN, COMPILED_ONLY)}
    return Answer(
        f"The whole door program is there for {len(names)} boards; on {len(ran)} of them it was executed.",
        "Executed means on an emulator or its interpreter: no board was at hand.",
        "Next: chip.board in the configuration, then `sunsched firmware CONFIG`.",
    )


def proof_cells(line: BoardLine) -> tuple[str, ...]:
    """A line's proof, in the order of PROOF_HEAD."""
    proof = line.proof
    if proof is None:
        return line.name, _UNKNOWN, NOT_RUN, *[_UNKNOWN] * 6
    return (
        line.name,
        proof.compiled_with,
        proof.executed_on or COMPILED_ONLY,
        _count(proof.days),
        _count(proof.decisions),
        _count(proof.flash_bytes),
        _count(proof.ram_bytes),
        _count(proof.stack_bytes),
        _step(proof),
    )


def needs_cells(line: BoardLine) -> tuple[str, ...]:
    """What a board of the registry needs, in the order of NEEDS_HEAD."""
    needs = line.needs
    if needs is None:
        return line.name, *[_UNKNOWN] * 6
    return (
        line.name,
        needs.chip,
        f"{needs.hz / 1_000_000:g} MHz",
        f"{needs.supply_v:g} V",
        f"{needs.pins_used} of {needs.pins}" if needs.pins else _UNKNOWN,
        f"{needs.flash_bytes:,}",
        f"{needs.room_bytes:,}",
    )


def _count(figure: int | None) -> str:
    return _UNKNOWN if figure is None else f"{figure:,}"


def _step(proof: Proof) -> str:
    if proof.step_cycles is not None:
        return f"{proof.step_cycles:,} cycles"
    return _UNKNOWN if proof.step_us is None else f"{proof.step_us:,} us"


def _proofs(lines: Sequence[BoardLine]) -> str:
    """A row of figures for each board, and what it was compiled with and executed on in a line below."""
    cells = [proof_cells(line) for line in lines]
    rows = [(name, *figures) for name, _, _, *figures in (PROOF_HEAD, *cells)]
    shown = columns(rows, frozenset(range(1, 6))).rstrip("\n").split("\n")
    told = (_made_and_ran(made, ran) for _, made, ran, *_ in cells)
    below = (line for pair in zip(shown[-len(cells) :], told, strict=True) for line in (pair[0], f"  {pair[1]}"))
    return "\n".join([*shown[: -len(cells)], *below]) + "\n"


def _made_and_ran(made: str, ran: str) -> str:
    if made == _UNKNOWN:
        return ran
    return f"compiled with {made}, {ran if ran == COMPILED_ONLY else f'executed on {ran}'}"


def _readers(lines: Sequence[BoardLine]) -> str:
    cells = (proof_cells(line)[: len(READER_HEAD)] for line in lines)
    return columns([READER_HEAD, *cells], frozenset((3, 4)))


def _needs(lines: Sequence[BoardLine]) -> str:
    own = {line.name: line for line in lines if line.needs is not None}
    return columns([NEEDS_HEAD, *(needs_cells(line) for line in own.values())], frozenset((2, 3, 4, 5, 6)))


def _notes(lines: Sequence[BoardLine]) -> str:
    earlier = [line.name for line in lines if line.earlier]
    said = "Flash, RAM and stack in bytes; on MicroPython the folder's files and the heap. A step is a second's work."
    if earlier:
        said += f" Proven with an earlier text of the program: {', '.join(earlier)}."
    return "\n" + wrapped(said, "", "")
