"""The commands of whoever keeps the records: proofs, signatures, kept sound, erasure.
Wiring only."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from voicelist.errors import UsageError, printable
from voicelist.record_commands import Practice, StoreUrl, print_plainly, record

Output = Annotated[Path, typer.Option("-o", "--output", help="The file to write.")]


def record_prove(
    case: Annotated[str, typer.Argument(help="The case code.")],
    item: Annotated[str, typer.Argument(help="The item, by its id.")],
    output: Output,
    store: StoreUrl = None,
    practice: Practice = False,
) -> None:
    """Write the events of one item with the hashes that prove that a record has them, and nothing
    else of the case. Checked by: record verify FILE --head TREEHEAD."""
    from voicelist.authoring.files import write_over
    from voicelist.record.commands import prove_item

    proof = prove_item(case, item, store, practice=practice)
    write_over(output, proof.data, private=True)
    print_plainly(f"Written: {output}\nTree head {proof.tree_head}")


def record_key(
    name: Annotated[str, typer.Argument(help="Whose key it is, such as the name of the site.")],
    output: Output,
) -> None:
    """Make a key that signs tree heads: a file for the site alone, and the public key to be given
    to whoever verifies."""
    from voicelist.authoring.files import write_new
    from voicelist.record.signing import new_key

    key = new_key(name)
    write_new(output, f"{key.text}\n", private=True)
    print_plainly(f"Written: {output}. Keep it to yourself, away from the records.")
    print_plainly(f"Public key {key.public_text}")


def record_sign(
    case: Annotated[str, typer.Argument(help="The case code.")],
    key: Annotated[Path, typer.Option(help="The file that record key wrote.")],
    output: Output,
    store: StoreUrl = None,
    practice: Practice = False,
) -> None:
    """Sign the tree head of a case. Checked by: record verify CASE --signed FILE --by KEY."""
    from voicelist.authoring.files import write_over
    from voicelist.record.commands import sign_case

    signed = sign_case(case, key, store, practice=practice)
    write_over(output, signed.data, private=True)
    print_plainly(f"Written: {output}\nTree head {signed.tree_head}")


@dataclass(frozen=True, slots=True)
class _Chosen:
    """Which cases are to be erased: one, or those that ended so many days ago."""

    case: str | None
    older_than: int | None

    def cases(self, store: str | None, practice: bool) -> tuple[str, ...]:
        """Their codes; says of which older ones it is not so."""
        from voicelist.record.commands import ended_before

        if self.case is not None:
            return (self.case,)
        now = datetime.now(UTC)
        ended, others = ended_before(self.older_than or 0, store, practice=practice, now=now)
        for case in others:
            print_plainly(f"{case} is as old and has not ended, or cannot be read: it stays.")
        return ended


def record_erase(
    case: Annotated[str | None, typer.Argument(help="The case code.")] = None,
    older_than: Annotated[
        int | None, typer.Option(min=1, help="All that ended and began so many days ago.")
    ] = None,
    reason: Annotated[str, typer.Option(help="Why; no names of people.")] = "",
    role: Annotated[str, typer.Option(help="Who erases, such as team-lead.")] = "",
    code_too: Annotated[
        bool, typer.Option("--code-too", help="The case code goes as well.")
    ] = False,
    clean: Annotated[
        bool, typer.Option("--clean", help="Only write the files anew, after an erasure.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    store: StoreUrl = None,
    practice: Practice = False,
) -> None:
    """Erase a whole case, or all old ones, for good. What stays is that there was one, with its
    head, who erased it and why."""
    from voicelist.documents.names import ROLES
    from voicelist.record.commands import Erasing, erase_cases
    from voicelist.record.store import Store

    if [case, older_than, clean or None].count(None) != 2:
        raise UsageError("Name a case, or give --older-than or --clean.")
    if clean:
        Store(store, practice=practice).clean()
        print_plainly("The files are written anew.")
        return
    if role not in ROLES:
        raise UsageError(f"Give --role, one of {', '.join(ROLES)}.")
    cases = _Chosen(case, older_than).cases(store, practice)
    if not cases:
        print_plainly("No case is as old as that: nothing is erased.")
        return
    many = f"{len(cases)} cases" if len(cases) > 1 else cases[0]
    if not yes and not typer.confirm(printable(f"Erase {many} for good?")):
        raise UsageError("Nothing was erased.")
    erase_cases(cases, Erasing(role, reason, code_too), store, practice=practice)
    print_plainly(f"Erased: {many}. Copies that were exported or backed up are not reached.")


def record_sound_key(output: Output) -> None:
    """Make a key for the sound that run --keep-audio keeps: sound is encrypted for it on this
    computer, and only the file that is written opens it."""
    from voicelist.authoring.files import write_new
    from voicelist.record.sound import add_public_key, new_sound_key

    secret, public = new_sound_key()
    write_new(output, f"# public key: {public}\n{secret}\n", private=True)
    kept = add_public_key(public)
    print_plainly(f"Written: {output}. Keep it away from this computer: it opens all sound.")
    print_plainly(f"Public key {public}, in {kept}")


def record_sound(
    case: Annotated[str, typer.Argument(help="The case code.")],
    key: Annotated[Path | None, typer.Option(help="The file of the secret key.")] = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="A folder for the opened sound.")
    ] = None,
    delete: Annotated[
        bool, typer.Option("--delete", help="Delete the sound and leave the record.")
    ] = False,
    store: StoreUrl = None,
    practice: Practice = False,
) -> None:
    """The sound that was kept of a case: list it, open it into a folder, or delete it alone."""
    from voicelist.record.sound_commands import delete_sound, open_sound, sound_words

    if delete and (key, output) != (None, None):
        raise UsageError("Give --delete alone, or --key and --output.")
    if (key is None) != (output is None):
        raise UsageError("Give --key and --output together.")
    if delete:
        print_plainly(delete_sound(case, store, practice=practice))
    elif key is not None and output is not None:
        count = _write_sounds(open_sound(case, key, store, practice=practice), output)
        print_plainly(f"Opened: {count} utterances of {case}, in {output}")
    else:
        print_plainly(sound_words(case, store, practice=practice))


def _write_sounds(sounds: Iterable[tuple[str, bytes]], folder: Path) -> int:
    from voicelist.authoring.files import write_over

    opened = list(sounds)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    for name, data in opened:
        write_over(folder / name, data, private=True)
    return len(opened)


def register() -> None:
    """Adds them to the group `record`."""
    record.command("prove")(record_prove)
    record.command("key")(record_key)
    record.command("sign")(record_sign)
    record.command("erase")(record_erase)
    record.command("sound-key")(record_sound_key)
    record.command("sound")(record_sound)
