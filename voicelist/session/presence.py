"""Who is in the room: by the plan, and by what was said since. Plain facts in, no documents."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

# So many present roles have to answer an item that each role answers.
ROLES_AT_LEAST = 2


def away(
    roles: Iterable[str], planned: Collection[str] | None, said: Mapping[str, bool]
) -> tuple[str, ...]:
    """Those of `roles` that are not in the room. `planned` are the roles that the plan says are
    present, None for all of them; `said` is what was said since, by role."""
    return tuple(role for role in roles if not said.get(role, planned is None or role in planned))


def can_be_answered(
    roles: Collection[str], absent: Collection[str], *, each_role: bool = False
) -> bool:
    """Whether an item is answered by somebody who is there: by two of its roles where each has to
    answer."""
    present = [role for role in roles if role not in absent]
    return len(present) >= (min(ROLES_AT_LEAST, len(roles)) if each_role else 1)
