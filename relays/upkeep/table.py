"""The board of upkeep as a table for a spreadsheet."""

from __future__ import annotations

from clubops.spreadsheets import csv_text
from relays.upkeep import rhythm
from relays.upkeep.due import Board, Standing

HEADINGS = ("task", "where", "due", "state", "last done", "how often", "asked")


def board_csv(board: Board) -> str:
    """Every active task, the most urgent first."""
    return csv_text(HEADINGS, map(_cells, board.everything))


def _cells(standing: Standing) -> tuple[object, ...]:
    task = standing.task
    return (
        task.name,
        task.where,
        standing.due_on,
        standing.state,
        standing.last_done_on or "",
        rhythm.in_words(task.plan),
        standing.asked.call_sign if standing.asked else "",
    )
