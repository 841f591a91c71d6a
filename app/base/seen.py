"""What of a text can be seen: what nobody sees turns what is printed beside it, or hides in it."""

# What joins letters in Persian and in scripts of India; every other invisible sign may turn a line about.
_JOINERS = frozenset("\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}")


def find_unseen(text: str, *, is_name: bool) -> str | None:
    """The first sign that cannot be seen, a plain space apart; in a name letters may be joined by one."""
    allowed = _JOINERS if is_name else frozenset[str]()
    return next((each for each in text if not each.isprintable() and each not in allowed), None)
