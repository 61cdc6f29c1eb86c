"""What a team that makes no slip says: the words of the practice partner."""

from voicelist.practice.right_words import (
    answer_to,
    profile_line,
    right_line,
    says_what_is_planned,
    under_way_line,
)

__all__ = ["answer_to", "profile_line", "right_line", "says_what_is_planned", "under_way_line"]
