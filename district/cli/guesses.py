"""What `district init` says it guessed."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.table import Table
from rich.text import Text

from district.cli.layout import WIDTH, show
from district.intake import Draft

_FIRST_LEFT = 10


def print_guesses(draft: Draft) -> None:
    """The guesses, what was left out, what is still to say, and what was written."""
    show(_guesses(draft), *_left_out(draft))
    if draft.to_fill_in:
        print("Still to say, by a person who knows:")
        print("\n".join(f"- {words}" for words in draft.to_fill_in), end="\n\n")
    print(_outcome(draft))


def guesses_object(draft: Draft) -> dict[str, Any]:
    """The same for machines."""
    said = asdict(draft.proposal)
    said.pop("folder")
    return {
        **said,
        "still_to_say": list(draft.to_fill_in),
        "file": str(draft.path),
        "written": bool(draft.text),
        "added": draft.added,
        "add_by_hand": draft.by_hand,
    }


def _guesses(draft: Draft) -> Table:
    table = Table(
        title="What the files hold, and how sure that is",
        title_justify="left",
        box=SIMPLE_HEAD,
        pad_edge=False,
        width=WIDTH,
    )
    for heading, share in (("What", 19), ("Taken from", 27), ("How sure", 9), ("Why", 41)):
        table.add_column(heading, ratio=share, overflow="fold", no_wrap=heading == "How sure")
    for guess in (*draft.proposal.layers, *draft.proposal.records):
        file = f"{guess.file}, {guess.layer}" if guess.layer else guess.file
        _row(table, guess.table, file, guess.sureness, guess.why)
        own = [c.ours for c in guess.columns if c.theirs.lower() == c.ours]
        if own:
            _row(table, "  columns", ", ".join(own), "sure", "their own names")
        for c in guess.columns:
            if c.ours not in own:
                why = f"{c.why}; but {c.remark}" if c.remark else c.why
                unit = f", {c.unit}" if c.unit else ""
                _row(table, f"  {c.ours}", f"{c.theirs}{unit}", c.sureness, why)
        for ours in guess.lacking:
            _row(table, f"  {ours}", "-", "-", "needed, and no column looks like it")
        _unused(table, guess.unused)
    for kind in draft.proposal.readings:
        count = f" ({len(kind.files)} files)" if len(kind.files) > 1 else ""
        _row(table, f"readings, {kind.layout}", f"{kind.pattern}{count}", kind.sureness, kind.why)
        for c in kind.columns:
            if c.theirs != c.ours:
                _row(table, f"  {c.ours}", c.theirs, c.sureness, c.why)
        clock = kind.timezone if kind.timezone not in ("", "own") else "-"
        why = kind.timezone_why or "nothing in the files tells it"
        _row(table, "  timezone", clock, "sure" if kind.timezone else "unsure", why)
        if kind.values:
            _row(table, "  values", "", "likely", kind.values)
        _unused(table, kind.unused)
    return table


def _unused(table: Table, names: tuple[str, ...]) -> None:
    if names:
        shown = ", ".join(names[:_FIRST_LEFT])
        more = len(names) - _FIRST_LEFT
        shown += f" and {more} more" if more > 0 else ""
        _row(table, "  not used", shown, "-", "nothing it looks for")


def _left_out(draft: Draft) -> list[Table]:
    left = draft.proposal.left_out
    if not left:
        return []
    table = Table(title="Left out", title_justify="left", box=SIMPLE_HEAD, pad_edge=False)
    table.add_column("File", overflow="fold")
    table.add_column("Why")
    for one in left[:_FIRST_LEFT]:
        table.add_row(Text(one.file), Text(one.why))
    if len(left) > _FIRST_LEFT:
        table.add_row(Text(f"and {len(left) - _FIRST_LEFT} more"), Text(""))
    return [table]


def _row(table: Table, *cells: str) -> None:
    # Texts of the user are shown as they are, not read as marks for colour.
    table.add_row(*(Text(cell) for cell in cells))


def _outcome(draft: Draft) -> str:
    if draft.by_hand:
        return (
            f"{draft.path} is written in a way that nothing can be added at its end, and was left "
            f"as it is. Add this by hand:\n\n{draft.added}"
        )
    if not draft.text:
        return f"{draft.path} names all of this already; nothing was written."
    if draft.text == draft.added:
        return f"Written: {draft.path}. Read it through, then run 'district check'."
    return f"Added at the end of {draft.path}, all else kept as it was:\n\n{draft.added}"
