from nets.models.checkins import CheckIn, Correction, RollCall, SessionLog
from nets.models.feeds import FeedKey, StoredCalendar
from nets.models.nets import EarlierRule, Net
from nets.models.rota import Absence, Duty
from nets.models.sessions import Session

__all__ = [
    "Absence",
    "CheckIn",
    "Correction",
    "Duty",
    "EarlierRule",
    "FeedKey",
    "Net",
    "RollCall",
    "Session",
    "SessionLog",
    "StoredCalendar",
]
