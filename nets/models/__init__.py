from nets.models.checkins import CheckIn, Correction, RollCall, SessionLog
from nets.models.drafts import DraftTurn, Refusal, RotaDraft, TurnWish
from nets.models.feeds import CalendarEntry, FeedKey, StoredCalendar
from nets.models.nets import EarlierRule, Net
from nets.models.rota import Absence, Duty
from nets.models.sessions import Session
from nets.models.swaps import SwapOffer
from nets.models.upkeep import UpkeepEntry

__all__ = [
    "Absence",
    "CalendarEntry",
    "CheckIn",
    "Correction",
    "DraftTurn",
    "Duty",
    "EarlierRule",
    "FeedKey",
    "Net",
    "Refusal",
    "RollCall",
    "RotaDraft",
    "Session",
    "SessionLog",
    "StoredCalendar",
    "SwapOffer",
    "TurnWish",
    "UpkeepEntry",
]
