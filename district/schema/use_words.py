"""Parts of a use class that tell of users who must not lose water without being asked.

Common practice, no source: what counts is the flag `critical`, and a fire main may well have no
connection on the map at all.
"""

from __future__ import annotations

FIRE = ("fire", "sprinkler", "hydrant")
MEDICAL = ("medic", "hospital", "clinic", "dialys", "surgery", "nursing", "health", "care")
PROCESS = ("laborator", "process", "industr", "production", "manufactur")


def tells_of(use_class: str, words: tuple[str, ...]) -> bool:
    """Whether a class of use holds one of the words, in whatever case.

    >>> tells_of("Dialysis ward", MEDICAL), tells_of("household", FIRE)
    (True, False)
    """
    return any(word in use_class.lower() for word in words)
