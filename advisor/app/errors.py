"""What the advisor raises when a request cannot be done."""


class RequestError(Exception):
    """A request that cannot be done.

    The message says what was seen, why it stops, and what to try.
    """
