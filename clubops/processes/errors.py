"""What stops the processes from being started."""


class ProcessError(Exception):
    """The service cannot be started or kept up; the message is the sentence to show."""
