"""Times of a song as a player shows them."""


def clock(seconds: float) -> str:
    """Return minutes and seconds, with hours from an hour on.

    Examples
    --------
    >>> clock(67.9), clock(3727.0)
    ('1:07', '1:02:07')
    """
    whole = int(max(seconds, 0.0))
    if whole >= 3600:
        return f"{whole // 3600}:{whole % 3600 // 60:02d}:{whole % 60:02d}"
    return f"{whole // 60}:{whole % 60:02d}"
