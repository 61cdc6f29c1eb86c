"""The commands of whoever keeps the records: proofs, signatures, erasure. Wiring only."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

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


def register() -> None:
    """Adds them to the group `record`."""
    record.command("prove")(record_prove)
    record.command("key")(record_key)
    record.command("sign")(record_sign)
