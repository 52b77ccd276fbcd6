"""The project's own environment: made once from `requirements.lock`, recognised afterwards.

This runs before anything is installed, so it uses the standard library only. What it promises:

- a half-made `.venv` is never taken for a good one: the mark that says "complete" is written last, after
  everything else is on the disk, and names the lock, the Python and the folder it was made for;
- two runs at once make one environment: the second waits for the first;
- an environment made by somebody else is used when it holds what `pyproject.toml` asks for, and is moved
  aside, never deleted, when it does not;
- every failure it can foresee is one sentence that says what to do.
"""
