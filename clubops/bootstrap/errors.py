"""What stops the environment from being made."""


class SetupError(Exception):
    """The environment cannot be made or used; the message is the sentence to show."""
